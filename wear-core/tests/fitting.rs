//! Twenty fitting questions, each with its verdict and what the verdict rests on.

use wear_core::drivetrain::compatibility::{
    CassettePart, ChainPart, ConnectingLinkPart, FrontDerailleurPart, HubPart, Parts, Question,
    RearDerailleurPart, Reason, RingPart, SingleWidth, Source, SprocketCount, Verdict, compare, overall,
};
use wear_core::drivetrain::{Caution, Gearing, Links, Teeth};
use wear_core::units::Chainstay;

fn count(count: u32) -> SprocketCount {
    SprocketCount::new(count).unwrap()
}

fn teeth(teeth: u32) -> Teeth {
    Teeth::new(teeth).unwrap()
}

fn chain(sprockets: u32) -> Option<ChainPart> {
    Some(ChainPart { sprockets: Some(count(sprockets)), width: None, links: None })
}

fn wide_chain(width: SingleWidth) -> Option<ChainPart> {
    Some(ChainPart { sprockets: None, width: Some(width), links: None })
}

fn chain_of(links: u32) -> Option<ChainPart> {
    Some(ChainPart { sprockets: None, width: None, links: Some(Links::new(links).unwrap()) })
}

fn cassette(cogs: &[u32]) -> Option<CassettePart> {
    Some(CassettePart { cogs: cogs.iter().map(|&cog| teeth(cog)).collect(), width: None, interface: None })
}

fn cogs(number: u32) -> Option<CassettePart> {
    cassette(&(11..11 + number).collect::<Vec<_>>())
}

fn cog(width: SingleWidth) -> Option<CassettePart> {
    Some(CassettePart { width: Some(width), ..cassette(&[18]).unwrap() })
}

fn ring(count_of_teeth: u32, narrow_wide: bool, sprockets: u32) -> RingPart {
    RingPart { teeth: teeth(count_of_teeth), narrow_wide, sprockets: Some(count(sprockets)) }
}

fn hub(interfaces: &[&str], with_spacer: &[&str]) -> Option<HubPart> {
    let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
    Some(HubPart { interfaces: owned(interfaces), interfaces_with_spacer: owned(with_spacer) })
}

fn with_interface(name: &str) -> Option<CassettePart> {
    Some(CassettePart { interface: Some(name.to_owned()), ..cogs(11).unwrap() })
}

fn derailleur(capacity: u16, largest: u32) -> Option<RearDerailleurPart> {
    Some(RearDerailleurPart {
        capacity_teeth: Some(capacity),
        largest_cog: Some(teeth(largest)),
        smallest_cog: None,
    })
}

fn stay(mm: f64) -> Option<Chainstay> {
    Some(Chainstay::new(mm).unwrap())
}

const TOWN: [u32; 8] = [11, 13, 15, 17, 20, 23, 26, 30];

fn questions() -> Vec<(&'static str, Parts, Question, Verdict, Source)> {
    use Question as Q;
    use Source as S;
    use Verdict as V;
    let none = Parts::default;
    let link =
        |sprockets, reusable, used| Some(ConnectingLinkPart { sprockets: count(sprockets), reusable, used });
    let double = || vec![ring(50, false, 11), ring(34, false, 11)];
    vec![
        (
            "Does an 8-speed chain run on a 7-cog cassette?",
            Parts { chain: chain(8), cassette: cogs(7), ..none() },
            Q::ChainWidth,
            V::Fits,
            S::CommonPractice,
        ),
        (
            "Does a 9-speed chain run on an 8-cog cassette?",
            Parts { chain: chain(9), cassette: cogs(8), ..none() },
            Q::ChainWidth,
            V::Check,
            S::CommonPractice,
        ),
        (
            "Does an 11-speed chain run on an 8-cog cassette?",
            Parts { chain: chain(11), cassette: cogs(8), ..none() },
            Q::ChainWidth,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "Does a 10-speed chain run on an 11-cog cassette?",
            Parts { chain: chain(10), cassette: cogs(11), ..none() },
            Q::ChainWidth,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "Does a 12-speed chain run on an 11-cog cassette?",
            Parts { chain: chain(12), cassette: cogs(11), ..none() },
            Q::ChainWidth,
            V::Check,
            S::CommonPractice,
        ),
        (
            "Does a 3/32 inch chain run on a 1/8 inch cog?",
            Parts {
                chain: wide_chain(SingleWidth::ThreeThirtySecondsInch),
                cassette: cog(SingleWidth::EighthInch),
                ..none()
            },
            Q::SprocketWidth,
            V::Doesnt,
            S::Standard,
        ),
        (
            "Does a 1/8 inch chain run on a 3/32 inch cog?",
            Parts {
                chain: wide_chain(SingleWidth::EighthInch),
                cassette: cog(SingleWidth::ThreeThirtySecondsInch),
                ..none()
            },
            Q::SprocketWidth,
            V::Fits,
            S::CommonPractice,
        ),
        (
            "Does a 38-tooth narrow-wide ring take an 11-speed chain?",
            Parts { chain: chain(11), rings: vec![ring(38, true, 11)], ..none() },
            Q::NarrowWide,
            V::Fits,
            S::Geometry,
        ),
        (
            "Can a narrow-wide ring have 39 teeth?",
            Parts { rings: vec![ring(39, true, 11)], ..none() },
            Q::NarrowWide,
            V::Doesnt,
            S::Geometry,
        ),
        (
            "Does a narrow-wide ring go with a front derailleur?",
            Parts {
                rings: vec![ring(40, true, 11)],
                front_derailleur: Some(FrontDerailleurPart { largest_ring: None, difference_teeth: None }),
                ..none()
            },
            Q::NarrowWide,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "Does an 8-speed chain hold on a narrow-wide ring?",
            Parts { chain: chain(8), rings: vec![ring(38, true, 9)], ..none() },
            Q::NarrowWide,
            V::Check,
            S::CommonPractice,
        ),
        (
            "Does a ring made for 8 sprockets take a 12-speed chain?",
            Parts { chain: chain(12), rings: vec![ring(42, false, 8)], ..none() },
            Q::RingWidth,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "Does an 11-speed connecting link close a 12-speed chain?",
            Parts { chain: chain(12), connecting_link: link(11, true, false), ..none() },
            Q::ConnectingLink,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "May a one-use connecting link be closed again?",
            Parts { chain: chain(11), connecting_link: link(11, false, true), ..none() },
            Q::ConnectingLink,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "Does a cassette with nine wide splines go on a hub that takes it with a spacer?",
            Parts {
                cassette: with_interface("nine splines, short"),
                hub: hub(&["nine splines, long"], &["Nine splines, short"]),
                ..none()
            },
            Q::Freehub,
            V::Check,
            S::Entered,
        ),
        (
            "Does a screw-on freewheel go on a hub with splines?",
            Parts {
                cassette: with_interface("1.375 in x 24 tpi thread"),
                hub: hub(&["nine splines, long"], &[]),
                ..none()
            },
            Q::Freehub,
            V::Doesnt,
            S::Entered,
        ),
        (
            "Do 50/34 rings and 11–34 cogs go with a cage for 37 teeth?",
            Parts {
                cassette: cassette(&[11, 13, 15, 17, 19, 21, 23, 25, 27, 30, 34]),
                rings: double(),
                rear_derailleur: derailleur(37, 34),
                ..none()
            },
            Q::Capacity,
            V::Doesnt,
            S::Entered,
        ),
        (
            "Does a 36-tooth cog go with a derailleur that clears 34?",
            Parts { cassette: cassette(&[11, 36]), rear_derailleur: derailleur(47, 34), ..none() },
            Q::CogRange,
            V::Doesnt,
            S::Entered,
        ),
        (
            "Does a 10-position shifter work an 11-cog cassette?",
            Parts { cassette: cogs(11), shifter_sprockets: Some(count(10)), ..none() },
            Q::Shifter,
            V::Doesnt,
            S::CommonPractice,
        ),
        (
            "Is a chain of 108 pitches long enough for 42 by 11–30 on a 455 mm chainstay?",
            Parts {
                chain: chain_of(108),
                cassette: cassette(&TOWN),
                rings: vec![ring(42, false, 8)],
                chainstay: stay(455.0),
                gearing: Some(Gearing::Derailleur),
                ..none()
            },
            Q::ChainLength,
            V::Doesnt,
            S::CommonPractice,
        ),
    ]
}

#[test]
fn twenty_fitting_questions() {
    let questions = questions();
    assert_eq!(questions.len(), 20);
    for (number, (asked, parts, question, verdict, source)) in questions.into_iter().enumerate() {
        let findings = compare(&parts);
        let about: Vec<_> = findings.iter().filter(|finding| finding.question == question).collect();
        let worst = about.iter().max_by_key(|finding| finding.verdict).unwrap_or_else(|| panic!("{asked}"));
        println!("{:2}. {asked} {}: {} [{}]", number + 1, worst.verdict, worst.reason, worst.source);
        // Of several answers of the same verdict one rests on what is asked.
        assert_eq!(worst.verdict, verdict, "{asked} {findings:?}");
        assert!(about.iter().any(|it| it.verdict == verdict && it.source == source), "{asked} {findings:?}");
        assert_eq!(overall(&findings).max(verdict), overall(&findings));
    }
}

#[test]
fn a_chain_is_measured_from_largest_to_largest() {
    // 2·455/12.7 + (42 + 30)/2 + ((42 − 30)/2π)²/(455/12.7) = 107.76: even 108, and a pair for the derailleur.
    let parts = |links| Parts {
        chain: chain_of(links),
        cassette: cassette(&TOWN),
        rings: vec![ring(42, false, 8)],
        chainstay: stay(455.0),
        gearing: Some(Gearing::Derailleur),
        ..Parts::default()
    };
    let answer = |links| {
        let findings = compare(&parts(links));
        let found = findings.into_iter().find(|finding| finding.question == Question::ChainLength);
        found.expect("an answer")
    };
    assert_eq!(answer(110).verdict, Verdict::Fits);
    assert_eq!(answer(109).verdict, Verdict::Check);
    let long = answer(116);
    assert_eq!(long.verdict, Verdict::Fits);
    assert_eq!(long.reason, Reason::TakeOut { given: 116, over: 6, needed: 110 });
    assert!(long.reason.to_string().contains("take out 6 to have 110"), "{}", long.reason);
    assert_eq!(answer(108).caution, Some(Caution::TooShortOnLargest));
}

#[test]
fn nothing_to_compare_is_said() {
    let findings = compare(&Parts::default());
    assert_eq!((findings.len(), overall(&findings)), (1, Verdict::Check));
    assert_eq!(findings[0].question, Question::Parts);
    assert!(SprocketCount::new(0).is_err() && SprocketCount::new(15).is_err());
}
