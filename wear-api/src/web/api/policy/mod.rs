//! What is cheapest.

mod choices;

use actix_web::{HttpResponse, get, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use wear_core::policy::{Alternative, CurvePoint, LimitCost, LimitCurve, Rotation, Spread};

use choices::{ChainModelDocument, LubricantDocument};

use crate::domain::{Field, Form, Invalid, Money, Policy, PolicyPrices, PriceWishes};
use crate::service::{Services, policy};
use crate::web::api::outlooks::BandDocument;
use crate::web::auth::{As, Mechanic};
use crate::web::problem::{Problem, ProblemDocument};
use crate::web::query::{Parameters, Query};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_policy);
}

/// What is cheapest for a group of bikes.
#[derive(Serialize, ToSchema)]
#[schema(as = Policy)]
struct PolicyDocument {
    /// The group.
    group: String,
    /// Bikes in it.
    bikes: i64,
    /// Currency of all money here.
    currency: String,
    /// The best limit.
    best: BestDocument,
    /// Why it is the best, in a sentence.
    reason: String,
    /// Whether leaving the limit in force is worth it, in a sentence.
    verdict: String,
    /// What can hurt someone.
    cautions: Vec<String>,
    /// Cost by limit, from 0.30 to 1.20 percent.
    curve: Vec<PointDocument>,
    /// What else could be done.
    alternatives: Vec<AlternativeDocument>,
    /// Models of chain at the limit in force, the cheapest first; empty where nothing was learned of any.
    chain_models: Vec<ChainModelDocument>,
    /// Lubricants at the limit in force, the cheapest first; empty where nothing was learned of any: chains have to be ridden
    /// under two and read.
    lubricants: Vec<LubricantDocument>,
    /// What the parts and the work cost.
    prices: PricesDocument,
    /// What it rests on.
    basis: BasisDocument,
}

/// The best limit.
#[derive(Serialize, ToSchema)]
#[schema(as = BestLimit)]
struct BestDocument {
    /// Elongation at which chains come off.
    limit_percent: f64,
    /// The best limit over all that is not known.
    limit_percent_band: BandDocument,
    /// Distance between looks that suits it.
    look_every_km: f64,
    /// What it costs per 1,000 km.
    cost_per_1000_km_minor: BandDocument,
}

/// One limit.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyPoint)]
struct PointDocument {
    /// Elongation at which chains come off.
    limit_percent: f64,
    /// Distance between looks that suits it.
    look_every_km: f64,
    /// What it costs per 1,000 km.
    cost_per_1000_km_minor: BandDocument,
    /// The same by cause, mean values.
    by_cause_minor: CausesDocument,
}

/// Cost per 1,000 km by cause, mean values, minor units.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyCauses)]
struct CausesDocument {
    /// Chains and their labour.
    chains: f64,
    /// Cassettes or cogs and their labour.
    cassettes: f64,
    /// Rings and their labour.
    rings: f64,
    /// Looks at chains; turns of chains ridden in turn.
    looks: f64,
    /// Failures on the road.
    failures: f64,
    /// All together.
    total: f64,
}

/// Another policy, against the best limit.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyAlternative)]
struct AlternativeDocument {
    /// Which: the limit in force, all to the end together, several chains in turn, whole cassettes where single cogs are
    /// replaced otherwise.
    #[schema(value_type = String, example = "to_the_end")]
    kind: &'static str,
    /// In words.
    name: String,
    /// Chains in turn; null for the others.
    chains: Option<u32>,
    /// Elongation at which chains come off; null when they don't by a limit of their own.
    off_percent: Option<f64>,
    /// What it costs per 1,000 km.
    cost_per_1000_km_minor: BandDocument,
    /// The same by cause, mean values.
    by_cause_minor: CausesDocument,
    /// What it costs more than the best limit; negative when it costs less.
    more_than_best_minor: BandDocument,
    /// Probability that it costs more than the best limit.
    #[schema(minimum = 0, maximum = 1)]
    dearer_probability: f64,
    /// Whether it is worth leaving the best limit for it.
    worth_taking: bool,
}

/// What the parts and the work cost, minor units.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyPrices)]
struct PricesDocument {
    /// A chain.
    chain_minor: i64,
    /// A cassette.
    cassette_minor: i64,
    /// The rings, all of them.
    rings_minor: i64,
    /// One cog; null where cassettes are replaced whole.
    cog_minor: Option<i64>,
    /// Labour of one swap.
    swap_labour_minor: i64,
    /// One reading.
    reading_minor: i64,
    /// One failure on the road.
    failure_minor: i64,
}

/// What a policy rests on.
#[derive(Serialize, ToSchema)]
#[schema(as = PolicyBasis)]
struct BasisDocument {
    /// The limit in force: the middle one of the group's bikes.
    current_limit_percent: f64,
    /// Kilometres per reference kilometre of the group's use.
    km_per_reference_km: f64,
    /// Where the wear rate comes from: `default`, or what it was learned from.
    wear_rate_from: String,
    /// What was assumed for want of data.
    assumed: Vec<String>,
}

/// Turns costs per reference kilometre into costs per kilometre, and distances the other way.
#[derive(Clone, Copy)]
struct PerKm(f64);

impl PerKm {
    fn band(self, Spread { p10, p50, p90 }: Spread) -> BandDocument {
        wear_core::degradation::Quantiles { p10, p50, p90 }.times(1.0 / self.0).into()
    }

    fn causes(self, cost: &LimitCost) -> CausesDocument {
        let total = cost.total() / self.0;
        let LimitCost { chains, cassettes, rings, looks, failures } = cost;
        CausesDocument {
            chains: chains / self.0,
            cassettes: cassettes / self.0,
            rings: rings / self.0,
            looks: looks / self.0,
            failures: failures / self.0,
            total,
        }
    }

    fn point(self, point: &CurvePoint) -> PointDocument {
        let CurvePoint { limit_percent, look_every_km, cost, mean, .. } = point;
        PointDocument {
            limit_percent: *limit_percent,
            look_every_km: look_every_km * self.0,
            cost_per_1000_km_minor: self.band(*cost),
            by_cause_minor: self.causes(mean),
        }
    }

    fn alternative(
        self,
        kind: &'static str,
        name: String,
        against: &Alternative,
        (chains, off_percent): (Option<u32>, Option<f64>),
    ) -> AlternativeDocument {
        AlternativeDocument {
            kind,
            name,
            chains,
            off_percent,
            cost_per_1000_km_minor: self.band(against.cost),
            by_cause_minor: self.causes(&against.mean),
            more_than_best_minor: self.band(against.more_than_best),
            dearer_probability: against.dearer_probability,
            worth_taking: against.worth_taking(),
        }
    }
}

fn verdict(current_percent: f64, curve: &LimitCurve) -> String {
    let current = &curve.current;
    let best = curve.best_point().limit_percent;
    let percent = 100.0 * current.more_than_best.p50 / current.cost.p50.max(f64::MIN_POSITIVE);
    // A sum that came out a little below nought would read as -0.
    let surely = 100.0 * current.dearer_probability.clamp(0.0, 1.0);
    if (current_percent - best).abs() < 0.005 {
        return format!("{current_percent:.2} % is in force and costs least: nothing to change");
    }
    if current.worth_leaving() {
        format!(
            "Leaving {current_percent:.2} % for {best:.2} % saves {percent:.0} % of the cost, and saves something with a probability of {surely:.0} %: worth it"
        )
    } else {
        format!(
            "Leaving {current_percent:.2} % for {best:.2} % saves {:.0} % of the cost, and saves something with a probability of {surely:.0} %: not worth a change",
            percent.max(0.0)
        )
    }
}

fn cautions(policy: &Policy) -> Vec<String> {
    let mut cautions = Vec::new();
    if policy.goes_beyond_trade_limit() {
        let trade_percent = policy.trade_percent;
        cautions.push(format!(
            "What is cheapest here goes beyond {trade_percent} %, the trade's limit for these sprockets. A worn chain skips or breaks under load and throws its rider: the makers' limits go first"
        ));
    }
    if policy.prices.failure_minor == 0 {
        cautions.push(
            "A failure on the road counts as free here; set its cost before this is followed".to_owned(),
        );
    }
    cautions
}

impl From<Policy> for PolicyDocument {
    fn from(policy: Policy) -> Self {
        let cautions = cautions(&policy);
        let Policy {
            group,
            bikes,
            currency,
            prices,
            current_percent,
            trade_percent: _,
            km_per_reference_km,
            wear_rate_from,
            assumed,
            curve,
            chain_models,
            lubricants,
        } = policy;
        let per_km = PerKm(km_per_reference_km);
        let best = curve.best_point();
        let mut alternatives = vec![
            per_km.alternative(
                "current_limit",
                format!("Chains off at {current_percent:.2} %, the limit in force"),
                &curve.current,
                (None, Some(current_percent)),
            ),
            per_km.alternative(
                "to_the_end",
                "Chain, cassette and rings to the end together".to_owned(),
                &curve.to_the_end,
                (None, None),
            ),
        ];
        for Rotation { chains, off_percent, against_best } in &curve.rotations {
            alternatives.push(per_km.alternative(
                "chains_in_turn",
                format!("{chains} chains in turn on one cassette, all off at {off_percent:.2} %"),
                against_best,
                (Some(*chains), Some(*off_percent)),
            ));
        }
        if let Some(whole) = &curve.whole_cassette {
            alternatives.push(per_km.alternative(
                "whole_cassette",
                "The best limit, with whole cassettes instead of single cogs".to_owned(),
                whole,
                (None, Some(best.limit_percent)),
            ));
        }
        let PolicyPrices {
            chain_minor,
            cassette_minor,
            rings_minor,
            cog_minor,
            swap_labour_minor,
            reading_minor,
            failure_minor,
        } = prices;
        let Spread { p10, p50, p90 } = curve.best_by_scenario;
        Self {
            group: group.to_string(),
            bikes,
            currency: currency.to_string(),
            best: BestDocument {
                limit_percent: best.limit_percent,
                limit_percent_band: wear_core::degradation::Quantiles { p10, p50, p90 }.into(),
                look_every_km: best.look_every_km * km_per_reference_km,
                cost_per_1000_km_minor: per_km.band(best.cost),
            },
            reason: curve.reason().to_string(),
            verdict: verdict(current_percent, &curve),
            cautions,
            curve: curve.points.iter().map(|point| per_km.point(point)).collect(),
            alternatives,
            chain_models: chain_models.iter().map(|choice| per_km.chain_model(choice)).collect(),
            lubricants: lubricants.iter().map(|choice| per_km.lubricant(choice)).collect(),
            prices: PricesDocument {
                chain_minor,
                cassette_minor,
                rings_minor,
                cog_minor,
                swap_labour_minor,
                reading_minor,
                failure_minor,
            },
            basis: BasisDocument {
                current_limit_percent: current_percent,
                km_per_reference_km,
                wear_rate_from: wear_rate_from.to_string(),
                assumed: assumed.iter().map(ToString::to_string).collect(),
            },
        }
    }
}

/// Which group, and prices that stand in for those on record.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct PolicyQuery {
    /// The whole name of the group.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: String,
    /// Price of a chain; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    chain_minor: Option<String>,
    /// Price of a cassette; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    cassette_minor: Option<String>,
    /// Price of the rings, all of them; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    rings_minor: Option<String>,
    /// Price of one cog of a cassette that comes apart; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    cog_minor: Option<String>,
    /// Labour of one swap; the workshop's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    swap_labour_minor: Option<String>,
    /// Cost of one reading; the workshop's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    reading_minor: Option<String>,
    /// Cost of one failure on the road; the workshop's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    failure_minor: Option<String>,
}

fn minor(given: &str) -> Result<i64, Invalid> {
    given
        .parse()
        .ok()
        .filter(|minor| (0..=Money::MAXIMUM_MINOR).contains(minor))
        .ok_or_else(|| Invalid::unparsed(Field::AmountMinor, given, Form::UpToBillions))
}

/// Get what is cheapest for a group
///
/// Cost per 1,000 km by swap limit from 0.30 to 1.20 percent with the looks that suit each, the best limit with its
/// interval, and what else could be done: keep the limit in force, run chain, cassette and rings to the end together,
/// ride several chains in turn, replace single cogs. Models of chain and lubricants that the fleet has learned of are held
/// against the ones in use.
#[utoipa::path(
    operation_id = "get_policy",
    tag = "decisions",
    security(("bearer" = ["mechanic", "manager"])),
    params(PolicyQuery),
    responses(
        (status = 200, description = "The policy", body = PolicyDocument),
        (status = 404, description = "The fleet has no bike of the group", body = ProblemDocument,
            content_type = "application/problem+json")
    )
)]
#[get("/v1/policy")]
async fn get_policy(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<PolicyQuery>,
) -> Result<HttpResponse, Problem> {
    let PolicyQuery {
        group,
        chain_minor,
        cassette_minor,
        rings_minor,
        cog_minor,
        swap_labour_minor,
        reading_minor,
        failure_minor,
    } = query.0;
    let mut parameters = Parameters::new();
    let group = parameters.word("group", Some(&group));
    let mut wish = |name: &str, given: Option<String>| parameters.optional(name, given.as_deref(), minor);
    let wishes = PriceWishes {
        chain_minor: wish("chain_minor", chain_minor),
        cassette_minor: wish("cassette_minor", cassette_minor),
        rings_minor: wish("rings_minor", rings_minor),
        cog_minor: wish("cog_minor", cog_minor),
        swap_labour_minor: wish("swap_labour_minor", swap_labour_minor),
        reading_minor: wish("reading_minor", reading_minor),
        failure_minor: wish("failure_minor", failure_minor),
    };
    let group = parameters.finish_with(group)?;
    let facts = policy::facts(&services, &actor, group, wishes).await?;
    let computed = web::block(move || facts.policy()).await.map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().json(PolicyDocument::from(computed?)))
}
