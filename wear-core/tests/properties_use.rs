//! Invariants of the forecast of use and of the days that a remaining life takes, on whatever use a bike had.

use proptest::prelude::*;
use wear_core::forecast::{DailyUse, HORIZON_DAYS, LifeCurve, SEASON_DAYS, UseForecast, WINDOW_DAYS};

fn day(reference_km: f64) -> DailyUse {
    DailyUse { km: 0.7 * reference_km, reference_km }
}

/// Days with and without rides, from a walk's length to more than anyone rides.
fn any_days(most: usize) -> impl Strategy<Value = Vec<DailyUse>> {
    let used = prop_oneof![
        3 => Just(0.0),
        5 => 0.1..80.0_f64,
        1 => (-6.0..4.0_f64).prop_map(|exponent| 10.0_f64.powf(exponent)),
    ];
    prop::collection::vec(used.prop_map(day), 1..most)
}

fn used(days: &[DailyUse]) -> Option<UseForecast> {
    UseForecast::from_days(days)
}

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs())
}

/// A life whose limit is reached after a mean of `mean` reference km.
fn life(mean: f64) -> LifeCurve {
    LifeCurve::sample(2.3 * mean, |s| 1.0 - (-(s / mean).powi(2)).exp())
}

proptest! {
    #[test]
    fn exposure_ahead_begins_at_nothing_and_never_falls(days in any_days(1_200), step in 0.1..40.0_f64) {
        let Some(forecast) = used(&days) else {
            let from = days.len().saturating_sub(WINDOW_DAYS);
            prop_assert!(days[from..].iter().all(|day| day.reference_km == 0.0));
            return Ok(());
        };
        prop_assert_eq!(forecast.exposure_over(0.0), 0.0);
        let mut before = 0.0;
        for i in 1..200 {
            let ahead = step * f64::from(i);
            let exposure = forecast.exposure_over(ahead);
            prop_assert!(exposure.is_finite() && exposure >= before * (1.0 - 1e-12), "{ahead}: {before} {exposure}");
            before = exposure;
            let sd = forecast.ln_sd_over(ahead);
            prop_assert!(sd > 0.0 && sd <= 1.5);
            let nodes = forecast.exposure_nodes(ahead);
            prop_assert!(close(nodes.iter().map(|(_, weight)| weight).sum(), 1.0, 1e-12));
            prop_assert!(nodes.iter().all(|(node, _)| node.is_finite() && *node >= 0.0));
        }
        // The median of a week is its mean where riding is even, and below it where rides are rare.
        let week = forecast.exposure_over(7.0) / (7.0 * forecast.reference_km_per_day());
        prop_assert!(week > 0.0 && week <= 1.0 + 1e-9, "{week}");
    }

    #[test]
    fn weekdays_are_shares_of_a_week(days in any_days(200)) {
        let Some(forecast) = used(&days) else { return Ok(()) };
        let factors = forecast.weekday_factors();
        prop_assert!(factors.iter().all(|factor| (0.0..=7.0 + 1e-9).contains(factor)), "{factors:?}");
        prop_assert!(close(factors.iter().sum(), 7.0, 1e-9), "{factors:?}");
    }

    #[test]
    fn twice_the_use_is_twice_the_exposure_and_the_same_pattern(days in any_days(900), by in 0.01..100.0_f64) {
        let Some(forecast) = used(&days) else { return Ok(()) };
        let more: Vec<_> = days.iter().map(|day| DailyUse { km: day.km, reference_km: by * day.reference_km }).collect();
        let Some(scaled) = used(&more) else { return Err(TestCaseError::fail("used")) };
        for ahead in [1.0, 9.5, 60.0, 400.0] {
            prop_assert!(close(scaled.exposure_over(ahead), by * forecast.exposure_over(ahead), 1e-6));
            prop_assert!(close(scaled.ln_sd_over(ahead), forecast.ln_sd_over(ahead), 1e-6));
        }
        prop_assert!(close(scaled.km_per_reference_km() * by, forecast.km_per_reference_km(), 1e-9));
        for (a, b) in scaled.weekday_factors().into_iter().zip(forecast.weekday_factors()) {
            prop_assert!((a - b).abs() < 1e-6);
        }
    }

    #[test]
    fn a_day_later_the_same_week_begins_a_day_later(
        week in prop::array::uniform7(prop_oneof![Just(0.0), 1.0..60.0_f64]),
        weeks in 4..20_usize,
    ) {
        prop_assume!(week.iter().sum::<f64>() > 0.0);
        let usual = |t: usize| week[t % 7];
        let days: Vec<_> = (0..7 * weeks).map(|t| day(usual(t))).collect();
        for later in 0..7 {
            let mut days = days.clone();
            days.extend((0..later).map(|t| day(usual(t))));
            let forecast = used(&days).ok_or_else(|| TestCaseError::fail("used"))?;
            let mean = week.iter().sum::<f64>() / 7.0;
            for (ahead, factor) in forecast.weekday_factors().into_iter().enumerate() {
                prop_assert!((factor - usual(later + ahead) / mean).abs() < 1e-6, "{later} {ahead}");
            }
        }
    }

    #[test]
    fn what_is_too_long_ago_changes_nothing(
        recent in prop::collection::vec((0.0..50.0_f64).prop_map(day), SEASON_DAYS),
        older in any_days(300),
    ) {
        let all: Vec<_> = older.iter().chain(&recent).copied().collect();
        prop_assert_eq!(used(&all), used(&recent));
        // Days before the first ride are as good as none.
        let begun: Vec<_> = std::iter::repeat_n(DailyUse::default(), 90).chain(recent[900..].iter().copied()).collect();
        prop_assert_eq!(used(&begun), used(&recent[900..]));
    }

    #[test]
    fn days_are_in_the_order_of_their_levels(days in any_days(900), mean in 1.0..20_000.0_f64) {
        let Some(forecast) = used(&days) else { return Ok(()) };
        let curve = life(mean);
        let mut before = Some(0);
        for level in [0.01, 0.1, 0.2, 0.5, 0.9] {
            let at = curve.day_reaching(&forecast, level);
            prop_assert!(at.unwrap_or(u32::MAX) >= before.unwrap_or(u32::MAX), "{level}: {before:?} {at:?}");
            match at {
                Some(at) => {
                    prop_assert!(at <= HORIZON_DAYS);
                    prop_assert!(curve.probability_by_day(&forecast, f64::from(at)) >= level);
                }
                None => prop_assert!(curve.probability_by_day(&forecast, f64::from(HORIZON_DAYS)) < level),
            }
            before = at;
        }
    }

    #[test]
    fn a_bike_that_rests_on_some_weekdays_passes_no_limit_on_them(
        rests in prop::array::uniform7(any::<bool>()),
        mean in 100.0..3_000.0_f64,
    ) {
        prop_assume!(rests.iter().any(|rests| *rests) && rests.iter().any(|rests| !*rests));
        let days: Vec<_> = (0..728).map(|t| day(if rests[t % 7] { 0.0 } else { 20.0 })).collect();
        let forecast = used(&days).ok_or_else(|| TestCaseError::fail("used"))?;
        for ahead in 0..70_u32 {
            let (from, to) = (f64::from(ahead), f64::from(ahead) + 1.0);
            let ridden = forecast.exposure_over(to) - forecast.exposure_over(from);
            prop_assert_eq!(ridden > 1e-6, !rests[ahead as usize % 7], "{}: {}", ahead, ridden);
        }
        let curve = life(mean);
        let expected = (0.5_f64.ln() / -1.0).sqrt() * mean;
        let at = curve.day_reaching(&forecast, 0.5).ok_or_else(|| TestCaseError::fail("within ten years"))?;
        let daily = days.iter().map(|day| day.reference_km).sum::<f64>() / 728.0;
        prop_assert!((f64::from(at) - expected / daily).abs() < 8.0 + 0.15 * expected / daily, "{at} {}", expected / daily);
    }

    #[test]
    fn a_number_that_is_none_gives_no_forecast(
        days in any_days(120), which in 0..120_usize,
        wrong in prop::sample::select(vec![f64::NAN, f64::INFINITY, -1.0]),
        distance in any::<bool>(),
    ) {
        let mut days = days;
        let which = which % days.len();
        if distance { days[which].km = wrong } else { days[which].reference_km = wrong }
        prop_assert_eq!(used(&days), None);
    }
}
