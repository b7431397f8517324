//! Care of drivetrains.

use serde_json::Value;
use wear_core::bike::Warning;

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, lubricants, odometer, read_of_bike};
use crate::domain::{
    BikeId, Care, CareId, CareKind, EnteredWith, LubricantId, Note, OdometerTotal, Once, Outlook, Page,
    PageRequest, StatementId, Timestamp, Voiding,
};
use crate::store::{StoreError, Tx};

/// Care to be entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnterCare {
    /// What was done.
    pub kind: CareKind,
    /// When.
    pub done_at: Timestamp,
    /// A remark.
    pub note: Option<Note>,
    /// What the odometer showed.
    pub odometer: Option<OdometerTotal>,
    /// What it was lubricated with.
    pub lubricant_id: Option<LubricantId>,
}

/// Enters care, and tells what doesn't fit about the odometer. The same kind at the same instant is the same event; a lubricant
/// that is named then counts from now on.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Invalid`] for a time in the future, a lubricant that isn't the workshop's or was
/// retired by then, and one of care that lubricates nothing.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    enter: EnterCare,
) -> Result<(Once<Care>, Vec<Warning>), ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    enter.done_at.not_after(change.now).map_err(|cause| ServiceError::field("/done_at", cause))?;
    change.in_fleet("/done_at", enter.done_at)?;
    if let Some(id) = enter.lubricant_id {
        lubricants::check(change.tx, id, (enter.kind, enter.done_at)).await?;
    }
    let (done_at, shown) = (enter.done_at, enter.odometer.is_some());
    let Saved { care: stored, statement, lubricant_named } =
        save(change.tx, bike_id, enter, change.now).await?;
    if lubricant_named {
        let (Once::New(care) | Once::Again(care)) = &stored;
        let subject = format!("/care/{}", care.id);
        change.record("care.name_lubricant", &subject).await?;
    }
    if stored.is_new() {
        change.tx.reach_back(bike_id, done_at).await?;
    }
    let entered = (stored.is_new(), statement);
    let outlook = change.end_entered(entered, "care.create", "", Value::Null).await?;
    let notices = if shown { odometer::notices(&outlook, done_at) } else { Vec::new() };
    Ok((stored, notices))
}

/// Care that was stored, and what came with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Saved {
    /// The care.
    pub care: Once<Care>,
    /// The odometer statement that came with it.
    pub statement: Option<Once<StatementId>>,
    /// Whether care that was there already got another lubricant.
    pub lubricant_named: bool,
}

/// Stores care in the caller's transaction, with what the odometer showed.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such bike.
pub async fn save(
    tx: &mut Tx,
    bike_id: BikeId,
    enter: EnterCare,
    now: Timestamp,
) -> Result<Saved, StoreError> {
    let EnterCare { kind, done_at, note, odometer, lubricant_id } = enter;
    let care = Care { id: CareId::generate(), bike_id, kind, done_at, note, voided: None, lubricant_id };
    let mut lubricant_named = false;
    let stored = match tx.insert_care(&care).await? {
        Once::New(_) => Once::New(care),
        // It may have been voided since: sent again, it stays so.
        Once::Again(id) => {
            if let Some(lubricant) = lubricant_id {
                lubricant_named = tx.name_lubricant(bike_id, id, lubricant).await?;
            }
            Once::Again(tx.care_event(bike_id, id).await?)
        }
    };
    let (Once::New(care) | Once::Again(care)) = &stored;
    let with = (EnteredWith::Care(care.id), done_at);
    let shown = odometer.filter(|_| care.voided.is_none());
    let statement = odometer::save_shown(tx, bike_id, with, shown, now).await?;
    Ok(Saved { care: stored, statement, lubricant_named })
}

/// A page of a bike's care, newest first.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<Care>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.care(bike_id, page).await).await
}

/// Takes care out of account, and what the odometer showed with it; both stay on record with the reason.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when it was voided before.
pub async fn void(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: CareId,
    reason: Note,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let voiding = Voiding { at: change.now, reason };
    change.tx.void_care(bike_id, id, &voiding).await.map_err(ServiceError::or_voided("care"))?;
    change.tx.void_statement_of(bike_id, EnteredWith::Care(id), &voiding).await?;
    change.tx.settle_start(bike_id).await?;
    change.end("care.void", &format!("/care/{id}")).await
}

/// Takes the voiding of care back, and of what the odometer showed with it.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when it counts.
pub async fn restore(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: CareId,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let named = ServiceError::or_counts("care");
    let care = change.tx.care_event(bike_id, id).await.map_err(&named)?;
    change.tx.restore_care(bike_id, id).await.map_err(&named)?;
    if let Some(Voiding { at, .. }) = care.voided {
        change.tx.restore_statement_of(bike_id, EnteredWith::Care(id), at).await.map_err(&named)?;
    }
    change.tx.settle_start(bike_id).await?;
    change.end("care.restore", &format!("/care/{id}")).await
}
