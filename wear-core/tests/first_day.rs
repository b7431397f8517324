//! A bike on the day it is entered, and bikes of which little is recorded.

use wear_core::bike::{Declared, KilometresFrom, Warning};
use wear_core::exposure::care_habit::{CareHabit, CareRoutine};
use wear_core::units::Kilometres;
use wear_core::{Advice, Bike, CareKind, ChainStart, Drivetrain, Outlook, Reading, Reason, Ride, Use};

fn town() -> Bike {
    let drivetrain = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114);
    Bike::new(drivetrain.expect("a drivetrain"), Use::Town)
}

fn found() -> Bike {
    town().starting(ChainStart::AsFound)
}

fn km(value: f64) -> Kilometres {
    Kilometres::new(value).expect("a distance")
}

fn rule(percent: f64) -> Reading {
    Reading::rule(percent).expect("a reading")
}

fn median(outlook: &Outlook) -> f64 {
    outlook.elongation_percent.expect("a chain").p50
}

#[test]
fn a_reading_on_the_first_day_is_believed() {
    for percent in [0.40, 0.70] {
        let mut bike = found();
        bike.read(0, rule(percent));
        let outlook = bike.outlook(0);
        assert!((median(&outlook) - percent).abs() < 0.05, "{percent}: {}", median(&outlook));
        assert!(outlook.explanations.is_empty(), "{percent}: {:?}", outlook.explanations);
        assert!(outlook.remaining_km.is_some());
        assert_eq!(outlook.basis.kilometres_from, Some(KilometresFrom::Use));
    }
}

#[test]
fn a_chain_of_which_nothing_is_known_is_to_be_measured() {
    let outlook = found().outlook(0);
    assert_eq!((outlook.advice, outlook.reason), (Advice::MeasureBy, Reason::AgeUnknown));
    assert_eq!(outlook.measure_in_days, Some(0));
    // Fitted years ago, never ridden on record.
    let mut bike = town();
    bike.care(0, CareKind::CleanedAndLubricated);
    let outlook = bike.outlook(1_200);
    assert_eq!((outlook.advice, outlook.reason), (Advice::MeasureBy, Reason::RidingUnknown { days: 1_200 }));
    // What is read of it is believed.
    let mut read = bike.clone();
    read.read(1_200, rule(0.70));
    let outlook = read.outlook(1_200);
    assert!((median(&outlook) - 0.70).abs() < 0.05, "{}", median(&outlook));
    assert!(outlook.explanations.is_empty(), "{:?}", outlook.explanations);
    // A chain that was fitted yesterday is known well enough.
    assert_eq!(bike.outlook(1).advice, Advice::RideOn);
}

#[test]
fn a_new_chain_has_kilometres_before_its_first_ride() {
    let usual = town().outlook(0);
    assert!(usual.remaining_km.expect("kilometres").p50 > 500.0);
    let group = town().with_group_km_per_reference_km(Some(0.5)).outlook(0);
    assert_eq!(group.basis.kilometres_from, Some(KilometresFrom::Group));
    let reference = group.remaining_reference_km.expect("a chain").p50;
    assert!((group.remaining_km.expect("kilometres").p50 - 0.5 * reference).abs() < 1e-9);
}

#[test]
fn a_reading_at_the_limit_is_never_answered_by_ride_on() {
    for percent in [0.75, 0.80, 0.90] {
        let mut bike = town();
        for day in 0..40 {
            bike.ride(day, Ride::km(18.4).expect("a distance"));
        }
        bike.read(40, rule(percent));
        let outlook = bike.outlook(40);
        assert_ne!(outlook.advice, Advice::RideOn, "{percent}: {}", outlook.reason);
        let mut gauge = town();
        gauge.read(0, Reading::drop_in(0.75, true).expect("a gauge"));
        assert_ne!(gauge.outlook(0).advice, Advice::RideOn);
    }
}

#[test]
fn silence_about_care_is_neither_neglect_nor_the_best_of_care() {
    let ridden = |care: fn(&mut Bike, i32), habit: Option<CareHabit>| {
        let mut bike = town();
        for day in 0..90 {
            bike.ride(day, Ride::km(18.4).expect("a distance").wet(day % 6 == 0));
            care(&mut bike, day);
        }
        bike.read(90, rule(0.30));
        let bike = match habit {
            Some(habit) => bike.with_care_habit(habit),
            None => bike,
        };
        bike.outlook(90).remaining_km.expect("kilometres")
    };
    let every_ten_days = |bike: &mut Bike, day: i32| {
        if day % 10 == 9 {
            bike.care(day, CareKind::CleanedAndLubricated);
        }
    };
    let logged = ridden(every_ten_days, None);
    let silent = ridden(|_, _| {}, None);
    let routine = ridden(|_, _| {}, Some(CareHabit::Routine(CareRoutine::Distance(km(184.0)))));
    let neglected = ridden(|_, _| {}, Some(CareHabit::Recorded));
    println!("logged {logged:.0}, silent {silent:.0}, routine {routine:.0}, neglected {neglected:.0} km");
    assert!((routine.p50 / logged.p50 - 1.0).abs() < 0.05, "{routine:?} {logged:?}");
    assert!((0.7..1.1).contains(&(silent.p50 / logged.p50)), "{silent:?} {logged:?}");
    assert!(neglected.p50 < silent.p50, "{neglected:?} {silent:?}");
}

#[test]
fn care_counts_from_its_first_entry_on() {
    let mut bike = town();
    for day in 0..200 {
        bike.ride(day, Ride::km(18.4).expect("a distance"));
    }
    bike.read(200, rule(0.35));
    let silent = bike.outlook(200).remaining_km.expect("kilometres").p50;
    bike.care(199, CareKind::CleanedAndLubricated);
    let entered = bike.outlook(200).remaining_km.expect("kilometres").p50;
    assert!((0.8..1.3).contains(&(entered / silent)), "{silent} {entered}");
    // Recorded from then on, and silent for long: said.
    for day in 200..400 {
        bike.ride(day, Ride::km(18.4).expect("a distance"));
    }
    let warned = bike.outlook(400).warnings.iter().any(|it| matches!(it, Warning::CareSilent { .. }));
    assert!(warned);
}

#[test]
fn odometers_count_like_the_rides_they_sum_up() {
    let (mut by_rides, mut by_odometer) = (town(), town());
    by_odometer.odometer(0, km(4_000.0));
    for day in 0..120 {
        by_rides.ride(day, Ride::km(18.4).expect("a distance"));
        if day % 30 == 29 {
            by_odometer.odometer(day + 1, km(4_000.0 + 18.4 * f64::from(day + 1)));
        }
    }
    for bike in [&mut by_rides, &mut by_odometer] {
        bike.read(60, rule(0.20));
        bike.read(120, rule(0.33));
    }
    let (rides, odometer) = (by_rides.outlook(120), by_odometer.outlook(120));
    println!("{rides} {odometer}");
    assert!((odometer.basis.distance_km - rides.basis.distance_km).abs() < 1e-3);
    assert!((odometer.basis.unlogged_km - rides.basis.distance_km).abs() < 1e-3);
    assert!((median(&odometer) - median(&rides)).abs() < 0.02);
    let days =
        |outlook: &Outlook| f64::from(outlook.limit_in_days.and_then(|days| days.p50).expect("a date"));
    assert!((days(&odometer) / days(&rides) - 1.0).abs() < 0.15, "{} {}", days(&odometer), days(&rides));
    // Without a statement for three weeks it goes on as before.
    let later = by_odometer.outlook(141);
    assert!((later.basis.distance_km - 18.4 * 141.0).abs() < 1.0, "{}", later.basis.distance_km);
}

#[test]
fn a_counter_that_falls_and_rides_beyond_it_are_named() {
    let mut bike = town();
    for (day, total) in [(0, 500.0), (10, 550.0), (20, 30.0)] {
        bike.odometer(day, km(total));
    }
    for day in 0..10 {
        bike.ride(day, Ride::km(9.0).expect("a distance"));
    }
    let codes: Vec<&str> = bike.outlook(20).warnings.iter().map(Warning::code).collect();
    assert!(codes.contains(&"new_counter") && codes.contains(&"rides_exceed_counter"), "{codes:?}");
}

#[test]
fn declared_use_gives_dates_to_a_bike_without_a_history() {
    let mut bike = found();
    bike.read(0, rule(0.30));
    assert!(bike.outlook(0).limit_in_days.is_none());
    bike.declare(Declared { from: None, until: None, per_week: km(100.0) });
    let outlook = bike.outlook(0);
    let days = outlook.limit_in_days.expect("dates");
    let left = outlook.remaining_km.expect("kilometres");
    let expected = left.p50 / 100.0 * 7.0;
    let told = f64::from(days.p50.expect("a date"));
    assert!((told / expected - 1.0).abs() < 0.1, "{told} {expected}");
    // Known to a factor of 1.6 or so, and shown as such.
    assert!(f64::from(days.p90.expect("a date")) / told > left.p90 / left.p50);
}

#[test]
fn what_was_on_already_is_partly_used_up() {
    let new = town();
    let at = wear_core::Moment::from(0);
    let found = town()
        .with_cassette(wear_core::bike::Sprockets::AsFound(at), wear_core::knock_on::CassetteBuild::OnePiece)
        .with_rings(wear_core::bike::Sprockets::AsFound(at));
    let (new, found) = (new.outlook(0), found.outlook(0));
    let damage = |outlook: &Outlook| {
        outlook
            .cassette
            .as_ref()
            .expect("a cassette")
            .sprockets
            .iter()
            .map(|it| it.damage)
            .fold(0.0, f64::max)
    };
    assert!((0.58..0.68).contains(&damage(&found)), "{}", damage(&found));
    assert!(damage(&new) < 0.05);
    assert!(found.cassette.expect("a cassette").probability_skips > 0.1);
    assert!(found.rings.iter().all(|ring| ring.damage > 0.1), "{:?}", found.rings);
}
