use actix_web::http::StatusCode;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::EnteredDocument;
use crate::domain::{
    BikeId, Checklist, FieldErrors, Measured, Note, PartModelId, Place, Position, Timestamp,
};
use crate::input::{RawMeasurement, parse};
use crate::service::Services;
use crate::service::swaps::{self, EnterSwap};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;
use crate::web::schema;

/// A swap to be entered: the part that is there comes off, a new one goes on.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewSwap)]
pub(super) struct SwapBody {
    /// When; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    swapped_at: Option<String>,
    /// Where on the bike.
    #[schema(value_type = Place)]
    place: String,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0; 0 when left out.
    #[schema(minimum = 0, maximum = 15)]
    position: Option<i64>,
    /// Model of the part that goes on; the old part's when left out.
    part_model_id: Option<Uuid>,
    /// What was read of the chain that came off.
    reading: Option<SwapReading>,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
    /// Steps that were ticked, by the words of the swap's steps.
    #[schema(max_items = 64, example = json!(["link_seated", "end_stops", "indexing", "first_ride"]))]
    checklist: Option<Vec<String>>,
}

/// A reading of the chain that came off, taken at the swap; the fields are those of any reading.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct SwapReading {
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
    /// Length over these pitches.
    #[schema(exclusive_minimum = 0)]
    length_mm: Option<f64>,
    /// Nominal mark of the gauge.
    #[schema(schema_with = schema::optional::mark_percent, required = false)]
    mark_percent: Option<f64>,
    /// Whether the gauge dropped in.
    drops_in: Option<bool>,
}

impl SwapReading {
    fn parse(self) -> Result<Measured, FieldErrors> {
        let Self { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in } = self;
        RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in }.parse()
    }
}

impl SwapBody {
    fn parse(self, now: Timestamp) -> Result<EnterSwap, FieldErrors> {
        let Self { swapped_at, place, position, part_model_id, reading, note, checklist } = self;
        let mut errors = FieldErrors::new();
        let swapped_at = match swapped_at {
            Some(at) => errors.keep("/swapped_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        let place = errors.keep("/place", parse::text::<Place>(&place));
        let position = errors.keep("/position", Position::new(position.unwrap_or(0)));
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        let checklist = checklist.and_then(|words| {
            let ticked = Checklist::new(words.iter().map(String::as_str));
            ticked.map_err(|(index, cause)| errors.push(cause.at(format!("/checklist/{index}")))).ok()
        });
        let reading = match reading.map(SwapReading::parse) {
            Some(Ok(measured)) => Some(measured),
            Some(Err(nested)) => {
                errors.extend_under("/reading", nested);
                None
            }
            None => None,
        };
        match (swapped_at, place, position) {
            (Some(swapped_at), Some(place), Some(position)) if errors.is_empty() => {
                let model_id = part_model_id.map(PartModelId::from_uuid);
                Ok(EnterSwap { swapped_at, place, position, model_id, reading, note, checklist })
            }
            _ => Err(errors),
        }
    }
}

/// Enter a swap
///
/// It may lie in the past: what was ridden and read since then counts for the part that went on. The same place
/// at the same instant is one swap. Where count is kept of the model, one part is taken off the shelf, unless the
/// shelf was counted after the swap.
#[utoipa::path(
    operation_id = "create_swap",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = SwapBody, example = json!({
        "swapped_at": "2026-06-01T16:00:00Z", "place": "chain", "reading": {"instrument": "rule", "percent": 0.74}
    })),
    responses(
        (status = 201, description = "The swap is new", body = EnteredDocument),
        (status = 200, description = "The swap was there", body = EnteredDocument)
    )
)]
#[post("/v1/bikes/{bike_id}/swaps")]
pub(super) async fn create_swap(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    body: Json<SwapBody>,
) -> Result<HttpResponse, Problem> {
    let enter = body.0.parse(services.now())?;
    let entered = swaps::post(&services, &actor, BikeId::from_uuid(*bike_id), enter).await?;
    let status = if entered.swap.is_new() { StatusCode::CREATED } else { StatusCode::OK };
    Ok(HttpResponse::build(status).json(EnteredDocument::from(entered)))
}
