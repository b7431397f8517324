use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::PartDocument;
use crate::domain::{FieldErrors, Label, PartId, PartModelId};
use crate::service::Services;
use crate::service::parts::{self, ChangePart};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;

/// What to change of a part; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PartChange {
    /// Its model; null when it isn't known.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    part_model_id: Option<Option<Uuid>>,
    /// What people call it; null takes the name away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 64)]
    label: Option<Option<String>>,
    /// Whether it is done with.
    retired: Option<bool>,
}

impl PartChange {
    fn parse(self) -> Result<ChangePart, FieldErrors> {
        let Self { part_model_id, label, retired } = self;
        let mut errors = FieldErrors::new();
        let label = label.map(|label| label.and_then(|label| errors.keep("/label", Label::new(&label))));
        let model_id = part_model_id.map(|id| id.map(PartModelId::from_uuid));
        if errors.is_empty() { Ok(ChangePart { model_id, label, retired }) } else { Err(errors) }
    }
}

/// Change a part
#[utoipa::path(
    operation_id = "change_part",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_id" = Uuid, Path, description = "The part"),
        ("If-Match" = String, Header, description = "`ETag` of the part as you read it", example = "\"1\"")),
    request_body(content = PartChange, example = json!({"label": "spare 4"})),
    responses((status = 200, description = "The part after the change", body = PartDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/parts/{part_id}")]
pub(super) async fn change_part(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<PartChange>,
) -> Result<HttpResponse, Problem> {
    let change = body.0.parse()?;
    let part = parts::change(&services, &actor, PartId::from_uuid(*part_id), seen.0, change).await?;
    Ok(HttpResponse::Ok().insert_header(etag(part.part.revision)).json(PartDocument::from(part)))
}
