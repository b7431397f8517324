//! Taking back a swap that never was.

use super::{BikeChange, Conflict, ServiceError, Services, UnitOfWork};
use crate::domain::{BikeId, EnteredWith, Fitting, Note, Outlook, Swap, SwapId, Timestamp, Voiding};
use crate::store::{StoreError, Tx};

/// Voids a swap: the bike's history is as if it had not been. The part that came off stays on, what was read of
/// the other is read of it, the reading and the odometer entered with the swap don't count, and the shelf gets its part back.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such swap; [`ServiceError::Conflict`] when it was voided before, or one of its
/// parts has been on a bike since in a way that contradicts it.
pub async fn void(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: SwapId,
    reason: Note,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let swap = change.tx.swap(bike_id, id).await.map_err(ServiceError::or_not_found("swap"))?;
    if swap.voided.is_some() {
        return Err(ServiceError::Conflict(Conflict::VoidedBefore { what: "swap" }));
    }
    undo(change.tx, &swap, change.now).await?;
    let voiding = Voiding { at: change.now, reason };
    if let Some(reading_id) = swap.facts.reading_id {
        match change.tx.void_reading(bike_id, reading_id, &voiding).await {
            // It may have been voided by itself.
            Ok(()) | Err(StoreError::Conflict) => {}
            Err(other) => return Err(other.into()),
        }
    }
    change.tx.void_statement_of(bike_id, EnteredWith::Swap(id), &voiding).await?;
    change.tx.void_swap(bike_id, id, &voiding).await?;
    change.tx.settle_start(bike_id).await?;
    change.end("swap.void", &format!("/swaps/{id}")).await
}

async fn undo(tx: &mut Tx, swap: &Swap, now: Timestamp) -> Result<(), ServiceError> {
    let facts = &swap.facts;
    let of_new = tx.fittings_of_part(facts.on_part_id).await?;
    let stay = match of_new.as_slice() {
        [only] if only.bike_id == facts.bike_id && only.fitted_at == facts.swapped_at => only.clone(),
        _ => return Err(ServiceError::Conflict(Conflict::PartElsewhere)),
    };
    let part = tx.part(facts.on_part_id).await?;
    let until = stay.removed_at.unwrap_or(Timestamp::LAST);
    match facts.off_part_id {
        Some(off) => {
            let before = stay_that_ended(tx, off, facts.bike_id, facts.swapped_at).await?;
            let elsewhere = tx.fittings_of_part(off).await?.into_iter().any(|other| {
                other.id != before.id
                    && other.fitted_at < until
                    && other.removed_at.is_none_or(|end| end > facts.swapped_at)
            });
            if elsewhere {
                return Err(ServiceError::Conflict(Conflict::PartBackOnBike));
            }
            tx.delete_fitting(facts.bike_id, stay.id).await?;
            tx.move_fitting(facts.bike_id, before.id, before.fitted_at, stay.removed_at).await?;
            tx.move_readings(facts.bike_id, facts.on_part_id, off, (facts.swapped_at, until)).await.map_err(
                |error| match error {
                    StoreError::Conflict => ServiceError::Conflict(Conflict::SameReading),
                    other => other.into(),
                },
            )?;
        }
        None => {
            if !tx.readings_of_part(facts.on_part_id).await?.is_empty() {
                return Err(ServiceError::Conflict(Conflict::ReadingsCount));
            }
            tx.delete_fitting(facts.bike_id, stay.id).await?;
        }
    }
    tx.replace_part_that_came_off(facts.bike_id, facts.on_part_id, facts.off_part_id).await?;
    tx.update_part(part.id, part.revision, part.facts.model_id, part.facts.label.as_ref(), Some(now)).await?;
    if let Some(model_id) = facts.model_id.filter(|_| facts.from_shelf) {
        // What was counted after the swap is what lies there.
        let counted = tx.counted(model_id).await?;
        if counted.is_some_and(|(_, counted_at)| counted_at <= facts.swapped_at) {
            tx.move_shelf(model_id, 1).await?;
        }
    }
    Ok(())
}

/// The stay of `part` on the bike that the swap ended.
async fn stay_that_ended(
    tx: &mut Tx,
    part: crate::domain::PartId,
    bike_id: BikeId,
    at: Timestamp,
) -> Result<Fitting, ServiceError> {
    let stays = tx.fittings_of_part(part).await?;
    let ended = stays.into_iter().find(|stay| stay.bike_id == bike_id && stay.removed_at == Some(at));
    ended.ok_or(ServiceError::Conflict(Conflict::StayChanged))
}
