use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};

use super::*;
use crate::bike::{SWAP_DAYS, SwapTiming};
use crate::knock_on::SkipThreshold;

/// Ends of thirteen periods: what is left of a month, and twelve more.
const ENDS: [f64; 13] =
    [5.0, 36.0, 67.0, 95.0, 126.0, 156.0, 187.0, 217.0, 248.0, 279.0, 309.0, 340.0, 370.0];

const COMMON: f64 = 0.2;
const OWN: f64 = 0.25;
const LIFE_SD: f64 = 0.3;
const LEFT_SD: f64 = 0.2;

/// Spread of the logarithm of the damage that cassettes and rings bear, as assumed.
const SIGMA: f64 = 0.6;

/// Summer is three times winter, today is the first of December.
fn used_by(days: f64) -> f64 {
    let turn = std::f64::consts::TAU / 365.0;
    10.0 * (days - 0.5 / turn * ((turn * (days - 31.0)).sin() + (turn * 31.0).sin()))
}

/// A bike whose chain has `left` reference km to go, and its successors `life`.
fn bike(left: f64, life: f64) -> BikeAhead {
    let sd = LEFT_SD.hypot(OWN).hypot(COMMON);
    let by = |day: u32| {
        if day == 0 { 0.0 } else { normal::distribution((used_by(f64::from(day)) / left).ln() / sd) }
    };
    let share = (COMMON / sd).powi(2);
    let timing =
        SwapTiming { certain_in_days: None, by_day: SWAP_DAYS.map(by), common: [share; SWAP_DAYS.len()] };
    let renewals = Renewals {
        ahead: AHEAD_DAYS.map(used_by),
        own_ln_sd: OWN,
        common_ln_sd: COMMON,
        life,
        life_ln_sd: LIFE_SD,
        cassette_per_chain: 0.5,
    };
    BikeAhead {
        swap: NextSwap { timing, cassette: Some(0.3), rings: vec![0.05], renewals: Some(renewals) },
        age_days: 0.0,
        chain: Takes { cost: 3_000.0, minutes: 20.0 },
        cassette: Takes { cost: 4_000.0, minutes: 15.0 },
        rings: vec![Takes { cost: 2_500.0, minutes: 25.0 }],
    }
}

fn quantiles(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    [0.1, 0.5, 0.9].map(|level| values[(level * values.len() as f64) as usize])
}

/// Chains in each period and the year, money of the year, counted in so many simulated years.
fn simulated(lives: &[(f64, f64)], years: usize) -> (Vec<Vec<f64>>, Vec<f64>) {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let normal = Normal::new(0.0, 1.0).expect("a normal");
    let mut z = move || normal.sample(&mut random);
    let grid: Vec<f64> = (0..=370).map(|day| used_by(f64::from(day))).collect();
    let (mut chains, mut cost) = (vec![Vec::with_capacity(years); ENDS.len() + 1], Vec::with_capacity(years));
    for _ in 0..years {
        let common = COMMON * z();
        let mut counts = vec![0.0; ENDS.len() + 1];
        let mut money = 0.0;
        for (left, life) in lives {
            let factor = (common + OWN * z()).exp();
            let mut reached = left * (LEFT_SD * z()).exp();
            // Damage when the cassette's threshold of ln sd 0.6 is a half step ahead, as `replaced` has it.
            let mut damage = (SIGMA * normal::quantile(0.3)).exp();
            let mut threshold = (SIGMA * z()).exp();
            let mut ring_damage = (SIGMA * normal::quantile(0.05)).exp();
            let mut ring_threshold = (SIGMA * z()).exp();
            loop {
                let day = grid.iter().position(|used| used * factor >= reached);
                let Some(period) = day.and_then(|day| ENDS.iter().position(|end| day as f64 <= *end)) else {
                    break;
                };
                counts[period] += 1.0;
                let in_year = period > 0;
                counts[ENDS.len()] += f64::from(u8::from(in_year));
                let mut takes = 3_000.0;
                if damage >= threshold {
                    takes += 4_000.0;
                    (damage, threshold) = (0.0, (SIGMA * z()).exp());
                }
                if ring_damage >= ring_threshold {
                    takes += 2_500.0;
                    (ring_damage, ring_threshold) = (0.0, (SIGMA * z()).exp());
                }
                money += if in_year { takes } else { 0.0 };
                damage += 0.5;
                ring_damage += 0.2;
                reached += life * (LIFE_SD * z()).exp();
            }
        }
        chains.iter_mut().zip(&counts).for_each(|(all, count)| all.push(*count));
        cost.push(money);
    }
    (chains, cost)
}

#[test]
fn a_year_is_as_a_simulation_has_it() {
    // Forty bikes: some swap once in two years, some four times a year.
    let lives: Vec<(f64, f64)> =
        (0..40).map(|i| (200.0 + 150.0 * f64::from(i), 800.0 + 120.0 * f64::from(i % 20))).collect();
    let bikes: Vec<BikeAhead> = lives.iter().map(|(left, life)| bike(*left, *life)).collect();
    let year = ComingYear::of(&bikes, &ENDS, &SkipThreshold::ASSUMED);
    let (chains, cost) = simulated(&lives, 4_000);
    for (place, counted) in chains.iter().enumerate() {
        let told = year.periods.get(place).map_or(&year.year, |period| period).chains;
        let mean = counted.iter().sum::<f64>() / counted.len() as f64;
        assert!((told.mean - mean).abs() < 0.04 * mean + 0.15, "{place}: {told:?} {mean}");
        for (told, counted) in [told.p10, told.p50, told.p90].into_iter().zip(quantiles(counted.clone())) {
            assert!((told - counted).abs() <= 1.0 + 0.03 * counted, "{place}: {told:?} {counted}");
        }
    }
    let told = year.year.cost;
    for (told, counted) in [told.p10, told.p50, told.p90].into_iter().zip(quantiles(cost)) {
        assert!((told / counted - 1.0).abs() < 0.06, "{told} {counted}");
    }
}

/// Many bikes: what they have in common is left, and the sums hold together.
#[test]
fn large_fleets_are_uncertain_together() {
    let many: Vec<BikeAhead> = (0..3_000).map(|i| bike(300.0 + 2.0 * f64::from(i), 3_000.0)).collect();
    let year = ComingYear::of(&many, &ENDS, &SkipThreshold::ASSUMED);
    let sum: f64 = year.periods[1..].iter().map(|period| period.chains.mean).sum();
    assert!((year.year.chains.mean / sum - 1.0).abs() < 1e-4, "{} {sum}", year.year.chains.mean);
    for needs in year.periods.iter().chain([&year.year]) {
        let Needs { chains, cassettes, rings, minutes, cost } = needs;
        for range in [chains, cassettes, rings, minutes, cost] {
            assert!(range.p10 <= range.p50 && range.p50 <= range.p90, "{range:?}");
        }
        assert!(rings.mean <= cassettes.mean && cassettes.mean <= chains.mean);
        if chains.mean < 0.01 {
            continue;
        }
        let money = 3_000.0 * chains.mean + 4_000.0 * cassettes.mean + 2_500.0 * rings.mean;
        assert!((cost.mean / money - 1.0).abs() < 1e-4, "{cost:?} {money}");
        let minutes_of = 20.0 * chains.mean + 15.0 * cassettes.mean + 25.0 * rings.mean;
        assert!((minutes.mean / minutes_of - 1.0).abs() < 1e-4, "{minutes:?} {minutes_of}");
    }
    let Range { p10, p50, p90, .. } = year.year.chains;
    assert!(p50 / p10 > 1.1 && p90 / p50 > 1.08, "{:?}", year.year.chains);
    assert_eq!(ComingYear::of(&[], &ENDS, &SkipThreshold::ASSUMED).year, Needs::default());
}

#[test]
fn one_bike_needs_nothing_or_one() {
    let year = ComingYear::of(&[bike(2_500.0, 9_000.0)], &ENDS, &SkipThreshold::ASSUMED);
    for period in &year.periods {
        assert!(period.chains.p90 <= 1.0 && (period.chains.mean > 0.1) == (period.chains.p90 == 1.0));
    }
    assert_eq!((year.year.chains.p50, year.year.chains.p90), (1.0, 1.0));
    assert!((year.year.cost.p50 - 3_000.0).abs() < 60.0, "{:?}", year.year.cost);
}
