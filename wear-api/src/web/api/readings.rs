//! What was measured on chains.

use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{
    BikeId, Entry, FieldErrors, Label, Measured, OdometerTotal, ReadWith, Reading, ReadingId, Timestamp,
    ToolId,
};
use crate::input::{RawMeasurement, parse};
use crate::service::{Services, readings};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::api::voiding;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::figures;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_reading).service(list_readings).service(void_reading).service(restore_reading);
}

/// A reading of a chain, as it was entered.
#[derive(Serialize, ToSchema)]
#[schema(as = Reading)]
struct ReadingDocument {
    /// Its id.
    id: Uuid,
    /// The bike the chain was on.
    bike_id: Uuid,
    /// The chain.
    part_id: Uuid,
    /// When it was taken.
    taken_at: DateTime<Utc>,
    /// What it was read with.
    #[schema(value_type = schema::Instrument)]
    instrument: &'static str,
    /// Elongation that was read at one place; left out where another kind of number was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    percent: Option<f64>,
    /// Elongation that was read at several places; left out where another kind of number was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    spots: Option<Vec<f64>>,
    /// Pitches that were measured over; left out where no length was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pitches: Option<u32>,
    /// Length that was measured; left out where none was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    length_mm: Option<f64>,
    /// Mark of the gauge; left out of other instruments.
    #[serde(skip_serializing_if = "Option::is_none")]
    mark_percent: Option<f64>,
    /// Whether it dropped in; left out of other instruments.
    #[serde(skip_serializing_if = "Option::is_none")]
    drops_in: Option<bool>,
    /// The tool it was taken with; null where nobody named it.
    tool_id: Option<Uuid>,
    /// Who read it: the token's label where nobody was named; null where that isn't known.
    read_by: Option<String>,
    /// Elongation that the reading comes to, the mean of several places; null for a gauge.
    #[serde(serialize_with = "figures::told_if_any")]
    elongation_percent: Option<f64>,
    /// That it doesn't count; null when it does.
    voided: Option<VoidingDocument>,
}

/// That a reading or swap doesn't count.
#[derive(Serialize, ToSchema)]
#[schema(as = Voiding)]
struct VoidingDocument {
    /// Since when.
    voided_at: DateTime<Utc>,
    /// Why.
    reason: String,
}

impl From<Reading> for ReadingDocument {
    fn from(reading: Reading) -> Self {
        let Reading { id, bike_id, part_id, taken_at, measured, with, voided } = reading;
        let ReadWith { tool_id, read_by } = with;
        let mut document = Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            part_id: part_id.uuid(),
            taken_at: taken_at.datetime(),
            instrument: measured.measurement().instrument().as_str(),
            percent: None,
            spots: None,
            pitches: None,
            length_mm: None,
            mark_percent: None,
            drops_in: None,
            tool_id: tool_id.map(ToolId::uuid),
            read_by: read_by.map(|name| name.to_string()),
            elongation_percent: measured.measurement().as_spots().map(|spots| spots.mean()),
            voided: voided
                .map(voiding::told)
                .map(|(voided_at, reason)| VoidingDocument { voided_at, reason }),
        };
        match measured.entry() {
            Entry::Percent { percent, .. } => document.percent = Some(percent.get()),
            Entry::Spots { spots, .. } => {
                document.spots = Some(spots.iter().map(|spot| spot.get()).collect());
            }
            Entry::Length { pitches, length_mm, .. } => {
                document.pitches = Some(*pitches);
                document.length_mm = Some(*length_mm);
            }
            Entry::Gauge { mark, drops_in, .. } => {
                document.mark_percent = Some(mark.get());
                document.drops_in = Some(*drops_in);
            }
        }
        document
    }
}

/// A reading to be entered: with `rule`, `caliper` and `dial` a `percent` or several `spots`, with `rule` also
/// `pitches` and `length_mm`; with `drop_in` and `drop_in_isolating` `mark_percent` and `drops_in`.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewReading {
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
    /// The tool it was taken with, one of the workshop's that is such an instrument: learning finds how far each tool reads high.
    tool_id: Option<Uuid>,
    /// Who read it; the token's label when left out. Learning finds how far each person reads high.
    #[schema(min_length = 1, max_length = 64)]
    read_by: Option<String>,
    /// What the odometer showed: a statement of its own at the same time.
    #[schema(schema_with = schema::optional::odometer_km, required = false)]
    odometer_km: Option<f64>,
}

/// When, what with which tool, and what the odometer showed.
type ParsedReading = (Timestamp, (Measured, ReadWith), Option<OdometerTotal>);

impl NewReading {
    fn parse(self, now: Timestamp) -> Result<ParsedReading, FieldErrors> {
        let Self {
            taken_at,
            instrument,
            percent,
            spots,
            pitches,
            length_mm,
            mark_percent,
            drops_in,
            tool_id,
            read_by,
            odometer_km,
        } = self;
        let mut errors = FieldErrors::new();
        let taken_at = match taken_at {
            Some(at) => errors.keep("/taken_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        let shown = odometer_km.and_then(|km| errors.keep("/odometer_km", OdometerTotal::from_km(km)));
        let read_by = read_by.and_then(|name| errors.keep("/read_by", Label::new(&name)));
        let with = ReadWith { tool_id: tool_id.map(ToolId::from_uuid), read_by };
        let raw = RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in };
        let measured = match raw.parse() {
            Ok(measured) => Some(measured),
            Err(nested) => {
                errors.extend_under("", nested);
                None
            }
        };
        match (taken_at, measured) {
            (Some(taken_at), Some(measured)) if errors.is_empty() => Ok((taken_at, (measured, with), shown)),
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

/// A page of readings.
#[derive(ToSchema)]
#[allow(dead_code)]
struct ReadingList {
    /// Readings of this page, newest first, voided ones too.
    items: Vec<ReadingDocument>,
}

/// Why a reading doesn't count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "another chain was measured",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    reason: String,
}

/// Enter a reading
///
/// The answer has the bike's new outlook. The same reading at the same instant is one reading.
#[utoipa::path(
    operation_id = "create_reading",
    tag = "readings",
    security(("bearer" = ["app", "mechanic", "manager"])),
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
async fn create_reading(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<NewReading>,
) -> Result<HttpResponse, Problem> {
    let (taken_at, read, shown) = body.0.parse(services.now())?;
    let (stored, outlook) = readings::post(&services, &mut change, *bike_id, taken_at, read, shown).await?;
    Ok(answer::entered(stored, |reading| ReadingAnswer { reading: reading.into(), outlook: outlook.into() }))
}

/// List a bike's readings
#[utoipa::path(
    operation_id = "list_readings",
    tag = "readings",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of readings", body = ReadingList))
)]
#[get("/v1/bikes/{bike_id}/readings")]
async fn list_readings(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = readings::list(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, ReadingDocument::from))
}

/// Take a reading out of account
///
/// It stays on record with the reason, and so does what the odometer showed with it. The answer is the bike's outlook
/// without it. A reading never changes, so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_reading",
    tag = "readings",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("reading_id" = Uuid, Path, description = "The reading"), VoidQuery),
    responses((status = 200, description = "The outlook without the reading", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/readings/{reading_id}")]
async fn void_reading(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, ReadingId)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, reading_id) = path.into_inner();
    let outlook =
        readings::void(&services, &mut change, bike_id, reading_id, voiding::reason(&query.0.reason)?)
            .await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}

/// Restore a reading
///
/// Takes its voiding back, with what the odometer showed with it. The answer is the bike's outlook with it.
#[utoipa::path(
    operation_id = "restore_reading",
    tag = "readings",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("reading_id" = Uuid, Path, description = "The reading")),
    responses((status = 200, description = "The outlook with it", body = OutlookDocument))
)]
#[post("/v1/bikes/{bike_id}/readings/{reading_id}/restoration")]
async fn restore_reading(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, ReadingId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let outlook = readings::restore(&services, &mut change, bike_id, id).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
