use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::DeliveryDocument;
use crate::domain::{DeliveryCount, DeliveryFacts, FieldErrors, Note, PartModelId};
use crate::input::parse;
use crate::service::{Services, deliveries};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// A delivery to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewDelivery {
    /// The part model.
    part_model_id: Uuid,
    /// How many parts.
    #[schema(minimum = 1, maximum = 1_000_000)]
    count: i64,
    /// The date on which it is expected.
    #[schema(format = Date)]
    expected_on: String,
    /// The date on which it arrived; under way when left out.
    #[schema(value_type = Option<String>, format = Date)]
    arrived_on: Option<String>,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
}

impl NewDelivery {
    fn parse(self) -> Result<DeliveryFacts, FieldErrors> {
        let Self { part_model_id, count, expected_on, arrived_on, note } = self;
        let mut errors = FieldErrors::new();
        let count = errors.keep("/count", DeliveryCount::new(count));
        let expected_on = errors.keep("/expected_on", parse::date(&expected_on));
        let arrived_on = arrived_on.and_then(|day| errors.keep("/arrived_on", parse::date(&day)));
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        match (count, expected_on) {
            (Some(count), Some(expected_on)) if errors.is_empty() => {
                let part_model_id = PartModelId::from_uuid(part_model_id);
                Ok(DeliveryFacts { part_model_id, count, expected_on, arrived_on, note })
            }
            _ => Err(errors),
        }
    }
}

/// Enter a delivery
///
/// One that has arrived already is on the shelf at once.
#[utoipa::path(
    operation_id = "create_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewDelivery, example = json!({
        "part_model_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "count": 20, "expected_on": "2026-12-04"
    })),
    responses((status = 201, description = "The delivery", body = DeliveryDocument,
        headers(("Location" = String, description = "Its address"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/deliveries")]
pub(super) async fn create_delivery(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewDelivery>,
) -> Result<HttpResponse, Problem> {
    let delivery = deliveries::create(&services, &actor, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/deliveries/{}", delivery.id)))
        .insert_header(etag(delivery.revision))
        .json(DeliveryDocument::from(delivery)))
}
