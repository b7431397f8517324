//! What a yard's bikes have in common, found in invented yards.

use std::f64::consts::TAU;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use wear_core::forecast::{DailyUse, UseForecast, UseHistory, UsualYear};
use wear_core::{Bike, Drivetrain, Ride, Use};

const YEAR: f64 = 365.2425;

/// The first of January 2026, days since 1970-01-01.
const TODAY: i64 = 20_454;

fn summer(day: f64, strength: f64) -> f64 {
    (-strength * (TAU * day / YEAR).cos()).exp()
}

/// Days of a bike up to today, at a level that wanders by `drift` over twelve weeks.
fn ridden(days: i64, seed: u64, drift: f64, usual: impl Fn(f64) -> f64) -> Vec<DailyUse> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let normal = Normal::new(0.0, drift / 84.0_f64.sqrt()).expect("a normal");
    let mut level = 0.0_f64;
    (TODAY - days..TODAY)
        .map(|day| {
            level += normal.sample(&mut random);
            let rides = if random.random::<f64>() < 0.6 { random.random_range(0.5..1.5) / 0.6 } else { 0.0 };
            let km = rides * level.exp() * usual(day as f64);
            DailyUse { km, reference_km: 1.25 * km }
        })
        .collect()
}

fn history(days: &[DailyUse]) -> UseHistory {
    UseHistory::of(TODAY - days.len() as i64, days).expect("ridden")
}

fn yard(bikes: u64, days: i64, drift: f64, usual: impl Fn(f64) -> f64) -> Vec<UseHistory> {
    (0..bikes).map(|seed| history(&ridden(days, seed, drift, &usual))).collect()
}

#[test]
fn the_wave_of_a_yard_is_found_and_a_flat_year_stays_flat() {
    let found = UsualYear::of(&yard(20, 800, 0.1, |day| 15.0 * summer(day, 0.7)));
    for day in [0, 90, 182, 270] {
        let factor = found.factor_on(TODAY + day).expect("two years on record");
        let truth = summer((TODAY + day) as f64 + 0.5, 0.7);
        assert!(
            (factor / truth).ln().abs() < 3.0 * found.factor_ln_sd_on(TODAY + day).max(0.03),
            "{day}: {factor} {truth}"
        );
        assert!(found.factor_ln_sd_on(TODAY + day) < 0.15);
    }
    let level = found.reference_km_per_day().expect("twenty bikes");
    assert!((level / (15.0 * 1.25)).ln().abs() < 0.2, "{level}");
    let flat = UsualYear::of(&yard(20, 800, 0.1, |_| 15.0));
    for day in [0, 90, 182, 270] {
        let factor = flat.factor_on(TODAY + day).expect("two years on record");
        assert!(factor.ln().abs() < 0.12, "{day}: {factor}");
    }
}

#[test]
fn less_than_a_year_is_no_season_and_leaves_the_rest_of_it_open() {
    let found = UsualYear::of(&yard(20, 240, 0.1, |day| 15.0 * summer(day, 0.7)));
    assert_eq!(found.factor_on(TODAY), None);
    assert_eq!(found.km_per_reference_km_factor_on(TODAY), None);
    // On record: May to December.
    let unseen = found.factor_ln_sd_on(TODAY + 75);
    let nobody = UsualYear::default().factor_ln_sd_on(TODAY);
    let year = UsualYear::of(&yard(20, 400, 0.1, |day| 15.0 * summer(day, 0.7))).factor_ln_sd_on(TODAY + 75);
    assert!(year < unseen && unseen < nobody && nobody > 0.55, "{year} {unseen} {nobody}");
    assert_eq!(UsualYear::of(&[]), UsualYear::default());
}

/// Bikes that join with a level of their own, more and more of them until the summer of the last year.
#[test]
fn a_fleet_that_grows_has_no_season_for_it() {
    let bikes: Vec<UseHistory> = (0..40)
        .map(|bike: u64| {
            let days = if bike < 10 { 760 } else { 760 - 14 * (bike as i64 - 10) };
            let level = if bike < 10 { 8.0 } else { 25.0 };
            history(&ridden(days, bike, 0.05, |_| level))
        })
        .collect();
    let found = UsualYear::of(&bikes);
    for day in [0, 90, 182, 270] {
        let factor = found.factor_on(TODAY + day).expect("two years on record");
        assert!(factor.ln().abs() < 0.12, "{day}: {factor}");
    }
}

/// Shrunk toward what is usual, so 0.4 is found as less.
#[test]
fn yards_whose_habits_drift_are_known_by_it() {
    let drift = |drift| UsualYear::of(&yard(25, 700, drift, |day| 15.0 * summer(day, 0.4))).drift_ln_sd();
    let (steady, restless) = (drift(0.04), drift(0.4));
    assert!(steady < 0.14 && restless > 0.22, "{steady} {restless}");
}

#[test]
fn a_group_of_few_goes_with_its_workshop_and_a_large_one_its_own_way() {
    let hire = yard(40, 760, 0.1, |day| 15.0 * summer(day, 0.8));
    let workshop = UsualYear::of(&hire);
    let ratio = |year: &UsualYear| {
        year.factor_on(TODAY + 182).expect("seen").ln() - year.factor_on(TODAY).expect("seen").ln()
    };
    // Commuters without a season: two of them, for four months, and thirty for two years.
    let few = workshop.of_group(&yard(2, 120, 0.1, |_| 12.0));
    let many = workshop.of_group(&yard(30, 760, 0.1, |_| 12.0));
    assert!(ratio(&few) > 0.8 && ratio(&many).abs() < 0.25, "{} {}", ratio(&few), ratio(&many));
}

#[test]
fn a_bikes_dates_go_with_its_yards_year() -> Result<(), Box<dyn std::error::Error>> {
    let drivetrain = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
    let usual = UsualYear::of(&yard(20, 800, 0.1, |day| 15.0 * summer(day, 0.8)));
    let mut bike = Bike::new(drivetrain, Use::Town);
    for day in TODAY - 120..TODAY {
        let day_of_bike = i32::try_from(day)?;
        bike.ride(day_of_bike, Ride::km(12.0 * summer(day as f64, 0.8))?);
    }
    let today = i32::try_from(TODAY)?;
    let days = |bike: &Bike| bike.outlook(today).limit_in_days.and_then(|days| days.p50).ok_or("a date");
    let (alone, pooled) = (days(&bike)?, days(&bike.clone().with_usual_year(usual))?);
    // Winter behind it and summer ahead.
    assert!(f64::from(pooled) < 0.8 * f64::from(alone), "{pooled} {alone}");
    let kept = bike.assess(today).use_history().ok_or("ridden")?;
    assert_eq!(UsualYear::of(std::slice::from_ref(&kept)).factor_on(TODAY), None);
    Ok(())
}

/// June over the year's mean, and the year over itself.
#[test]
fn months_are_shares_of_a_year() {
    let found = UsualYear::of(&yard(20, 800, 0.1, |day| 15.0 * summer(day, 0.7)));
    assert!(found.is_learned() && found.is_its_own() && found.days_on_record() == 800);
    let year: f64 = (0..365).map(|day| summer(f64::from(day) + 0.5, 0.7)).sum::<f64>() / 365.0;
    for (first, days) in [(0, 31), (151, 30), (273, 31)] {
        let truth = (first..first + i64::from(days))
            .map(|day| summer((TODAY + day) as f64 + 0.5, 0.7) / year)
            .sum::<f64>()
            / f64::from(days);
        let (share, ln_sd) = found.share_over(TODAY + first, days).expect("two years on record");
        assert!((share / truth).ln().abs() < 3.0 * ln_sd, "{first}: {share} {truth} {ln_sd}");
        assert!((0.005..0.12).contains(&ln_sd), "{ln_sd}");
    }
    let (whole, unsure) = found.share_over(TODAY, 365).expect("two years on record");
    assert!((whole - 1.0).abs() < 2e-3 && unsure < 2e-3, "{whole} {unsure}");
    // A group of few has no year of its own, and its workshop's season.
    let few = found.of_group(&yard(2, 120, 0.1, |_| 12.0));
    assert!(few.is_learned() && !few.is_its_own());
    assert_eq!(UsualYear::default().share_over(TODAY, 31), None);
}

/// The same days give the same bits, and the same days of the year the same forecast.
#[test]
fn a_forecast_has_its_reasons_and_no_more() {
    let bikes = yard(9, 500, 0.1, |day| 15.0 * summer(day, 0.5));
    let usual = UsualYear::of(&bikes);
    assert_eq!(usual, UsualYear::of(&bikes));
    let days = ridden(200, 3, 0.1, |_| 10.0);
    let forecast = UseForecast::in_usual_year(&days, TODAY - 1, &usual).expect("used");
    let year_later = UseForecast::in_usual_year(&days, TODAY - 1 + 1_461, &usual).expect("used");
    // Four years are whole days but for three hundredths of one.
    for ahead in [30.0, 180.0] {
        let (now, then) = (forecast.exposure_over(ahead), year_later.exposure_over(ahead));
        assert!((now / then).ln().abs() < 1e-3, "{now} {then}");
        assert!(forecast.shared_ln_sd_over(ahead) < forecast.ln_sd_over(ahead));
    }
}
