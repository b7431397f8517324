//! What may have happened where readings and record don't agree, each explanation with the one step that mends the record.

use actix_web::{post, web};
use wear_core::Moment;
use wear_core::bike::ExplanationReport;
use wear_core::degradation::ExplanationKind;
use wear_core::units::RideDistance;

use super::frame::{Frame, Posted, Viewer};
use super::{Answer, see};
use crate::domain::{
    BikeId, Note, Outlook, Place, Position, RideFacts, RideId, RideIdentity, Source, SourceId, Surface,
    Timestamp,
};
use crate::service::rides::{RideIds, RideSaid};
use crate::service::swaps::EnterSwap;
use crate::service::{Actor, Mismatch, ServiceError, Services, UnitOfWork, outlook, readings, rides, swaps};
use crate::web::auth::Mechanic;
use crate::words::LEAST;

/// An explanation as the page shows it.
pub(super) struct Explained {
    pub what: String,
    pub probability: String,
    pub then: String,
    /// What the button says and sends; none for chance, which nothing mends.
    pub mend: Option<(String, &'static str)>,
}

/// The explanations of an outlook, the likeliest first.
pub(super) fn explained(f: &Frame, outlook: &Outlook) -> Vec<Explained> {
    let likely = outlook.explanations.iter().enumerate().filter(|(rank, found)| {
        let is_empty = found.kind == ExplanationKind::MissingRiding && missing_km(found) < 1.0;
        *rank == 0 || (found.probability >= LEAST && !is_empty)
    });
    let shown = likely.map(|(_, found)| {
        let (elongation, left) =
            (f.percent(found.elongation_percent.p50, 2), f.about(found.remaining_km.p50));
        Explained {
            what: what(f, found),
            probability: f.likely(found.probability),
            then: f.doubt_numbers(elongation, left, f.advice(found.advice)),
            mend: mend_button(f, found).map(|text| (text, found.kind.as_str())),
        }
    });
    shown.collect()
}

fn what(f: &Frame, found: &ExplanationReport) -> String {
    let Some((after, by)) = found.between else { return f.doubt_as_recorded() };
    let (after, by) = (f.date(day(after)), f.date(day(by)));
    match found.kind {
        ExplanationKind::UnrecordedSwap => f.doubt_unrecorded_swap(after, by),
        ExplanationKind::MissingRiding => f.doubt_missing_riding(after, by, f.about(missing_km(found))),
        ExplanationKind::WrongReading => f.doubt_wrong_reading(by),
        ExplanationKind::AsRecorded => f.doubt_as_recorded(),
    }
}

fn mend_button(f: &Frame, found: &ExplanationReport) -> Option<String> {
    let on = f.date(day(middle(found.between?)));
    match found.kind {
        ExplanationKind::UnrecordedSwap => Some(f.doubt_mend_unrecorded_swap(on)),
        ExplanationKind::MissingRiding => Some(f.doubt_mend_missing_riding(f.about(missing_km(found)), on)),
        ExplanationKind::WrongReading => Some(f.doubt_mend_wrong_reading()),
        ExplanationKind::AsRecorded => None,
    }
}

fn day(moment: Moment) -> chrono::NaiveDate {
    Timestamp::day_of(moment)
}

fn missing_km(found: &ExplanationReport) -> f64 {
    found.missing_km.map_or(0.0, |missing| missing.p50)
}

/// Halfway: as likely too early as too late.
fn middle((after, by): (Moment, Moment)) -> Moment {
    Moment::from_micros(after.micros() + (by.micros() - after.micros()) / 2)
}

#[post("/bikes/{bike_id}/mend")]
pub(super) async fn mend(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame: f, .. }, fields } = posted;
    let bike_id = *bike_id;
    let outlook = outlook::of_bike(&services, &actor, bike_id).await?;
    let asked = fields.get("what");
    let found = outlook.explanations.iter().find(|found| found.kind.as_str() == asked);
    let Some((found, between)) = found.and_then(|found| Some((found, found.between?))) else {
        return Ok(see(format!("/bikes/{bike_id}?done=agree")));
    };
    let note = Note::new(&f.doubt_mended_note()).map_err(|cause| ServiceError::field("/note", cause))?;
    let wrong = match found.kind {
        ExplanationKind::WrongReading => {
            read_at(&services, &actor, bike_id, outlook.time_of(between.1)).await?
        }
        _ => None,
    };
    let found = *found;
    services
        .change(&actor, async |work| match (found.kind, wrong) {
            (ExplanationKind::UnrecordedSwap, _) => {
                enter_swap(&services, work, bike_id, outlook.time_of(middle(between)), note).await
            }
            (ExplanationKind::MissingRiding, _) => {
                enter_ride(
                    &services,
                    work,
                    bike_id,
                    &found,
                    (outlook.time_of(between.0), outlook.time_of(between.1)),
                )
                .await
            }
            (ExplanationKind::WrongReading, Some(reading)) => {
                readings::void(&services, work, bike_id, reading, note).await.map(|_| ())
            }
            (ExplanationKind::WrongReading, None) | (ExplanationKind::AsRecorded, _) => Ok(()),
        })
        .await?;
    Ok(see(format!("/bikes/{bike_id}?done=mended")))
}

async fn enter_swap(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    at: Timestamp,
    note: Note,
) -> Result<(), ServiceError> {
    let enter = EnterSwap {
        swapped_at: at,
        place: Place::Chain,
        position: Position::default(),
        model_id: None,
        reading: None,
        note: Some(note),
        odometer: None,
        checklist: None,
        reason: None,
        mismatch: Mismatch::Refused,
    };
    swaps::post(services, work, bike_id, enter).await.map(|_| ())
}

/// The missing distance, as rides that are no longer than one can be.
async fn enter_ride(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    found: &ExplanationReport,
    between: (Timestamp, Timestamp),
) -> Result<(), ServiceError> {
    let km = missing_km(found).round();
    let longest = wear_core::bounds::RIDE_DISTANCE.maximum;
    let parts = (km / longest).ceil().max(1.0) as i64;
    let span = between.1.micros() - between.0.micros();
    for part in 0..parts {
        let at = between.0.plus(chrono::Duration::microseconds(span * (2 * part + 1) / (2 * parts)));
        let distance = RideDistance::new(km / parts as f64)
            .map_err(|cause| ServiceError::field("/distance_km", crate::domain::Invalid::from(cause)))?;
        let identity = RideIdentity {
            source: Source::new("page").map_err(|cause| ServiceError::field("/source", cause))?,
            source_id: SourceId::new(&RideId::generate().to_string())
                .map_err(|cause| ServiceError::field("/source_id", cause))?,
        };
        let said = RideSaid {
            identity,
            ids: RideIds::OfBike,
            started_at: at,
            facts: RideFacts::new(distance, None, None, Surface::Paved, false),
        };
        rides::post(services, work, bike_id, said).await?;
    }
    Ok(())
}

/// The reading of a bike's chain that was taken at a moment.
async fn read_at(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    at: Timestamp,
) -> Result<Option<crate::domain::ReadingId>, ServiceError> {
    let history = crate::service::history::of_bike(services, actor, bike_id).await?;
    let mut taken = history.readings.iter().filter(|reading| reading.voided.is_none());
    Ok(taken.find(|reading| reading.taken_at == at).map(|reading| reading.id))
}
