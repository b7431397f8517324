//! Riders, whose bikes are looked after.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{FieldErrors, Label, Rider, RiderId};
use crate::service::{Services, parties};
use crate::web::answer;
use crate::web::auth::{As, Manager, Mechanic};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_rider)
        .service(list_riders)
        .service(get_rider)
        .service(change_rider)
        .service(delete_rider);
}

/// A rider.
#[derive(Serialize, ToSchema)]
#[schema(as = Rider)]
struct RiderDocument {
    /// Their id.
    id: Uuid,
    /// What people call them.
    name: String,
    /// When they were entered.
    created_at: DateTime<Utc>,
    /// Counts changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Rider> for RiderDocument {
    fn from(Rider { id, name, created_at, revision }: Rider) -> Self {
        Self { id: id.uuid(), name: name.to_string(), created_at: created_at.datetime(), revision }
    }
}

/// A rider to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewRider {
    /// What people call them. Nothing else is asked of a rider.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
}

/// What to change of a rider; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct RiderChange {
    /// What people call them. Nothing else is asked of a rider.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
}

/// A page of riders.
#[derive(ToSchema)]
#[allow(dead_code)]
struct RiderList {
    /// Riders of this page, in the order they were entered.
    items: Vec<RiderDocument>,
}

fn name(given: &str) -> Result<Label, FieldErrors> {
    Label::new(given).map_err(|cause| cause.at("/name").into())
}

/// Enter a rider
///
/// A manager says which bikes are a rider's; tokens that are bound to the rider see these, and what they enter is the
/// rider's. A link gives an app such a token.
#[utoipa::path(
    operation_id = "create_rider",
    tag = "apps",
    security(("bearer" = ["manager"])),
    request_body(content = NewRider, example = json!({"name": "Anna Brandt"})),
    responses((status = 201, description = "The rider", body = RiderDocument,
        headers(("Location" = String, description = "Address of the rider"))))
)]
#[post("/v1/riders")]
async fn create_rider(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    body: Json<NewRider>,
) -> Result<HttpResponse, Problem> {
    let rider = parties::enter_rider(&services, &mut change, name(&body.0.name)?).await?;
    Ok(answer::created(format!("/v1/riders/{}", rider.id), rider.revision, RiderDocument::from(rider)))
}

/// List riders
#[utoipa::path(
    operation_id = "list_riders",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of riders", body = RiderList))
)]
#[get("/v1/riders")]
async fn list_riders(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = parties::riders(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, RiderDocument::from))
}

/// Get a rider
#[utoipa::path(
    operation_id = "get_rider",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    params(("rider_id" = Uuid, Path, description = "The rider")),
    responses((status = 200, description = "The rider", body = RiderDocument))
)]
#[get("/v1/riders/{rider_id}")]
async fn get_rider(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    rider_id: web::Path<RiderId>,
) -> Result<HttpResponse, Problem> {
    let rider = parties::rider(&services, &actor, *rider_id).await?;
    Ok(answer::current(rider.revision, RiderDocument::from(rider)))
}

/// Change a rider
#[utoipa::path(
    operation_id = "change_rider",
    tag = "apps",
    security(("bearer" = ["manager"])),
    params(("rider_id" = Uuid, Path, description = "The rider"),
        ("If-Match" = String, Header, description = "`ETag` of the rider as you read it", example = "\"1\"")),
    request_body(content = RiderChange, example = json!({"name": "A. Brandt"})),
    responses((status = 200, description = "The rider after the change", body = RiderDocument))
)]
#[patch("/v1/riders/{rider_id}")]
async fn change_rider(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    rider_id: web::Path<RiderId>,
    seen: IfMatch,
    body: Json<RiderChange>,
) -> Result<HttpResponse, Problem> {
    let name = body.0.name.as_deref().map(name).transpose()?;
    let revision = seen
        .revision(async || Ok(parties::rider(&services, change.actor(), *rider_id).await?.revision))
        .await?;
    let rider = parties::rename_rider(&services, &mut change, *rider_id, revision, name).await?;
    Ok(answer::current(rider.revision, RiderDocument::from(rider)))
}

/// Delete a rider
///
/// The name goes for good; what remains is an id that says nothing. While bikes are the rider's or tokens for them are in
/// force it is refused. Codes that wait to be redeemed for the rider go too.
#[utoipa::path(
    operation_id = "delete_rider",
    tag = "apps",
    security(("bearer" = ["manager"])),
    params(("rider_id" = Uuid, Path, description = "The rider"),
        ("If-Match" = String, Header, description = "`ETag` of the rider as you read it", example = "\"1\"")),
    responses((status = 204, description = "The rider is gone"))
)]
#[delete("/v1/riders/{rider_id}")]
async fn delete_rider(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    rider_id: web::Path<RiderId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(parties::rider(&services, change.actor(), *rider_id).await?.revision))
        .await?;
    parties::delete_rider(&services, &mut change, *rider_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
