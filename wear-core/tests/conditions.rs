//! What a fleet learns of water and neglect reaches the bikes it learned from.

use wear_core::bike::Rate;
use wear_core::degradation::{Start, TimedReading};
use wear_core::exposure::care::{CareKind, CareModel};
use wear_core::exposure::care_habit::{CareHabit, CareRoutine};
use wear_core::exposure::{Conditions, ContextMultipliers, Surface};
use wear_core::fleet::calibration::ChainHistory;
use wear_core::fleet::multipliers::{ContextExposure, Covariate, LearnedCovariate, ReadExposure};
use wear_core::units::Kilometres;
use wear_core::{Bike, Drivetrain, Fleet, Reading, Ride, Use};

fn town() -> Bike {
    let drivetrain = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114).expect("gears");
    Bike::new(drivetrain, Use::Town)
}

fn cared_for() -> CareHabit {
    CareHabit::Routine(CareRoutine::Distance(Kilometres::new(120.0).expect("km")))
}

/// Rides of 9 km every other day, so many of ten of them wet, read every 40 days.
fn ridden(mut bike: Bike, wet_of_ten: i32) -> Bike {
    for day in 0..200 {
        if day % 2 == 0 {
            let is_wet = (day / 2) % 10 < wet_of_ten;
            let ride = Ride::km(9.0).expect("a distance");
            bike.ride(day, ride.wet(is_wet));
        }
        if day % 40 == 39 {
            bike.read(day, Reading::dial(&[0.3]).expect("a reading"));
        }
    }
    bike
}

fn exposures(bike: &Bike) -> Vec<(Start, Vec<ReadExposure>)> {
    let read = bike.read_at(200).into_iter();
    read.map(|(start, read)| (start, read.into_iter().map(|(_, read)| read).collect())).collect()
}

#[test]
fn exposure_by_context_adds_up_to_the_exposure_that_counts() {
    let believed = Conditions::default();
    let care = CareModel::default().with_neglected(2.6).expect("a multiplier");
    let learned = Conditions::new(ContextMultipliers::default(), care);
    for habit in [CareHabit::Recorded, CareHabit::Unrecorded, cared_for()] {
        for conditions in [believed, learned] {
            let mut bike = ridden(town().with_care_habit(habit), 3).with_conditions(conditions);
            bike.ride(60, Ride::km(35.0).expect("km").surface(Surface::Gravel));
            bike.care(100, CareKind::CleanedAndLubricated);
            let chains = exposures(&bike);
            assert_eq!(chains[0].1.len(), 5);
            for ReadExposure { at, by_context } in &chains[0].1 {
                let sum = by_context.reference_km(conditions.multipliers(), conditions.care());
                assert!((sum / at.get() - 1.0).abs() < 1e-9, "{habit:?}: {sum} {at:?}");
                let again = ContextExposure::kept(by_context.contexts());
                assert_eq!(again, *by_context, "it can be written down");
            }
            let last = chains[0].1.last().expect("read");
            assert!(
                last.by_context.share(Covariate::Gravel) > 0.01
                    && last.by_context.share(Covariate::Wet) > 0.2
            );
        }
    }
}

/// Rain does 1.5 times what is assumed of it: worn in percent a reference kilometre as the default has it.
fn fleet_in_hard_rain() -> Fleet {
    let more = (1.5_f64).ln();
    let mut fleet = Fleet::default();
    let rate = 0.33e-3;
    for number in 0..90_i32 {
        let (wet_of_ten, bike_rate) = (number % 7, rate * (1.0 + 0.04 * f64::from(number % 5 - 2)));
        // With no reading yet: the exposure that true rain makes of each of its readings.
        let blank = ridden(town().with_care_habit(cared_for()), wet_of_ten);
        let chains = exposures(&blank);
        let (start, read) = &chains[0];
        let truth = |read: &ReadExposure| {
            let wet = read.by_context.reference_km(&ContextMultipliers::default(), &CareModel::default());
            let paved: f64 = read
                .by_context
                .contexts()
                .filter(|(it, ..)| !it.is_wet())
                .map(|(_, base, neglected)| base + neglected)
                .sum();
            paved + (wet - paved) * more.exp()
        };
        let timed: Vec<TimedReading> = read
            .iter()
            .map(|one| {
                let percent = 0.04 + bike_rate * truth(one);
                let reading = Reading::dial(&[(1e3 * percent).round() / 1e3]).expect("a reading");
                TimedReading::new(one.at, *reading.measurement())
            })
            .collect();
        let contexts: Vec<ContextExposure> = read.iter().map(|one| one.by_context).collect();
        let history = ChainHistory::new("hire", &timed).starting(*start);
        fleet.add_history_by_context(&history, &contexts);
    }
    fleet
}

#[test]
fn hard_rain_is_found_and_wears_the_bikes_that_ride_in_it() {
    let learned = fleet_in_hard_rain().learn_conditions();
    let wet = learned.covariates.iter().find(|it| it.covariate == Covariate::Wet).expect("one of each");
    assert!(wet.learned && wet.chains >= 50, "{wet:?}");
    assert!((wet.ln_shift - 1.5_f64.ln()).abs() < 0.12, "{wet:?}");
    assert!(wet.ln_sd < 0.2, "{wet:?}");
    let gravel = learned.covariates.iter().find(|it| it.covariate == Covariate::Gravel).expect("one of each");
    assert!(!gravel.learned && gravel.ln_shift == 0.0, "nobody rode on gravel: {gravel:?}");

    let conditions = LearnedCovariate::conditions(&learned.covariates);
    assert_eq!(conditions.multipliers(), &learned.multipliers);
    assert_eq!(conditions.care(), &learned.care);

    // A wet bike that nobody has read is expected to be worn more than by what is assumed of rain, at the same rate.
    let unread = |conditions: Conditions| {
        let mut bike = town().with_care_habit(cared_for()).with_conditions(conditions);
        for day in 0..100 {
            bike.ride(day, Ride::km(20.0).expect("km").wet(true));
        }
        bike.with_rate(Rate::default()).outlook(100).elongation_percent.expect("ridden").p50
    };
    let (assumed, known) = (unread(Conditions::default()), unread(conditions));
    assert!((known / assumed - 1.5).abs() < 0.3, "{assumed} {known}");
}
