//! What is cheapest for a group: when to take chains off, how often to look, or to run all to the end; which model of chain and
//! which lubricant.

mod adopt;
mod choices;

use wear_core::bike::{KilometresFrom, RateSource};
use wear_core::degradation::WearParameters;
use wear_core::exposure::GearShare;
use wear_core::knock_on::SkipThreshold;
use wear_core::policy::{
    CASSETTE_PER_CHAIN, Cogs, Costs, LimitCurve, LimitPolicy, MeanLife, Price, Question, READING_PER_CHAIN,
    RING_PER_CHAIN, USUAL_CHAIN, scenarios_around,
};
use wear_core::units::Limit;

pub use adopt::adopt;
use choices::{AtLimit, Choices};

use super::prices::price_of;
use super::{Actor, Conflict, ServiceError, Services, cassettes_learned};
use crate::domain::{
    Assumption, Bike, BikeFilter, BikeSort, Geometry, GroupName, Outlook, PageRequest, PageSize, PartModel,
    Place, Policy, PolicyPrices, PriceWishes, Workshop,
};
use crate::store::Tx;

/// Distance after which the next of several chains in turn goes on, reference km (T).
pub const TURN_KM: f64 = 500.0;

/// The trade's limit for most bikes, percent (T), where a group has no bike to tell.
const USUAL_LIMIT: f64 = 0.75;

/// How well an unread group's mean wear is known: standard deviation of its logarithm (A, as in fleet learning).
const UNREAD_LN_SD: f64 = 0.5;

/// All that a policy rests on.
#[derive(Debug, Clone)]
pub struct PolicyFacts {
    group: GroupName,
    bikes: i64,
    workshop: Workshop,
    prices: PolicyPrices,
    cog_weights: Option<Vec<f64>>,
    current_percent: f64,
    trade_percent: f64,
    km_per_reference_km: f64,
    wear: GroupWear,
    choices: Choices,
    cassettes_bear: SkipThreshold,
    assumed: Vec<Assumption>,
}

/// What is known of a group's wear.
#[derive(Debug, Clone)]
struct GroupWear {
    parameters: WearParameters,
    /// Standard deviation of the logarithm of its mean.
    ln_sd: f64,
    from: RateSource,
}

/// Loads what a policy for a group rests on.
///
/// # Errors
/// [`ServiceError::NotFound`] when the fleet has no bike of the group.
pub async fn facts(
    services: &Services,
    actor: &Actor,
    group: GroupName,
    wishes: PriceWishes,
) -> Result<PolicyFacts, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let workshop = tx.workshop().await?;
    let groups = tx.groups().await?;
    let Some((_, bikes)) = groups.into_iter().find(|(name, _)| *name == group) else {
        return Err(ServiceError::NotFound { what: "group" });
    };
    let filter = BikeFilter { group: Some(group.clone()), ..BikeFilter::default() };
    let sample = tx.bikes(&filter, BikeSort::Created, &PageRequest::first(PageSize::LARGEST)).await?.items;
    let (limits, ratios) = in_use(&mut tx, &sample).await?;
    let mut assumed = vec![Assumption::Damage, Assumption::RoadFailures, Assumption::EndOfSet];
    let trade = |bike: &Bike| bike.facts.drivetrain.default_limit().get();
    let trade_percent = middle(sample.iter().map(trade).collect()).unwrap_or(USUAL_LIMIT);
    let current_percent = middle(limits).unwrap_or(trade_percent);
    let km_per_reference_km = middle(ratios).unwrap_or_else(|| {
        assumed.push(Assumption::KmPerReferenceKm);
        1.0
    });
    let models = models(&mut tx, &group).await?;
    let prices = prices(&workshop, &models, &sample, wishes, &mut assumed);
    let comes_apart = models.iter().any(|(model, _)| {
        matches!(model.facts.geometry, Geometry::Cassette { one_piece: false, .. } | Geometry::Cog { .. })
    });
    let cog_weights = match sample.first() {
        Some(bike) if comes_apart && prices.cog_minor.is_some() => Some(cog_weights(bike)),
        _ => None,
    };
    let wear = wear(&mut tx, &group).await?;
    if wear.from == RateSource::Default {
        assumed.push(Assumption::WearRate);
    }
    let choices = Choices::load(&mut tx, &group, &models).await?;
    Ok(PolicyFacts {
        choices,
        cassettes_bear: cassettes_learned::threshold(&mut tx).await?,
        group,
        bikes,
        workshop,
        prices,
        cog_weights,
        current_percent,
        trade_percent,
        km_per_reference_km,
        wear,
        assumed,
    })
}

async fn wear(tx: &mut Tx, group: &GroupName) -> Result<GroupWear, ServiceError> {
    Ok(match tx.fleet_rate(group).await? {
        None => GroupWear {
            parameters: WearParameters::default(),
            ln_sd: UNREAD_LN_SD,
            from: RateSource::Default,
        },
        Some(rate) => {
            GroupWear { parameters: rate.parameters, ln_sd: rate.mean_log_rate_sd, from: rate.source() }
        }
    })
}

/// Limits in force and kilometres per reference kilometre, from the bikes' outlooks.
async fn in_use(tx: &mut Tx, bikes: &[Bike]) -> Result<(Vec<f64>, Vec<f64>), ServiceError> {
    let (mut limits, mut ratios) = (Vec::new(), Vec::new());
    for bike in bikes {
        let Some(row) = tx.outlook(bike.id).await? else { continue };
        let Ok(outlook) = serde_json::from_value::<Outlook>(row.payload) else { continue };
        // A limit that was just set is in force before the outlook is computed anew.
        limits.push(bike.facts.limit.map_or(outlook.limit_percent, Limit::get));
        // Outlooks that were stored before bikes were told in others' kilometres don't say whose they are.
        let is_own = outlook.basis.kilometres_from.is_none_or(|from| from == KilometresFrom::Bike);
        ratios.extend(outlook.basis.km_per_reference_km.filter(|ratio| is_own && *ratio > 0.0));
    }
    Ok((limits, ratios))
}

fn middle(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

async fn models(tx: &mut Tx, group: &GroupName) -> Result<Vec<(PartModel, i64)>, ServiceError> {
    let mut models = Vec::new();
    for parts in tx.parts_of_group(group).await? {
        models.push((tx.part_model(parts.model_id).await?, parts.count));
    }
    Ok(models)
}

/// Damage of each cog against the busiest one's, by the usual gears.
fn cog_weights(bike: &Bike) -> Vec<f64> {
    let cogs = bike.facts.drivetrain.cogs();
    let shares = GearShare::usual(&bike.facts.drivetrain, bike.facts.usage).by_cog(cogs);
    let wear: Vec<f64> = cogs.iter().zip(shares).map(|(teeth, share)| share / teeth.as_f64()).collect();
    let most = wear.iter().copied().fold(0.0, f64::max);
    wear.into_iter().map(|wear| if most > 0.0 { wear / most } else { 1.0 }).collect()
}

/// Mean price of a group's parts at a place, in the workshop's currency.
fn recorded(workshop: &Workshop, models: &[(PartModel, i64)], place: Place) -> Option<i64> {
    let priced = models
        .iter()
        .filter(|(model, _)| model.facts.geometry.place() == place)
        .filter_map(|(model, count)| Some((price_of(workshop, model)?, *count as f64)));
    let (sum, count) =
        priced.fold((0.0, 0.0), |(sum, all), (minor, count)| (sum + minor * count, all + count));
    (count > 0.0).then(|| (sum / count).round() as i64)
}

fn prices(
    workshop: &Workshop,
    models: &[(PartModel, i64)],
    bikes: &[Bike],
    wishes: PriceWishes,
    assumed: &mut Vec<Assumption>,
) -> PolicyPrices {
    let ring_count = bikes.first().map_or(1, |bike| bike.facts.drivetrain.rings().len()) as i64;
    let mut known = |wish: Option<i64>, place: Place, assumption: Assumption, otherwise: f64| {
        wish.or_else(|| recorded(workshop, models, place)).unwrap_or_else(|| {
            assumed.push(assumption);
            otherwise.round() as i64
        })
    };
    let chain_minor = known(wishes.chain_minor, Place::Chain, Assumption::ChainPrice, USUAL_CHAIN);
    let chain = chain_minor as f64;
    let cassette_minor =
        known(wishes.cassette_minor, Place::Cassette, Assumption::CassettePrice, CASSETTE_PER_CHAIN * chain);
    let rings_minor = match wishes.rings_minor {
        Some(minor) => minor,
        None => ring_count * known(None, Place::Ring, Assumption::RingPrice, RING_PER_CHAIN * chain),
    };
    let costs = workshop.settings.costs;
    // As in an outlook: nobody's time is free, so nought in the settings means that nobody said.
    let reading_minor =
        match wishes.reading_minor.or((costs.reading_minor > 0).then_some(costs.reading_minor)) {
            Some(minor) => minor,
            None => {
                assumed.push(Assumption::ReadingPrice);
                (READING_PER_CHAIN * chain).round() as i64
            }
        };
    PolicyPrices {
        chain_minor,
        cassette_minor,
        rings_minor,
        cog_minor: wishes.cog_minor.or_else(|| recorded(workshop, models, Place::Cog)),
        swap_labour_minor: wishes.swap_labour_minor.unwrap_or(costs.swap_labour_minor),
        reading_minor,
        failure_minor: wishes.failure_minor.unwrap_or(costs.failure_minor),
    }
}

impl PolicyFacts {
    /// The policy. It takes a good part of a second of computing.
    ///
    /// # Errors
    /// [`ServiceError::Conflict`] when the prices together are beyond reason.
    pub fn policy(self) -> Result<Policy, ServiceError> {
        let prices = self.prices;
        let labour = prices.swap_labour_minor as f64;
        let price = |minor: i64| Price { part: minor as f64, labour };
        let costs = Costs {
            cogs: prices
                .cog_minor
                .zip(self.cog_weights.clone())
                .map(|(minor, weights)| Cogs { price: price(minor), weights }),
            inspection: prices.reading_minor as f64,
            failure: prices.failure_minor as f64,
            rotation: labour,
            cassettes_bear: self.cassettes_bear,
            ..Costs::of_parts(
                price(prices.chain_minor),
                price(prices.cassette_minor),
                price(prices.rings_minor),
            )
        };
        costs.check().map_err(|error| {
            ServiceError::Conflict(Conflict::PricesBeyondReason { cause: error.to_string() })
        })?;
        let life = MeanLife::of_group(&self.wear.parameters);
        let scenarios = scenarios_around(&life, self.wear.ln_sd);
        let curve = LimitCurve::of(Question {
            costs: &costs,
            scenarios: &scenarios,
            current_percent: self.current_percent,
            jump_overshoot_percent: 0.5 * self.wear.parameters.scale(),
            turn_km: TURN_KM,
        })
        .ok_or(ServiceError::Conflict(Conflict::NoCurve))?;
        let looks = LimitPolicy {
            inspection_interval_km: Some(curve.best_point().look_every_km),
            jump_overshoot_percent: 0.5 * self.wear.parameters.scale(),
        };
        let at = AtLimit {
            group: &self.group,
            workshop: &self.workshop,
            prices: &prices,
            costs: &costs,
            scenarios: &scenarios,
            limit_percent: self.current_percent,
            looks,
        };
        let (chain_models, lubricants) = (self.choices.of_chains(&at), self.choices.of_lubricants(&at));
        Ok(Policy {
            group: self.group,
            bikes: self.bikes,
            currency: self.workshop.settings.currency,
            prices,
            current_percent: self.current_percent,
            trade_percent: self.trade_percent,
            km_per_reference_km: self.km_per_reference_km,
            wear_rate_from: self.wear.from,
            assumed: self.assumed,
            curve,
            chain_models,
            lubricants,
        })
    }
}
