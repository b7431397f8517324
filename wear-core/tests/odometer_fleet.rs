//! Eighty bikes with nothing but an odometer and a rule for a year: how often the truth lies where the outlook says.
//!
//! The world is none of the defaults: wear 15 % faster, another spread, mechanics who clean when they feel like it, rain by
//! chance, and days off. Our own simulation (A); no data of a real fleet.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use wear_core::bike::Sprockets;
use wear_core::exposure::care::{CareKind, CareModel, CareState, Segment};
use wear_core::knock_on::CassetteBuild;
use wear_core::units::Kilometres;
use wear_core::{Bike, ChainStart, Drivetrain, Reading, Use};

const BIKES: usize = 80;
const DAYS: i32 = 365;
const LIMIT: f64 = 0.75;

fn normal(random: &mut ChaCha8Rng) -> f64 {
    let (u, v): (f64, f64) = (random.random_range(1e-12..1.0), random.random_range(0.0..1.0));
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

/// A chain's true elongation at the end of each day, and the odometer.
struct Truth {
    elongation: Vec<f64>,
    odometer: Vec<f64>,
}

fn ridden(random: &mut ChaCha8Rng) -> Truth {
    let care = CareModel::default();
    let reference_per_km = {
        let ride = wear_core::Ride::km(100.0).expect("a distance");
        let totals = ride.totals(&drivetrain(), Use::Town, &wear_core::exposure::ExposureModel::default());
        totals.base_reference_mm as f64 / 1e6 / 100.0
    };
    let rate = (0.125e-3_f64 * 1.15) * (0.35 * normal(random)).exp();
    let daily = 14.0 * (0.5 * normal(random)).exp();
    let care_every = 350.0 * (0.7 * normal(random)).exp();
    let mut state = CareState::fresh();
    let (mut since, mut total) = (0.0, random.random_range(0.0..9_000.0));
    let mut elongation = random.random_range(0.05..0.45);
    let mut truth = Truth { elongation: Vec::new(), odometer: Vec::new() };
    for day in 0..4_000 {
        let season = 1.0 + 0.4 * (std::f64::consts::TAU * f64::from(day) / 365.0).sin();
        let out = random.random_range(0.0..1.0) < 0.8;
        let km = if out { daily * season * random.random_range(0.3..1.7) } else { 0.0 };
        let wet = random.random_range(0.0..1.0) < 0.15;
        let base = km * reference_per_km;
        let segment =
            if wet { Segment { dry: 0.0, wet: base * 1.5 } } else { Segment { dry: base, wet: 0.0 } };
        let (exposure, after) = care.accrue(state, segment);
        state = after;
        since += base;
        if since > care_every {
            state = state.after(CareKind::CleanedAndLubricated);
            since = 0.0;
        }
        elongation += rate * exposure;
        total += km;
        truth.elongation.push(elongation);
        truth.odometer.push(total);
    }
    truth
}

fn drivetrain() -> Drivetrain {
    Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114).expect("a drivetrain")
}

#[test]
fn kilometres_and_the_next_reading_hold_what_they_promise() {
    let mut random = ChaCha8Rng::seed_from_u64(18);
    let (mut km, mut km_inside, mut early) = (0, 0, 0);
    let (mut read, mut read_inside) = (0, 0);
    for _ in 0..BIKES {
        let truth = ridden(&mut random);
        let mut bike = Bike::new(drivetrain(), Use::Town)
            .with_cassette(Sprockets::Unrecorded, CassetteBuild::OnePiece)
            .with_rings(Sprockets::Unrecorded)
            .starting(ChainStart::AsFound);
        let mut day = 0_i32;
        while day < DAYS {
            let at = usize::try_from(day).expect("a day");
            let elongation = truth.elongation[at];
            if elongation >= LIMIT {
                break;
            }
            bike.odometer(day, Kilometres::new(truth.odometer[at].round()).expect("a total"));
            let reading = ((elongation + 0.06 * normal(&mut random)) * 100.0).round() / 100.0;
            if day > 0 {
                let band = bike.outlook(day).elongation_percent.expect("a chain");
                let sd = ((band.p90 - band.p10) / 2.563_1).hypot(0.06);
                read += 1;
                read_inside += usize::from((reading - band.p50).abs() <= 1.281_55 * sd);
            }
            bike.read(day, Reading::rule(reading.max(-0.1)).expect("a reading"));
            if let Some(reached) = truth.elongation.iter().position(|it| *it >= LIMIT) {
                let left = truth.odometer[reached] - truth.odometer[at];
                let told = bike.outlook(day).remaining_km.expect("kilometres");
                km += 1;
                km_inside += usize::from((told.p10..=told.p90).contains(&left));
                early += usize::from(left < told.p10);
            }
            day += random.random_range(28..60);
        }
    }
    let share = |part: usize, of: usize| part as f64 / of as f64;
    println!(
        "km: {:.1} % of {km} inside P10 to P90, {:.1} % before P10; next reading: {:.1} % of {read} inside",
        100.0 * share(km_inside, km),
        100.0 * share(early, km),
        100.0 * share(read_inside, read)
    );
    assert!(km > 300 && read > 300);
    assert!((0.70..0.92).contains(&share(km_inside, km)));
    assert!((0.70..0.92).contains(&share(read_inside, read)));
}
