//! The track record of what people act on: kilometres and dates to the limit, days named for swaps, swaps of a quarter,
//! skipping.
//!
//! A forecast is kept when an outlook is the first of a month or rests on one reading more (`shown`). Each night, after
//! learning, forecasts are made for the beginning of each month as well, from what was known then and with rates learned from
//! no later reading (`made_later`): they rest on events alone, so that an imported year has the same record as one that was
//! entered day by day. Both are held against what the readings say today.

mod ended;
mod origins;
mod scores;

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use chrono::Datelike as _;

pub(super) use origins::Known;

use super::outlook::{PastBike, past_bikes};
use super::{ServiceError, Services, by, hooks};
use crate::domain::{
    Bike, ClaimedJob, JobKind, KeptPassage, Made, Month, NewJob, PartId, RecordedBike, Timestamp, Workshop,
    WorkshopId,
};
use crate::store::StoreError;
use ended::ended;
use origins::{Origins, Studied};
use scores::Scores;

/// Months before the present one for whose beginning forecasts are made later (A).
const MONTHS_BACK: i64 = 24;

/// Bikes that are loaded at once.
const PIECE: usize = 50;

/// The job that keeps the record.
pub(super) fn job(now: Timestamp) -> NewJob {
    NewJob { kind: JobKind::KeepRecord, key: "all".to_owned(), payload: (), due_at: now, created_at: now }
}

/// Makes the forecasts of past months that aren't made yet or rest on a past that has changed, and holds all forecasts
/// against what came.
///
/// # Errors
/// [`ServiceError::BrokenOff`] after a defect; [`ServiceError::Unavailable`].
pub async fn keep(services: &Services, claimed: &ClaimedJob) -> Result<(), ServiceError> {
    let now = services.now();
    let id = claimed.workshop_id;
    let (workshop, bikes, recorded) = {
        let mut tx = services.store.begin_read(id).await?;
        (tx.workshop().await?, tx.all_bikes().await?, tx.recorded_bikes().await?)
    };
    let pieces: Vec<Vec<Bike>> = bikes.chunks(PIECE).map(<[Bike]>::to_vec).collect();
    let mut studied = Vec::new();
    for piece in &pieces {
        let loaded = load(services, id, &workshop, piece, now).await?;
        let studying = move || loaded.iter().map(|bike| Studied::of(bike, now)).collect::<Vec<_>>();
        studied.extend(services.background.compute(studying).await?);
    }
    let last = Month::of(now.date_in(workshop.settings.time_zone).with_day(1).unwrap_or_default());
    let months = (last.number() - MONTHS_BACK..=last.number()).map(Month::from_number);
    let origins = Arc::new(Origins::new(workshop.clone(), studied, months));
    let mut scores = Scores::default();
    for piece in &pieces {
        let loaded = Arc::new(load(services, id, &workshop, piece, now).await?);
        let known: Vec<Option<RecordedBike>> =
            piece.iter().map(|bike| recorded.get(&bike.id).cloned()).collect();
        let (origins, looked_at) = (Arc::clone(&origins), Arc::clone(&loaded));
        let making = move || {
            let all = looked_at.iter().zip(known);
            all.filter_map(|(bike, known)| Remade::of(bike, known.as_ref(), &origins, last))
                .collect::<Vec<_>>()
        };
        let remade = services.background.compute(making).await?;
        let mut tx = services.store.begin_write(id).await?;
        for Remade { parts, since, forecasts, recorded } in &remade {
            tx.replace_passages(parts, *since, forecasts).await?;
            tx.record_bike(recorded).await?;
        }
        tx.commit().await?;
        scores = score(services, &workshop, loaded, scores, now).await?;
    }
    let tallies = services.background.compute(move || scores.tallies()).await?;
    let mut tx = services.store.begin_write(id).await?;
    if tx.finish_job(claimed, now).await? != crate::domain::Finished::Lost {
        tx.replace_record(&tallies).await?;
        // By now the night's outlooks are there, or nearly all of them.
        tx.enqueue(&hooks::fleet::job(now)).await?;
    }
    Ok(tx.commit().await?)
}

async fn load(
    services: &Services,
    id: WorkshopId,
    workshop: &Workshop,
    bikes: &[Bike],
    now: Timestamp,
) -> Result<Vec<PastBike>, StoreError> {
    let mut tx = services.store.begin_read_by_key(id).await?;
    past_bikes(&mut tx, workshop, bikes.to_vec(), now).await
}

/// Forecasts of a bike that were made anew.
struct Remade {
    parts: Vec<PartId>,
    since: Month,
    forecasts: Vec<KeptPassage>,
    recorded: RecordedBike,
}

impl Remade {
    /// Those that are missing; none where they are all there and rest on what is known today of the past.
    fn of(bike: &PastBike, known: Option<&RecordedBike>, origins: &Origins, last: Month) -> Option<Self> {
        let is_sound = |known: &&RecordedBike| {
            origins.fingerprint(known.through, bike).is_some_and(|now| now == known.fingerprint)
        };
        let sound = known.filter(is_sound);
        let since = sound.map(|known| Month::from_number(known.through.number() + 1));
        let (first, _) = origins.since(since).next()?;
        let forecasts = origins
            .since(since)
            .filter_map(|(month, at)| bike.forecast(origins.known(month)?, at, month.begins()));
        Some(Self {
            parts: bike.chains.iter().map(|chain| chain.part_id).collect(),
            since: first,
            forecasts: forecasts.collect(),
            recorded: RecordedBike {
                bike_id: bike.bike.id,
                through: last,
                fingerprint: origins.fingerprint(last, bike)?,
            },
        })
    }
}

/// Holds the forecasts of bikes against what became of their chains.
async fn score(
    services: &Services,
    workshop: &Workshop,
    bikes: Arc<Vec<PastBike>>,
    mut scores: Scores,
    now: Timestamp,
) -> Result<Scores, ServiceError> {
    let mut tx = services.store.begin_read_by_key(workshop.id).await?;
    let parts: BTreeSet<PartId> =
        bikes.iter().flat_map(|bike| bike.chains.iter().map(|chain| chain.part_id)).collect();
    let kept = tx.passages_of_parts(&parts.into_iter().collect::<Vec<_>>()).await?;
    let ids: Vec<_> = bikes.iter().map(|bike| bike.bike.id).collect();
    let known = Known::now(&mut tx, workshop, &ids).await?;
    drop(tx);
    let zone = workshop.settings.time_zone;
    let scoring = move || {
        let mut of_parts: HashMap<PartId, Vec<KeptPassage>> = by(kept, |kept| kept.part_id);
        for bike in bikes.iter() {
            let ended = ended(bike, &known, &of_parts, now);
            for (part, ended) in ended {
                let forecasts = of_parts.remove(&part).unwrap_or_default();
                for made in Made::ALL {
                    let of_kind: Vec<KeptPassage> =
                        forecasts.iter().filter(|kept| kept.made == *made).cloned().collect();
                    scores.add(&of_kind, &ended, now, zone);
                }
            }
        }
        scores
    };
    services.background.compute(scoring).await
}
