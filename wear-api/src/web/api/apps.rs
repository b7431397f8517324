//! Apps that work with the workshop.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{App, AppId, Field, FieldErrors, Invalid, Label, MOST_REDIRECT_URIS, RedirectUri};
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
    /// Where browsers may be sent with its authorization codes.
    redirect_uris: Vec<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<App> for AppDocument {
    fn from(App { id, name, redirect_uris, created_at, revision }: App) -> Self {
        Self {
            id: id.uuid(),
            name: name.to_string(),
            redirect_uris: redirect_uris.iter().map(|uri| uri.as_str().to_owned()).collect(),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// An app to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewApp {
    /// What people call it; no other app of the workshop has the name.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// Where browsers may be sent with its authorization codes (OAuth 2.0): `https://` addresses, or `http://` ones of 127.0.0.1
    /// or [::1], of which the port may differ. Compared to the letter.
    #[schema(max_items = 10)]
    redirect_uris: Option<Vec<String>>,
}

/// What to change of an app; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct AppChange {
    /// What people call it; no other app of the workshop has the name.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// Where browsers may be sent with its authorization codes (OAuth 2.0): `https://` addresses, or `http://` ones of 127.0.0.1
    /// or [::1], of which the port may differ. Compared to the letter.
    #[schema(max_items = 10)]
    redirect_uris: Option<Vec<String>>,
}

/// A page of apps.
#[derive(ToSchema)]
#[allow(dead_code)]
struct AppList {
    /// Apps of this page, in the order they were entered.
    items: Vec<AppDocument>,
}

/// What is said of an app, as far as it is.
fn parse(
    name: Option<&str>,
    uris: Option<&[String]>,
) -> Result<(Option<Label>, Option<Vec<RedirectUri>>), FieldErrors> {
    let mut errors = FieldErrors::new();
    let name = name.and_then(|name| errors.keep("/name", Label::new(name)));
    if let Some(uris) = uris.filter(|uris| uris.len() > MOST_REDIRECT_URIS) {
        let (what, found) = (Field::RedirectUris, uris.len());
        let cause = Invalid::Count { what, found, minimum: 0, maximum: MOST_REDIRECT_URIS };
        errors.push(cause.at("/redirect_uris"));
    }
    let uris = uris.map(|uris| {
        let read = uris.iter().take(MOST_REDIRECT_URIS).enumerate();
        read.filter_map(|(index, uri)| errors.keep(format!("/redirect_uris/{index}"), RedirectUri::new(uri)))
            .collect()
    });
    if errors.is_empty() { Ok((name, uris)) } else { Err(errors) }
}

/// Enter an app
///
/// A token that is bound to it sees the bikes that the app enters, and those that a manager gives to the app; one that is
/// bound to a rider too sees this rider's. A link gives the app its token; so does OAuth 2.0, with the app's id as
/// `client_id` (`/.well-known/oauth-authorization-server` says where).
#[utoipa::path(
    operation_id = "create_app",
    tag = "apps",
    security(("bearer" = ["manager"])),
    request_body(content = NewApp, example = json!({"name": "Ride log", "redirect_uris": ["https://ridelog.example/linked"]})),
    responses((status = 201, description = "The app", body = AppDocument,
        headers(("Location" = String, description = "Address of the app"))))
)]
#[post("/v1/apps")]
async fn create_app(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    body: Json<NewApp>,
) -> Result<HttpResponse, Problem> {
    let NewApp { name, redirect_uris } = body.0;
    let (_, uris) = parse(Some(&name), redirect_uris.as_deref())?;
    let name = Label::new(&name).map_err(|cause| FieldErrors::from(cause.at("/name")))?;
    let app = parties::enter_app(&services, &mut change, name, uris.unwrap_or_default()).await?;
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
    let AppChange { name, redirect_uris } = body.0;
    let wanted = parse(name.as_deref(), redirect_uris.as_deref())?;
    let revision =
        seen.revision(async || Ok(parties::app(&services, change.actor(), *app_id).await?.revision)).await?;
    let app = parties::change_app(&services, &mut change, *app_id, revision, wanted).await?;
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
    let revision =
        seen.revision(async || Ok(parties::app(&services, change.actor(), *app_id).await?.revision)).await?;
    parties::delete_app(&services, &mut change, *app_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
