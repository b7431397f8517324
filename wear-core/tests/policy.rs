//! Cost of a limit against simulated lives, and which policy wins under which prices.

use rand::RngExt;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, LogNormal};
use statrs::function::gamma::gamma_lr;
use wear_core::degradation::WearParameters;
use wear_core::knock_on::{RING_THRESHOLD, accrued};
use wear_core::policy::{
    Cause, Cogs, Costs, FailureLaw, LimitCurve, LimitPolicy, MeanLife, PolicyReason, Price, Question,
    cost_of_limit, cost_of_rotation, cost_to_the_end, scenarios_around,
};

/// Percent per reference km: five equally likely rates round 0.125 percent per 1,000 km, spread 0.35 in the logarithm.
const RATES: [f64; 5] = [7.98e-5, 1.040e-4, 1.25e-4, 1.502e-4, 1.958e-4];
const SCALE: f64 = 0.01;
const STEP_KM: f64 = 100.0;

fn life() -> MeanLife {
    let below = |percent: f64, km: f64| {
        let one = |rate: f64| {
            if km > 0.0 && percent > 0.0 { gamma_lr(rate * km / SCALE, percent / SCALE) } else { 1.0 }
        };
        if percent <= 0.0 { 0.0 } else { RATES.iter().map(|&rate| one(rate)).sum::<f64>() / 5.0 }
    };
    MeanLife::from_distribution(below, 2.2)
}

fn costs() -> Costs {
    Costs {
        inspection: 2.0,
        failure: 60.0,
        failures: FailureLaw { new_per_1000_km: 0.02, ..FailureLaw::default() },
        ..Costs::of_parts(
            Price { part: 25.0, labour: 12.0 },
            Price { part: 45.0, labour: 10.0 },
            Price { part: 50.0, labour: 20.0 },
        )
    }
}

/// Cost per 1,000 km of `lives` chains run one after the other on cassettes and rings, and its standard error from a
/// hundred batches. A look comes every `interval` km; the chain goes when it is found over the limit.
fn simulated(costs: &Costs, limit: f64, interval: f64, lives: usize, seed: u64) -> (f64, f64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let threshold = LogNormal::new(0.0, 0.6).unwrap();
    let steps_per_look = (interval / STEP_KM).round() as usize;
    let increments = RATES.map(|rate| Gamma::new(rate * STEP_KM / SCALE, SCALE).unwrap());
    let (mut cassette, mut ring) =
        ((threshold.sample(&mut rng), 0.0), (RING_THRESHOLD * threshold.sample(&mut rng), 0.0));
    let mut batches = Vec::with_capacity(100);
    for _ in 0..100 {
        let (mut money, mut km) = (0.0, 0.0);
        for _ in 0..lives / 100 {
            let increment = increments[rng.random_range(0..5)];
            let mut percent = 0.0;
            'life: loop {
                for _ in 0..steps_per_look {
                    let before = costs.failures.per_km(percent);
                    percent += increment.sample(&mut rng);
                    money += costs.failure * STEP_KM * 0.5 * (before + costs.failures.per_km(percent));
                    km += STEP_KM;
                }
                money += costs.inspection;
                if percent >= limit {
                    break 'life;
                }
            }
            money += costs.chain.sum();
            for ((threshold_now, damage), price, median) in
                [(&mut cassette, costs.cassette, 1.0), (&mut ring, costs.rings, RING_THRESHOLD)]
            {
                *damage += accrued(percent);
                if *damage >= *threshold_now {
                    money += price.sum();
                    (*threshold_now, *damage) = (median * threshold.sample(&mut rng), 0.0);
                }
            }
        }
        batches.push((money, km));
    }
    let (money, km) = batches.iter().fold((0.0, 0.0), |sum, batch| (sum.0 + batch.0, sum.1 + batch.1));
    let rate = money / km;
    let squares: f64 = batches.iter().map(|(money, km)| (money - rate * km).powi(2)).sum();
    (1_000.0 * rate, 1_000.0 * squares.sqrt() / km)
}

#[test]
fn cost_of_a_limit_agrees_with_a_hundred_thousand_lives() {
    let (costs, life) = (costs(), life());
    for (limit, interval, lives) in [(0.75, 300.0, 100_000), (0.5, 300.0, 20_000), (0.5, 1_300.0, 20_000)] {
        let policy = LimitPolicy { inspection_interval_km: Some(interval), ..LimitPolicy::default() };
        let formula = cost_of_limit(&costs, &life, 1.0, policy, limit).total();
        let (found, error) = simulated(&costs, limit, interval, lives, 7);
        println!(
            "limit {limit} look every {interval} km: formula {formula:.4}, {lives} lives {found:.4} ± {error:.4}, {:+.2} %",
            100.0 * (formula / found - 1.0)
        );
        // The formula takes one mean rate for what a chain wears between its limit and the next look: 1 % off at the
        // longest distance between looks.
        assert!((formula - found).abs() < 4.0 * error + 0.005 * found, "{formula} {found} {error}");
    }
}

fn curve(costs: &Costs) -> LimitCurve {
    curve_against(costs, 0.75)
}

fn curve_against(costs: &Costs, current_percent: f64) -> LimitCurve {
    let scenarios = scenarios_around(&MeanLife::of_group(&WearParameters::default()), 0.1);
    let question = Question {
        costs,
        scenarios: &scenarios,
        current_percent,
        jump_overshoot_percent: 0.005,
        turn_km: 500.0,
    };
    LimitCurve::of(question).unwrap()
}

fn price(part: f64) -> Price {
    Price { part, labour: 5.0 }
}

#[test]
fn three_price_settings_have_three_best_choices() {
    let dear_cassette = Costs { inspection: 1.0, ..Costs::of_parts(price(20.0), price(300.0), price(200.0)) };
    let dear_chain = Costs { inspection: 1.0, ..Costs::of_parts(price(60.0), price(25.0), price(20.0)) };
    let dear_failure = Costs { failure: 300.0, ..dear_chain.clone() };
    let curves = [&dear_cassette, &dear_chain, &dear_failure].map(curve);
    for (name, curve) in ["dear cassette", "dear chain", "dear chain and failures"].iter().zip(&curves) {
        let best = curve.best_point();
        println!(
            "{name}: {:.2} % ({:.2} to {:.2}), look every {} km, {:.2} per 1,000 km ({:.2} to {:.2}); to the end {:.2}, {}",
            best.limit_percent,
            curve.best_by_scenario.p10,
            curve.best_by_scenario.p90,
            best.look_every_km,
            best.mean.total(),
            best.cost.p10,
            best.cost.p90,
            curve.to_the_end.mean.total(),
            curve.reason()
        );
    }
    let [low, high, careful] = &curves;
    let limit = |curve: &LimitCurve| curve.best_point().limit_percent;
    assert!(limit(low) <= 0.65 && limit(high) >= 0.9 && limit(careful) < limit(high));
    assert!(low.to_the_end.worth_leaving() && high.to_the_end.worth_taking());
    assert!(matches!(high.reason(), PolicyReason::ToTheEnd { .. }));
    assert!(matches!(careful.reason(), PolicyReason::Between { later: Cause::Failures, .. }));
    for curve in &curves {
        assert!(curve.best_by_scenario.p10 <= limit(curve) + 1e-9);
        assert!(curve.best_by_scenario.p90 >= limit(curve) - 1e-9);
        for point in &curve.points {
            assert!(point.cost.p10 <= point.cost.p50 && point.cost.p50 <= point.cost.p90);
            assert!(point.cost.p10 > 0.0 && point.mean.total() >= curve.best_point().mean.total());
        }
        assert!(curve.current.mean.total() >= curve.best_point().mean.total() - 1e-9);
        assert_eq!(curve.rotations.len(), 3);
        assert!(curve.whole_cassette.is_none());
    }
}

#[test]
fn dearer_looks_are_rarer_and_a_difference_that_is_small_is_not_worth_it() {
    let every = |inspection: f64| curve(&Costs { inspection, ..costs() }).best_point().look_every_km;
    assert!(every(0.1) < every(10.0), "{} {}", every(0.1), every(10.0));
    let near = curve_against(&costs(), 0.63).current;
    assert!(near.more_than_best.p50 > 0.0 && !near.worth_leaving(), "{near:?}");
    let far = curve_against(&costs(), 1.1).current;
    assert!(far.worth_leaving() && !far.worth_taking(), "{far:?}");
}

#[test]
fn cog_by_cog_saves_what_the_whole_cassette_costs_more() {
    let weights = vec![0.05, 0.3, 1.0, 0.4, 0.1];
    let cogs = Some(Cogs { price: Price { part: 6.0, labour: 2.0 }, weights });
    let curve = curve(&Costs { cogs, ..costs() });
    let whole = curve.whole_cassette.unwrap();
    assert!(whole.more_than_best.p10 > 0.0 && whole.dearer_probability > 0.999);
    assert!(whole.mean.chains == curve.best_point().mean.chains);
}

#[test]
fn single_cogs_rotation_and_the_end_follow_their_prices() {
    let life = life();
    let whole = costs();
    let weights = vec![0.2, 0.6, 1.0, 0.7, 0.3];
    let cogs = |part| Costs {
        cogs: Some(Cogs { price: Price { part, labour: 2.0 }, weights: weights.clone() }),
        ..costs()
    };
    let cassettes = |costs: &Costs| cost_of_limit(costs, &life, 1.0, LimitPolicy::default(), 0.75).cassettes;
    assert!(cassettes(&cogs(4.0)) < cassettes(&whole));
    assert_eq!(cassettes(&cogs(400.0)), cassettes(&whole));

    let (one, _) = cost_of_rotation(&whole, &life, 1.0, 1, 500.0);
    let (two, _) = cost_of_rotation(&whole, &life, 1.0, 2, 500.0);
    let (three, cost) = cost_of_rotation(&whole, &life, 1.0, 3, 500.0);
    assert!((one - 1.0).abs() < 2e-3 && (two - 0.75).abs() < 2e-3 && three < two);
    let parts = 3.0 * 37.0 + 55.0 + 70.0 / RING_THRESHOLD;
    let km = 3.0 * life.at(three);
    assert!((cost.chains + cost.cassettes + cost.rings - 1_000.0 * parts / km).abs() < 1e-9);

    let end = cost_to_the_end(&whole, &life, 1.5);
    assert!((end.cassettes - 1_000.0 * 55.0 / life.at(1.5)).abs() < 1e-9);
    assert!(whole.check().is_ok());
    let wrong = Costs { inspection: f64::NAN, ..costs() };
    assert!(wrong.check().unwrap_err().to_string().starts_with("inspection"));
}
