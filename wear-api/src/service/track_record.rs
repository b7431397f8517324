//! Forecasts are kept when something new is known of a chain, and scored when its next reading arrives.

use std::collections::BTreeMap;

use chrono_tz::Tz;
use wear_core::degradation::{Posterior, TimedReading, WearParameters};
use wear_core::fleet::track_record::{Forecast, NaiveAnswers, Record, Score, Tally};
use wear_core::reading::{InstrumentCalibrations, Measurement};
use wear_core::units::ReferenceKilometres;

use super::{Actor, ServiceError, Services};
use crate::domain::{
    ChainRecord, ClaimedJob, Finished, ForecastId, GroupName, JobKind, KeptForecast, Month, MonthlyTally,
    NewJob, PartId, Reading, ReadingId, ScoredReading, Timestamp, Warning, WorkshopId,
};

/// How forecasts did.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Held {
    /// The scores added up.
    pub tally: Tally,
    /// Forecasts among them that were kept before the reading was taken.
    pub kept: i64,
}

/// The track record.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrackRecord {
    /// All of it.
    pub overall: Held,
    /// By group.
    pub groups: BTreeMap<GroupName, Held>,
    /// By month of the reading.
    pub months: BTreeMap<Month, Held>,
}

impl TrackRecord {
    fn of(tallies: Vec<MonthlyTally>) -> Self {
        let mut record = Self::default();
        for MonthlyTally { group, month, tally, kept } in tallies {
            let month = record.months.entry(month).or_default();
            let group = record.groups.entry(group).or_default();
            for held in [&mut record.overall, month, group] {
                held.tally += tally;
                held.kept += kept;
            }
        }
        record
    }

    /// Where the coverage has left the band that chance explains.
    #[must_use]
    pub fn warnings(&self) -> Vec<Warning> {
        let groups = self.groups.iter().map(|(group, held)| (format!("Group {group}"), held));
        std::iter::once(("All groups together".to_owned(), &self.overall))
            .chain(groups)
            .filter_map(|(whose, held)| drift(&whose, &held.tally))
            .collect()
    }
}

fn drift(whose: &str, tally: &Tally) -> Option<Warning> {
    let record = tally.record().filter(Record::has_drifted)?;
    let (code, so) = if record.coverage < record.coverage_band.0 {
        (
            "intervals_too_narrow",
            "the forecasts were surer than they should have been: plan with more margin, and let the fleet learn anew",
        )
    } else {
        ("intervals_too_wide", "the forecasts were less sure than they could have been")
    };
    Some(Warning {
        code: code.to_owned(),
        message: format!(
            "{whose}: {:.0} % of {} readings lay between P10 and P90, and chance explains {:.0} to {:.0} %; {so}",
            100.0 * record.coverage,
            tally.readings,
            100.0 * record.coverage_band.0,
            100.0 * record.coverage_band.1,
        ),
    })
}

/// How forecasts did on the readings from one month to another, both included.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    group: Option<&GroupName>,
    months: (Month, Month),
) -> Result<TrackRecord, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(TrackRecord::of(tx.tallies(group, months).await?))
}

/// The job that keeps a forecast of a chain and scores its readings.
pub(super) fn to_score(part: PartId, now: Timestamp) -> NewJob {
    NewJob {
        kind: JobKind::ScoreForecasts,
        key: part.to_string(),
        payload: serde_json::Value::Null,
        due_at: now,
        created_at: now,
    }
}

/// A reading with the chain's exposure when it was taken.
struct Mark {
    id: ReadingId,
    taken_at: Timestamp,
    at: ReferenceKilometres,
    measurement: Measurement,
}

/// Keeps a forecast of a chain, where there is none yet that rests on its present readings, and scores each reading by
/// the last forecast kept before it was taken, else by one computed from the readings before it.
///
/// Computed on a snapshot, which nobody waits for; what has happened since asks for the job again.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn score(services: &Services, claimed: &ClaimedJob) -> Result<(), ServiceError> {
    let part: PartId = claimed.key.parse().map_err(|cause| ServiceError::field("/key", cause))?;
    let watched = Watched::load(services, claimed.workshop_id, part).await?;
    // After the readings that it rests on.
    let now = services.now();
    let judged = match watched {
        Some(watched) => Some(services.background.compute(move || watched.judge(now)).await?),
        None => None,
    };
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    if tx.finish_job(claimed, now).await? == Finished::Lost {
        return Ok(());
    }
    if let Some(Judged { forecast, scores }) = judged {
        if let Some(forecast) = forecast {
            tx.keep_forecast(&forecast).await?;
        }
        tx.replace_scores(part, &scores).await?;
    }
    tx.commit().await?;
    Ok(())
}

/// A chain with its readings and what was forecast of it.
struct Watched {
    part: PartId,
    chain: ChainRecord,
    marks: Vec<Mark>,
    kept: Vec<KeptForecast>,
    parameters: WearParameters,
    calibrations: InstrumentCalibrations,
    zone: Tz,
}

/// What there is to store of a chain.
struct Judged {
    forecast: Option<KeptForecast>,
    scores: Vec<ScoredReading>,
}

impl Watched {
    async fn load(
        services: &Services,
        workshop: WorkshopId,
        part: PartId,
    ) -> Result<Option<Self>, ServiceError> {
        let mut tx = services.store.begin_read(workshop).await?;
        let Some(chain) = tx.chain_record(part).await? else { return Ok(None) };
        let settings = tx.workshop().await?.settings;
        let rate = tx.fleet_rate(&chain.group).await?;
        Ok(Some(Self {
            part,
            marks: marks(&chain, tx.readings_of_part(part).await?),
            kept: tx.forecasts_of_part(part).await?,
            chain,
            parameters: rate.map_or_else(WearParameters::default, |rate| rate.parameters),
            calibrations: settings.instruments(),
            zone: settings.time_zone,
        }))
    }

    fn judge(&self, now: Timestamp) -> Judged {
        let Self { part, chain, marks, kept, parameters, calibrations, zone } = self;
        let used = i64::try_from(marks.len()).unwrap_or(i64::MAX);
        let is_known = kept.last().is_some_and(|last| last.readings_used == used);
        let mut known = TakenIn { posterior: Posterior::new(parameters, calibrations), rest: marks };
        let mut before: Vec<(ReferenceKilometres, f64)> = Vec::new();
        let mut scores = Vec::with_capacity(marks.len());
        for (place, mark) in marks.iter().enumerate() {
            let last = kept.iter().rfind(|forecast| forecast.made_at <= mark.taken_at);
            let own = last.and_then(|last| Some((last.id, last.forecast.elongation(mark.at)?)));
            let (forecast_id, elongation) = match own {
                Some((id, elongation)) => (Some(id), elongation),
                None => (None, known.up_to(&marks[place..]).elongation_range(mark.at)),
            };
            let naive = NaiveAnswers::at(mark.at, &before);
            scores.push(ScoredReading {
                part_id: *part,
                reading_id: mark.id,
                forecast_id,
                group: chain.group.clone(),
                month: Month::of(mark.taken_at.date_in(*zone)),
                score: Score::of(elongation, naive, &mark.measurement, calibrations),
            });
            if let Some(spots) = mark.measurement.as_spots() {
                before.push((mark.at, spots.mean()));
            }
        }
        let forecast = (!is_known).then(|| KeptForecast {
            id: ForecastId::generate(),
            part_id: *part,
            made_at: now,
            readings_used: used,
            forecast: Forecast::of(known.up_to(&[]), chain.reference_km),
        });
        Judged { forecast, scores }
    }
}

/// What readings say, taken in only as far as something is asked of it.
struct TakenIn<'a> {
    posterior: Posterior,
    /// Readings to come.
    rest: &'a [Mark],
}

impl TakenIn<'_> {
    /// What is known when only the readings `to_come` are left.
    fn up_to(&mut self, to_come: &[Mark]) -> &Posterior {
        let (now, rest) = self.rest.split_at(self.rest.len().saturating_sub(to_come.len()));
        for mark in now {
            self.posterior.update(mark.timed());
        }
        self.rest = rest;
        &self.posterior
    }
}

impl Mark {
    fn timed(&self) -> TimedReading {
        TimedReading::new(self.at, self.measurement)
    }
}

fn marks(chain: &ChainRecord, readings: Vec<Reading>) -> Vec<Mark> {
    let mut marks: Vec<Mark> = readings
        .into_iter()
        .filter_map(|reading| {
            let (_, at) = chain.marks.iter().find(|(id, _)| *id == reading.id)?;
            let measurement = *reading.measured.measurement();
            Some(Mark { id: reading.id, taken_at: reading.taken_at, at: *at, measurement })
        })
        .collect();
    marks.sort_by_key(|mark| (mark.taken_at, mark.id));
    marks
}
