//! Forecasts of invented bikes.

use std::f64::consts::TAU;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::*;
use crate::forecast::UseHistory;

fn day(reference_km: f64) -> DailyUse {
    DailyUse { km: 0.8 * reference_km, reference_km }
}

fn steady(days: usize) -> Vec<DailyUse> {
    vec![day(12.5); days]
}

/// Use that scatters by ±60 % from day to day round `usual`, which gets days from today, negative in the past.
fn scattered(days: usize, seed: u64, usual: impl Fn(f64) -> f64) -> Vec<DailyUse> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    (0..days).map(|i| day(usual(i as f64 - days as f64) * random.random_range(0.4..1.6))).collect()
}

#[test]
fn unused_bikes_have_no_forecast() {
    assert_eq!(UseForecast::from_days(&[]), None);
    let mut days = steady(400);
    days.extend([DailyUse::default(); WINDOW_DAYS]);
    assert_eq!(UseForecast::from_days(&days), None);
}

#[test]
fn scattered_use_is_less_certain_than_steady_use() {
    // One ride every eleven days: no weekday explains it.
    let rare: Vec<_> = (0..84).map(|i| day(if i % 11 == 0 { 137.5 } else { 0.0 })).collect();
    let rare = UseForecast::from_days(&rare).expect("used");
    let steady = UseForecast::from_days(&steady(84)).expect("used");
    assert!(rare.ln_sd_over(14.0) > 1.5 * steady.ln_sd_over(14.0));
}

#[test]
fn a_bike_ridden_to_work_rests_at_the_weekend() {
    // Monday to Friday, today a Saturday.
    let days: Vec<_> = (0..84).map(|i| day(if i % 7 < 5 { 20.0 } else { 0.0 })).collect();
    let days = &days[..82];
    let forecast = UseForecast::from_days(days).expect("used");
    let factors = forecast.weekday_factors();
    assert!(factors[0] < 0.05 && factors[1] < 0.05 && factors[2] > 1.3, "{factors:?}");
    assert!((factors.iter().sum::<f64>() - 7.0).abs() < 1e-9);
    assert!(forecast.exposure_over(2.0) < 3.0, "{}", forecast.exposure_over(2.0));
    let week = forecast.exposure_over(9.0) - forecast.exposure_over(2.0);
    assert!((week - 100.0).abs() < 8.0, "{week}");
}

#[test]
fn steady_use_is_forecast_as_it_was() {
    let forecast = UseForecast::from_days(&steady(100)).expect("used");
    assert!((forecast.reference_km_per_day() - 12.5).abs() < 0.1, "{}", forecast.reference_km_per_day());
    assert!((forecast.km_per_reference_km() - 0.8).abs() < 1e-9);
    assert!((forecast.exposure_over(41.0) / (41.0 * 12.5) - 1.0).abs() < 0.1);
    assert_eq!(forecast.season_factor(90.0), None);
    assert!((forecast.distances().km(1_000.0) - 800.0).abs() < 1e-9);
}

#[test]
fn node_weights_sum_to_one_and_have_unit_variance() {
    let forecast = UseForecast::from_days(&steady(100)).expect("used");
    let nodes = forecast.exposure_nodes(10.0);
    let ln_median = forecast.exposure_over(10.0).ln();
    let total: f64 = nodes.iter().map(|(_, weight)| weight).sum();
    let variance: f64 = nodes.iter().map(|(x, weight)| weight * (x.ln() - ln_median).powi(2)).sum();
    assert!((total - 1.0).abs() < 1e-12, "{total}");
    assert!((variance.sqrt() - forecast.ln_sd_over(10.0)).abs() < 1e-9);
}

#[test]
fn noise_makes_no_pattern() {
    let mut factor = 0.0;
    for seed in 0..40 {
        let forecast = UseForecast::from_days(&scattered(84, seed, |_| 15.0)).expect("used");
        factor += forecast.weekday_factors().iter().map(|f| (f - 1.0).abs()).sum::<f64>() / 280.0;
        let ahead = forecast.exposure_over(60.0);
        assert!((ahead / 900.0).ln().abs() < 0.25, "{ahead}");
    }
    assert!(factor < 0.05, "mean weekday deviation {factor}");
}

#[test]
fn the_last_weeks_count_at_once_and_the_long_run_in_the_end() {
    // Two years at 10 a day, twelve weeks at 20.
    let changed = scattered(730, 3, |t| if t < -84.0 { 10.0 } else { 20.0 });
    let forecast = UseForecast::from_days(&changed).expect("used");
    let per_day =
        |from: f64, to: f64| (forecast.exposure_over(to) - forecast.exposure_over(from)) / (to - from);
    let year = |at: f64| per_day(at, at + 365.2425);
    assert!((15.0..21.0).contains(&per_day(0.0, 28.0)), "{}", per_day(0.0, 28.0));
    assert!(year(1_500.0) < 0.95 * year(0.0), "{} {}", year(0.0), year(1_500.0));
    assert!((11.0..16.0).contains(&year(1_500.0)), "{}", year(1_500.0));
}

#[test]
fn the_further_ahead_the_less_is_known() {
    let days = scattered(740, 5, |_| 20.0);
    let forecast = UseForecast::from_days(&days).expect("used");
    let sd = |days| forecast.ln_sd_over(days);
    assert!(sd(56.0) < sd(182.0) && sd(182.0) < sd(365.0), "{} {} {}", sd(56.0), sd(182.0), sd(365.0));
    // And a day is less certain than a month, as it may be one of rest.
    assert!(sd(1.0) > sd(28.0));
    let known_to = forecast.known_to(0.5);
    assert!((known_to.ln_sd_over(90.0).powi(2) - sd(90.0).powi(2) - 0.25).abs() < 1e-9);
}

#[test]
fn a_wave_of_its_own_shows_with_a_year_of_it_and_half_a_year_leaves_it_open() {
    let usual = |t: f64| 20.0 * (1.0 + 0.6 * (TAU * (t + 30.0) / 365.25).sin());
    let truth = |days: u32| (0..days).map(|t| usual(f64::from(t))).sum::<f64>();
    let young = UseForecast::from_days(&scattered(182, 5, usual)).expect("used");
    assert_eq!(young.season_factor(182.0), None);
    for seed in 0..6 {
        let old = UseForecast::from_days(&scattered(740, seed, usual)).expect("used");
        let factor = old.season_factor(152.0).expect("a season");
        let expected = usual(152.0) / usual(0.0);
        assert!((factor / expected).ln().abs() < 0.35, "{factor} {expected}");
        for days in [90, 182, 365] {
            let z = (old.exposure_over(f64::from(days)) / truth(days)).ln() / old.ln_sd_over(f64::from(days));
            assert!(z.abs() < 2.0, "{days} days: {z}");
        }
        assert!(old.ln_sd_over(182.0) < 0.6 * young.ln_sd_over(182.0));
    }
}

/// Bikes of a yard where summer is five times winter; the record ends on a last of December.
fn yard(bikes: u64, days: usize) -> Vec<Vec<DailyUse>> {
    let usual = |t: f64| 15.0 * (-0.8 * (TAU * t / 365.2425).cos()).exp();
    (0..bikes).map(|seed| scattered(days, seed, usual)).collect()
}

fn usual_year(bikes: &[Vec<DailyUse>]) -> UsualYear {
    let histories: Vec<UseHistory> =
        bikes.iter().filter_map(|days| UseHistory::of(-(days.len() as i64), days)).collect();
    UsualYear::of(&histories)
}

#[test]
fn a_young_bike_has_its_yards_summer_ahead() {
    let yard = yard(12, 740);
    let usual = usual_year(&yard);
    let young = &yard[0][740 - 56..];
    let forecast = UseForecast::in_usual_year(young, -1, &usual).expect("used");
    let alone = UseForecast::from_days(young).expect("used");
    let truth: f64 = (0..182).map(|t| 15.0 * (-0.8 * (TAU * f64::from(t) / 365.2425).cos()).exp()).sum();
    let error = |forecast: &UseForecast| (forecast.exposure_over(182.0) / truth).ln();
    assert!(error(&forecast).abs() < 0.2 && error(&alone) < -0.4, "{} {}", error(&forecast), error(&alone));
    assert!(forecast.ln_sd_over(182.0) < 0.5 * alone.ln_sd_over(182.0));
    let summer = forecast.season_factor(182.0).expect("seen");
    assert!((summer.ln() - 1.6).abs() < 0.3, "{summer}");
    // What nobody knows of the season is common to all.
    assert!(alone.shared_ln_sd_over(182.0) > 3.0 * forecast.shared_ln_sd_over(182.0));
}

#[test]
fn a_bike_of_a_few_days_goes_like_its_group() {
    let yard = yard(12, 740);
    let usual = usual_year(&yard);
    // A day's ride of 90 reference km, then five days of nothing.
    let mut days = vec![day(90.0)];
    days.extend([DailyUse::default(); 5]);
    let grouped = UseForecast::in_usual_year(&days, -1, &usual).expect("used");
    let (grouped, group) =
        (grouped.exposure_over(365.0), usual.reference_km_per_day().expect("twelve bikes"));
    assert!((grouped / (365.0 * group * 1.15)).ln().abs() < 0.5, "{grouped} {group}");
}

#[test]
fn a_bike_that_rests_with_its_yard_is_in_use() {
    let closed = |t: f64| if (t.rem_euclid(365.2425) - 182.0).abs() < 92.0 { 20.0 } else { 0.0 };
    let yard: Vec<_> = (0..8).map(|seed| scattered(740, seed, closed)).collect();
    assert_eq!(UseForecast::from_days(&yard[0]), None);
    let forecast = UseForecast::in_usual_year(&yard[0], -1, &usual_year(&yard)).expect("in use");
    let (winter, year) = (forecast.exposure_over(60.0), forecast.exposure_over(365.0));
    assert!(winter < 0.1 * year, "{winter} {year}");
    assert!((year / (184.0 * 20.0)).ln().abs() < 0.5, "{year}");
    // But not for ever.
    let mut sold = yard[0].clone();
    sold.extend([DailyUse::default(); 365]);
    assert_eq!(UseForecast::in_usual_year(&sold, 364, &usual_year(&yard)), None);
}

#[test]
fn wet_months_take_kilometres_off() {
    // Winter kilometres wear half as much again.
    let ratio = |t: f64| 0.8 * (-0.2 * (TAU * t / 365.2425).cos()).exp();
    let yard: Vec<Vec<DailyUse>> = yard(12, 740)
        .into_iter()
        .map(|days| {
            let of = |(i, day): (usize, DailyUse)| DailyUse {
                km: day.reference_km * ratio(i as f64 - 740.0),
                ..day
            };
            days.into_iter().enumerate().map(of).collect()
        })
        .collect();
    let usual = usual_year(&yard);
    let forecast = UseForecast::in_usual_year(&yard[3], -1, &usual).expect("used");
    assert!((forecast.km_per_reference_km() / ratio(0.0)).ln().abs() < 0.05);
    let (month, half) = (forecast.exposure_over(28.0), forecast.exposure_over(182.0));
    let distances = forecast.distances();
    let true_half: f64 = (0..182)
        .map(|t| 15.0 * (-0.8 * (TAU * f64::from(t) / 365.2425).cos()).exp() * ratio(f64::from(t)))
        .sum::<f64>()
        / (0..182).map(|t| 15.0 * (-0.8 * (TAU * f64::from(t) / 365.2425).cos()).exp()).sum::<f64>();
    assert!((distances.km(month) / month / ratio(14.0)).ln().abs() < 0.06);
    assert!((distances.km(half) / half / true_half).ln().abs() < 0.06);
    let many: Vec<f64> = (0..400).map(|i| distances.km(50.0 * f64::from(i))).collect();
    assert!(many.windows(2).all(|pair| pair[0] < pair[1]));
}

#[test]
fn eight_in_ten_months_fall_between_the_tenth_and_the_ninetieth_percentile() {
    // Habits drift by 0.2 a month.
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let mut inside = 0;
    for seed in 0..300 {
        let days = scattered(800, 1_000 + seed, |_| 15.0);
        let forecast = UseForecast::from_days(&days).expect("used");
        let normal = (0..12).map(|_| random.random_range(-0.5..0.5)).sum::<f64>();
        let drifted = 15.0 * (0.2 * normal).exp();
        let month: f64 = (0..30).map(|_| drifted * random.random_range(0.4..1.6)).sum();
        let z = (month / forecast.exposure_over(30.0)).ln() / forecast.ln_sd_over(30.0);
        inside += u32::from(z.abs() < 1.281_55);
    }
    let coverage = f64::from(inside) / 300.0;
    assert!((0.74..0.93).contains(&coverage), "{coverage}");
}
