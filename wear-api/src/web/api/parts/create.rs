use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::PartDocument;
use crate::domain::{FieldErrors, Label, PartModelId, Place};
use crate::input::parse;
use crate::service::Services;
use crate::service::parts::{self, EnterPart, PartWithLife};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// A part to be entered: of a model, or just for a place.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewPart {
    /// Where it fits; the model's place when left out.
    #[schema(value_type = Option<Place>)]
    place: Option<String>,
    /// Its model.
    part_model_id: Option<Uuid>,
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: Option<String>,
}

impl NewPart {
    fn parse(self) -> Result<EnterPart, FieldErrors> {
        let Self { place, part_model_id, label } = self;
        let mut errors = FieldErrors::new();
        let place = place.and_then(|place| errors.keep("/place", parse::text::<Place>(&place)));
        let label = label.and_then(|label| errors.keep("/label", Label::new(&label)));
        let model_id = part_model_id.map(PartModelId::from_uuid);
        if errors.is_empty() { Ok(EnterPart { place, model_id, label }) } else { Err(errors) }
    }
}

/// Enter a part
///
/// It is on no bike until it is fitted. Parts that come with a bike or a swap are entered by themselves.
#[utoipa::path(
    operation_id = "create_part",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewPart, example = json!({"place": "chain", "label": "spare 3"})),
    responses((status = 201, description = "The part", body = PartDocument,
        headers(("Location" = String, description = "Address of the part"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/parts")]
pub(super) async fn create_part(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewPart>,
) -> Result<HttpResponse, Problem> {
    let part = parts::create(&services, &actor, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/parts/{}", part.id)))
        .insert_header(etag(part.revision))
        .json(PartDocument::from(PartWithLife { part, stays: Vec::new() })))
}
