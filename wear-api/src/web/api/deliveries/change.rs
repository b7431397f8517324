use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::ChangedDocument;
use crate::domain::{DeliveryCount, DeliveryId, FieldErrors, Note};
use crate::input::parse;
use crate::service::Services;
use crate::service::deliveries::{self, DeliveryPatch};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;

/// What to change of a delivery; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DeliveryChange {
    /// How many parts; with an arrival, how many arrived.
    #[schema(minimum = 1, maximum = 1_000_000)]
    count: Option<i64>,
    /// The date on which it is expected.
    #[schema(value_type = Option<String>, format = Date)]
    expected_on: Option<String>,
    /// The date on which it arrived; null takes the arrival back.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = Date)]
    arrived_on: Option<Option<String>>,
    /// A remark; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 2000)]
    note: Option<Option<String>>,
}

impl DeliveryChange {
    fn parse(self) -> Result<DeliveryPatch, FieldErrors> {
        let Self { count, expected_on, arrived_on, note } = self;
        let mut errors = FieldErrors::new();
        let patch = DeliveryPatch {
            count: count.and_then(|count| errors.keep("/count", DeliveryCount::new(count))),
            expected_on: expected_on.and_then(|day| errors.keep("/expected_on", parse::date(&day))),
            arrived_on: arrived_on
                .map(|day| day.and_then(|day| errors.keep("/arrived_on", parse::date(&day)))),
            note: note.map(|note| note.and_then(|note| errors.keep("/note", Note::new(&note)))),
        };
        if errors.is_empty() { Ok(patch) } else { Err(errors) }
    }
}

/// Change a delivery, or enter its arrival
///
/// An arrival adds the parts to the shelf, unless the shelf was counted on a later day. Correcting the count of an
/// arrived delivery, or taking the arrival back, corrects the shelf likewise.
#[utoipa::path(
    operation_id = "change_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("delivery_id" = Uuid, Path, description = "The delivery"),
        ("If-Match" = String, Header, description = "`ETag` of the delivery as you read it", example = "\"1\"")),
    request_body(content = DeliveryChange, example = json!({"arrived_on": "2026-11-24"})),
    responses((status = 200, description = "The delivery after the change", body = ChangedDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/deliveries/{delivery_id}")]
pub(super) async fn change_delivery(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    delivery_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<DeliveryChange>,
) -> Result<HttpResponse, Problem> {
    let id = DeliveryId::from_uuid(*delivery_id);
    let booked = deliveries::change(&services, &actor, id, seen.0, body.0.parse()?).await?;
    Ok(HttpResponse::Ok().insert_header(etag(booked.delivery.revision)).json(ChangedDocument::from(booked)))
}
