use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::FittingDocument;
use crate::domain::{
    BikeId, Field, FieldErrors, Form, Invalid, PartId, PartModelId, Place, Position, Timestamp,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::fittings::{self, WhatGoesOn};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;

/// A part to be put on an empty place: `part_id` names one on record, `place` asks for a new one.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewFitting {
    /// A part on record; its own place is where it goes.
    part_id: Option<Uuid>,
    /// Where a new part goes.
    #[schema(value_type = Option<Place>)]
    place: Option<String>,
    /// Model of the new part.
    part_model_id: Option<Uuid>,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0; 0 when left out.
    #[schema(minimum = 0, maximum = 15)]
    position: Option<i64>,
    /// When; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    fitted_at: Option<String>,
}

impl NewFitting {
    fn parse(self, now: Timestamp) -> Result<(WhatGoesOn, Position, Timestamp), FieldErrors> {
        const ALLOWED: Form = Form::PartOrPlace;
        let Self { part_id, place, part_model_id, position, fitted_at } = self;
        let mut errors = FieldErrors::new();
        let place = place.and_then(|place| errors.keep("/place", parse::text::<Place>(&place)));
        let what = match (part_id, place, part_model_id) {
            (Some(part_id), None, None) => Some(WhatGoesOn::Part(PartId::from_uuid(part_id))),
            (None, Some(place), model_id) => {
                Some(WhatGoesOn::New { place, model_id: model_id.map(PartModelId::from_uuid) })
            }
            (Some(_), _, _) => {
                let what = Field::PartAndNewPart;
                errors.push(Invalid::Together { what, allowed: ALLOWED }.at("/part_id"));
                None
            }
            (None, None, _) if errors.is_empty() => {
                errors.push(Invalid::Missing { what: Field::Place, allowed: ALLOWED }.at("/place"));
                None
            }
            (None, None, _) => None,
        };
        let position = errors.keep("/position", Position::new(position.unwrap_or(0)));
        let fitted_at = match fitted_at {
            Some(at) => errors.keep("/fitted_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        match (what, position, fitted_at) {
            (Some(what), Some(position), Some(fitted_at)) => Ok((what, position, fitted_at)),
            _ => Err(errors),
        }
    }
}

/// Put a part on an empty place
///
/// Where a part is on, enter a swap instead.
#[utoipa::path(
    operation_id = "create_fitting",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewFitting, example = json!({"place": "chain", "fitted_at": "2026-06-02T09:00:00Z"})),
    responses((status = 201, description = "The fitting", body = FittingDocument))
)]
#[post("/v1/bikes/{bike_id}/fittings")]
pub(super) async fn create_fitting(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    body: Json<NewFitting>,
) -> Result<HttpResponse, Problem> {
    let (what, position, fitted_at) = body.0.parse(services.now())?;
    let bike_id = BikeId::from_uuid(*bike_id);
    let fitting = fittings::fit(&services, &actor, bike_id, what, position, fitted_at).await?;
    Ok(HttpResponse::Created().json(FittingDocument::from(fitting)))
}
