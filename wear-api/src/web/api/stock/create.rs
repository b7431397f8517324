use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::StockDocument;
use crate::domain::{FieldErrors, LeadTimeDays, PackSize, PartModelId, ServiceLevel, ShelfCount, StockFacts};
use crate::service::{Services, stock};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// A part model to keep count of.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewStock {
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

/// Keep count of a part model
#[utoipa::path(
    operation_id = "create_stock",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewStock, example = json!({
        "part_model_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "count": 12, "pack_size": 5, "lead_time_days": 10
    })),
    responses((status = 201, description = "The part model's place on the shelf", body = StockDocument,
        headers(("Location" = String, description = "Its address"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/stock")]
pub(super) async fn create_stock(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewStock>,
) -> Result<HttpResponse, Problem> {
    let (model_id, facts) = body.0.parse()?;
    let entry = stock::create(&services, &actor, model_id, facts).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/stock/{model_id}")))
        .insert_header(etag(entry.revision))
        .json(StockDocument::from(entry)))
}
