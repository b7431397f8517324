//! Yards of bikes with a year of their own, simulated day by day. None of them follows the model that forecasts them.

use std::f64::consts::TAU;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, Normal};
use wear_core::forecast::DailyUse;

/// How a bike's habits change.
#[derive(Debug, Clone, Copy)]
pub enum Drift {
    Steady,
    /// A random walk in ln use, never coming back; standard deviation over 84 days.
    Walk(f64),
    /// Another rider or purpose now and then: changes a year, standard deviation of ln use.
    Regimes(f64, f64),
    /// Round a fixed level: standard deviation, days.
    Around(f64, f64),
}

/// A yard.
#[derive(Debug, Clone)]
pub struct Yard {
    pub name: String,
    pub bikes: usize,
    pub history_days: usize,
    /// Use over the year's mean by share of the year, not scaled.
    pub season: fn(f64) -> f64,
    /// Exponent on the season.
    pub strength: f64,
    /// Today's weekday doesn't matter; probability of a ride on each day of the week.
    pub rides: [f64; 7],
    /// Km a ride at the median bike.
    pub km: f64,
    pub ride_cv: f64,
    pub drift: Drift,
    /// The same for all bikes: standard deviation of a random walk over 84 days, of each year, and ln growth a year.
    pub common: (f64, f64, f64),
    pub level_sd: f64,
    /// Share of wet days by share of the year; what wet kilometres wear.
    pub wet: fn(f64) -> f64,
    pub wet_wears: f64,
    /// Share of the bikes that join during the history, evenly over it.
    pub joining: f64,
    /// Two weeks' rest each so many a year.
    pub rests: f64,
}

/// Summer is six times winter.
pub fn summer(share: f64) -> f64 {
    (-0.9 * (TAU * (share - 0.04)).cos()).exp()
}

/// Open from March to October.
pub fn summer_only(share: f64) -> f64 {
    if (0.17..0.83).contains(&share) { 0.3 + (TAU * (share - 0.17) / 1.32).sin() } else { 0.02 }
}

/// A sharp peak in May, little in November.
pub fn spring(share: f64) -> f64 {
    let from_peak = (share - 0.37 + 0.5).rem_euclid(1.0) - 0.5;
    0.5 + 1.5 * (-(from_peak / 0.12).powi(2)).exp()
}

/// A day like another, but for August.
pub fn flat(share: f64) -> f64 {
    if (0.58..0.65).contains(&share) { 0.6 } else { 1.0 }
}

/// One day in three, all year.
pub fn evenly_wet(_: f64) -> f64 {
    0.3
}

/// Two days in three in winter, one in ten in summer.
pub fn wet_winter(share: f64) -> f64 {
    0.38 + 0.28 * (TAU * share).cos()
}

/// One bike's days: history from its first day, and what comes.
pub struct BikeDays {
    pub first_day: usize,
    pub days: Vec<DailyUse>,
}

const DAYS_AHEAD: usize = 1_500;

/// A yard's bikes from the beginning of its record. The forecast is made after `history_days`, on a day of the year of the
/// caller's choice.
pub fn ridden(yard: &Yard, day_of_year: usize, seed: u64) -> (i64, Vec<BikeDays>) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let normal = Normal::new(0.0, 1.0).expect("a normal");
    let origin = 20_454 + day_of_year as i64;
    let begins = origin - yard.history_days as i64;
    let length = yard.history_days + DAYS_AHEAD;
    let share =
        |t: usize| (begins + t as i64) as f64 / 365.2425 - ((begins + t as i64) as f64 / 365.2425).floor();
    let usual: Vec<f64> =
        (0..365).map(|i| (yard.season)((f64::from(i) + 0.5) / 365.0).powf(yard.strength)).collect();
    let mean = usual.iter().sum::<f64>() / 365.0;
    let (walk, year, growth) = yard.common;
    let mut common = Vec::with_capacity(length);
    let (mut walked, mut this_year) = (0.0, year * normal.sample(&mut random));
    for t in 0..length {
        walked += walk / 84.0_f64.sqrt() * normal.sample(&mut random);
        if t > 0 && share(t) < share(t - 1) {
            this_year = year * normal.sample(&mut random);
        }
        let seasonal = (yard.season)(share(t)).powf(yard.strength) / mean;
        common.push(seasonal * (walked + this_year + growth * t as f64 / 365.0).exp());
    }
    let wet: Vec<bool> = (0..length).map(|t| random.random::<f64>() < (yard.wet)(share(t))).collect();
    let bikes = (0..yard.bikes)
        .map(|_| {
            let first_day = if random.random::<f64>() < yard.joining {
                (random.random::<f64>() * (yard.history_days as f64 - 14.0)) as usize
            } else {
                0
            };
            let mut own = yard.level_sd * normal.sample(&mut random);
            let mut around = match yard.drift {
                Drift::Around(sd, _) => sd * normal.sample(&mut random),
                _ => 0.0,
            };
            let mut rest = 0_u32;
            let weekday = random.random_range(0..7_usize);
            let gamma = Gamma::new(yard.ride_cv.powi(-2), yard.km * yard.ride_cv.powi(2)).expect("a gamma");
            let days = (0..length)
                .map(|t| {
                    match yard.drift {
                        Drift::Steady => {}
                        Drift::Walk(sd) => own += sd / 84.0_f64.sqrt() * normal.sample(&mut random),
                        Drift::Regimes(rate, sd) => {
                            if random.random::<f64>() < rate / 365.0 {
                                own = yard.level_sd * 0.5 * own.signum() + sd * normal.sample(&mut random);
                            }
                        }
                        Drift::Around(sd, days) => {
                            let kept: f64 = (-1.0 / days).exp();
                            around =
                                kept * around + sd * (1.0 - kept * kept).sqrt() * normal.sample(&mut random);
                        }
                    }
                    if rest == 0 && random.random::<f64>() < yard.rests / 365.0 {
                        rest = 14;
                    }
                    rest = rest.saturating_sub(1);
                    let expected = yard.rides[(weekday + t) % 7] * common[t] * (own + around).exp();
                    // More often up to twice a day, and further beyond.
                    let chance = expected.min(1.0);
                    let rides = rest == 0 && random.random::<f64>() < chance;
                    let km = if rides { gamma.sample(&mut random) * expected / chance } else { 0.0 };
                    let wears = if wet[t] { yard.wet_wears } else { 1.0 };
                    DailyUse { km, reference_km: km * wears }
                })
                .skip(first_day)
                .collect();
            BikeDays { first_day, days }
        })
        .collect();
    (origin, bikes)
}

const EVERY_DAY: [f64; 7] = [0.55; 7];
const WORKING_DAYS: [f64; 7] = [0.9, 0.9, 0.9, 0.9, 0.85, 0.1, 0.08];
const CLUB_DAYS: [f64; 7] = [0.05, 0.35, 0.1, 0.35, 0.05, 0.6, 0.65];

fn yard(name: &str, bikes: usize, months: usize, season: fn(f64) -> f64) -> Yard {
    Yard {
        name: format!("{name}, {months} months"),
        bikes,
        history_days: months * 365 / 12,
        season,
        strength: 1.0,
        rides: EVERY_DAY,
        km: 24.0,
        ride_cv: 0.5,
        drift: Drift::Walk(0.15),
        common: (0.08, 0.08, 0.0),
        level_sd: 0.3,
        wet: evenly_wet,
        wet_wears: 1.7,
        joining: 0.0,
        rests: 0.0,
    }
}

/// Yards that the forecast was looked at on while it was written.
pub fn known_yards() -> Vec<Yard> {
    let club = |months| Yard {
        rides: CLUB_DAYS,
        km: 60.0,
        drift: Drift::Around(0.35, 120.0),
        common: (0.05, 0.1, 0.0),
        level_sd: 0.5,
        ..yard("club, spring", 25, months, spring)
    };
    let commuters = |months| Yard {
        rides: WORKING_DAYS,
        km: 14.0,
        ride_cv: 0.15,
        drift: Drift::Regimes(0.7, 0.6),
        common: (0.03, 0.03, 0.0),
        level_sd: 0.4,
        rests: 1.5,
        wet: wet_winter,
        wet_wears: 2.0,
        ..yard("commuters, flat", 30, months, flat)
    };
    vec![
        yard("hire, summer", 40, 26, summer),
        yard("hire, summer", 40, 14, summer),
        yard("hire, summer", 40, 8, summer),
        yard("hire, summer", 40, 4, summer),
        Yard { drift: Drift::Walk(0.3), ..yard("closed in winter", 30, 26, summer_only) },
        commuters(26),
        commuters(14),
        commuters(8),
        commuters(4),
        club(26),
        club(14),
        club(8),
        Yard { joining: 0.8, ..yard("growing hire", 40, 14, summer) },
        Yard { joining: 0.8, common: (0.08, 0.08, 0.2), ..yard("growing hire", 40, 26, summer) },
        Yard { common: (0.05, 0.05, -0.35), strength: 0.6, ..yard("shrinking", 30, 14, summer) },
        Yard { common: (0.05, 0.05, -0.35), strength: 0.6, ..yard("shrinking", 30, 26, summer) },
        Yard { drift: Drift::Steady, common: (0.0, 0.0, 0.0), ..yard("steady", 30, 14, flat) },
        Yard { strength: 0.8, ..yard("three bikes", 3, 14, summer) },
    ]
}

/// Yards drawn at random, from wide ranges.
pub fn drawn_yards(count: usize, seed: u64) -> Vec<Yard> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    (0..count)
        .map(|i| {
            let between =
                |random: &mut ChaCha8Rng, from: f64, to: f64| from + (to - from) * random.random::<f64>();
            let season = [summer as fn(f64) -> f64, summer_only, spring, flat][random.random_range(0..4)];
            let months = [4, 8, 14, 26, 34][random.random_range(0..5)];
            let drift = match random.random_range(0..4) {
                0 => Drift::Steady,
                1 => Drift::Walk(between(&mut random, 0.08, 0.35)),
                2 => Drift::Regimes(between(&mut random, 0.3, 1.2), between(&mut random, 0.3, 0.7)),
                _ => Drift::Around(between(&mut random, 0.15, 0.5), between(&mut random, 40.0, 500.0)),
            };
            let bikes = random.random_range(5..60);
            Yard {
                strength: if random.random::<f64>() < 0.7 { between(&mut random, 0.5, 1.3) } else { 1.0 },
                rides: [EVERY_DAY, WORKING_DAYS, CLUB_DAYS][random.random_range(0..3)],
                km: between(&mut random, 8.0, 60.0),
                ride_cv: between(&mut random, 0.1, 0.8),
                drift,
                common: (
                    between(&mut random, 0.0, 0.12),
                    between(&mut random, 0.0, 0.15),
                    between(&mut random, -0.25, 0.25),
                ),
                level_sd: between(&mut random, 0.1, 0.7),
                wet: if random.random::<bool>() { wet_winter } else { evenly_wet },
                wet_wears: between(&mut random, 1.2, 2.4),
                joining: if random.random::<bool>() { between(&mut random, 0.0, 0.9) } else { 0.0 },
                rests: between(&mut random, 0.0, 2.5),
                ..yard(&format!("drawn {i}"), bikes, months, season)
            }
        })
        .collect()
}
