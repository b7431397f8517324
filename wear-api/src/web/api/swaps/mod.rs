//! Swaps: one part off, one on.

mod procedure;

use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::bike::Warning;

use crate::domain::{
    BikeId, Checklist, FieldErrors, Label, Measured, NewSwap, Note, OdometerTotal, PartModelId, Place,
    Position, ReadWith, Swap, SwapId, SwapReason, Taken, Timestamp, ToolId,
};
use crate::input::{RawMeasurement, parse};
use crate::service::swaps::{self, EnterSwap, Entered};
use crate::service::{Mismatch, Services, swap_voiding};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::api::voiding::{self, VoidQuery};
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};
use crate::web::speech;
use crate::web::{answer, schema, words};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_swap).service(list_swaps).service(void_swap);
    config.service(procedure::get_swap_procedure);
}

/// A swap.
#[derive(Serialize, ToSchema)]
#[schema(as = Swap)]
struct SwapDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// When.
    swapped_at: DateTime<Utc>,
    /// Where on the bike.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0.
    #[schema(minimum = 0, maximum = 15)]
    position: u8,
    /// The part that came off; null when the place was empty.
    off_part_id: Option<Uuid>,
    /// The part that went on.
    on_part_id: Uuid,
    /// Its model; null when nobody said.
    part_model_id: Option<Uuid>,
    /// The reading of the chain that came off; null when there is none.
    reading_id: Option<Uuid>,
    /// A remark; null when there is none.
    note: Option<String>,
    /// Whether the part was taken off the shelf's count.
    from_shelf: bool,
    /// Steps that were ticked; null where nobody kept a list.
    checklist: Option<Vec<&'static str>>,
    /// Why the old part came off; null where nobody said.
    #[schema(value_type = Option<schema::SwapReason>)]
    reason: Option<&'static str>,
    /// Since when it doesn't count; null when it does.
    voided_at: Option<DateTime<Utc>>,
    /// Why it doesn't count.
    voided_reason: Option<String>,
}

impl From<Swap> for SwapDocument {
    fn from(Swap { facts, voided }: Swap) -> Self {
        let NewSwap {
            id,
            bike_id,
            swapped_at,
            place,
            position,
            off_part_id,
            on_part_id,
            model_id,
            reading_id,
            note,
            from_shelf,
            checklist,
            reason,
        } = facts;
        let (voided_at, voided_reason) = voided.map(voiding::told).unzip();
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            swapped_at: swapped_at.datetime(),
            place: place.as_str(),
            position: position.get(),
            off_part_id: off_part_id.map(|id| id.uuid()),
            on_part_id: on_part_id.uuid(),
            part_model_id: model_id.map(|id| id.uuid()),
            reading_id: reading_id.map(|id| id.uuid()),
            note: note.map(|note| note.to_string()),
            checklist: checklist.map(|list| list.words().to_vec()),
            from_shelf,
            reason: reason.map(SwapReason::as_str),
            voided_at,
            voided_reason,
        }
    }
}

/// Something that a person should know.
#[derive(Serialize, ToSchema)]
#[schema(as = SwapWarning)]
struct WarningDocument {
    /// A stable word for programs.
    #[schema(example = "shelf_empty")]
    code: &'static str,
    /// A sentence for people.
    message: String,
}

/// A swap as it was entered.
#[derive(Serialize, ToSchema)]
#[schema(as = EnteredSwap)]
struct EnteredDocument {
    #[serde(flatten)]
    swap: SwapDocument,
    /// What a person should know: `shelf_empty` when the book says that the shelf had no such part, `shelf_last`
    /// when it was the last one, `new_counter` and `rides_exceed_counter` of the odometer.
    warnings: Vec<WarningDocument>,
}

impl EnteredDocument {
    fn of(swap: Swap, shelf: Taken, notices: &[Warning]) -> Self {
        let warning = match shelf {
            Taken::Empty => Some(("shelf_empty", speech::words().swap_shelf_empty())),
            Taken::One { left: 0 } => Some(("shelf_last", speech::words().swap_shelf_last())),
            Taken::One { .. } | Taken::NotCounted => None,
        };
        let of_shelf = warning.map(|(code, message)| WarningDocument { code, message });
        let of_odometer = notices
            .iter()
            .map(|notice| WarningDocument { code: notice.code(), message: words::warning(notice) });
        let warnings = of_shelf.into_iter().chain(of_odometer).collect();
        Self { swap: swap.into(), warnings }
    }
}

/// A swap to be entered: the part that is there comes off, a new one goes on.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewSwap)]
struct SwapBody {
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
    /// What the odometer showed: a statement of its own at the same time.
    #[schema(schema_with = schema::optional::odometer_km, required = false)]
    odometer_km: Option<f64>,
    /// Why the old part came off, of a cassette, a cog or a ring: `worn` and `skips` tell the fleet how much such parts bear.
    #[schema(value_type = Option<schema::SwapReason>)]
    reason: Option<String>,
    /// `true` where a part that doesn't go with the bike is meant so; refused when left out.
    accept_mismatch: Option<bool>,
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
    /// The tool it was taken with, one of the workshop's that is such an instrument.
    tool_id: Option<Uuid>,
    /// Who read it; the token's label when left out.
    #[schema(min_length = 1, max_length = 64)]
    read_by: Option<String>,
}

impl SwapReading {
    fn parse(self) -> Result<(Measured, ReadWith), FieldErrors> {
        let Self { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in, tool_id, read_by } =
            self;
        let raw = RawMeasurement { instrument, percent, spots, pitches, length_mm, mark_percent, drops_in };
        let mut errors = FieldErrors::new();
        let read_by = read_by.and_then(|name| errors.keep("/read_by", Label::new(&name)));
        let measured = raw.parse().map_err(|nested| errors.extend_under("", nested)).ok();
        let with = ReadWith { tool_id: tool_id.map(ToolId::from_uuid), read_by };
        measured.filter(|_| errors.is_empty()).map(|measured| (measured, with)).ok_or(errors)
    }
}

impl SwapBody {
    fn parse(self, now: Timestamp) -> Result<EnterSwap, FieldErrors> {
        let Self {
            swapped_at,
            place,
            position,
            part_model_id,
            reading,
            note,
            checklist,
            odometer_km,
            reason,
            accept_mismatch,
        } = self;
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
        let odometer = odometer_km.and_then(|km| errors.keep("/odometer_km", OdometerTotal::from_km(km)));
        let reason = reason.and_then(|word| errors.keep("/reason", parse::text::<SwapReason>(&word)));
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
                Ok(EnterSwap {
                    swapped_at,
                    place,
                    position,
                    model_id,
                    reading,
                    note,
                    checklist,
                    odometer,
                    reason,
                    mismatch: Mismatch::of(accept_mismatch),
                })
            }
            _ => Err(errors),
        }
    }
}

/// A page of swaps.
#[derive(ToSchema)]
#[allow(dead_code)]
struct SwapList {
    /// Swaps of this page, newest first.
    items: Vec<SwapDocument>,
}

/// Enter a swap
///
/// It may lie in the past: what was ridden and read since then counts for the part that went on. The same place
/// at the same instant is one swap. A place that the bike's drivetrain lacks is refused; a part that doesn't go with the bike
/// is too, unless `accept_mismatch` says that it is meant so. Where count is kept of the model, one part is taken off the shelf, unless the
/// shelf was counted after the swap.
#[utoipa::path(
    operation_id = "create_swap",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
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
async fn create_swap(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<SwapBody>,
) -> Result<HttpResponse, Problem> {
    let enter = body.0.parse(services.now())?;
    let Entered { swap, shelf, notices, statement: _ } =
        swaps::post(&services, &mut change, *bike_id, enter).await?;
    Ok(answer::entered(swap, |swap| EnteredDocument::of(swap, shelf, &notices)))
}

/// List a bike's swaps
#[utoipa::path(
    operation_id = "list_swaps",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of swaps", body = SwapList))
)]
#[get("/v1/bikes/{bike_id}/swaps")]
async fn list_swaps(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = swaps::list(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, SwapDocument::from))
}

/// Take back a swap
///
/// It stays on record with the reason; the bike's history is as if it had not been. The answer is the bike's outlook
/// without it. A swap never changes, so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_swap",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("swap_id" = Uuid, Path, description = "The swap"), VoidQuery),
    responses((status = 200, description = "The outlook without the swap", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/swaps/{swap_id}")]
async fn void_swap(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, SwapId)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, swap_id) = path.into_inner();
    let outlook =
        swap_voiding::void(&services, &mut change, bike_id, swap_id, voiding::reason(&query.0.reason)?)
            .await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
