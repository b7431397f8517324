//! A bike whose readings and record don't agree says what may be behind it.

use wear_core::degradation::ExplanationKind;
use wear_core::{Advice, Chain, Drivetrain, Reading, Reason, Ride, Use};

fn bike() -> Drivetrain {
    Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114).expect("a drivetrain")
}

/// A chain ridden 18.4 km a day for `days`.
fn ridden(days: i32) -> Chain {
    let mut chain = Chain::new(&bike(), Use::Town);
    for day in 0..days {
        chain.ride(day, Ride::km(18.4).expect("a distance"));
        if day % 14 == 13 {
            chain.care(day, wear_core::CareKind::CleanedAndLubricated);
        }
    }
    chain
}

fn rule(percent: f64) -> Reading {
    Reading::rule(percent).expect("a reading")
}

#[test]
fn a_chain_that_got_shorter_was_swapped_and_nobody_wrote_it_down() {
    let mut chain = ridden(200);
    chain.read(158, rule(0.45));
    chain.read(200, rule(0.12));
    let outlook = chain.outlook(200, 0.75).expect("a limit");
    let likeliest = outlook.explanations.first().expect("explanations");
    assert_eq!(likeliest.kind, ExplanationKind::UnrecordedSwap);
    assert!(likeliest.probability > 0.9, "{}", likeliest.probability);
    let (after, by) = likeliest.between.expect("an interval");
    assert_eq!((after.day(), by.day()), (158, 200));
    let sum: f64 = outlook.explanations.iter().map(|found| found.probability).sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    // What a young chain has left, not what is left of the old one.
    let median = outlook.elongation_percent.expect("a chain").p50;
    assert!((0.05..0.18).contains(&median), "{median}");
    assert!(outlook.warnings.iter().any(|warning| warning.code() == "record_in_doubt"));
}

#[test]
fn nothing_is_advised_where_it_depends_on_what_is_true() {
    // As recorded, or with the last reading wrong, the chain has reached its limit; a new one has just begun.
    let mut chain = ridden(200);
    chain.read(150, rule(0.66));
    chain.read(160, rule(0.72));
    chain.read(200, rule(0.10));
    let outlook = chain.outlook(200, 0.75).expect("a limit");
    assert_eq!(outlook.advice, Advice::Hold, "{}", outlook.reason);
    assert!(matches!(outlook.reason, Reason::RecordInDoubt { .. }), "{:?}", outlook.reason);
    let each: Vec<Advice> = outlook.explanations.iter().map(|found| found.advice).collect();
    assert!(each.iter().any(|advice| *advice != each[0]), "{each:?}");
}

#[test]
fn a_history_without_doubt_has_no_explanations() {
    let mut chain = ridden(200);
    chain.read(100, rule(0.25));
    chain.read(200, rule(0.45));
    let outlook = chain.outlook(200, 0.75).expect("a limit");
    assert!(outlook.explanations.is_empty(), "{:?}", outlook.explanations);
    assert!(outlook.warnings.is_empty(), "{:?}", outlook.warnings);
}

#[test]
fn plots_show_the_chain_that_is_most_likely_on() {
    let mut bike = wear_core::Bike::new(bike(), Use::Town);
    for day in 0..200 {
        bike.ride(day, Ride::km(18.4).expect("a distance"));
    }
    bike.read(158, rule(0.60));
    bike.read(198, rule(0.10));
    let assessment = bike.assess(200);
    let median = assessment.outlook().elongation_percent.expect("a chain").p50;
    let picture = assessment.picture();
    let peak = picture.density.iter().max_by(|a, b| a.1.total_cmp(&b.1)).expect("a density").0;
    assert!((peak - median).abs() < 0.05, "{peak} beside {median}");
    let mass: f64 = picture.density.iter().map(|(_, density)| density * 0.01).sum();
    assert!((mass - 1.0).abs() < 0.02, "{mass}");
    let today = picture.path.iter().rfind(|point| point.day <= 0.0).expect("a path");
    assert!((today.p50 - median).abs() < 0.05, "{} beside {median}", today.p50);
    // What a swap explains is no error.
    assert_eq!(picture.set_aside, [false, false]);
}
