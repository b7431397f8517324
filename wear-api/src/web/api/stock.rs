//! The shelf: what is there of each part model, and how more is ordered.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{
    FieldErrors, LeadTimeDays, PackSize, PartModelId, Place, ServiceLevel, ShelfCount, StockEntry, StockFacts,
};
use crate::service::Services;
use crate::service::stock::{self, StockPatch};
use crate::web::answer;
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_stock)
        .service(list_stock)
        .service(get_stock)
        .service(change_stock)
        .service(delete_stock);
}

/// A part model's place on the shelf.
#[derive(Serialize, ToSchema)]
#[schema(as = Stock)]
struct StockDocument {
    /// The part model.
    part_model_id: Uuid,
    /// What people call it.
    name: String,
    /// Where on a bike it sits.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Parts on the shelf. A swap takes one, an arrived delivery adds its parts.
    #[schema(minimum = 0, maximum = 1_000_000)]
    count: u32,
    /// Parts in deliveries that haven't arrived.
    #[schema(minimum = 0)]
    under_way: u32,
    /// Parts sold together: orders are whole packs.
    #[schema(minimum = 1, maximum = 10_000)]
    pack_size: u32,
    /// Days from an order to its arrival.
    #[schema(minimum = 0, maximum = 365)]
    lead_time_days: u32,
    /// At this count or below more are ordered; null where `/v1/orders-needed` works it out from the outlooks.
    #[schema(minimum = 0, maximum = 1_000_000)]
    reorder_point: Option<u32>,
    /// Probability of not running out within the lead time that the model is to have; null where that of the request
    /// holds.
    #[schema(minimum = 0.5, maximum = 0.999)]
    service_level: Option<f64>,
    /// Part models that do as well, the best first.
    substitutes: Vec<Uuid>,
    /// When somebody counted last. Swaps and arrivals before that are in the count already.
    counted_at: DateTime<Utc>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes, swaps and arrivals too; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<StockEntry> for StockDocument {
    fn from(entry: StockEntry) -> Self {
        let StockEntry { part_model_id, name, place, facts, under_way, counted_at, created_at, revision } =
            entry;
        let StockFacts { count, pack_size, lead_time, reorder_point, service_level, substitutes } = facts;
        Self {
            part_model_id: part_model_id.uuid(),
            name: name.to_string(),
            place: place.as_str(),
            count: count.get(),
            under_way,
            pack_size: pack_size.get(),
            lead_time_days: lead_time.get(),
            reorder_point: reorder_point.map(|point| point.get()),
            service_level: service_level.map(|level| level.get()),
            substitutes: substitutes.into_iter().map(|id| id.uuid()).collect(),
            counted_at: counted_at.datetime(),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// A part model to keep count of.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewStock {
    /// The part model.
    part_model_id: Uuid,
    /// Parts on the shelf, as counted now.
    #[schema(minimum = 0, maximum = 1_000_000)]
    count: i64,
    /// Parts sold together; 1 when left out.
    #[schema(minimum = 1, maximum = 10_000)]
    pack_size: Option<i64>,
    /// Days from an order to its arrival; 7 when left out.
    #[schema(minimum = 0, maximum = 365)]
    lead_time_days: Option<i64>,
    /// At this count or below more are ordered; worked out from the outlooks when left out.
    #[schema(minimum = 0, maximum = 1_000_000)]
    reorder_point: Option<i64>,
    /// Probability of not running out within the lead time; that of the request when left out.
    #[schema(minimum = 0.5, maximum = 0.999)]
    service_level: Option<f64>,
    /// Part models of the same place that do as well, the best first.
    #[serde(default)]
    #[schema(max_items = 16)]
    substitutes: Vec<Uuid>,
}

impl NewStock {
    fn parse(self) -> Result<(PartModelId, StockFacts), FieldErrors> {
        let Self {
            part_model_id,
            count,
            pack_size,
            lead_time_days,
            reorder_point,
            service_level,
            substitutes,
        } = self;
        let mut errors = FieldErrors::new();
        let count = errors.keep("/count", ShelfCount::new(count));
        let pack_size = match pack_size {
            Some(size) => errors.keep("/pack_size", PackSize::new(size)),
            None => Some(PackSize::ONE),
        };
        let lead_time = match lead_time_days {
            Some(days) => errors.keep("/lead_time_days", LeadTimeDays::new(days)),
            None => Some(LeadTimeDays::WEEK),
        };
        let reorder_point =
            reorder_point.and_then(|point| errors.keep("/reorder_point", ShelfCount::new(point)));
        let service_level =
            service_level.and_then(|level| errors.keep("/service_level", ServiceLevel::new(level)));
        let substitutes = substitutes.into_iter().map(PartModelId::from_uuid).collect();
        match (count, pack_size, lead_time) {
            (Some(count), Some(pack_size), Some(lead_time)) if errors.is_empty() => {
                let facts =
                    StockFacts { count, pack_size, lead_time, reorder_point, service_level, substitutes };
                Ok((PartModelId::from_uuid(part_model_id), facts))
            }
            _ => Err(errors),
        }
    }
}

/// A page of the shelf.
#[derive(ToSchema)]
#[allow(dead_code)]
struct StockList {
    /// Part models of this page.
    items: Vec<StockDocument>,
}

/// What to change of a part model's place on the shelf; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct StockChange {
    /// Parts on the shelf, as counted now.
    #[schema(minimum = 0, maximum = 1_000_000)]
    count: Option<i64>,
    /// Parts sold together.
    #[schema(minimum = 1, maximum = 10_000)]
    pack_size: Option<i64>,
    /// Days from an order to its arrival.
    #[schema(minimum = 0, maximum = 365)]
    lead_time_days: Option<i64>,
    /// At this count or below more are ordered; null leaves it to the outlooks.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000)]
    reorder_point: Option<Option<i64>>,
    /// Probability of not running out within the lead time; null leaves it to the request.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<f64>, minimum = 0.5, maximum = 0.999)]
    service_level: Option<Option<f64>>,
    /// Part models of the same place that do as well, the best first; takes the place of the whole list.
    #[schema(max_items = 16)]
    substitutes: Option<Vec<Uuid>>,
}

impl StockChange {
    fn parse(self) -> Result<StockPatch, FieldErrors> {
        let Self { count, pack_size, lead_time_days, reorder_point, service_level, substitutes } = self;
        let mut errors = FieldErrors::new();
        let patch = StockPatch {
            count: count.and_then(|count| errors.keep("/count", ShelfCount::new(count))),
            pack_size: pack_size.and_then(|size| errors.keep("/pack_size", PackSize::new(size))),
            lead_time: lead_time_days
                .and_then(|days| errors.keep("/lead_time_days", LeadTimeDays::new(days))),
            reorder_point: reorder_point
                .map(|point| point.and_then(|point| errors.keep("/reorder_point", ShelfCount::new(point)))),
            service_level: service_level
                .map(|level| level.and_then(|level| errors.keep("/service_level", ServiceLevel::new(level)))),
            substitutes: substitutes.map(|ids| ids.into_iter().map(PartModelId::from_uuid).collect()),
        };
        if errors.is_empty() { Ok(patch) } else { Err(errors) }
    }
}

/// Keep count of a part model
#[utoipa::path(
    operation_id = "create_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewStock, example = json!({
        "part_model_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "count": 12, "pack_size": 5, "lead_time_days": 10
    })),
    responses((status = 201, description = "The part model's place on the shelf", body = StockDocument,
        headers(("Location" = String, description = "Its address"))))
)]
#[post("/v1/stock")]
async fn create_stock(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewStock>,
) -> Result<HttpResponse, Problem> {
    let (model_id, facts) = body.0.parse()?;
    let entry = stock::create(&services, &mut change, model_id, facts).await?;
    Ok(answer::created(format!("/v1/stock/{model_id}"), entry.revision, StockDocument::from(entry)))
}

/// List what is on the shelf
#[utoipa::path(
    operation_id = "list_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of the shelf", body = StockList))
)]
#[get("/v1/stock")]
async fn list_stock(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = stock::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, StockDocument::from))
}

/// Get what is on the shelf of a part model
#[utoipa::path(
    operation_id = "get_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model")),
    responses((status = 200, description = "The part model's place on the shelf", body = StockDocument))
)]
#[get("/v1/stock/{part_model_id}")]
async fn get_stock(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<PartModelId>,
) -> Result<HttpResponse, Problem> {
    let entry = stock::get(&services, &actor, *part_model_id).await?;
    Ok(answer::current(entry.revision, StockDocument::from(entry)))
}

/// Count the shelf, or change how a part model is ordered
#[utoipa::path(
    operation_id = "change_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model"),
        ("If-Match" = String, Header, description = "`ETag` of the entry as you read it", example = "\"1\"")),
    request_body(content = StockChange, example = json!({"count": 7, "reorder_point": null})),
    responses((status = 200, description = "The entry after the change", body = StockDocument))
)]
#[patch("/v1/stock/{part_model_id}")]
async fn change_stock(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    part_model_id: web::Path<PartModelId>,
    seen: IfMatch,
    body: Json<StockChange>,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(stock::get(&services, change.actor(), *part_model_id).await?.revision))
        .await?;
    let entry = stock::change(&services, &mut change, *part_model_id, revision, body.0.parse()?).await?;
    Ok(answer::current(entry.revision, StockDocument::from(entry)))
}

/// Keep count of a part model no longer
#[utoipa::path(
    operation_id = "delete_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model"),
        ("If-Match" = String, Header, description = "`ETag` of the entry as you read it", example = "\"1\"")),
    responses((status = 204, description = "No count is kept any more"))
)]
#[delete("/v1/stock/{part_model_id}")]
async fn delete_stock(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    part_model_id: web::Path<PartModelId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(stock::get(&services, change.actor(), *part_model_id).await?.revision))
        .await?;
    stock::delete(&services, &mut change, *part_model_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
