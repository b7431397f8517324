//! Loads what outlooks rest on, for one bike or for many with as many statements.

use std::collections::{BTreeSet, HashMap};
use std::hash::Hash;

use wear_core::degradation::WearParameters;
use wear_core::exposure::ExposureModel;
use wear_core::exposure::care::CareModel;
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::{Limit, LogSd, ReferenceKilometres};

use super::assess::{Assessed, assess};
use super::chain::{Chain, ChainReading};
use super::gathered::{Gathered, Loaded, days_of, recent_mix};
use super::look::{Models, look_costs};
use super::needs::ModelOnBike;
use super::ridden::{Ridden, stretches};
use super::timeline::{Event, Stint, Stretch, accrue};
use crate::domain::{
    Bike, BikeId, CLOCK_SKEW, Care, ChainRecord, Fitting, FleetRate, GroupName, NewReport, Outlook, PartId,
    PartModel, PartModelId, Place, Reading, SwapNeeds, Timestamp, Workshop,
};
use crate::service::by;
use crate::store::{StoreError, Tx};

/// A bike's outlook, and its chains as it saw them.
pub struct Seen {
    /// The outlook.
    pub outlook: Outlook,
    /// What the next swap uses.
    pub needs: SwapNeeds,
    /// The chains.
    pub chains: Vec<ChainRecord>,
}

impl Seen {
    /// What a bike's outlook is by what was loaded.
    pub(super) fn of(gathered: &Gathered) -> Self {
        let Assessed { outlook, needs } = assess(&gathered.facts());
        let chains = gathered.chains.iter().map(|chain| chain.record(&gathered.bike, gathered.now)).collect();
        Self { outlook, needs, chains }
    }
}

/// A bike with the parts whose lives its outlook tells.
struct Parts {
    cassette: Option<Fitting>,
    /// Rings wear together on this page; the one fitted last decides which chains count.
    ring: Option<Fitting>,
    /// The chain that is on.
    present: Option<Fitting>,
    /// The chains that matter, the one that is on last.
    chains: Vec<PartId>,
    /// All that is on, by place.
    open: Vec<Fitting>,
}

impl Parts {
    /// By all that was and is on a bike.
    fn of(fittings: &[Fitting]) -> Self {
        let open = |place: Place| {
            fittings.iter().filter(move |fitting| fitting.place == place && fitting.removed_at.is_none())
        };
        let cassette = open(Place::Cassette).chain(open(Place::Cog)).next().cloned();
        let ring = open(Place::Ring).max_by_key(|fitting| fitting.fitted_at).cloned();
        let present = open(Place::Chain).next().cloned();
        let mut on: Vec<Fitting> =
            fittings.iter().filter(|fitting| fitting.removed_at.is_none()).cloned().collect();
        on.sort_by_key(|fitting| (fitting.place.as_str(), fitting.position));
        let mut parts = Self { cassette, ring, present, chains: Vec::new(), open: on };
        parts.chains = chains_that_matter(fittings, parts.sprockets_since().into_iter().min());
        parts
    }

    /// The models of what is on.
    fn models(&self, model_of: &HashMap<PartId, PartModelId>) -> Vec<ModelOnBike> {
        let on = |fitting: &Fitting| ModelOnBike {
            place: fitting.place,
            position: fitting.position,
            model: model_of.get(&fitting.part_id).copied(),
        };
        self.open.iter().map(on).collect()
    }

    /// When cassette and rings were fitted.
    fn sprockets_since(&self) -> Vec<Timestamp> {
        [&self.cassette, &self.ring].into_iter().flatten().map(|fitting| fitting.fitted_at).collect()
    }
}

/// A chain's stays with what happened during them.
struct Life {
    part_id: PartId,
    readings: Vec<ChainReading>,
    stays: Vec<Fitting>,
    /// Of each stay.
    events: Vec<Vec<(Timestamp, Event)>>,
}

impl Life {
    fn stays_asked(&self, horizon: Timestamp) -> impl Iterator<Item = Ridden<'_>> {
        self.stays.iter().zip(&self.events).map(move |(stay, events)| Ridden::of(stay, horizon, events))
    }
}

/// What the chains of several bikes went through.
struct Histories {
    stays: HashMap<PartId, Vec<Fitting>>,
    readings: HashMap<PartId, Vec<Reading>>,
    care: HashMap<BikeId, Vec<Care>>,
}

impl Histories {
    async fn load(tx: &mut Tx, bikes: &[BikeId], parts: &[PartId]) -> Result<Self, StoreError> {
        let stays = tx.stays_of_parts(parts).await?;
        let readings = tx.readings_of_parts(parts).await?;
        let cared: BTreeSet<BikeId> =
            bikes.iter().copied().chain(stays.iter().map(|stay| stay.bike_id)).collect();
        let care = tx.care_of_bikes(&cared.into_iter().collect::<Vec<_>>()).await?;
        Ok(Self {
            stays: by(stays, |stay| stay.part_id),
            readings: by(readings, |reading| reading.part_id),
            care: by(care, |care| care.bike_id),
        })
    }

    /// A chain's life, with marks at the instants at which the sprockets of `bike` were fitted.
    fn life(&self, part_id: PartId, bike: BikeId, sprockets_since: &[Timestamp], horizon: Timestamp) -> Life {
        let stays = self.stays.get(&part_id).cloned().unwrap_or_default();
        let readings: Vec<ChainReading> = some(&self.readings, &part_id)
            .iter()
            .map(|reading| ChainReading {
                id: reading.id,
                taken_at: reading.taken_at,
                measurement: *reading.measured.measurement(),
            })
            .collect();
        let events = stays
            .iter()
            .map(|stay| {
                let to = stay.removed_at.unwrap_or(horizon);
                let cared = some(&self.care, &stay.bike_id)
                    .iter()
                    .filter(|care| stay.fitted_at <= care.done_at && care.done_at < to)
                    .map(|care| (care.done_at, Event::Care(care.kind)));
                let marks = readings
                    .iter()
                    .map(|reading| reading.taken_at)
                    .chain(sprockets_since.iter().copied().filter(|_| stay.bike_id == bike));
                let marked = marks
                    .enumerate()
                    .filter(|(_, at)| stay.fitted_at <= *at && *at <= to)
                    .map(|(place, at)| (at, Event::Mark(place)));
                let mut events: Vec<(Timestamp, Event)> = cared.chain(marked).collect();
                events.sort_by_key(|(at, event)| (*at, matches!(event, Event::Mark(_))));
                events
            })
            .collect();
        Life { part_id, readings, stays, events }
    }
}

/// What holds for several bikes beside what their chains went through.
struct Around {
    rates: HashMap<GroupName, FleetRate>,
    model_of: HashMap<PartId, PartModelId>,
    models: HashMap<PartModelId, PartModel>,
    skips: HashMap<BikeId, Vec<NewReport>>,
}

impl Around {
    async fn load(tx: &mut Tx, bikes: &[Bike], ids: &[BikeId], open: &[PartId]) -> Result<Self, StoreError> {
        let groups: BTreeSet<&GroupName> = bikes.iter().map(|bike| &bike.facts.group).collect();
        let rates = tx.fleet_rates_of(groups).await?;
        let model_of = tx.models_of_parts(open).await?;
        let models: BTreeSet<PartModelId> = model_of.values().copied().collect();
        let models = tx.part_models_of(&models.into_iter().collect::<Vec<_>>()).await?;
        Ok(Self {
            rates,
            model_of,
            models: models.into_iter().map(|model| (model.id, model)).collect(),
            skips: by(tx.skip_reports(ids).await?, |report| report.bike_id),
        })
    }

    fn model(&self, fitting: Option<&Fitting>) -> Option<PartModel> {
        self.models.get(self.model_of.get(&fitting?.part_id)?).cloned()
    }
}

/// Loads what a bike's outlook rests on.
///
/// # Errors
/// [`StoreError`].
pub async fn gather(
    tx: &mut Tx,
    workshop: &Workshop,
    bike: &Bike,
    now: Timestamp,
) -> Result<Gathered, StoreError> {
    let evidence = Evidence::load(tx, workshop, vec![bike.clone()], now).await?;
    evidence.gathered().into_iter().next().ok_or(StoreError::NotFound)
}

/// What the store holds of several bikes: all that takes waiting for it.
pub struct Evidence {
    workshop: Workshop,
    bikes: Vec<Bike>,
    parts: Vec<Parts>,
    /// Of each bike's chains.
    lives: Vec<Vec<Life>>,
    /// Of each stay of these chains, one after another.
    stretches: Vec<Vec<Stretch>>,
    around: Around,
    now: Timestamp,
}

impl Evidence {
    /// Loads what the outlooks of bikes rest on.
    ///
    /// # Errors
    /// [`StoreError`].
    pub async fn load(
        tx: &mut Tx,
        workshop: &Workshop,
        bikes: Vec<Bike>,
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let ids: Vec<BikeId> = bikes.iter().map(|bike| bike.id).collect();
        let fittings = by(tx.fittings_of_bikes(&ids).await?, |fitting| fitting.bike_id);
        let parts: Vec<Parts> = ids.iter().map(|id| Parts::of(some(&fittings, id))).collect();
        let chains: BTreeSet<PartId> = parts.iter().flat_map(|parts| parts.chains.iter().copied()).collect();
        let histories = Histories::load(tx, &ids, &chains.into_iter().collect::<Vec<_>>()).await?;
        let open: Vec<PartId> =
            parts.iter().flat_map(|parts| &parts.open).map(|fitting| fitting.part_id).collect();
        let around = Around::load(tx, &bikes, &ids, &open).await?;
        // Events are accepted from clocks that run ahead of ours by no more than this.
        let horizon = now.plus(CLOCK_SKEW);
        let lives: Vec<Vec<Life>> = parts
            .iter()
            .zip(&ids)
            .map(|(parts, bike)| {
                let since = parts.sprockets_since();
                parts.chains.iter().map(|chain| histories.life(*chain, *bike, &since, horizon)).collect()
            })
            .collect();
        let asked: Vec<Ridden<'_>> =
            lives.iter().flatten().flat_map(|life| life.stays_asked(horizon)).collect();
        let stretches = stretches(tx, &asked).await?;
        drop(asked);
        Ok(Self { workshop: workshop.clone(), bikes, parts, lives, stretches, around, now })
    }

    /// What follows from it for each bike, in their order: a millisecond's computing and more.
    #[must_use]
    pub fn gathered(self) -> Vec<Gathered> {
        let Self { workshop, bikes, parts, lives, stretches, around, now } = self;
        let mut stretches = stretches.into_iter();
        let bikes = bikes.iter().zip(parts).zip(lives);
        bikes
            .map(|((bike, parts), lives)| {
                let known = Known::of(&workshop, around.rates.get(&bike.facts.group));
                let since = parts.sprockets_since();
                let chains = lives
                    .into_iter()
                    .map(|life| {
                        let stretches = stretches.by_ref().take(life.stays.len()).collect();
                        known.chain(life, stretches, &since)
                    })
                    .collect();
                assemble(&workshop, bike, &parts, chains, &around, known, now)
            })
            .collect()
    }
}

/// What is known of chains' wear before they are looked at.
struct Known<'a> {
    parameters: WearParameters,
    /// What was learned from chains, where the parameters were.
    learned: Option<&'a FleetRate>,
    calibrations: InstrumentCalibrations,
}

impl<'a> Known<'a> {
    fn of(workshop: &Workshop, learned: Option<&'a FleetRate>) -> Self {
        Self {
            parameters: learned.map_or_else(WearParameters::default, |rate| rate.parameters),
            learned,
            calibrations: workshop.settings.instruments(),
        }
    }

    fn chain(&self, life: Life, stretches: Vec<Vec<Stretch>>, sprockets_since: &[Timestamp]) -> Loaded {
        let Life { part_id, readings, stays, events } = life;
        let stints: Vec<Stint> = stretches
            .into_iter()
            .zip(events)
            .map(|(stretches, events)| Stint { stretches, events })
            .collect();
        let accrued = accrue(&stints, &ExposureModel::default(), &CareModel::default());
        let at_sprockets = accrued
            .at_mark
            .iter()
            .filter_map(|mark| {
                let since = *sprockets_since.get(mark.place.checked_sub(readings.len())?)?;
                Some((since, ReferenceKilometres::new(mark.reference_km).ok()?))
            })
            .collect();
        // Learned rates were learned on kilometres counted like these and hold what they share; the defaults don't.
        let shared = if self.learned.is_some() { LogSd::ZERO } else { accrued.mix.shared_ln_sd() };
        let parameters = self.parameters.with_shared_exposure_error(shared);
        let chain = Chain::new(accrued, &readings, &parameters, &self.calibrations);
        Loaded { part_id, stays, readings, at_sprockets, chain }
    }

    /// In words for the outlook's basis.
    fn wear_rate_from(&self) -> String {
        match self.learned {
            None => "default".to_owned(),
            Some(FleetRate { group: Some(group), chains_read, .. }) => {
                format!("group {group}, {chains_read} chains read")
            }
            Some(FleetRate { group: None, chains_read, .. }) => format!("fleet, {chains_read} chains read"),
        }
    }
}

fn assemble(
    workshop: &Workshop,
    bike: &Bike,
    parts: &Parts,
    mut chains: Vec<Loaded>,
    around: &Around,
    known: Known<'_>,
    now: Timestamp,
) -> Gathered {
    let days = days_of(&chains);
    let recent = recent_mix(&days, now);
    for loaded in &mut chains {
        loaded.chain.look_ahead(&recent);
    }
    let present = parts.present.as_ref();
    let on = present.and_then(|fitting| chains.iter().find(|chain| chain.part_id == fitting.part_id));
    let chain_model = around.model(present);
    let cassette_model = around.model(parts.cassette.as_ref());
    let ring_model = around.model(parts.ring.as_ref());
    let limit = limit_of(workshop, bike, chain_model.as_ref());
    let on_it = Models {
        chain: chain_model.as_ref(),
        cassette: cassette_model.as_ref(),
        ring: ring_model.as_ref(),
        rings: bike.facts.drivetrain.rings().len(),
    };
    Gathered {
        bike: bike.clone(),
        limit,
        look: look_costs(workshop, &on_it, &known.parameters, limit),
        risk: workshop.settings.risk.get(),
        present: on.map(|loaded| loaded.part_id),
        cassette: parts.cassette.clone(),
        cassette_model,
        ring: parts.ring.clone(),
        skips: some(&around.skips, &bike.id).to_vec(),
        wear_rate_from: known.wear_rate_from(),
        calibrations: known.calibrations,
        models: parts.models(&around.model_of),
        days,
        chains,
        now,
        today: now.date_in(workshop.settings.time_zone),
    }
}

/// The bike's own limit, else its chain model's, else the workshop's for its kind of drivetrain, else the trade's.
#[must_use]
pub fn limit_of(workshop: &Workshop, bike: &Bike, chain_model: Option<&PartModel>) -> Limit {
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

/// Chains that ran on the bike since `earliest`, oldest stay first, the one that is on last.
fn chains_that_matter(fittings: &[Fitting], earliest: Option<Timestamp>) -> Vec<PartId> {
    let mut stays: Vec<&Fitting> = fittings
        .iter()
        .filter(|fitting| fitting.place == Place::Chain)
        .filter(|fitting| match (fitting.removed_at, earliest) {
            (None, _) => true,
            (Some(removed_at), Some(earliest)) => removed_at > earliest,
            (Some(_), None) => false,
        })
        .collect();
    stays.sort_by_key(|fitting| (fitting.removed_at.is_none(), fitting.fitted_at, fitting.id));
    let mut seen = BTreeSet::new();
    stays.into_iter().map(|fitting| fitting.part_id).filter(|part_id| seen.insert(*part_id)).collect()
}

fn some<'a, K: Hash + Eq, T>(sorted: &'a HashMap<K, Vec<T>>, key: &K) -> &'a [T] {
    sorted.get(key).map_or(&[], Vec::as_slice)
}
