//! Forecasts are kept when something new is known of a chain, and scored when its next reading arrives.

use std::collections::BTreeSet;

use chrono_tz::Tz;
use wear_core::degradation::{Posterior, TimedReading, WearParameters};
use wear_core::fleet::multipliers::ReadExposure;
use wear_core::fleet::track_record::{Forecast, NaiveAnswers, Score};
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::ReferenceKilometres;

use super::learned::Learned;
use super::{ServiceError, Services, by};
use crate::domain::{
    BikeId, ChainRecord, ClaimedJob, Finished, ForecastId, GroupName, JobKind, KeptForecast, Month, NewJob,
    PartId, Reading, ReadingId, ScoredReading, Timestamp, WorkshopId,
};
use crate::store::StoreError;

/// The job that keeps a forecast of a chain and scores its readings.
pub(super) fn job(part: PartId, now: Timestamp) -> NewJob {
    NewJob { kind: JobKind::ScoreForecasts, key: part.to_string(), payload: (), due_at: now, created_at: now }
}

/// Keeps a forecast of each chain, where there is none yet that rests on its present readings, and scores each reading by
/// the last forecast kept before it was taken, else by one computed from the readings before it.
///
/// Computed on a snapshot, which nobody waits for; what has happened since asks for the job again.
///
/// # Errors
/// [`ServiceError::Invalid`] for a job that names no chain; [`ServiceError::BrokenOff`] after a defect;
/// [`ServiceError::Unavailable`]. Nothing of any of the jobs is done then.
pub async fn score(
    services: &Services,
    workshop: WorkshopId,
    claimed: &[ClaimedJob],
) -> Result<(), ServiceError> {
    let parts = claimed.iter().map(|job| job.key.parse::<PartId>());
    let parts: Vec<PartId> =
        parts.collect::<Result<_, _>>().map_err(|cause| ServiceError::field("/key", cause))?;
    let watched = Watched::load(services, workshop, &parts).await?;
    // After the readings that it rests on.
    let now = services.now();
    let judging = move || watched.iter().map(|chain| chain.judge(now)).collect::<Vec<_>>();
    let mut judged = services.background.compute(judging).await?;
    let mut tx = services.store.begin_write(workshop).await?;
    let mut ours = Vec::with_capacity(claimed.len());
    for (job, part) in claimed.iter().zip(parts) {
        if tx.finish_job(job, now).await? != Finished::Lost {
            ours.push(part);
        }
    }
    judged.retain(|chain| ours.contains(&chain.part));
    let forecasts: Vec<&KeptForecast> = judged.iter().filter_map(|chain| chain.forecast.as_ref()).collect();
    tx.keep_forecasts(&forecasts).await?;
    let scores: Vec<ScoredReading> = judged.into_iter().flat_map(|chain| chain.scores).collect();
    tx.replace_scores(&ours, &scores).await?;
    tx.commit().await?;
    Ok(())
}

/// A reading with the chain's exposure when it was taken.
struct ReadAt {
    id: ReadingId,
    taken_at: Timestamp,
    read: TimedReading,
}

/// A chain with its readings and what was forecast of it.
struct Watched {
    chain: ChainRecord,
    marks: Vec<ReadAt>,
    kept: Vec<KeptForecast>,
    parameters: WearParameters,
    calibrations: InstrumentCalibrations,
    zone: Tz,
}

/// What there is to store of a chain.
struct Judged {
    part: PartId,
    forecast: Option<KeptForecast>,
    scores: Vec<ScoredReading>,
}

impl Watched {
    /// Those of the chains that an outlook has seen.
    async fn load(
        services: &Services,
        workshop: WorkshopId,
        parts: &[PartId],
    ) -> Result<Vec<Self>, StoreError> {
        let mut tx = services.store.begin_read_by_key(workshop).await?;
        let chains = tx.chain_records_of(parts).await?;
        let settings = tx.workshop().await?.settings;
        let mut readings = by(tx.readings_of_parts(parts).await?, |reading| reading.part_id);
        let mut kept = by(tx.forecasts_of_parts(parts).await?, |forecast| forecast.part_id);
        let groups: BTreeSet<&GroupName> = chains.iter().map(|chain| &chain.group).collect();
        let rates = tx.fleet_rates_of(groups).await?;
        let learned = Learned::load(&mut tx, &settings, rates.values()).await?;
        let bikes: BTreeSet<BikeId> = chains.iter().map(|chain| chain.bike_id).collect();
        let levels = learned.levels(&mut tx, &bikes.into_iter().collect::<Vec<_>>()).await?;
        let watched = chains.into_iter().map(|chain| Self {
            marks: marks(&chain, readings.remove(&chain.part_id).unwrap_or_default(), &learned),
            kept: kept.remove(&chain.part_id).unwrap_or_default(),
            parameters: rates.get(&chain.group).map_or_else(WearParameters::default, |rate| {
                let others = levels.of_others(chain.bike_id, chain.part_id);
                rate.of_bikes.parameters(&rate.parameters, others)
            }),
            calibrations: settings.instruments(),
            zone: settings.time_zone,
            chain,
        });
        Ok(watched.collect())
    }

    fn judge(&self, now: Timestamp) -> Judged {
        let Self { chain, marks, kept, parameters, calibrations, zone } = self;
        let part = chain.part_id;
        let used = i64::try_from(marks.len()).unwrap_or(i64::MAX);
        let is_known = kept.last().is_some_and(|last| last.readings_used == used);
        let mut known = TakenIn {
            posterior: Posterior::new(&parameters.with_start(chain.start), calibrations),
            rest: marks,
        };
        let mut before: Vec<(ReferenceKilometres, f64)> = Vec::new();
        let mut scores = Vec::with_capacity(marks.len());
        for (place, mark) in marks.iter().enumerate() {
            let last = kept.iter().rfind(|forecast| forecast.made_at <= mark.taken_at);
            let own = last.and_then(|last| Some((last.id, last.forecast.elongation(mark.read.at)?)));
            let (forecast_id, elongation) = match own {
                Some((id, elongation)) => (Some(id), elongation),
                None => (None, known.up_to(&marks[place..]).elongation_range(mark.read.at)),
            };
            let TimedReading { at, measurement, .. } = mark.read;
            let naive = NaiveAnswers::at(at, &before);
            let calibration = mark.read.calibration(calibrations);
            scores.push(ScoredReading {
                part_id: part,
                reading_id: mark.id,
                forecast_id,
                group: chain.group.clone(),
                month: Month::of(mark.taken_at.date_in(*zone)),
                score: Score::of(elongation, naive, &measurement, calibration),
            });
            if let Some(spots) = measurement.as_spots() {
                before.push((at, spots.mean()));
            }
        }
        let forecast = (!is_known).then(|| KeptForecast {
            id: ForecastId::generate(),
            part_id: part,
            made_at: now,
            readings_used: used,
            forecast: Forecast::of(known.up_to(&[]), chain.reference_km),
        });
        Judged { part, forecast, scores }
    }
}

/// What readings say, taken in only as far as something is asked of it.
struct TakenIn<'a> {
    posterior: Posterior,
    /// Readings to come.
    rest: &'a [ReadAt],
}

impl TakenIn<'_> {
    /// What is known when only the readings `to_come` are left.
    fn up_to(&mut self, to_come: &[ReadAt]) -> &Posterior {
        let (now, rest) = self.rest.split_at(self.rest.len().saturating_sub(to_come.len()));
        for mark in now {
            self.posterior.update(mark.read);
        }
        self.rest = rest;
        &self.posterior
    }
}

fn marks(chain: &ChainRecord, readings: Vec<Reading>, learned: &Learned) -> Vec<ReadAt> {
    let mut marks: Vec<ReadAt> = readings
        .into_iter()
        .filter_map(|reading| {
            let (_, ReadExposure { at, .. }) = chain.marks.iter().find(|(id, _)| *id == reading.id)?;
            let read = TimedReading::new(*at, *reading.measured.measurement());
            let read = learned.calibration(&reading).map_or(read, |own| read.with_calibration(own));
            Some(ReadAt { id: reading.id, taken_at: reading.taken_at, read })
        })
        .collect();
    marks.sort_by_key(|mark| (mark.taken_at, mark.id));
    marks
}
