//! Bikes by what another program calls them.

use actix_web::{HttpResponse, get, put, web};

use super::{BikeDocument, NewBike};
use crate::domain::{ExternalId, Field, FieldErrors, Form, Invalid};
use crate::service::bikes::EnterBike;
use crate::service::external_ids::{self, PutBike};
use crate::service::{ServiceError, Services};
use crate::web::answer;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::problem::Problem;

/// Get a bike by your own id
#[utoipa::path(
    operation_id = "get_bike_by_external_id",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("external_id" = String, Path, description = "What you call the bike", min_length = 1, max_length = 128)),
    responses((status = 200, description = "The bike", body = BikeDocument))
)]
#[get("/v1/bikes/by-external-id/{external_id}")]
pub(super) async fn get_bike_by_external_id(
    services: web::Data<Services>,
    actor: As<App>,
    external_id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    // What can't be an external id is no bike's.
    let external_id = ExternalId::new(&external_id).map_err(|_| ServiceError::NotFound { what: "bike" })?;
    let (bike, start) = external_ids::get(&services, &actor, &external_id).await?;
    Ok(answer::current(bike.revision, BikeDocument::from((bike, start))))
}

/// Enter or change a bike by your own id
///
/// Enters the bike where none is called so yet (201), and else changes it to what the body says (200); what the body leaves
/// out stays as it is, and a number of speeds changes nothing of a bike that has as many. The same again changes nothing, so
/// it may be sent as often as you like. A bike that left the fleet stays out of it.
#[utoipa::path(
    operation_id = "put_bike_by_external_id",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("external_id" = String, Path, description = "What you call the bike", min_length = 1, max_length = 128)),
    request_body(content = NewBike, example = json!({
        "label": "H12", "group": "town-8s", "use": "town", "drivetrain": {"speeds": 8}
    })),
    responses(
        (status = 201, description = "The bike is new", body = BikeDocument,
            headers(("Location" = String, description = "Address of the bike"))),
        (status = 200, description = "The bike was there, and is as the body says", body = BikeDocument)
    )
)]
#[put("/v1/bikes/by-external-id/{external_id}")]
pub(super) async fn put_bike_by_external_id(
    services: web::Data<Services>,
    mut change: Change<App>,
    external_id: web::Path<String>,
    body: Json<NewBike>,
) -> Result<HttpResponse, Problem> {
    let mut errors = FieldErrors::new();
    let external_id = errors.keep("/external_id", ExternalId::new(&external_id));
    let enter = match EnterBike::try_from(body.0) {
        Ok(enter) => Some(enter),
        Err(more) => {
            errors.extend_under("", more);
            None
        }
    };
    let (Some(external_id), Some(enter)) = (external_id, enter) else { return Err(errors.into()) };
    if enter.external_id.as_ref().is_some_and(|said| *said != external_id) {
        let cause = Invalid::Together { what: Field::ExternalIdTwice, allowed: Form::ExternalIdOfAddress };
        return Err(FieldErrors::from(cause.at("/external_id")).into());
    }
    Ok(match external_ids::put(&services, &mut change, external_id, enter).await? {
        PutBike::Made(bike, start) => {
            let (address, revision) = (format!("/v1/bikes/{}", bike.id), bike.revision);
            answer::created(address, revision, BikeDocument::from((bike, start)))
        }
        PutBike::Kept(bike, start) => answer::current(bike.revision, BikeDocument::from((bike, start))),
    })
}
