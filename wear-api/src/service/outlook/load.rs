//! Loads bikes as the library takes them, one or many with as many statements.

use std::collections::{BTreeSet, HashMap};
use std::hash::Hash;

use chrono_tz::Tz;
use wear_core::bike::{ChainRecord as ChainLife, ChainStart, Rate, SkipReport, Sprockets, Stay};
use wear_core::exposure::care_habit::CareHabit;
use wear_core::knock_on::{CassetteBuild, SkipThreshold};
use wear_core::policy::PartPrices;
use wear_core::units::Limit;
use wear_core::{Bike as Drivetrain, Moment, Reading as Read};

use super::loaded::{LoadedBike, ModelOnBike};
use super::ridden::{Ridden, rides};
use super::unlogged::{Told, care_habit, since_first};
use crate::domain::{
    Bike, BikeId, CLOCK_SKEW, Care, Fitting, FittingStart, FleetRate, Geometry, GroupName, GroupYear, Label,
    NewReport, PartId, PartModel, PartModelId, Place, ReadWith, Reading, ReadingError, SwapReason, Taught,
    Timestamp, ToolId, Workshop,
};
use crate::service::learned::{Learned, Levels};
use crate::service::prices::price_of;
use crate::service::{by, cassettes_learned};
use crate::store::{StoreError, Tx};

/// Loads one bike.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn bike(
    tx: &mut Tx,
    workshop: &Workshop,
    bike: &Bike,
    now: Timestamp,
) -> Result<LoadedBike, StoreError> {
    bikes(tx, workshop, vec![bike.clone()], now).await?.pop().ok_or(StoreError::NotFound)
}

/// Loads several bikes, in their order.
///
/// # Errors
/// [`StoreError`].
pub async fn bikes(
    tx: &mut Tx,
    workshop: &Workshop,
    bikes: Vec<Bike>,
    now: Timestamp,
) -> Result<Vec<LoadedBike>, StoreError> {
    load(tx, workshop, bikes, &HashMap::new(), now).await
}

/// The same with the cassettes that came off, and the chains that ran on them.
///
/// # Errors
/// [`StoreError`].
pub async fn bikes_with_removed_cassettes(
    tx: &mut Tx,
    workshop: &Workshop,
    bikes: Vec<Bike>,
    now: Timestamp,
) -> Result<Vec<LoadedBike>, StoreError> {
    let ids: Vec<BikeId> = bikes.iter().map(|bike| bike.id).collect();
    let reasons: HashMap<PartId, SwapReason> = tx.reasons_of_cassettes(&ids).await?.into_iter().collect();
    let fittings = tx.fittings_of_bikes(&ids).await?.into_iter();
    let removed = fittings.filter_map(|fitting| {
        let removed_at = fitting.removed_at.filter(|_| fitting.place == Place::Cassette)?;
        let reason = reasons.get(&fitting.part_id).copied();
        Some(RemovedCassette { removed_at, reason, fitting })
    });
    let removed = by(removed.collect(), |removed| removed.fitting.bike_id);
    load(tx, workshop, bikes, &removed, now).await
}

/// A cassette that came off.
struct RemovedCassette {
    fitting: Fitting,
    removed_at: Timestamp,
    reason: Option<SwapReason>,
}

async fn load(
    tx: &mut Tx,
    workshop: &Workshop,
    bikes: Vec<Bike>,
    removed: &HashMap<BikeId, Vec<RemovedCassette>>,
    now: Timestamp,
) -> Result<Vec<LoadedBike>, StoreError> {
    let ids: Vec<BikeId> = bikes.iter().map(|bike| bike.id).collect();
    let fittings = by(tx.fittings_of_bikes(&ids).await?, |fitting| fitting.bike_id);
    let zone = workshop.settings.time_zone;
    let parts: Vec<Parts> =
        ids.iter().map(|id| Parts::of(some(&fittings, id), some(removed, id), zone)).collect();
    let chains: BTreeSet<PartId> = parts.iter().flat_map(|parts| parts.chains.iter().copied()).collect();
    let chains: Vec<PartId> = chains.into_iter().collect();
    let histories = Histories::load(tx, workshop, &bikes, &chains, now).await?;
    let open: Vec<PartId> =
        parts.iter().flat_map(|parts| &parts.open).map(|fitting| fitting.part_id).collect();
    let around = Around::load(tx, workshop, &bikes, &ids, &open).await?;
    // Events are accepted from clocks that run ahead of ours by no more than this.
    let horizon = now.plus(CLOCK_SKEW);
    let lives = |(parts, bike): (&Parts, &BikeId)| {
        let sprockets = parts.sprockets_since(some(removed, bike), zone);
        let life = |chain: &PartId| histories.life(*chain, *bike, &sprockets, horizon);
        parts.chains.iter().map(life).collect::<Vec<_>>()
    };
    let lives: Vec<Vec<Life<'_>>> = parts.iter().zip(&ids).map(lives).collect();
    let asked: Vec<Ridden> = lives.iter().flatten().flat_map(|life| life.stays.iter().cloned()).collect();
    let mut ridden = rides(tx, &asked).await?.into_iter();
    let loaded = bikes.into_iter().zip(parts).zip(lives).map(|((bike, parts), lives)| {
        let chains =
            lives.into_iter().map(|life| life.with_rides(&mut ridden, &around.learned, zone)).collect();
        let removed = some(removed, &bike.id);
        let mut loaded = assemble(workshop, bike, &parts, chains, (&around, &histories.told), now);
        for RemovedCassette { fitting, removed_at, reason } in removed {
            loaded.drivetrain.add_removed_cassette(
                since(Some(fitting), zone),
                removed_at.moment_in(zone),
                *reason,
            );
        }
        loaded
    });
    Ok(loaded.collect())
}

/// A bike with the parts whose lives its outlook tells.
struct Parts {
    cassette: Option<Fitting>,
    /// Rings wear together on a bike; the one fitted last decides which chains count.
    ring: Option<Fitting>,
    /// The chain that is on.
    present: Option<Fitting>,
    /// The chains that matter, the one that is on last.
    chains: Vec<PartId>,
    /// When the first of them was fitted, where there were others before.
    others_before: Option<Timestamp>,
    /// All that is on, by place.
    open: Vec<Fitting>,
}

impl Parts {
    /// By all that was and is on a bike.
    fn of(fittings: &[Fitting], removed: &[RemovedCassette], zone: Tz) -> Self {
        let open = |place: Place| {
            fittings.iter().filter(move |fitting| fitting.place == place && fitting.removed_at.is_none())
        };
        let cassette = open(Place::Cassette).chain(open(Place::Cog)).next().cloned();
        let ring = open(Place::Ring).max_by_key(|fitting| fitting.fitted_at).cloned();
        let present = open(Place::Chain).next().cloned();
        let mut on: Vec<Fitting> =
            fittings.iter().filter(|fitting| fitting.removed_at.is_none()).cloned().collect();
        on.sort_by_key(|fitting| (fitting.place.as_str(), fitting.position));
        let mut parts = Self { cassette, ring, present, chains: Vec::new(), others_before: None, open: on };
        parts.chains =
            chains_that_matter(fittings, parts.sprockets_since(removed, zone).into_iter().min(), zone);
        let stays = || fittings.iter().filter(|fitting| fitting.place == Place::Chain);
        let first =
            stays().filter(|stay| parts.chains.contains(&stay.part_id)).map(|stay| stay.fitted_at).min();
        parts.others_before = first.filter(|first| stays().any(|stay| stay.fitted_at < *first));
        parts
    }

    /// The models of what is on.
    fn models(&self, model_of: &HashMap<PartId, PartModelId>) -> Vec<ModelOnBike> {
        let on = |fitting: &Fitting| ModelOnBike {
            place: fitting.place,
            position: fitting.position,
            part_id: fitting.part_id,
            model: model_of.get(&fitting.part_id).copied(),
        };
        self.open.iter().map(on).collect()
    }

    /// When cassette and rings were fitted, and those that are wanted came on and off.
    fn sprockets_since(&self, removed: &[RemovedCassette], zone: Tz) -> Vec<Moment> {
        let fitted = [&self.cassette, &self.ring].into_iter().flatten().map(|fitting| fitting.fitted_at);
        let removed = removed.iter().flat_map(|it| [it.fitting.fitted_at, it.removed_at]);
        fitted.chain(removed).map(|at| at.moment_in(zone)).collect()
    }
}

/// Chains that ran on the bike since `earliest`, oldest stay first, the one that is on last.
fn chains_that_matter(fittings: &[Fitting], earliest: Option<Moment>, zone: Tz) -> Vec<PartId> {
    let mut stays: Vec<&Fitting> = fittings
        .iter()
        .filter(|fitting| fitting.place == Place::Chain)
        .filter(|fitting| match (fitting.removed_at, earliest) {
            (None, _) => true,
            (Some(removed_at), Some(earliest)) => removed_at.moment_in(zone) > earliest,
            (Some(_), None) => false,
        })
        .collect();
    stays.sort_by_key(|fitting| (fitting.removed_at.is_none(), fitting.fitted_at, fitting.id));
    let mut seen = BTreeSet::new();
    stays.into_iter().map(|fitting| fitting.part_id).filter(|part_id| seen.insert(*part_id)).collect()
}

/// A chain with its readings and stays, before its rides are loaded.
pub(super) struct Life<'a> {
    part_id: PartId,
    readings: &'a [Reading],
    pub(super) stays: Vec<Ridden>,
    pub(super) start: ChainStart,
}

impl<'a> Life<'a> {
    /// With the rides of its stays, which come next in `ridden`, and its readings as their tools and people err.
    fn with_rides(
        self,
        ridden: &mut impl Iterator<Item = Stay>,
        learned: &Learned,
        zone: Tz,
    ) -> (PartId, &'a [Reading], ChainLife) {
        let Self { part_id, readings, stays, start } = self;
        let stays = ridden.take(stays.len()).collect();
        let read = readings.iter().map(|reading| {
            let read = Read::from(*reading.measured.measurement());
            let read = learned.calibration(reading).map_or(read, |own| read.with_calibration(own));
            (reading.taken_at.moment_in(zone), read)
        });
        (part_id, readings, ChainLife::new(stays).starting(start).with_readings(read))
    }
}

/// What the chains of several bikes went through.
pub(super) struct Histories {
    pub(super) stays: HashMap<PartId, Vec<Fitting>>,
    pub(super) readings: HashMap<PartId, Vec<Reading>>,
    care: HashMap<BikeId, Vec<Care>>,
    habits: HashMap<BikeId, CareHabit>,
    /// When those left the fleet that did: nothing counts from then on.
    retired: HashMap<BikeId, Timestamp>,
    told: Told,
    zone: Tz,
}

impl Histories {
    pub(super) async fn load(
        tx: &mut Tx,
        workshop: &Workshop,
        bikes: &[Bike],
        parts: &[PartId],
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let stays = tx.stays_of_parts(parts).await?;
        let readings = tx.readings_of_parts(parts).await?;
        let here: BTreeSet<BikeId> = bikes.iter().map(|bike| bike.id).collect();
        let elsewhere: BTreeSet<BikeId> =
            stays.iter().map(|stay| stay.bike_id).filter(|bike| !here.contains(bike)).collect();
        let elsewhere = tx.all_bikes_by_id(&elsewhere.into_iter().collect::<Vec<_>>()).await?;
        let all: Vec<&Bike> = bikes.iter().chain(elsewhere.values()).collect();
        let care = tx.care_of_bikes(&all.iter().map(|bike| bike.id).collect::<Vec<_>>()).await?;
        let care = by(care, |care| care.bike_id);
        let told = Told::load(tx, workshop, &since_first(&all, &stays, now), now).await?;
        let habit = |bike: &&Bike| (bike.id, care_habit(workshop, bike, some(&care, &bike.id)));
        Ok(Self {
            habits: all.iter().map(habit).collect(),
            retired: all.iter().filter_map(|bike| Some((bike.id, bike.retired_at?))).collect(),
            stays: by(stays, |stay| stay.part_id),
            readings: by(readings, |reading| reading.part_id),
            care,
            told,
            zone: workshop.settings.time_zone,
        })
    }

    /// A chain's life, of which `bike` is the bike at hand.
    pub(super) fn life(
        &self,
        part_id: PartId,
        bike: BikeId,
        sprockets: &[Moment],
        horizon: Timestamp,
    ) -> Life<'_> {
        let readings = some(&self.readings, &part_id);
        let read: Vec<Moment> =
            readings.iter().map(|reading| reading.taken_at.moment_in(self.zone)).collect();
        let stays = some(&self.stays, &part_id);
        let start = stays.first().map_or(ChainStart::New, |first| first.start.of_chain());
        let stays = stays.iter().map(|fitting| {
            let left_at = self.retired.get(&fitting.bike_id);
            let horizon = left_at.map_or(horizon, |left_at| horizon.min(*left_at));
            let ridden = Ridden::of(fitting, horizon, some(&self.care, &fitting.bike_id), self.zone)
                .with_care_habit(self.habits.get(&fitting.bike_id).copied().unwrap_or(CareHabit::Unrecorded))
                .with_unlogged(self.told.of(fitting.bike_id));
            if fitting.bike_id == bike {
                ridden.marked(&read, sprockets)
            } else {
                ridden.elsewhere().marked(&read, &[])
            }
        });
        Life { part_id, readings, stays: stays.collect(), start }
    }
}

/// What holds for several bikes beside what their chains went through.
struct Around {
    rates: HashMap<GroupName, FleetRate>,
    learned: Learned,
    levels: Levels,
    tool_names: HashMap<ToolId, Label>,
    kilometres: HashMap<GroupName, f64>,
    years: HashMap<GroupName, GroupYear>,
    model_of: HashMap<PartId, PartModelId>,
    models: HashMap<PartModelId, PartModel>,
    skips: HashMap<BikeId, Vec<NewReport>>,
    skip_threshold: SkipThreshold,
}

impl Around {
    async fn load(
        tx: &mut Tx,
        workshop: &Workshop,
        bikes: &[Bike],
        ids: &[BikeId],
        open: &[PartId],
    ) -> Result<Self, StoreError> {
        let groups: BTreeSet<&GroupName> = bikes.iter().map(|bike| &bike.facts.group).collect();
        let rates = tx.fleet_rates_of(groups.clone()).await?;
        let learned = Learned::load(tx, &workshop.settings, rates.values()).await?;
        let levels = learned.levels(tx, ids).await?;
        let tools = if learned.is_any() { tx.all_tools().await? } else { Vec::new() };
        let kilometres = tx.group_kilometres_of(groups.clone()).await?;
        let years = tx.usual_years_of(groups).await?;
        let model_of = tx.models_of_parts(open).await?;
        let models: BTreeSet<PartModelId> = model_of.values().copied().collect();
        let models = tx.part_models_of(&models.into_iter().collect::<Vec<_>>()).await?;
        Ok(Self {
            rates,
            learned,
            levels,
            tool_names: tools.into_iter().map(|tool| (tool.id, tool.name)).collect(),
            kilometres,
            years,
            model_of,
            models: models.into_iter().map(|model| (model.id, model)).collect(),
            skips: by(tx.skip_reports(ids).await?, |report| report.bike_id),
            skip_threshold: cassettes_learned::threshold(tx).await?,
        })
    }

    /// What was learned of a chain's tools and people, each once, and of its bike.
    fn taught(&self, bike: &Bike, chain: PartId, readings: &[Reading]) -> Taught {
        let mut taught = Taught {
            bike_chains: self.levels.of_others(bike.id, chain).count(),
            use_season: self.years.get(&bike.facts.group).map(GroupYear::season_of).unwrap_or_default(),
            ..Taught::default()
        };
        for reading in readings {
            let Some(calibration) = self.learned.calibration(reading) else { continue };
            let ReadWith { tool_id, read_by } = &reading.with;
            let error = ReadingError {
                instrument: reading.measured.measurement().instrument().as_str().to_owned(),
                tool_id: *tool_id,
                tool: tool_id.and_then(|id| self.tool_names.get(&id)).map(ToString::to_string),
                read_by: read_by.as_ref().map(ToString::to_string),
                bias: calibration.bias(),
                bias_sd: calibration.unknown_bias(),
            };
            if !taught.reading_errors.contains(&error) {
                taught.reading_errors.push(error);
            }
        }
        taught
    }

    fn model(&self, fitting: Option<&Fitting>) -> Option<&PartModel> {
        self.models.get(self.model_of.get(&fitting?.part_id)?)
    }
}

fn assemble(
    workshop: &Workshop,
    bike: Bike,
    parts: &Parts,
    chains: Vec<(PartId, &[Reading], ChainLife)>,
    (around, told): (&Around, &Told),
    now: Timestamp,
) -> LoadedBike {
    let zone = workshop.settings.time_zone;
    let chain_model = around.model(parts.present.as_ref());
    let cassette_model = around.model(parts.cassette.as_ref());
    let learned_rate = around.rates.get(&bike.facts.group);
    let model_id = chain_model.map(|model| model.id);
    let learned = &around.learned;
    let rate = learned_rate
        .map_or_else(Rate::default, |rate| learned.rate(rate, model_id, around.levels.of(bike.id)));
    let mut drivetrain = Drivetrain::new(bike.facts.drivetrain.clone(), bike.facts.usage)
        .with_limit(limit_of(workshop, &bike, chain_model))
        .with_risk(workshop.settings.risk)
        .with_prices(prices(workshop, chain_model, cassette_model, around.model(parts.ring.as_ref())))
        .with_rate(rate)
        .with_group_km_per_reference_km(around.kilometres.get(&bike.facts.group).copied())
        .with_instruments(workshop.settings.instruments())
        .with_conditions(*learned.conditions())
        .with_cassette(since(parts.cassette.as_ref(), zone), build_of(cassette_model))
        .with_skip_threshold(around.skip_threshold)
        .with_rings(since(parts.ring.as_ref(), zone))
        .with_declared_km_per_week(told.weekly(bike.id));
    if let Some(learned) = around.years.get(&bike.facts.group) {
        drivetrain = drivetrain.with_usual_year(learned.year.clone());
    }
    if let Some(told) = told.of(bike.id) {
        drivetrain = drivetrain.with_warnings(told.warnings.iter().cloned());
    }
    if parts.present.is_none() {
        drivetrain = drivetrain.without_chain();
    }
    if bike.facts.is_assumed {
        drivetrain = drivetrain.with_assumed_drivetrain();
    }
    for report in some(&around.skips, &bike.id) {
        drivetrain.skipped(SkipReport {
            reported_at: report.reported_at.moment_in(zone),
            cog: report.cog,
            new_chain: report.new_chain,
        });
    }
    let mut loaded = Vec::with_capacity(chains.len());
    let mut taught = Taught::default();
    for (part_id, readings, life) in chains {
        loaded.push((part_id, readings.iter().map(|reading| reading.id).collect()));
        // A chain of which the bike's rate knows would count twice.
        let own = learned_rate.filter(|_| around.levels.are_of(bike.id, part_id));
        drivetrain.add_chain(match own {
            Some(rate) => {
                let others = around.levels.of_others(bike.id, part_id);
                life.with_rate(learned.rate(rate, model_id, others))
            }
            None => life,
        });
        if parts.present.as_ref().is_some_and(|present| present.part_id == part_id) {
            taught = around.taught(&bike, part_id, readings);
            taught.learned_rate(learned_rate, learned.effects(), model_id);
        }
    }
    LoadedBike {
        present: parts.present.as_ref().map(|fitting| fitting.part_id),
        models: parts.models(&around.model_of),
        today: now.date_in(zone),
        zone,
        chains: loaded,
        taught,
        others_before: parts.others_before.map(|first| first.moment_in(zone).day()),
        drivetrain,
        bike,
        soon: workshop.settings.soon_days,
        now,
    }
}

pub(super) fn since(fitting: Option<&Fitting>, zone: Tz) -> Sprockets {
    fitting.map_or(Sprockets::Unrecorded, |fitting| match fitting.start {
        FittingStart::New => Sprockets::Since(fitting.fitted_at.moment_in(zone)),
        FittingStart::AsFound { .. } => Sprockets::AsFound(fitting.fitted_at.moment_in(zone)),
    })
}

fn build_of(cassette: Option<&PartModel>) -> CassetteBuild {
    match cassette.map(|model| &model.facts.geometry) {
        Some(Geometry::Cassette { one_piece: false, .. } | Geometry::Cog { .. }) => {
            CassetteBuild::SeparateCogs
        }
        _ => CassetteBuild::OnePiece,
    }
}

/// The workshop's prices, minor units. Nobody's time is free, so a reading that costs nought is one that nobody priced.
fn prices(
    workshop: &Workshop,
    chain: Option<&PartModel>,
    cassette: Option<&PartModel>,
    ring: Option<&PartModel>,
) -> PartPrices {
    let of = |model: Option<&PartModel>| model.and_then(|model| price_of(workshop, model));
    let costs = &workshop.settings.costs;
    PartPrices {
        chain: of(chain),
        cassette: of(cassette),
        ring: of(ring),
        reading: (costs.reading_minor != 0).then_some(costs.reading_minor as f64),
        swap_labour: costs.swap_labour_minor as f64,
        failure: costs.failure_minor as f64,
    }
}

/// The bike's own limit, else its chain model's, else the workshop's for its kind of drivetrain, else the trade's.
pub(super) fn limit_of(workshop: &Workshop, bike: &Bike, chain_model: Option<&PartModel>) -> Limit {
    use wear_core::drivetrain::Gearing;
    let own = &workshop.settings.limits;
    let drivetrain = &bike.facts.drivetrain;
    let of_workshop = match (drivetrain.gearing(), drivetrain.cogs().len()) {
        (Gearing::SingleSpeed | Gearing::HubGear, _) => own.single_sprocket,
        (Gearing::Derailleur, 11..) => own.eleven_or_more,
        (Gearing::Derailleur, _) => own.up_to_ten,
    };
    bike.facts
        .limit
        .or(chain_model.and_then(|model| model.facts.limit))
        .or(of_workshop)
        .unwrap_or_else(|| drivetrain.default_limit())
}

pub(super) fn some<'a, K: Hash + Eq, T>(sorted: &'a HashMap<K, Vec<T>>, key: &K) -> &'a [T] {
    sorted.get(key).map_or(&[], Vec::as_slice)
}
