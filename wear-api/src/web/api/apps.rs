//! Apps that work with the workshop.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{App, AppId, FieldErrors, Label};
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
    config.service(create_app).service(list_apps).service(get_app).service(change_app).service(delete_app);
}

/// An app that works with the workshop.
#[derive(Serialize, ToSchema)]
#[schema(as = App)]
struct AppDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    name: String,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<App> for AppDocument {
    fn from(App { id, name, created_at, revision }: App) -> Self {
        Self { id: id.uuid(), name: name.to_string(), created_at: created_at.datetime(), revision }
    }
}

/// An app to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewApp {
    /// What people call it; no other app of the workshop has the name.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
}

/// What to change of an app; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct AppChange {
    /// What people call it; no other app of the workshop has the name.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
}

/// A page of apps.
#[derive(ToSchema)]
#[allow(dead_code)]
struct AppList {
    /// Apps of this page, in the order they were entered.
    items: Vec<AppDocument>,
}

fn name(given: &str) -> Result<Label, FieldErrors> {
    Label::new(given).map_err(|cause| cause.at("/name").into())
}

/// Enter an app
///
/// Its tokens are bound to it: they see the bikes that they enter, and those that a manager gives to the app or whose
/// riders linked it. A link gives the app its first token.
#[utoipa::path(
    operation_id = "create_app",
    tag = "apps",
    security(("bearer" = ["manager"])),
    request_body(content = NewApp, example = json!({"name": "Ride log"})),
    responses((status = 201, description = "The app", body = AppDocument,
        headers(("Location" = String, description = "Address of the app"))))
)]
#[post("/v1/apps")]
async fn create_app(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    body: Json<NewApp>,
) -> Result<HttpResponse, Problem> {
    let app = parties::enter_app(&services, &mut change, name(&body.0.name)?).await?;
    Ok(answer::created(format!("/v1/apps/{}", app.id), app.revision, AppDocument::from(app)))
}

/// List apps
#[utoipa::path(
    operation_id = "list_apps",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of apps", body = AppList))
)]
#[get("/v1/apps")]
async fn list_apps(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = parties::apps(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, AppDocument::from))
}

/// Get an app
#[utoipa::path(
    operation_id = "get_app",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    params(("app_id" = Uuid, Path, description = "The app")),
    responses((status = 200, description = "The app", body = AppDocument))
)]
#[get("/v1/apps/{app_id}")]
async fn get_app(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    app_id: web::Path<AppId>,
) -> Result<HttpResponse, Problem> {
    let app = parties::app(&services, &actor, *app_id).await?;
    Ok(answer::current(app.revision, AppDocument::from(app)))
}

/// Change an app
#[utoipa::path(
    operation_id = "change_app",
    tag = "apps",
    security(("bearer" = ["manager"])),
    params(("app_id" = Uuid, Path, description = "The app"),
        ("If-Match" = String, Header, description = "`ETag` of the app as you read it", example = "\"1\"")),
    request_body(content = AppChange, example = json!({"name": "Ride log 2"})),
    responses((status = 200, description = "The app after the change", body = AppDocument))
)]
#[patch("/v1/apps/{app_id}")]
async fn change_app(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    app_id: web::Path<AppId>,
    seen: IfMatch,
    body: Json<AppChange>,
) -> Result<HttpResponse, Problem> {
    let name = body.0.name.as_deref().map(name).transpose()?;
    let app = parties::rename_app(&services, &mut change, *app_id, seen.0, name).await?;
    Ok(answer::current(app.revision, AppDocument::from(app)))
}

/// Delete an app
///
/// While bikes are its own or tokens of it are in force it is refused. Codes that wait to be redeemed for it go with it.
#[utoipa::path(
    operation_id = "delete_app",
    tag = "apps",
    security(("bearer" = ["manager"])),
    params(("app_id" = Uuid, Path, description = "The app"),
        ("If-Match" = String, Header, description = "`ETag` of the app as you read it", example = "\"1\"")),
    responses((status = 204, description = "The app is gone"))
)]
#[delete("/v1/apps/{app_id}")]
async fn delete_app(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    app_id: web::Path<AppId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    parties::delete_app(&services, &mut change, *app_id, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
