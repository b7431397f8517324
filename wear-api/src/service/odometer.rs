//! What bikes' counters showed.

use serde_json::Value;
use wear_core::Moment;
use wear_core::bike::Warning;

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, outlook, read_of_bike};
use crate::domain::{
    Bike, BikeId, EnteredWith, Note, OdometerStatement, OdometerTotal, Once, Outlook, Page, PageRequest,
    StatementId, Timestamp, Voiding,
};
use crate::store::{StoreError, Tx};

/// Stores what a counter showed and answers with the new outlook. The same total at the same instant is the same
/// statement.
///
/// # Errors
/// [`ServiceError::NotFound`] for another workshop's bike; [`ServiceError::Invalid`] for a time in the future.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    read_at: Timestamp,
    total: OdometerTotal,
) -> Result<(Once<OdometerStatement>, Outlook), ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    read_at.not_after(change.now).map_err(|cause| ServiceError::field("/read_at", cause))?;
    change.in_fleet("/read_at", read_at)?;
    let statement = OdometerStatement {
        id: StatementId::generate(),
        bike_id,
        read_at,
        total,
        entered_with: None,
        entered_at: change.now,
        voided: None,
    };
    let stored = match change.tx.insert_statement(&statement).await? {
        Once::New(_) => Once::New(statement),
        Once::Again(id) => Once::Again(change.tx.statement(bike_id, id).await?),
    };
    let id = match &stored {
        Once::New(statement) | Once::Again(statement) => statement.id,
    };
    change.tx.reach_back(bike_id, read_at).await?;
    let (is_new, subject) = (stored.is_new(), format!("/odometer/{id}"));
    let outlook = change.end_entered((is_new, None), "odometer.create", &subject, Value::Null).await?;
    Ok((stored, outlook))
}

/// Stores what the counter showed when something else was done, in the caller's transaction.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such bike.
pub(super) async fn save_with(
    tx: &mut Tx,
    bike_id: BikeId,
    (with, at): (EnteredWith, Timestamp),
    total: OdometerTotal,
    now: Timestamp,
) -> Result<Once<StatementId>, StoreError> {
    let statement = OdometerStatement {
        id: StatementId::generate(),
        bike_id,
        read_at: at,
        total,
        entered_with: Some(with),
        entered_at: now,
        voided: None,
    };
    tx.insert_statement(&statement).await
}

/// The same where the counter may not have been looked at.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such bike.
pub(super) async fn save_shown(
    tx: &mut Tx,
    bike_id: BikeId,
    with: (EnteredWith, Timestamp),
    shown: Option<OdometerTotal>,
    now: Timestamp,
) -> Result<Option<Once<StatementId>>, StoreError> {
    match shown {
        Some(total) => save_with(tx, bike_id, with, total, now).await.map(Some),
        None => Ok(None),
    }
}

/// What doesn't fit about the counter as it was read at `at`: it was a new one, or rides exceed it.
#[must_use]
pub fn notices(outlook: &Outlook, at: Timestamp) -> Vec<Warning> {
    // The library counts days as fractions, to some microseconds.
    let is_at = |moment: Moment| moment.micros().abs_diff(at.moment_in(outlook.zone).micros()) < 1_000;
    let is_about = |warning: &&Warning| match warning {
        Warning::NewCounter { between, .. } | Warning::RidesExceedCounter { between, .. } => {
            is_at(between.0) || is_at(between.1)
        }
        _ => false,
    };
    outlook.warnings.iter().filter(is_about).cloned().collect()
}

/// What doesn't fit about the counters of these bikes.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn notices_of(
    tx: &mut Tx,
    bikes: &[&Bike],
    now: Timestamp,
) -> Result<Vec<(BikeId, Warning)>, StoreError> {
    let workshop = tx.workshop().await?;
    let told = outlook::told_of(tx, &workshop, bikes, now).await?;
    let warnings =
        told.into_iter().flat_map(|(bike, told)| told.warnings.into_iter().map(move |it| (bike, it)));
    Ok(warnings.collect())
}

/// A page of what a bike's counters showed, newest first, void statements included.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<OdometerStatement>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.statements(bike_id, page).await).await
}

/// Takes a statement out of account; it stays on record with the reason.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such statement; [`ServiceError::Conflict`] when it doesn't count.
pub async fn void(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: StatementId,
    reason: Note,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let voiding = Voiding { at: change.now, reason };
    let voided = change.tx.void_statement(bike_id, id, &voiding).await;
    voided.map_err(ServiceError::or_voided("odometer statement"))?;
    change.tx.settle_start(bike_id).await?;
    change.end("odometer.void", &format!("/odometer/{id}")).await
}

/// Takes the voiding of a statement back.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when it counts, or the same was entered again since.
pub async fn restore(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: StatementId,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let restored = change.tx.restore_statement(bike_id, id).await;
    restored.map_err(ServiceError::or_counts("odometer statement"))?;
    change.tx.settle_start(bike_id).await?;
    change.end("odometer.restore", &format!("/odometer/{id}")).await
}
