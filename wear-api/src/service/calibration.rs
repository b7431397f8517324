//! What a fleet learns from its own chains, each night and when asked to.

use std::collections::HashMap;

use chrono::{Datelike as _, Days, NaiveTime, TimeZone as _};
use wear_core::Fleet;
use wear_core::degradation::TimedReading;
use wear_core::exposure::Conditions;
use wear_core::fleet::calibration::{ChainHistory, FleetFit, GroupFit};
use wear_core::fleet::multipliers::{ContextExposure, MultiplierFit};
use wear_core::fleet::{Days as ReadOn, Drift, LearnedTools, ReadWith};

use super::{
    Actor, ServiceError, Services, UnitOfWork, WorkshopChange, cassettes_learned, changes, erasing,
    record_keeping, usual_years,
};
use crate::domain::{
    ChainLevel, ClaimedJob, Finished, FleetRate, GroupKilometres, GroupName, GroupYear, JobKind,
    LEARNED_OVER, Label, LearnedCassettes, LearnedCondition, Lubricant, LubricantEffect, ModelEffect, NewJob,
    PartModelId, PersonBias, ReadChain, Timestamp, ToolBias, ToolId, WearEffects, Workshop,
};
use crate::store::{StoreError, Tx};

/// Fewer chains with a reading teach a workshop nothing: the defaults hold (A).
pub const FEWEST_CHAINS: usize = 10;

/// The key of the job that comes each night; a key of its own when someone asks.
const NIGHTLY: &str = "nightly";
const ASKED: &str = "asked";

/// What was learned last.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Known {
    /// How fast chains wear: the fleet as a whole first, then each group.
    pub rates: Vec<FleetRate>,
    /// How each tool errs.
    pub tools: Vec<ToolBias>,
    /// How each person errs.
    pub people: Vec<PersonBias>,
    /// How much cassettes bear; none while none of them has told anything.
    pub cassettes: Option<LearnedCassettes>,
    /// How a year goes: for the workshop first, then for each group.
    pub years: Vec<GroupYear>,
    /// The present year where the workshop is.
    pub year: i32,
    /// What each model of chain is worth.
    pub models: Vec<ModelEffect>,
    /// What each lubricant is worth.
    pub lubricants: Vec<LubricantEffect>,
    /// How wear drifts.
    pub drift: Option<Drift>,
    /// What surface, water, trainers and neglect do, one of each covariate; none before anything was learned.
    pub conditions: Vec<LearnedCondition>,
}

/// What was learned last.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(services: &Services, actor: &Actor) -> Result<Known, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let rates = tx.fleet_rates().await?;
    let cassettes = tx.cassette_fit().await?;
    let settings = tx.workshop().await?.settings;
    let years = tx.usual_years().await?;
    let year = services.now().date_in(settings.time_zone).year();
    let Some(fleet) = rates.first() else {
        return Ok(Known { cassettes, years, year, ..Known::default() });
    };
    let calibrations = settings.instruments();
    let learned = tx.reading_errors(&calibrations, fleet.gauges_judged).await?;
    let named: HashMap<String, (ToolId, Label)> =
        tx.all_tools().await?.into_iter().map(|tool| (tool.id.to_string(), (tool.id, tool.name))).collect();
    let tools = learned.tools().map(|(tool, bias)| ToolBias {
        instrument: tool.instrument,
        tool: tool.name.as_ref().and_then(|id| named.get(id)).cloned(),
        bias,
    });
    let people = learned.persons().map(|(name, bias)| PersonBias { name: name.to_owned(), bias });
    let effects = tx.wear_effects().await?;
    let ids: Vec<PartModelId> = effects.terms.models().filter_map(|(id, _)| id.parse().ok()).collect();
    let names: HashMap<String, (PartModelId, String)> = tx
        .part_models_of(&ids)
        .await?
        .into_iter()
        .map(|model| (model.id.to_string(), (model.id, model.facts.name.to_string())))
        .collect();
    let models = effects
        .terms
        .models()
        .filter_map(|(id, effect)| {
            let model = names.get(id)?.clone();
            let effect = effects.over_fleet(&WearEffects::term(model.0), effect);
            Some(ModelEffect { model, effect })
        })
        .collect();
    let lubricants = lubricants(&mut tx, &effects).await?;
    let (drift, conditions) =
        (effects.drift, effects.conditions.iter().flatten().copied().map(LearnedCondition::from).collect());
    Ok(Known {
        tools: tools.collect(),
        people: people.collect(),
        models,
        lubricants,
        drift,
        conditions,
        rates,
        cassettes,
        years,
        year,
    })
}

/// Lubricants with what they are worth, in the order in which they were entered.
async fn lubricants(tx: &mut Tx, effects: &WearEffects) -> Result<Vec<LubricantEffect>, StoreError> {
    if effects.terms.lubricants().next().is_none() {
        return Ok(Vec::new());
    }
    let learned: HashMap<&str, _> = effects.terms.lubricants().collect();
    let all = tx.all_lubricants().await?.into_iter();
    let known = all.filter_map(|Lubricant { id, facts, .. }| {
        let effect = *learned.get(id.to_string().as_str())?;
        let effect = effects.over_fleet(&WearEffects::lubricant(id), effect);
        Some(LubricantEffect { lubricant: (id, facts.name.to_string()), effect })
    });
    Ok(known.collect())
}

/// Asks for learning now; the worker does it.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn ask(services: &Services, work: &mut UnitOfWork) -> Result<Timestamp, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.enqueue(&job(ASKED, change.now, change.now)).await?;
    change.record("calibration.ask", "calibration".to_owned()).await?;
    Ok(change.now)
}

/// Sees to it that a workshop learns each night.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn every_night(tx: &mut Tx, workshop: &Workshop, now: Timestamp) -> Result<(), ServiceError> {
    tx.enqueue(&job(NIGHTLY, next_night(workshop, now), now)).await?;
    Ok(())
}

fn job(key: &str, due_at: Timestamp, created_at: Timestamp) -> NewJob {
    NewJob { kind: JobKind::CalibrateFleet, key: key.to_owned(), payload: (), due_at, created_at }
}

/// When a workshop learns next by itself: between one and two o'clock where it is, workshops spread over the hour.
#[must_use]
pub fn next_night(workshop: &Workshop, now: Timestamp) -> Timestamp {
    let zone = workshop.settings.time_zone;
    let seconds = 3_600 + workshop.id.uuid().as_u128() % 3_600;
    let time = NaiveTime::from_num_seconds_from_midnight_opt(u32::try_from(seconds).unwrap_or(3_600), 0)
        .unwrap_or_default();
    let today = now.date_in(zone);
    [0, 1, 2]
        .into_iter()
        .filter_map(|days| today.checked_add_days(Days::new(days)))
        .filter_map(|day| zone.from_local_datetime(&day.and_time(time)).latest())
        .filter_map(|local| Timestamp::new(local.to_utc()).ok())
        .find(|due_at| *due_at > now)
        .unwrap_or_else(|| now.plus(chrono::Duration::days(1)))
}

/// Learns from all chains, stores what was learned and asks for every outlook anew: the night's outlooks are of
/// the new day as well.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn learn(services: &Services, claimed: &ClaimedJob) -> Result<(), ServiceError> {
    let now = services.now();
    let (workshop, chains, ridden, used) = {
        let mut tx = services.store.begin_read(claimed.workshop_id).await?;
        let since = now.utc_date().checked_sub_days(LEARNED_OVER).unwrap_or_default();
        let ridden = tx.ridden_by_groups(since).await?;
        (tx.workshop().await?, tx.read_chains().await?, ridden, tx.use_histories().await?)
    };
    let fleet = fleet_of(&chains, &workshop);
    let taught = if fleet.chains_read() < FEWEST_CHAINS {
        Taught::default()
    } else {
        let fitting = move || Taught::of(&fleet.learn_conditions(), &chains, now);
        services.background.compute(fitting).await?
    };
    let conditions = taught.effects.as_ref().map_or_else(Conditions::default, WearEffects::conditions);
    let of_group = |(group, rides): (GroupName, Vec<_>)| GroupKilometres::of(group, &rides, &conditions, now);
    let kilometres: Vec<GroupKilometres> = ridden.into_iter().filter_map(of_group).collect();
    let years = services.background.compute(move || usual_years::learned(used, now)).await?;
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    tx.replace_fleet_rates(&taught.rates).await?;
    tx.replace_reading_errors(&taught.tools).await?;
    tx.replace_chain_levels(&taught.levels).await?;
    tx.replace_wear_effects(taught.effects.as_ref(), now).await?;
    tx.replace_group_kilometres(&kilometres).await?;
    tx.commit().await?;
    // What chains did to cassettes is judged by what was just learned of chains.
    let cassettes = cassettes_learned::learn(services, &workshop, now).await?;
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    match tx.finish_job(claimed, now).await? {
        Finished::Lost => return Ok(()),
        Finished::Cleared if claimed.key == NIGHTLY => every_night(&mut tx, &workshop, now).await?,
        Finished::Cleared | Finished::Again => {}
    }
    tx.replace_cassette_fit(cassettes.as_ref()).await?;
    tx.replace_usual_years(&years).await?;
    tx.mark_all_bikes(now).await?;
    tx.enqueue(&record_keeping::job(now)).await?;
    tx.commit().await?;
    changes::purge(services, claimed.workshop_id, now).await?;
    erasing::old(services, claimed.workshop_id, now).await
}

/// What a night taught.
#[derive(Default)]
pub(super) struct Taught {
    pub(super) rates: Vec<FleetRate>,
    pub(super) tools: LearnedTools,
    pub(super) levels: Vec<ChainLevel>,
    pub(super) effects: Option<WearEffects>,
}

impl Taught {
    pub(super) fn of(fit: &MultiplierFit, chains: &[ReadChain], learned_at: Timestamp) -> Self {
        let learned = &fit.fleet;
        let level = |(place, chain): (usize, &ReadChain)| {
            let ReadChain { part_id, bike_id, .. } = *chain;
            learned.level_of_chain(place).map(|level| ChainLevel { part_id, bike_id, level })
        };
        // Where bikes have no share in how chains differ, no chain says anything of its bike.
        let said = if learned.bike_share > 0.0 { chains } else { &[] };
        Self {
            rates: rates(learned, learned_at),
            tools: learned.tools.clone(),
            effects: Some(WearEffects::of(fit, chains)),
            levels: said.iter().enumerate().filter_map(level).collect(),
        }
    }
}

pub(super) fn fleet_of(chains: &[ReadChain], workshop: &Workshop) -> Fleet {
    let zone = workshop.settings.time_zone;
    let mut fleet = Fleet::with_instruments(workshop.settings.instruments());
    for chain in chains {
        let ReadChain { bike_id, group, start, readings, taken_at, model, begun_at, read_under, .. } = chain;
        let bike = bike_id.to_string();
        let model = model.map(|id| id.to_string());
        let day = |at: &Timestamp| i32::try_from(at.moment_in(zone).day()).unwrap_or(i32::MAX);
        let days: Vec<i32> = taken_at.iter().map(day).collect();
        let days = ReadOn::of_readings(&days);
        let days = begun_at.as_ref().map_or(days, |at| days.begun(day(at)));
        let timed: Vec<TimedReading> =
            readings.iter().map(|(read, measurement, _)| TimedReading::new(read.at, *measurement)).collect();
        let by_context: Vec<ContextExposure> = readings.iter().map(|(read, ..)| read.by_context).collect();
        let with: Vec<ReadWith> = readings.iter().map(|(.., with)| with.known()).collect();
        let history =
            ChainHistory::new(group.as_str(), &timed).starting(*start).on_days(days).lubricated(read_under);
        let history = model.as_deref().map_or(history.clone(), |model| history.of_model(model));
        fleet.add_history_by_context(&history.on_bike(&bike).read_with(&with), &by_context);
    }
    fleet
}

fn rates(learned: &FleetFit, learned_at: Timestamp) -> Vec<FleetRate> {
    let count = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let sum = |of: fn(&GroupFit) -> usize| count(learned.groups.values().map(of).sum());
    let fleet = FleetRate {
        group: None,
        parameters: learned.fleet,
        mean_log_rate_sd: learned.sd_among,
        of_bikes: learned.of_bikes(),
        gauges_judged: learned.tools.gauges_judged(),
        chains: sum(|group| group.chains),
        chains_read: sum(|group| group.chains_read),
        learned_at,
    };
    let groups = learned.groups.iter().filter_map(|(name, group)| {
        Some(FleetRate {
            group: Some(GroupName::new(name).ok()?),
            parameters: group.parameters,
            mean_log_rate_sd: group.mean_log_rate_sd,
            of_bikes: learned.of_bikes(),
            gauges_judged: learned.tools.gauges_judged(),
            chains: count(group.chains),
            chains_read: count(group.chains_read),
            learned_at,
        })
    });
    std::iter::once(fleet).chain(groups).collect()
}
