//! A bike whose fleet's wear drifts: its exposure is counted by the clock of what lies ahead.

use wear_core::bike::{Rate, RateSource};
use wear_core::degradation::WearParameters;
use wear_core::fleet::Drift;
use wear_core::{Chain, Drivetrain, Outlook, Reading, Ride, Use};

const TODAY: i32 = 20_000;

/// Ridden 12 km a day for 200 days, read as new and after 100 days, by a fleet that drifts so.
fn outlook(drift: Option<Drift>) -> Outlook {
    let bike = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114).expect("a drivetrain");
    let mut chain = Chain::new(&bike, Use::Town);
    for day in 0..200 {
        chain.ride(TODAY - 200 + day, Ride::km(12.0).expect("a distance"));
    }
    chain.read(TODAY - 199, Reading::dial(&[0.05]).expect("a reading"));
    chain.read(TODAY - 100, Reading::dial(&[0.24]).expect("a reading"));
    let rate = Rate::new(WearParameters::default(), RateSource::Fleet { chains_read: 100 });
    chain.with_rate(rate.with_drift(drift)).outlook(TODAY, 0.75).expect("an outlook")
}

#[test]
fn a_slope_of_nought_changes_nothing_and_a_steep_one_shortens_what_is_left() {
    let steady = outlook(None);
    let left = |outlook: &Outlook| outlook.remaining_reference_km.expect("it is ridden").p50;
    let nought = outlook(Some(Drift::kept(0.0, 0.04, TODAY, None)));
    assert!((left(&nought) / left(&steady) - 1.0).abs() < 1e-9);
    let rising = outlook(Some(Drift::kept(0.5, 0.04, TODAY, None)));
    let falling = outlook(Some(Drift::kept(-0.5, 0.04, TODAY, None)));
    // From the middle of what was read to what lies ahead are some 200 days: e^{0.27}, of which the prior takes some back.
    let shorter = left(&rising) / left(&steady);
    assert!((0.72..0.92).contains(&shorter), "{shorter}");
    assert!((1.08..1.4).contains(&(left(&falling) / left(&steady))), "{}", left(&falling) / left(&steady));
    // What was recorded stays as it was recorded.
    assert_eq!(rising.basis.reference_km, steady.basis.reference_km);
    let elongation = |outlook: &Outlook| outlook.elongation_percent.expect("known").p50;
    assert!(elongation(&rising) > elongation(&steady) && elongation(&rising) < elongation(&steady) + 0.1);
}
