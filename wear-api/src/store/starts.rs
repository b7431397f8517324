//! Where records of what was found on bikes begin: at a bike's entry, or at its first event where that is earlier.

use uuid::Uuid;

use super::error::StoreError;
use super::{Tx, rows, statements, value_if_any};
use crate::domain::{BikeId, ChangedKind, FittingId, FittingStart, KmBefore, Timestamp};

statements! {
    // Only what was first at its place, and nowhere else before: that it began earlier contradicts nothing.
    REACH_BACK = "
        update fittings set fitted_at = $3, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and start = 'as_found' and fitted_at > $3
            and not exists (select 1 from fittings o where o.workshop_id = fittings.workshop_id
                and o.bike_id = fittings.bike_id and o.place = fittings.place and o.position = fittings.position
                and o.fitted_at < fittings.fitted_at)
            and not exists (select 1 from fittings o where o.workshop_id = fittings.workshop_id
                and o.part_id = fittings.part_id and o.fitted_at < fittings.fitted_at)
        returning fitting_id";
    SETTLE = "
        update fittings set revision = revision + 1, fitted_at = (
            select min(events.happened_at) from (
                select min(b.created_at) as happened_at from bikes b
                    where b.workshop_id = $1 and b.bike_id = $2
                union all select min(r.started_at) from rides r
                    where r.workshop_id = $1 and r.bike_id = $2 and r.deleted_at is null
                union all select min(m.taken_at) from readings m
                    where m.workshop_id = $1 and m.bike_id = $2 and m.voided_at is null
                union all select min(o.read_at) from odometer_statements o
                    where o.workshop_id = $1 and o.bike_id = $2 and o.voided_at is null
                union all select min(c.done_at) from care_events c
                    where c.workshop_id = $1 and c.bike_id = $2 and c.voided_at is null
                union all select min(s.swapped_at) from swaps s
                    where s.workshop_id = $1 and s.bike_id = $2 and s.voided_at is null
                union all select min(f.removed_at) from fittings f
                    where f.workshop_id = $1 and f.bike_id = $2 and f.start = 'as_found') as events)
        where workshop_id = $1 and bike_id = $2 and start = 'as_found'
            and not exists (select 1 from fittings o where o.workshop_id = fittings.workshop_id
                and o.bike_id = fittings.bike_id and o.place = fittings.place and o.position = fittings.position
                and o.fitted_at < fittings.fitted_at)
            and not exists (select 1 from fittings o where o.workshop_id = fittings.workshop_id
                and o.part_id = fittings.part_id and o.fitted_at < fittings.fitted_at)
        returning fitting_id";
    CORRECT = "
        update fittings set fitted_at = $4, start = $5, hint_mm = $6, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and fitting_id = $3
        returning fitting_id";
}

impl Tx {
    /// Lets the record of what was found on a bike begin no later than `at`, at which something happened to it.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn reach_back(&mut self, bike: BikeId, at: Timestamp) -> Result<(), StoreError> {
        let moved: Vec<(Uuid,)> = rows!(self, REACH_BACK, bike.uuid(), at.micros())?;
        moved.iter().for_each(|(id,)| self.note(ChangedKind::Fitting, Some(bike), *id));
        Ok(())
    }

    /// Lets the record of what was found on a bike begin with the first event that is still on record, or with the
    /// bike's entry: after an event was taken away or moved.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn settle_start(&mut self, bike: BikeId) -> Result<(), StoreError> {
        let settled: Vec<(Uuid,)> = rows!(self, SETTLE, bike.uuid())?;
        settled.iter().for_each(|(id,)| self.note(ChangedKind::Fitting, Some(bike), *id));
        Ok(())
    }

    /// Corrects since when and in what state a part was on a bike.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; a time after the part's removal is a [`StoreError::Defect`]: the caller checks that.
    pub async fn correct_fitting(
        &mut self,
        bike: BikeId,
        id: FittingId,
        fitted_at: Timestamp,
        start: FittingStart,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::Fitting, Some(bike), id.uuid());
        let corrected: Option<Uuid> = value_if_any!(
            self,
            CORRECT,
            bike.uuid(),
            id.uuid(),
            fitted_at.micros(),
            start.as_str(),
            start.ridden().map(KmBefore::mm)
        )?;
        corrected.map(|_| ()).ok_or(StoreError::NotFound)
    }
}
