//! Which model and which lubricant is cheapest: against draws, and on fleets whose truth is known.
//! `cargo run --release -p wear-core --example choices` prints a table of what is told after 20, 60 and 200 chains.

mod choosing;
#[allow(dead_code, reason = "shared with the worlds, which need more of it")]
mod world;

use choosing::{COATED, WAX, costs, of_lubricant, of_model, policy, yard};
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal};
use wear_core::degradation::WearParameters;
use wear_core::policy::{
    Candidate, ChoiceQuestion, Effects, MeanLife, Scenario, cost_of_limit, scenarios_around,
};
use world::{learned, simulate};

/// Quantiles of draws.
fn quantile(sorted: &[f64], level: f64) -> f64 {
    sorted[(level * sorted.len() as f64) as usize]
}

#[test]
fn costs_and_probabilities_are_those_of_draws() {
    let parameters = WearParameters::default();
    let scenarios = scenarios_around(&MeanLife::of_group(&parameters), 0.1);
    let costs = costs();
    let candidates = [
        Candidate { chain: 22.0, upkeep_per_1000_km: 2.0 },
        Candidate { chain: 29.0, upkeep_per_1000_km: 2.0 },
        Candidate { chain: 20.0, upkeep_per_1000_km: 5.0 },
    ];
    let covariance = vec![vec![0.012, 0.004, 0.001], vec![0.004, 0.020, 0.0], vec![0.001, 0.0, 0.030]];
    let effects = Effects { ln_means: vec![0.05, -0.12, -0.1], covariance, information_per_chain: 5.0 };
    let question = ChoiceQuestion {
        costs: &costs,
        scenarios: &scenarios,
        limit_percent: 0.75,
        policy: policy(&parameters),
        candidates: &candidates,
        effects: &effects,
        in_use: 0,
    };
    let told = question.answer().expect("sound");
    // By draws: each scenario as often, effects by the root of their covariance, each life worked out anew.
    let root = |k: usize| -> [f64; 2] {
        let a = 0.012_f64.sqrt();
        let b = effects.covariance[0][k] / a;
        [b, (effects.covariance[k][k] - b * b).sqrt()]
    };
    let at = |scenario: &Scenario, candidate: Candidate, x: f64| {
        let mut costs = costs.clone();
        costs.chain.part = candidate.chain;
        let life = scenario.life.scaled((-x).exp());
        let cost = cost_of_limit(&costs, &life, scenario.damage_scale, question.policy, 0.75);
        cost.total() + candidate.upkeep_per_1000_km
    };
    let mut random = ChaCha8Rng::seed_from_u64(5);
    for k in [1, 2] {
        let (mut own, mut more) = (Vec::new(), Vec::new());
        for draw in 0..6_000 {
            let scenario = &scenarios[draw % scenarios.len()];
            let z: [f64; 2] = [StandardNormal.sample(&mut random), StandardNormal.sample(&mut random)];
            let [a, b] = root(k);
            let cost = at(scenario, candidates[k], effects.ln_means[k] + a * z[0] + b * z[1]);
            own.push(cost);
            more.push(cost - at(scenario, candidates[0], effects.ln_means[0] + 0.012_f64.sqrt() * z[0]));
        }
        let cheaper = more.iter().filter(|more| **more < 0.0).count() as f64 / more.len() as f64;
        own.sort_by(f64::total_cmp);
        more.sort_by(f64::total_cmp);
        let found = told[k];
        assert!((found.cheaper_probability - cheaper).abs() < 0.02, "{k}: {found:?} {cheaper}");
        let pairs = [
            (found.cost.p10, quantile(&own, 0.1)),
            (found.cost.p50, quantile(&own, 0.5)),
            (found.cost.p90, quantile(&own, 0.9)),
        ];
        for (found, drawn) in pairs {
            assert!((found / drawn - 1.0).abs() < 0.02, "{k}: {found} {drawn}");
        }
        let width = quantile(&more, 0.9) - quantile(&more, 0.1);
        let pairs = [
            (found.more_than_in_use.p10, quantile(&more, 0.1)),
            (found.more_than_in_use.p50, quantile(&more, 0.5)),
            (found.more_than_in_use.p90, quantile(&more, 0.9)),
        ];
        for (found, drawn) in pairs {
            assert!((found - drawn).abs() < 0.06 * width, "{k}: {found} {drawn} of {width}");
        }
    }
    assert_eq!(told[0].cheaper_probability, 0.5);
}

#[test]
fn as_many_more_chains_as_it_says_tell() {
    // Chains of either read their x with a variance of 1/i: the difference is then believed, and with a tenth fewer it isn't.
    let parameters = WearParameters::default();
    let scenarios = scenarios_around(&MeanLife::of_group(&parameters), 0.1);
    let costs = costs();
    let same = Candidate { chain: 22.0, upkeep_per_1000_km: 0.0 };
    let answer = |covariance: f64| {
        let effects = Effects {
            ln_means: vec![0.0, -0.15],
            covariance: vec![vec![covariance, 0.0], vec![0.0, covariance]],
            information_per_chain: 5.0,
        };
        let question = ChoiceQuestion {
            costs: &costs,
            scenarios: &scenarios,
            limit_percent: 0.75,
            policy: policy(&parameters),
            candidates: &[same, same],
            effects: &effects,
            in_use: 0,
        };
        question.answer().expect("sound")[1]
    };
    let more = answer(0.02).chains_to_tell.expect("not too close");
    assert!(more > 10, "{more}");
    let after = |chains: f64| answer(1.0 / (1.0 / 0.02 + 0.5 * chains * 5.0)).cheaper_probability;
    assert!((0.948..0.96).contains(&after(f64::from(more))), "{}", after(f64::from(more)));
    assert!(after(0.8 * f64::from(more)) < 0.95);
}

#[test]
fn models_and_lubricants_of_a_simulated_fleet_come_back() {
    let seeds = 24;
    let (mut inside, mut cost_inside) = (0, 0);
    let mut apart = [0.0; 2];
    for seed in 0..seeds {
        let world = yard(60, 8_000 + seed);
        let fit = learned(&simulate(&world), true);
        let told = [(of_model(&world, &fit), COATED), (of_lubricant(&world, &fit), WAX)];
        for (apart, (told, truth)) in apart.iter_mut().zip(told) {
            inside += usize::from((told.ln_mean - truth.ln()).abs() < 1.281_55 * told.ln_sd);
            let more = told.cost.more_than_in_use;
            cost_inside += usize::from((more.p10..=more.p90).contains(&told.truly_more));
            *apart += told.ln_mean / seeds as f64;
            assert!((0.05..0.16).contains(&told.ln_sd), "{}", told.ln_sd);
        }
    }
    // 48 intervals of 80 %: 38.4 ± 2.8. Differences as large as the prior expects are held by more than that.
    assert!((32..=46).contains(&inside) && (32..=46).contains(&cost_inside), "{inside} {cost_inside}");
    for (apart, truth) in apart.iter().zip([COATED, WAX]) {
        assert!((0.6..1.15).contains(&(apart / truth.ln())), "{apart} {truth}");
    }
}

#[test]
fn a_chain_of_a_better_model_is_foretold_a_longer_life() {
    let world = yard(200, 9_000);
    let fit = learned(&simulate(&world), true);
    let rate = |model| fit.parameters_of("group 0", Some(model), &[]).mean_log_rate();
    assert!((rate("coated") - rate("bare") - COATED.ln()).abs() < 0.15);
    // A fleet that names only one model of either kind learns nothing of it.
    let one = yard(30, 9_100);
    let one = world::World { models: vec![("bare", 1.0)], lubricants: vec![], ..one };
    let alone = learned(&simulate(&one), true);
    assert!(alone.terms.is_empty());
    assert_eq!(alone.parameters_of("group 0", Some("bare"), &[]), *alone.parameters("group 0"));
}
