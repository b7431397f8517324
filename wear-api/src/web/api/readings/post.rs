use actix_web::http::StatusCode;
use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::ReadingDocument;
use crate::domain::{BikeId, FieldErrors, Measured, Once, Timestamp};
use crate::input::{RawMeasurement, parse};
use crate::service::{Services, readings};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;
use crate::web::schema;

/// A reading to be entered: with `rule`, `caliper` and `dial` a `percent` or several `spots`, with `rule` also
/// `pitches` and `length_mm`; with `drop_in` and `drop_in_isolating` `mark_percent` and `drops_in`.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewReading {
    /// When it was taken; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    taken_at: Option<String>,
    /// What it was read with.
    #[schema(value_type = schema::Instrument)]
    instrument: String,
    /// Elongation at one place.
    #[schema(schema_with = schema::optional::percent, required = false)]
    percent: Option<f64>,
    /// Elongation at several places.
    #[schema(schema_with = schema::spots_or_null, required = false)]
    spots: Option<Vec<f64>>,
    /// Pitches measured over; 24 when left out.
    #[schema(schema_with = schema::optional::pitches, required = false)]
    pitches: Option<i64>,
    /// Length over these pitches: 304.0 to 311.0 mm over 24.
    #[schema(exclusive_minimum = 0)]
    length_mm: Option<f64>,
    /// Nominal mark of the gauge.
    #[schema(schema_with = schema::optional::mark_percent, required = false)]
    mark_percent: Option<f64>,
    /// Whether the gauge dropped in.
    drops_in: Option<bool>,
}

impl NewReading {
    fn parse(self, now: Timestamp) -> Result<(Timestamp, Measured), FieldErrors> {
        let Self { taken_at, instrument, percent, spots, pitches, length_mm, mark_percent, drops_in } = self;
        let mut errors = FieldErrors::new();
        let taken_at = match taken_at {
            Some(at) => errors.keep("/taken_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        let raw = RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in };
        let measured = match raw.parse() {
            Ok(measured) => Some(measured),
            Err(nested) => {
                errors.extend_under("", nested);
                None
            }
        };
        match (taken_at, measured) {
            (Some(taken_at), Some(measured)) => Ok((taken_at, measured)),
            _ => Err(errors),
        }
    }
}

/// A reading, and what is known of the bike with it.
#[derive(Serialize, ToSchema)]
struct ReadingAnswer {
    /// The reading.
    reading: ReadingDocument,
    /// The bike's outlook with the reading counted.
    outlook: OutlookDocument,
}

/// Enter a reading
///
/// The answer has the bike's new outlook. The same reading at the same instant is one reading.
#[utoipa::path(
    operation_id = "create_reading",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewReading, examples(
        ("percent" = (summary = "A rule, in percent", value = json!({"taken_at": "2026-03-01T17:00:00Z", "instrument": "rule", "percent": 0.31}))),
        ("length" = (summary = "A rule, as a length", value = json!({"instrument": "rule", "pitches": 24, "length_mm": 305.7}))),
        ("gauge" = (summary = "A gauge that stays out", value = json!({"instrument": "drop_in", "mark_percent": 0.5, "drops_in": false}))),
        ("spots" = (summary = "A dial gauge at three places", value = json!({"instrument": "dial", "spots": [0.30, 0.33, 0.31]})))
    )),
    responses(
        (status = 201, description = "The reading is new", body = ReadingAnswer),
        (status = 200, description = "The reading was there", body = ReadingAnswer)
    )
)]
#[post("/v1/bikes/{bike_id}/readings")]
pub(super) async fn create_reading(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    body: Json<NewReading>,
) -> Result<HttpResponse, Problem> {
    let (taken_at, measured) = body.0.parse(services.now())?;
    let bike_id = BikeId::from_uuid(*bike_id);
    let (stored, outlook) = readings::post(&services, &actor, bike_id, taken_at, measured).await?;
    let status = if stored.is_new() { StatusCode::CREATED } else { StatusCode::OK };
    let (Once::New(reading) | Once::Again(reading)) = stored;
    Ok(HttpResponse::build(status).json(ReadingAnswer { reading: reading.into(), outlook: outlook.into() }))
}
