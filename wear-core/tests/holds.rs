//! What cassettes that hold, skip and are replaced tell: of themselves, and of a fleet's.

use wear_core::bike::SkipReport;
use wear_core::drivetrain::Teeth;
use wear_core::forecast::{Advice, Reason};
use wear_core::knock_on::{SkipOutcome, SkipThreshold, SwapReason};
use wear_core::{Bike, Drivetrain, Moment, Outlook, Reading, Ride, Use};

const EIGHT_SPEED: [u32; 8] = [11, 13, 15, 17, 20, 23, 26, 30];

/// A bike of which each chain is ridden to a reading of 0.74 % and swapped for a new one, ridden on for so many km.
fn after_chains(chains: i32, km_on_the_last: f64) -> (Bike, i32) {
    let drivetrain = Drivetrain::derailleur([42], EIGHT_SPEED, 114).expect("a drivetrain");
    let mut bike = Bike::new(drivetrain, Use::Town);
    for chain in 0..chains {
        let first = 300 * chain;
        for day in 0..299 {
            bike.ride(first + day, Ride::km(16.0).expect("a ride"));
        }
        bike.read(first + 299, Reading::dial(&[0.74]).expect("a reading"));
        bike.swap_chain(first + 300);
    }
    let swapped = 300 * chains;
    if km_on_the_last > 0.0 {
        bike.ride(swapped + 1, Ride::km(km_on_the_last).expect("a ride"));
    }
    (bike, swapped)
}

fn told(chains: i32, km_on_the_last: f64) -> Outlook {
    let (bike, swapped) = after_chains(chains, km_on_the_last);
    bike.outlook(swapped + 2)
}

fn skips(outlook: &Outlook) -> f64 {
    outlook.cassette.as_ref().expect("a cassette").probability_skips
}

/// Seven chains to 0.74 % held on one cassette: it was told that the next one skips for certain.
#[test]
fn a_cassette_that_held_under_seven_chains_is_believed() {
    let mut before = Vec::new();
    for chains in 1..=7 {
        let tried = told(chains, 120.0);
        let basis = tried.basis.cassette.expect("a cassette");
        assert_eq!((basis.chains_held, basis.skips_reported, basis.learned), (chains as u32, 0, false));
        before.push(skips(&told(chains, 0.0)));
        // Having held, it is less likely to skip.
        assert!(skips(&tried) < 0.55 * skips(&told(chains, 0.0)), "{chains}");
    }
    // Each next chain is as open as the one before, and never certain.
    assert!(before[0] < 0.35 && before[1..].iter().all(|p| (0.2..0.8).contains(p)), "{before:?}");
    let seventh = told(7, 120.0).cassette.expect("a cassette");
    assert!(seventh.chains_to_come.p90 >= 2.0 && seventh.probability_skips < 0.2, "{seventh:?}");
    assert!(seventh.probability_skips_at_limit > seventh.probability_skips);
}

#[test]
fn a_new_chain_on_a_worn_cassette_is_not_ride_on_until_it_held() {
    let chains = (1..6).find(|chains| skips(&told(*chains, 0.0)) >= 0.5).expect("worn by some chains");
    let fresh = told(chains, 30.0);
    assert_eq!(fresh.advice, Advice::Hold);
    assert!(matches!(fresh.reason, Reason::CassetteUntried { probability } if probability >= 0.5));
    assert!(fresh.reason.to_string().contains("cassette"), "{}", fresh.reason);
    // Ridden on without a word it has held.
    assert_eq!(told(chains, 120.0).advice, Advice::RideOn);
    // An old chain runs on the cassette that wore with it.
    let (mut bike, swapped) = after_chains(chains, 120.0);
    (2..280).for_each(|day| bike.ride(swapped + day, Ride::km(16.0).expect("a ride")));
    let worn = bike.outlook(swapped + 281);
    assert!(skips(&worn) > 0.5, "{worn}");
    assert!(!matches!(worn.reason, Reason::CassetteUntried { .. } | Reason::CassetteSkips { .. }), "{worn}");
}

#[test]
fn a_new_chain_that_skips_tells_of_the_cassette() {
    let report = |cog, new_chain| {
        let (mut bike, swapped) = after_chains(2, 30.0);
        let reported_at = Moment::from(swapped + 1);
        bike.skipped(SkipReport { reported_at, cog, new_chain });
        bike.outlook(swapped + 2)
    };
    let cog = Some(Teeth::new(15).expect("a cog"));
    let (unsaid, somewhere) = (told(2, 30.0), report(None, false));
    let (named, seen) = (report(cog, false), report(cog, true));
    assert!(skips(&somewhere) > skips(&unsaid) + 0.15, "{} {}", skips(&somewhere), skips(&unsaid));
    assert!(skips(&named) > skips(&unsaid) && skips(&seen) > 0.99);
    for outlook in [&somewhere, &seen] {
        assert_eq!(outlook.advice, Advice::Hold, "{}", outlook.reason);
        assert!(matches!(outlook.reason, Reason::CassetteSkips { .. }), "{}", outlook.reason);
        assert_eq!(outlook.basis.cassette.expect("a cassette").skips_reported, 1);
    }
    // A chain that was reported to skip has not held, however far it is ridden afterwards.
    let (mut bike, swapped) = after_chains(2, 30.0);
    bike.skipped(SkipReport { reported_at: Moment::from(swapped + 1), cog: None, new_chain: false });
    bike.ride(swapped + 3, Ride::km(200.0).expect("a ride"));
    assert_eq!(bike.outlook(swapped + 4).basis.cassette.expect("a cassette").chains_held, 1);
}

#[test]
fn lives_tell_what_was_entered_in_whatever_order() {
    let (mut bike, swapped) = after_chains(3, 120.0);
    let (mut same, _) = after_chains(3, 120.0);
    bike.swap_cassette_because(swapped - 290, SwapReason::Skips);
    bike.swap_cassette_because(400, SwapReason::Upgrade);
    same.swap_cassette_because(400, SwapReason::Upgrade);
    same.swap_cassette_because(swapped - 290, SwapReason::Skips);
    let lives = bike.cassette_lives(swapped + 2);
    assert_eq!(lives, same.cassette_lives(swapped + 2));
    assert_eq!(bike.outlook(swapped + 2), same.outlook(swapped + 2));
    let [first, second, last] = lives.as_slice() else { panic!("{lives:?}") };
    let reasons = [first, second].map(|life| life.removal.as_ref().and_then(|removal| removal.reason));
    assert_eq!(reasons, [Some(SwapReason::Upgrade), Some(SwapReason::Skips)]);
    assert_eq!([first, second, last].map(|life| life.held()), [1, 1, 1]);
    assert!(!first.was_used_up() && second.was_used_up() && last.removal.is_none());
    // The first one had its whole first chain and a hundred days of the next behind it.
    let busiest = |damage: &[f64]| damage.iter().copied().fold(0.0, f64::max);
    let trial = &first.trials[0];
    assert_eq!((trial.outcome, trial.new_chain, trial.sprocket), (SkipOutcome::Unreported, true, None));
    let at_the_end = busiest(&first.removal.as_ref().expect("removed").damage);
    assert!((0.40..0.52).contains(&busiest(&trial.damage)), "{trial:?}");
    assert!(at_the_end > busiest(&trial.damage) + 0.05 && at_the_end < 0.8, "{at_the_end}");
    // What was told of each new chain, before it was known.
    let told: Vec<_> = lives.iter().flat_map(|life| life.told(&SkipThreshold::ASSUMED)).collect();
    assert!(told.iter().all(|told| (0.0..=1.0).contains(&told.probability) && !told.skipped), "{told:?}");
    assert_eq!(told.len(), 3);
    // The second met the second chain halfway: less than a whole one by the next.
    assert!(busiest(&second.trials[0].damage) < busiest(&trial.damage));
}
