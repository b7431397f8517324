use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::StockDocument;
use crate::domain::{FieldErrors, LeadTimeDays, PackSize, PartModelId, ServiceLevel, ShelfCount};
use crate::service::Services;
use crate::service::stock::{self, StockPatch};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;

/// What to change of a part model's place on the shelf; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StockChange {
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

/// Count the shelf, or change how a part model is ordered
#[utoipa::path(
    operation_id = "change_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model"),
        ("If-Match" = String, Header, description = "`ETag` of the entry as you read it", example = "\"1\"")),
    request_body(content = StockChange, example = json!({"count": 7, "reorder_point": null})),
    responses((status = 200, description = "The entry after the change", body = StockDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/stock/{part_model_id}")]
pub(super) async fn change_stock(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<StockChange>,
) -> Result<HttpResponse, Problem> {
    let id = PartModelId::from_uuid(*part_model_id);
    let entry = stock::change(&services, &actor, id, seen.0, body.0.parse()?).await?;
    Ok(HttpResponse::Ok().insert_header(etag(entry.revision)).json(StockDocument::from(entry)))
}
