//! What odometers showed: lines of their own, and cells of readings, swaps and care.

use uuid::Uuid;

use super::super::odometer;
use super::history::did;
use super::{Did, Importer, ServiceError, found};
use crate::domain::{
    BikeId, EnteredWith, EventKind, Field, Form, Invalid, OdometerStatement, OdometerTotal, StatementId,
    Timestamp, Voiding,
};
use crate::transfer::Row;

/// What the odometer showed with the line's event.
pub(super) fn shown(row: &mut Row<'_>) -> Option<OdometerTotal> {
    let km = row.number("odometer_km")?;
    row.keep("odometer_km", OdometerTotal::from_km(km))
}

/// Whether what the odometer showed counts: with an event that doesn't, it has no place.
pub(super) fn counts(row: &mut Row<'_>, voided: Option<&Voiding>) -> bool {
    if voided.is_some() && row.raw("odometer_km").is_some() {
        let what = Field::OdometerAndVoided;
        row.refuse("odometer_km", Invalid::Together { what, allowed: Form::LineOfOdometer });
        return false;
    }
    true
}

impl Importer<'_> {
    /// Stores what the odometer showed with an event, of which the line did `did`.
    pub(super) async fn with_counter(
        &mut self,
        bike_id: BikeId,
        with: (EnteredWith, Timestamp),
        total: Option<OdometerTotal>,
        did: Did,
    ) -> Result<Did, ServiceError> {
        let Some(total) = total else { return Ok(did) };
        self.known.counted.insert(bike_id);
        let stored = odometer::save_with(self.tx, bike_id, with, total, self.now).await?;
        Ok(if did == Did::Nothing && stored.is_new() { Did::Changed } else { did })
    }

    pub(super) async fn statement(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let bike_id = self.bike_of(row);
        let id: Option<StatementId> = row.word("statement_id");
        let read_at = self.past_or_now(row, "read_at");
        let km = row.required_number("km");
        let total = km.and_then(|km| row.keep("km", OdometerTotal::from_km(km)));
        let kind: Option<EventKind> = row.word("entered_with");
        let event = row.optional("event_id", |cell| {
            Uuid::parse_str(cell).map_err(|_| Invalid::unparsed(Field::Id, cell, Form::Uuid))
        });
        let voided = self.voiding(row);
        let (Some(bike_id), Some(read_at), Some(total)) = (bike_id, read_at, total) else { return Ok(None) };
        if row.is_wrong() {
            return Ok(None);
        }
        if let Some(id) = id
            && found(self.tx.statement(bike_id, id).await)?.is_some()
        {
            return Ok(Some(Did::Nothing));
        }
        if voided.is_none() && !self.in_fleet(row, bike_id, "read_at", read_at) {
            return Ok(None);
        }
        self.known.counted.insert(bike_id);
        let statement = OdometerStatement {
            id: id.unwrap_or_else(StatementId::generate),
            bike_id,
            read_at,
            total,
            entered_with: kind.zip(event).map(|(kind, id)| EnteredWith::new(kind, id)),
            entered_at: self.now,
            voided,
        };
        Ok(Some(did(&self.tx.insert_statement(&statement).await?)))
    }
}
