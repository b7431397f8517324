//! Loads what a bike's outlook rests on, and assesses it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};
use wear_core::degradation::WearParameters;
use wear_core::exposure::care::CareModel;
use wear_core::exposure::{ExposureModel, ExposureSum};
use wear_core::forecast::{DailyUse, WINDOW_DAYS};
use wear_core::knock_on::{CassetteBuild, SkipOutcome, SkipTest};
use wear_core::policy::LookCosts;
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::{Limit, LogSd, ReferenceKilometres};

use super::assess::{Assessed, BikeFacts, FittedChain, SkipReport, SprocketWear, assess};
use super::chain::{Chain, ChainReading};
use super::look::{Models, look_costs};
use super::timeline::{Event, ExposedDay, Stint, Stretch, accrue};
use crate::domain::{
    Bike, BikeDay, BikeId, CLOCK_SKEW, Care, ChainRecord, Fitting, FleetRate, Geometry, NewReport, Outlook,
    PartId, PartModel, Place, SwapNeeds, Timestamp, Workshop,
};
use crate::store::{ModelOnBike, StoreError, Tx};

/// What all of a bike's chains are loaded with.
struct Shared {
    bike_id: BikeId,
    /// The bike's care.
    care: Vec<Care>,
    /// When its cassette and rings were fitted.
    sprockets_since: Vec<Timestamp>,
    parameters: WearParameters,
    /// Whether the parameters were learned from chains.
    learned: bool,
    calibrations: InstrumentCalibrations,
    now: Timestamp,
}

/// A chain with what led to it.
struct Loaded {
    part_id: PartId,
    stays: Vec<Fitting>,
    readings: Vec<ChainReading>,
    /// Exposure at each instant at which a sprocket was fitted.
    at_sprockets: Vec<(Timestamp, ReferenceKilometres)>,
    chain: Chain,
}

/// A bike's outlook, and its chains as it saw them.
pub struct Seen {
    /// The outlook.
    pub outlook: Outlook,
    /// What the next swap uses.
    pub needs: SwapNeeds,
    /// The chains.
    pub chains: Vec<ChainRecord>,
}

/// All that a bike's outlook rests on.
pub struct Gathered {
    bike: Bike,
    limit: Limit,
    risk: f64,
    chains: Vec<Loaded>,
    present: Option<PartId>,
    cassette: Option<Fitting>,
    cassette_model: Option<PartModel>,
    ring: Option<Fitting>,
    skips: Vec<NewReport>,
    look: (LookCosts, bool),
    calibrations: InstrumentCalibrations,
    wear_rate_from: String,
    models: Vec<ModelOnBike>,
    days: Vec<ExposedDay>,
    now: Timestamp,
    today: NaiveDate,
}

/// The bike's outlook as of `now`.
///
/// # Errors
/// [`StoreError`].
pub async fn outlook_of(
    tx: &mut Tx,
    workshop: &Workshop,
    bike: &Bike,
    now: Timestamp,
) -> Result<Seen, StoreError> {
    let gathered = gather(tx, workshop, bike, now).await?;
    let Assessed { outlook, needs } = assess(&gathered.facts());
    let chains = gathered.chains.iter().map(|chain| chain.record(bike, now)).collect();
    Ok(Seen { outlook, needs, chains })
}

/// In words for the outlook's basis.
fn wear_rate_from(learned: Option<&FleetRate>) -> String {
    match learned {
        None => "default".to_owned(),
        Some(FleetRate { group: Some(group), chains_read, .. }) => {
            format!("group {group}, {chains_read} chains read")
        }
        Some(FleetRate { group: None, chains_read, .. }) => format!("fleet, {chains_read} chains read"),
    }
}

impl Loaded {
    fn record(&self, bike: &Bike, now: Timestamp) -> ChainRecord {
        let marks = self.chain.accrued.at_mark.iter().filter_map(|mark| {
            let reading = self.readings.get(mark.place)?;
            Some((reading.id, ReferenceKilometres::new(mark.reference_km.max(0.0)).ok()?))
        });
        ChainRecord {
            part_id: self.part_id,
            bike_id: bike.id,
            group: bike.facts.group.clone(),
            reference_km: self.chain.at(),
            marks: marks.collect(),
            recorded_at: now,
        }
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
    let fittings = tx.fittings_of_bike(bike.id).await?;
    let open = |place: Place| {
        fittings.iter().filter(move |fitting| fitting.place == place && fitting.removed_at.is_none())
    };
    let cassette = open(Place::Cassette).chain(open(Place::Cog)).next();
    // Rings wear together on this page; the one fitted last decides which chains count.
    let ring = open(Place::Ring).max_by_key(|fitting| fitting.fitted_at);
    let sprockets_since: Vec<Timestamp> =
        [cassette, ring].into_iter().flatten().map(|fitting| fitting.fitted_at).collect();
    let earliest = sprockets_since.iter().min().copied();

    let learned = tx.fleet_rate(&bike.facts.group).await?;
    let shared = Shared {
        bike_id: bike.id,
        care: tx.care_of_bike(bike.id).await?,
        sprockets_since,
        parameters: learned.as_ref().map_or_else(WearParameters::default, |rate| rate.parameters),
        learned: learned.is_some(),
        calibrations: workshop.settings.instruments(),
        now,
    };
    let mut chains = Vec::new();
    for part_id in chains_that_matter(&fittings, earliest) {
        chains.push(load_chain(tx, part_id, &shared).await?);
    }
    let days = days_of(&chains);
    let recent = recent_mix(&days, now);
    for loaded in &mut chains {
        loaded.chain.look_ahead(&recent);
    }
    let present = open(Place::Chain).next();
    let on = present.and_then(|fitting| chains.iter().find(|chain| chain.part_id == fitting.part_id));
    let models = tx.models_on_bike(bike.id).await?;
    let chain_model = model_at(tx, &models, present).await?;
    let cassette_model = model_at(tx, &models, cassette).await?;
    let ring_model = model_at(tx, &models, ring).await?;
    let limit = limit_of(workshop, bike, chain_model.as_ref());
    let on_it = Models {
        chain: chain_model.as_ref(),
        cassette: cassette_model.as_ref(),
        ring: ring_model.as_ref(),
        rings: bike.facts.drivetrain.rings().len(),
    };
    Ok(Gathered {
        bike: bike.clone(),
        limit,
        look: look_costs(workshop, &on_it, &shared.parameters, limit),
        risk: workshop.settings.risk.get(),
        present: on.map(|loaded| loaded.part_id),
        cassette: cassette.cloned(),
        cassette_model,
        ring: ring.cloned(),
        skips: tx.skip_reports(bike.id).await?,
        calibrations: shared.calibrations,
        wear_rate_from: wear_rate_from(learned.as_ref()),
        models,
        days,
        chains,
        now,
        today: now.date_in(workshop.settings.time_zone),
    })
}

impl Gathered {
    /// The chain that is on.
    fn on(&self) -> Option<&Loaded> {
        self.chains.iter().find(|chain| Some(chain.part_id) == self.present)
    }

    /// The chain that is on, as the assessment sees it.
    pub(super) fn fitted(&self) -> Option<FittedChain<'_>> {
        self.on().map(|loaded| FittedChain {
            part_id: loaded.part_id,
            fitted_at: loaded.stays.first().map_or(self.now, |stay| stay.fitted_at),
            chain: &loaded.chain,
            readings: &loaded.readings,
        })
    }

    /// The calibrations in force.
    pub(super) const fn calibrations(&self) -> &InstrumentCalibrations {
        &self.calibrations
    }

    /// What was reported of the present cassette on a cog that is known, while a chain was on.
    fn skips_on_cassette(&self) -> Vec<SkipReport> {
        let Some(cassette) = &self.cassette else { return Vec::new() };
        let (bike_id, since) = (self.bike.id, cassette.fitted_at);
        let cogs = self.bike.facts.drivetrain.cogs();
        let chains: Vec<&Loaded> =
            self.chains.iter().filter(|chain| ran_since(chain, bike_id, since)).collect();
        let on_at = |at: Timestamp| {
            chains
                .iter()
                .position(|chain| chain.stays.iter().any(|stay| stay.bike_id == bike_id && stay.covers(at)))
        };
        let reports = self.skips.iter().filter(|report| report.reported_at >= since);
        reports
            .filter_map(|report| {
                let sprocket = match report.cog {
                    Some(cog) => cogs.iter().position(|teeth| *teeth == cog)?,
                    None if cogs.len() == 1 => 0,
                    None => return None,
                };
                let chains_before = on_at(report.reported_at)?;
                // A new chain was tried when the chain of that time had its wear behind it.
                let (chains_before, outcome) = if report.new_chain {
                    (chains_before + 1, SkipOutcome::Skips)
                } else {
                    (chains_before, SkipOutcome::Reported)
                };
                Some(SkipReport {
                    reported_at: report.reported_at,
                    teeth: cogs[sprocket],
                    test: SkipTest { sprocket, chains_before, outcome },
                })
            })
            .collect()
    }

    /// What is known of the bike.
    pub(super) fn facts(&self) -> BikeFacts<'_> {
        let Self { bike, chains, now, today, .. } = self;
        let stay_of = |fitting: &Option<Fitting>| {
            let fitting = fitting.as_ref()?;
            self.on().map(|_| wear_since(chains, bike.id, fitting.fitted_at))
        };
        BikeFacts {
            bike_id: bike.id,
            usage: bike.facts.usage,
            drivetrain: &bike.facts.drivetrain,
            limit: self.limit,
            risk: self.risk,
            chain: self.fitted(),
            cassette: stay_of(&self.cassette),
            cassette_build: match self.cassette_model.as_ref().map(|model| &model.facts.geometry) {
                Some(Geometry::Cassette { one_piece: false, .. } | Geometry::Cog { .. }) => {
                    CassetteBuild::SeparateCogs
                }
                _ => CassetteBuild::OnePiece,
            },
            cassette_price: self.cassette_model.as_ref().and_then(|model| model.facts.price),
            rings: stay_of(&self.ring),
            skips: self.skips_on_cassette(),
            look: self.look.0,
            look_is_assumed: self.look.1,
            wear_rate_from: self.wear_rate_from.clone(),
            models: &self.models,
            days: &self.days,
            days_since: chains
                .iter()
                .filter_map(|chain| chain.stays.first())
                .map(|stay| stay.fitted_at)
                .min()
                .unwrap_or(*now),
            now: *now,
            today: *today,
        }
    }
}

async fn model_at(
    tx: &mut Tx,
    models: &[ModelOnBike],
    fitting: Option<&Fitting>,
) -> Result<Option<PartModel>, StoreError> {
    let at = |fitting: &Fitting| {
        models.iter().find(|(place, position, _)| (*place, *position) == (fitting.place, fitting.position))
    };
    match fitting.and_then(at).and_then(|(_, _, model)| *model) {
        Some(model_id) => tx.part_model(model_id).await.map(Some),
        None => Ok(None),
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

async fn load_chain(tx: &mut Tx, part_id: PartId, shared: &Shared) -> Result<Loaded, StoreError> {
    let Shared { learned, bike_id, care, sprockets_since, parameters, calibrations, now } = shared;
    let mut stays = tx.fittings_of_part(part_id).await?;
    stays.sort_by_key(|stay| (stay.fitted_at, stay.id));
    let readings: Vec<ChainReading> = tx
        .readings_of_part(part_id)
        .await?
        .into_iter()
        .map(|reading| ChainReading {
            id: reading.id,
            taken_at: reading.taken_at,
            measurement: *reading.measured.measurement(),
        })
        .collect();
    // Events are accepted from clocks that run ahead of ours by no more than this.
    let horizon = now.plus(CLOCK_SKEW);
    let mut stints = Vec::with_capacity(stays.len());
    for stay in &stays {
        let to = stay.removed_at.unwrap_or(horizon);
        let elsewhere;
        let care = if stay.bike_id == *bike_id {
            care
        } else {
            elsewhere = tx.care_of_bike(stay.bike_id).await?;
            &elsewhere
        };
        let mut events: Vec<(Timestamp, Event)> = care
            .iter()
            .filter(|care| stay.fitted_at <= care.done_at && care.done_at < to)
            .map(|care| (care.done_at, Event::Care(care.kind)))
            .collect();
        let here = |at: Timestamp| stay.fitted_at <= at && at <= to;
        let marks = readings
            .iter()
            .map(|reading| reading.taken_at)
            .chain(sprockets_since.iter().copied().filter(|_| stay.bike_id == *bike_id));
        events.extend(
            marks.enumerate().filter(|(_, at)| here(*at)).map(|(place, at)| (at, Event::Mark(place))),
        );
        events.sort_by_key(|(at, event)| (*at, matches!(event, Event::Mark(_))));
        stints.push(Stint { stretches: stretches(tx, stay, to, &events).await?, events });
    }
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
    let shared = if *learned { LogSd::ZERO } else { accrued.mix.shared_ln_sd() };
    let parameters = parameters.with_shared_exposure_error(shared);
    let chain = Chain::new(accrued, &readings, &parameters, calibrations);
    Ok(Loaded { part_id, stays, readings, at_sprockets, chain })
}

/// The rides of one stay: whole days from the rollup, days with an event in them ride by ride.
pub(super) async fn stretches(
    tx: &mut Tx,
    stay: &Fitting,
    to: Timestamp,
    events: &[(Timestamp, Event)],
) -> Result<Vec<Stretch>, StoreError> {
    let ends = [stay.fitted_at.utc_date(), to.utc_date()];
    let eventful: BTreeSet<NaiveDate> = events.iter().map(|(at, _)| at.utc_date()).chain(ends).collect();
    let mut days: BTreeMap<NaiveDate, Vec<BikeDay>> = BTreeMap::new();
    for sums in tx.bike_days(stay.bike_id, ends[0], ends[1]).await? {
        if !eventful.contains(&sums.key.day) && sums.rides > 0 {
            days.entry(sums.key.day).or_default().push(sums);
        }
    }
    let mut stretches: Vec<Stretch> = days
        .into_iter()
        .filter_map(|(day, mut sums)| {
            sums.sort_by_key(|sum| sum.key);
            Some(Stretch { at: start_of(day)?, day, sums })
        })
        .collect();
    for day in eventful {
        let Some(midnight) = start_of(day) else { continue };
        let next = day.checked_add_days(Days::new(1)).and_then(start_of).unwrap_or(to);
        let mut rides = tx.rides_between(stay.bike_id, midnight.max(stay.fitted_at), next.min(to)).await?;
        rides.sort_by(|a, b| (a.started_at, &a.identity).cmp(&(b.started_at, &b.identity)));
        stretches.extend(rides.iter().map(|ride| Stretch {
            at: ride.started_at,
            day,
            sums: vec![BikeDay::of(ride)],
        }));
    }
    stretches.sort_by_key(|stretch| stretch.at);
    Ok(stretches)
}

fn start_of(day: NaiveDate) -> Option<Timestamp> {
    Timestamp::new(day.and_hms_opt(0, 0, 0)?.and_utc()).ok()
}

/// Days of riding of all chains together: the day of a swap has rides on either.
fn days_of(chains: &[Loaded]) -> Vec<ExposedDay> {
    let mut days: BTreeMap<NaiveDate, (DailyUse, ExposureSum)> = BTreeMap::new();
    for exposed in chains.iter().flat_map(|loaded| &loaded.chain.accrued.days) {
        let (used, mix) = days.entry(exposed.day).or_default();
        used.km += exposed.used.km;
        used.reference_km += exposed.used.reference_km;
        mix.merge(&exposed.mix);
    }
    days.into_iter().map(|(day, (used, mix))| ExposedDay { day, used, mix }).collect()
}

/// What the exposure of the days was made of that the forecast of use rests on.
fn recent_mix(days: &[ExposedDay], now: Timestamp) -> ExposureSum {
    let first = now.utc_date().checked_sub_days(Days::new(WINDOW_DAYS as u64)).unwrap_or(NaiveDate::MIN);
    let mut recent = ExposureSum::default();
    days.iter().filter(|exposed| exposed.day >= first).for_each(|exposed| recent.merge(&exposed.mix));
    recent
}

/// Whether a chain was on this bike since `since`.
fn ran_since(loaded: &Loaded, bike_id: BikeId, since: Timestamp) -> bool {
    loaded
        .stays
        .iter()
        .any(|stay| stay.bike_id == bike_id && stay.removed_at.is_none_or(|removed_at| removed_at > since))
}

/// What each chain did on this bike since `since`.
fn wear_since(chains: &[Loaded], bike_id: BikeId, since: Timestamp) -> Vec<SprocketWear<'_>> {
    chains
        .iter()
        .filter(|loaded| ran_since(loaded, bike_id, since))
        .map(|loaded| {
            let from = loaded.at_sprockets.iter().find(|(at, _)| *at == since).map(|(_, exposure)| *exposure);
            SprocketWear { chain: &loaded.chain, from: from.unwrap_or(ReferenceKilometres::ZERO) }
        })
        .collect()
}
