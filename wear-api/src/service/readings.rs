//! Readings.

use serde_json::Value;

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, odometer, read_of_bike};
use crate::domain::{
    BikeId, EnteredWith, Field, Fitting, Invalid, Measured, NewReading, Note, OdometerTotal, Once, Outlook,
    Page, PageRequest, Place, ReadWith, Reading, ReadingId, Timestamp, Voiding,
};
use crate::store::Tx;

/// Stores a reading, with what the odometer showed, and answers with the new outlook. The same reading sent again is
/// the same reading.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike; [`ServiceError::Invalid`] for a time in the future, or at
/// which no chain was on the bike, and for a tool that can't have been used.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    taken_at: Timestamp,
    (measured, with): (Measured, ReadWith),
    shown: Option<OdometerTotal>,
) -> Result<(Once<Reading>, Outlook), ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    taken_at.not_after(change.now).map_err(|cause| ServiceError::field("/taken_at", cause))?;
    change.in_fleet("/taken_at", taken_at)?;
    let read = (measured.measurement().instrument(), taken_at);
    let with = change.read_with(read, with, "/tool_id").await?;
    let stored = save(change.tx, bike_id, taken_at, (measured, with)).await?;
    let with = (EnteredWith::Reading(id_of(&stored)), taken_at);
    let statement = odometer::save_shown(change.tx, bike_id, with, shown, change.now).await?;
    let (entered, subject) = ((stored.is_new(), statement), format!("/readings/{}", id_of(&stored)));
    let outlook = change.end_entered(entered, "reading.create", &subject, Value::Null).await?;
    Ok((stored, outlook))
}

fn id_of(stored: &Once<Reading>) -> ReadingId {
    match stored {
        Once::New(reading) | Once::Again(reading) => reading.id,
    }
}

/// Stores a reading of the chain that was on the bike, in the caller's transaction.
///
/// # Errors
/// [`ServiceError::Invalid`] when no chain was on the bike at that time.
pub async fn save(
    tx: &mut Tx,
    bike_id: BikeId,
    taken_at: Timestamp,
    (measured, with): (Measured, ReadWith),
) -> Result<Once<Reading>, ServiceError> {
    tx.reach_back(bike_id, taken_at).await?;
    let fittings = tx.fittings_of_bike(bike_id).await?;
    let chains: Vec<&Fitting> = fittings.iter().filter(|fitting| fitting.place == Place::Chain).collect();
    let chain = chains
        .iter()
        .find(|fitting| fitting.covers(taken_at))
        .ok_or_else(|| ServiceError::field("/taken_at", no_chain_at(&chains, taken_at)))?;
    save_of_part(
        tx,
        NewReading { id: ReadingId::generate(), bike_id, part_id: chain.part_id, taken_at, measured, with },
    )
    .await
}

/// Stores a reading of a named part.
///
/// # Errors
/// [`ServiceError`].
pub(super) async fn save_of_part(tx: &mut Tx, reading: NewReading) -> Result<Once<Reading>, ServiceError> {
    match tx.insert_reading(&reading).await? {
        Once::New(_) => {
            let NewReading { id, bike_id, part_id, taken_at, measured, with } = reading;
            Ok(Once::New(Reading { id, bike_id, part_id, taken_at, measured, with, voided: None }))
        }
        Once::Again(id) => Ok(Once::Again(tx.reading(reading.bike_id, id).await?)),
    }
}

fn no_chain_at(chains: &[&Fitting], given: Timestamp) -> Invalid {
    let first = chains.iter().map(|fitting| fitting.fitted_at).min();
    match first {
        Some(fitted_at) if given < fitted_at => Invalid::BeforeFitting { given, fitted_at },
        _ => chains
            .iter()
            .filter_map(|fitting| fitting.removed_at)
            .filter(|removed_at| *removed_at <= given)
            .max()
            .map_or(Invalid::NoSuch { what: Field::ChainOnThisBike }, |removed_at| Invalid::AfterRemoval {
                given,
                removed_at,
            }),
    }
}

/// A page of a bike's readings, newest first, void ones included.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<Reading>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.readings(bike_id, page).await).await
}

/// Takes a reading out of account, and what the odometer showed with it; both stay on record with the reason.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such reading; [`ServiceError::Conflict`] when it was voided before.
pub async fn void(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: ReadingId,
    reason: Note,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let voiding = Voiding { at: change.now, reason };
    change.tx.void_reading(bike_id, id, &voiding).await.map_err(ServiceError::or_voided("reading"))?;
    change.tx.void_statement_of(bike_id, EnteredWith::Reading(id), &voiding).await?;
    change.tx.settle_start(bike_id).await?;
    change.end("reading.void", &format!("/readings/{id}")).await
}

/// Takes the voiding of a reading back, and of what the odometer showed with it.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when it counts, or the same was entered again since.
pub async fn restore(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: ReadingId,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let named = ServiceError::or_counts("reading");
    let reading = change.tx.reading(bike_id, id).await.map_err(&named)?;
    change.tx.restore_reading(bike_id, id).await.map_err(&named)?;
    if let Some(Voiding { at, .. }) = reading.voided {
        change.tx.restore_statement_of(bike_id, EnteredWith::Reading(id), at).await.map_err(&named)?;
    }
    change.tx.settle_start(bike_id).await?;
    change.end("reading.restore", &format!("/readings/{id}")).await
}
