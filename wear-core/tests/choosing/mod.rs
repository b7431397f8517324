//! A yard with two models of chain and two lubricants, what is true of them, and what it is told.

use wear_core::degradation::WearParameters;
use wear_core::fleet::Term;
use wear_core::fleet::calibration::FleetFit;
use wear_core::policy::{
    Candidate, ChoiceCost, ChoiceQuestion, Costs, Effects, LimitPolicy, MeanLife, Price, cost_of_limit,
    scenarios_around,
};

use crate::world::{World, plain};

/// The dearer model wears as if it were ridden a fifth less, wax a good seventh less than oil.
pub const COATED: f64 = 1.0 / 1.2;
pub const WAX: f64 = 1.0 / 1.15;

pub const PRICE: f64 = 22.0;
pub const PRICE_COATED: f64 = 27.0;
/// Stuff and work per 1,000 reference km.
pub const OIL_UPKEEP: f64 = 2.0;
pub const WAX_UPKEEP: f64 = 2.6;

pub fn yard(chains: usize, seed: u64) -> World {
    World {
        bikes: chains,
        models: vec![("bare", 1.0), ("coated", COATED)],
        lubricants: vec![("oil", 1.0), ("wax", WAX)],
        seed,
        ..plain()
    }
}

pub fn costs() -> Costs {
    Costs {
        inspection: 1.0,
        ..Costs::of_parts(
            Price { part: PRICE, labour: 12.0 },
            Price { part: 40.0, labour: 12.0 },
            Price { part: 35.0, labour: 15.0 },
        )
    }
}

/// What is told of one instead of the other.
pub struct Told {
    /// ln of its wear over the other's: mean and standard deviation.
    pub ln_mean: f64,
    pub ln_sd: f64,
    pub cost: ChoiceCost,
    /// What it truly costs more per 1,000 reference km, were damage as assumed.
    pub truly_more: f64,
}

pub fn policy(parameters: &WearParameters) -> LimitPolicy {
    LimitPolicy { inspection_interval_km: Some(300.0), jump_overshoot_percent: 0.5 * parameters.scale() }
}

fn asked(
    world: &World,
    fit: &FleetFit,
    (in_use, other): (Term, Term),
    candidates: [Candidate; 2],
    true_factor: f64,
) -> Told {
    let usual: Vec<(Term, f64)> = fit.usual("group 0");
    let same_kind = |term: &Term| {
        matches!((term, &in_use), (Term::Model(_), Term::Model(_)) | (Term::Lubricant(_), Term::Lubricant(_)))
    };
    let usual: Vec<(Term, f64)> = usual.into_iter().filter(|(term, _)| same_kind(term)).collect();
    let choices = [in_use.clone(), other.clone()];
    let (ln_means, covariance) = fit.terms.instead(&choices, &usual);
    let ln_sd = (covariance[0][0] + covariance[1][1] - 2.0 * covariance[0][1]).sqrt();
    let ln_mean = ln_means[1] - ln_means[0];
    let group = &fit.groups["group 0"];
    let scenarios = scenarios_around(&MeanLife::of_group(&group.parameters), group.mean_log_rate_sd);
    let costs = costs();
    let effects = Effects { ln_means, covariance, information_per_chain: fit.information_per_chain };
    let question = ChoiceQuestion {
        costs: &costs,
        scenarios: &scenarios,
        limit_percent: world.limit,
        policy: policy(&group.parameters),
        candidates: &candidates,
        effects: &effects,
        in_use: 0,
    };
    let cost = question.answer().expect("two candidates")[1];
    // Chains of the one in use, and the other lubricant or model by halves.
    let mean = WearParameters::default().mean_log_rate() + world.wear.ln();
    let halves = match other {
        Term::Model(_) => 0.5 * WAX.ln(),
        Term::Lubricant(_) => 0.5 * COATED.ln(),
    };
    let truly = |ln_factor: f64, Candidate { chain, upkeep_per_1000_km }: Candidate| {
        let parameters = WearParameters::default()
            .with_scale(world.phi)
            .and_then(|p| p.with_log_rate(mean + halves + ln_factor, world.tau))
            .expect("legal");
        let mut costs = costs.clone();
        costs.chain.part = chain;
        let life = MeanLife::of_group(&parameters);
        cost_of_limit(&costs, &life, 1.0, policy(&parameters), world.limit).total() + upkeep_per_1000_km
    };
    let truly_more = truly(true_factor.ln(), candidates[1]) - truly(0.0, candidates[0]);
    Told { ln_mean, ln_sd, cost, truly_more }
}

/// The coated model in place of the bare one.
pub fn of_model(world: &World, fit: &FleetFit) -> Told {
    let model = |name: &str| Term::Model(name.to_owned());
    let candidate = |chain| Candidate { chain, upkeep_per_1000_km: OIL_UPKEEP };
    asked(world, fit, (model("bare"), model("coated")), [candidate(PRICE), candidate(PRICE_COATED)], COATED)
}

/// Wax in place of oil.
pub fn of_lubricant(world: &World, fit: &FleetFit) -> Told {
    let lubricant = |name: &str| Term::Lubricant(name.to_owned());
    let candidate = |upkeep_per_1000_km| Candidate { chain: PRICE, upkeep_per_1000_km };
    asked(
        world,
        fit,
        (lubricant("oil"), lubricant("wax")),
        [candidate(OIL_UPKEEP), candidate(WAX_UPKEEP)],
        WAX,
    )
}
