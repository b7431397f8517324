//! What a chain is ridden under: told by care, learned by the fleet, counted in the chain's own outlook.

use wear_core::CareKind::CleanedAndLubricated;
use wear_core::fleet::LubricantShare;
use wear_core::{Chain, Drivetrain, Fleet, Reading, Ride, Use};

/// Care leaves the chain as worn as the lubricant lets it: true percent per km under oil, and what wax makes of it.
const OIL: f64 = 0.20e-3;
const WAX: f64 = 0.75;

fn drivetrain() -> Drivetrain {
    Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114).expect("fits")
}

/// A chain ridden 20 km a day, looked after every ten days with what `lubricant` says of the day, read every 25 days as long
/// as `read` says.
fn chain(
    days: i32,
    own: f64,
    lubricant: impl Fn(i32) -> Option<&'static str>,
    read: impl Fn(i32) -> bool,
) -> Chain {
    let mut chain = Chain::new(&drivetrain(), Use::Town);
    let mut worn = 0.06;
    let mut on = None;
    for day in 0..days {
        if day % 10 == 0 {
            on = lubricant(day);
            match on {
                Some(name) => chain.care_with(day, CleanedAndLubricated, name),
                None => chain.care(day, CleanedAndLubricated),
            }
        }
        chain.ride(day, Ride::km(20.0).expect("legal"));
        worn += 20.0 * OIL * own * if on == Some("wax") { WAX } else { 1.0 };
        if day % 25 == 24 && read(day) {
            chain.read(day + 1, Reading::dial(&[worn]).expect("legal"));
        }
    }
    chain
}

/// Sixty chains: under oil, under wax, or under wax from their middle on.
fn fleet() -> Fleet {
    let mut fleet = Fleet::default();
    for number in 0..60 {
        let own = (0.25 * (f64::from(number / 3 % 9) - 4.0) / 4.0).exp();
        let lubricant = move |day: i32| match number % 3 {
            0 => Some("oil"),
            1 => Some("wax"),
            _ => Some(if day < 100 { "oil" } else { "wax" }),
        };
        fleet.add("yard", &chain(200, own, lubricant, |_| true).record(200));
    }
    fleet
}

#[test]
fn shares_are_of_what_was_ridden_from_one_care_to_the_next() {
    let lubricant = |day: i32| match day {
        0..50 => None,
        50..110 => Some("oil"),
        _ => Some("wax"),
    };
    let record = chain(200, 1.0, lubricant, |_| true).record(200);
    let fleet = fleet();
    let learned = fleet.learn();
    let mut bike = wear_core::Bike::new(drivetrain(), Use::Town).with_rate(learned.rate("yard"));
    bike.add_chain(record);
    let assessed = bike.assess(200);
    let shares: Vec<Vec<LubricantShare>> = assessed.read_under().collect();
    let [shares] = shares.as_slice() else { panic!("one chain") };
    let of = |name: &str| shares.iter().find(|it| it.lubricant == name).expect("named").share.get();
    // Read last after 200 days: 60 of them under oil, 90 under wax.
    assert!((of("oil") - 0.30).abs() < 1e-9 && (of("wax") - 0.45).abs() < 1e-9, "{shares:?}");
    let under: Vec<_> = assessed.ridden_under().flat_map(|under| under.iter().cloned()).collect();
    assert_eq!(
        under.iter().map(|it| (&*it.lubricant, it.applications)).collect::<Vec<_>>(),
        [("oil", 6), ("wax", 9)]
    );
    // As it was known at an earlier reading.
    let earlier = &bike.read_under(200)[0][3];
    assert!((earlier.1[0].share.get() - 0.5).abs() < 1e-9, "{earlier:?}");
    assert!(assessed.lubricant_factor().expect("learned") < 1.0);
}

#[test]
fn a_fleet_learns_what_a_lubricant_is_worth_also_from_chains_that_changed() {
    let learned = fleet().learn();
    let effect = |name: &str| {
        let mut all = learned.fit().terms.lubricants();
        all.find(|(lubricant, _)| *lubricant == name).expect("it was ridden under").1
    };
    let apart = effect("wax").ln_mean - effect("oil").ln_mean;
    assert!((apart - WAX.ln()).abs() < 0.08, "{apart}");
    assert_eq!((effect("oil").chains, effect("wax").chains), (40, 40));
}

#[test]
fn what_lies_ahead_is_ridden_under_what_is_on_now() {
    let learned = fleet().learn();
    let outlook = |lubricant: &dyn Fn(i32) -> Option<&'static str>, read: &dyn Fn(i32) -> bool| {
        let chain = chain(150, 1.0, lubricant, read).with_rate(learned.rate("yard"));
        chain.outlook(150, 0.75).expect("a limit")
    };
    let left = |lubricant: &dyn Fn(i32) -> Option<&'static str>| {
        let outlook = outlook(lubricant, &|_| true);
        (outlook.remaining_km.expect("ridden").p50, outlook.elongation_percent.expect("a chain").p50)
    };
    let (oil, worn) = left(&|_| Some("oil"));
    let (waxed, worn_waxed) = left(&|day| Some(if day < 140 { "oil" } else { "wax" }));
    // The same chain but for its last ten days, in which it wore 0.01 % less: 0.10 % are left in place of 0.09, at three
    // quarters of the rate, so 1.48 times the way.
    assert!((0.0..0.02).contains(&(worn - worn_waxed)), "{worn} {worn_waxed}");
    assert!((1.38..1.58).contains(&(waxed / oil)), "{oil} {waxed}");
    // Of one that nobody measured, what it was ridden under says how worn it is.
    let unread = |lubricant: &dyn Fn(i32) -> Option<&'static str>| {
        outlook(lubricant, &|_| false).elongation_percent.expect("a chain").p50
    };
    let (under_oil, under_wax) = (unread(&|_| Some("oil")), unread(&|_| Some("wax")));
    let (unknown, changed) = (unread(&|_| None), unread(&|day| Some(if day < 80 { "oil" } else { "wax" })));
    assert!(under_wax < changed && changed < under_oil, "{under_wax} {changed} {under_oil}");
    assert!(under_wax < unknown && unknown < under_oil, "{under_wax} {unknown} {under_oil}");
    // Without anything learned a lubricant changes nothing.
    let plain = |name| chain(150, 1.0, move |_| name, |_| false).outlook(150, 0.75).expect("a limit");
    assert_eq!(plain(Some("wax")), plain(None));
}
