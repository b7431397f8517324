//! Lines of rides, a thousand at a time.

use std::collections::HashMap;
use std::hash::{BuildHasher as _, RandomState};

use wear_core::units::{RideAscent, RideDistance, RideEnergy};

use super::super::rides::{RideIds, RideSaid, with_load};
use super::super::starts;
use super::{Did, Importer, MOST_WARNINGS, ServiceError};
use crate::domain::{
    BikeId, Field, Form, Invalid, NewRide, RideFacts, RideIdentity, RideOutcome, Source, SourceId, Surface,
    Telling, Timestamp,
};
use crate::transfer::{Findings, Header, Line, Row, TableMistake};

/// Rides of a table that is only tried: what lines before said of them, though the store doesn't know any more. Fingerprints, as
/// a table may be long.
#[derive(Default)]
pub(super) struct Told {
    hasher: RandomState,
    said: HashMap<u64, u64>,
}

impl Told {
    /// Whether a line before said the same of this ride; none where there was no such line.
    fn before(&mut self, ride: &NewRide) -> Option<bool> {
        let RideIdentity { source, source_id } = &ride.identity;
        let which = self.hasher.hash_one((ride.bike_id, source.as_str(), source_id.as_str()));
        let said = self.hasher.hash_one(format!("{:?} {:?}", ride.started_at, ride.facts));
        self.said.insert(which, said).map(|before| before == said)
    }
}

/// Source of rides that came without one. A bike begins one ride at a time, so bike and time tell such rides apart.
const NO_SOURCE: &str = "table";

impl Importer<'_> {
    pub(super) async fn rides(
        &mut self,
        header: &Header,
        lines: Vec<Result<Line, TableMistake>>,
        findings: &mut Findings,
    ) -> Result<(), ServiceError> {
        let mut notation = std::mem::take(&mut self.known.notation);
        let mut rides = Vec::with_capacity(lines.len());
        let mut places = Vec::with_capacity(lines.len());
        let mut separate = Vec::with_capacity(lines.len());
        for line in lines {
            match line {
                Ok(line) => {
                    let mut row = Row::new(header, &line, &mut notation, findings);
                    let is_separate = row.flag("separate").unwrap_or(false);
                    if let Some(ride) = self.ride(&mut row) {
                        rides.push(ride);
                        separate.push(is_separate);
                        places.push(row.line());
                    }
                }
                Err(mistake) => findings.push(mistake),
            }
        }
        self.known.notation = notation;
        // After a mistake nothing will be kept: the rest is read for further ones.
        if findings.found() > 0 {
            return Ok(());
        }
        let outcomes = self.tx.record_rides(&rides, self.now).await?.outcomes;
        let said = starts::after_rides(self.tx, &self.known.bikes.by_id, &outcomes).await?;
        for (line, warnings) in places.into_iter().zip(said).filter(|(_, said)| !said.is_empty()) {
            self.known.done.odd += 1;
            let room = MOST_WARNINGS.saturating_sub(self.known.done.warnings.len());
            self.known.done.warnings.extend(warnings.into_iter().map(|warning| (line, warning)).take(room));
        }
        for (outcome, _) in outcomes.iter().zip(separate).filter(|(_, is_separate)| *is_separate) {
            let ride = outcome.ride();
            if ride.deleted_at.is_none() && ride.telling != Telling::Separate {
                self.tx.separate_ride(ride.bike_id, ride.id, true).await?;
            }
        }
        for (ride, outcome) in rides.iter().zip(outcomes) {
            let did = match outcome {
                RideOutcome::Inserted(_) => Did::New,
                RideOutcome::Replaced { .. } => Did::Changed,
                RideOutcome::Unchanged(_) | RideOutcome::Deleted(_) => Did::Nothing,
            };
            let before = self.known.told.as_mut().and_then(|told| told.before(ride));
            match (before, did) {
                (Some(true), _) | (None, Did::Nothing) => self.known.done.unchanged += 1,
                (Some(false), _) | (None, Did::Changed) => self.known.done.replaced += 1,
                (None, Did::New) => self.known.done.accepted += 1,
            }
        }
        Ok(())
    }

    fn ride(&self, row: &mut Row<'_>) -> Option<NewRide> {
        let bike_id = self.bike_of(row);
        let started_at = self.past_by_clock(row, "started_at");
        let distance = row
            .required_number("distance_km")
            .and_then(|distance| row.keep("distance_km", RideDistance::new(distance)));
        let surface: Option<Surface> = row.word("surface");
        let wet = row.flag("wet").unwrap_or(false);
        let climb = row.number("climb_m").and_then(|climb| row.keep("climb_m", RideAscent::new(climb)));
        let energy =
            row.number("energy_kj").and_then(|energy| row.keep("energy_kj", RideEnergy::new(energy)));
        let identity = identity(row, bike_id.zip(started_at));
        if row.is_wrong() {
            return None;
        }
        let facts = RideFacts::new(distance?, climb, energy, surface.unwrap_or(Surface::Paved), wet);
        if let Err(errors) = facts.check() {
            for error in errors.into_vec() {
                row.keep::<(), _>(error.pointer.trim_start_matches('/'), Err(error.cause));
            }
            return None;
        }
        let (bike_id, started_at) = (bike_id?, started_at?);
        let said = RideSaid { identity: identity?, ids: RideIds::OfBike, started_at, facts };
        Some(with_load(said, self.known.bikes.by_id.get(&bike_id)?))
    }
}

fn identity(row: &mut Row<'_>, begun: Option<(BikeId, Timestamp)>) -> Option<RideIdentity> {
    let (source, source_id) = match (row.raw("source").is_some(), row.raw("source_id").is_some()) {
        (true, true) => (row.word::<Source>("source"), row.word::<SourceId>("source_id")),
        (false, false) => {
            let (bike_id, started_at) = begun?;
            let id = SourceId::new(&format!("{bike_id} {started_at}"));
            (row.keep("source", Source::new(NO_SOURCE)), row.keep("source_id", id))
        }
        (there, _) => {
            let column = if there { "source_id" } else { "source" };
            let allowed = Form::SourceAndId;
            row.refuse(column, Invalid::Missing { what: Field::HalfOfRideIdentity, allowed });
            (None, None)
        }
    };
    Some(RideIdentity { source: source?, source_id: source_id? })
}
