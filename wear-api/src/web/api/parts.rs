//! Physical parts.

use actix_web::{HttpRequest, HttpResponse, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{FieldErrors, Label, Part, PartFacts, PartId, PartModelId, Place};
use crate::input::parse;
use crate::service::Services;
use crate::service::outlook::Stay;
use crate::service::parts::{self, ChangePart, EnterPart, PartWithLife};
use crate::web::auth::{App, As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::{answer, pagination};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_part).service(list_parts).service(get_part).service(change_part);
}

/// A physical part.
#[derive(Serialize, ToSchema)]
#[schema(as = Part)]
struct PartDocument {
    /// Its id.
    id: Uuid,
    /// Where it fits.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Its model; null when nobody said.
    part_model_id: Option<Uuid>,
    /// What people call it; null when it has no name.
    label: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// When it was done with; null while it is of use.
    retired_at: Option<DateTime<Utc>>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
    /// What it went through.
    life: LifeDocument,
}

/// What a part went through.
#[derive(Serialize, ToSchema)]
#[schema(as = PartLife)]
struct LifeDocument {
    /// Distance.
    #[schema(minimum = 0, example = 1843.2)]
    distance_km: f64,
    /// Exposure: what chains are judged by.
    #[schema(minimum = 0, example = 2103.7)]
    reference_km: f64,
    /// The bikes that it was on, in order of time.
    bikes: Vec<StayDocument>,
}

/// A stay on a bike.
#[derive(Serialize, ToSchema)]
#[schema(as = PartStay)]
struct StayDocument {
    /// The bike.
    bike_id: Uuid,
    /// From when.
    fitted_at: DateTime<Utc>,
    /// Until when; null while it is on.
    removed_at: Option<DateTime<Utc>>,
    /// Distance there.
    #[schema(minimum = 0)]
    distance_km: f64,
    /// Exposure there.
    #[schema(minimum = 0)]
    reference_km: f64,
}

impl From<PartWithLife> for PartDocument {
    fn from(PartWithLife { part, stays }: PartWithLife) -> Self {
        let Part { id, facts: PartFacts { model_id, place, label }, created_at, retired_at, revision } = part;
        let sum = |of: fn(&Stay) -> f64| stays.iter().map(of).fold(0.0, |sum, km| sum + km);
        Self {
            id: id.uuid(),
            place: place.as_str(),
            part_model_id: model_id.map(|id| id.uuid()),
            label: label.map(|label| label.to_string()),
            created_at: created_at.datetime(),
            retired_at: retired_at.map(|at| at.datetime()),
            revision,
            life: LifeDocument {
                distance_km: sum(|stay| stay.distance_km),
                reference_km: sum(|stay| stay.reference_km),
                bikes: stays.iter().map(StayDocument::from).collect(),
            },
        }
    }
}

impl From<&Stay> for StayDocument {
    fn from(Stay { fitting, distance_km, reference_km }: &Stay) -> Self {
        Self {
            bike_id: fitting.bike_id.uuid(),
            fitted_at: fitting.fitted_at.datetime(),
            removed_at: fitting.removed_at.map(|at| at.datetime()),
            distance_km: *distance_km,
            reference_km: *reference_km,
        }
    }
}

/// A part to be entered: of a model, or just for a place.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewPart {
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

/// Which parts.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct PartsQuery {
    /// Only parts of this place.
    #[param(value_type = Option<Place>)]
    place: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of parts.
#[derive(ToSchema)]
#[allow(dead_code)]
struct PartList {
    /// Parts of this page, in the order they were entered.
    items: Vec<PartDocument>,
}

/// What to change of a part; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PartChange {
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

/// Enter a part
///
/// It is on no bike until it is fitted. Parts that come with a bike or a swap are entered by themselves.
#[utoipa::path(
    operation_id = "create_part",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewPart, example = json!({"place": "chain", "label": "spare 3"})),
    responses((status = 201, description = "The part", body = PartDocument,
        headers(("Location" = String, description = "Address of the part"))))
)]
#[post("/v1/parts")]
async fn create_part(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewPart>,
) -> Result<HttpResponse, Problem> {
    let part = parts::create(&services, &mut change, body.0.parse()?).await?;
    Ok(answer::created(
        format!("/v1/parts/{}", part.id),
        part.revision,
        PartDocument::from(PartWithLife { part, stays: Vec::new() }),
    ))
}

/// List parts with their lives
#[utoipa::path(
    operation_id = "list_parts",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(PartsQuery),
    responses((status = 200, description = "A page of parts", body = PartList))
)]
#[get("/v1/parts")]
async fn list_parts(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<PartsQuery>,
) -> Result<HttpResponse, Problem> {
    let PartsQuery { place, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let place = parameters.word::<Place>("place", place.as_deref());
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = parts::list(&services, &actor, place, &page).await?;
    Ok(pagination::answer(&request, page, PartDocument::from))
}

/// Get a part with its life
#[utoipa::path(
    operation_id = "get_part",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("part_id" = Uuid, Path, description = "The part")),
    responses((status = 200, description = "The part", body = PartDocument))
)]
#[get("/v1/parts/{part_id}")]
async fn get_part(
    services: web::Data<Services>,
    actor: As<App>,
    part_id: web::Path<PartId>,
) -> Result<HttpResponse, Problem> {
    let part = parts::get(&services, &actor, *part_id).await?;
    Ok(answer::current(part.part.revision, PartDocument::from(part)))
}

/// Change a part
#[utoipa::path(
    operation_id = "change_part",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_id" = Uuid, Path, description = "The part"),
        ("If-Match" = String, Header, description = "`ETag` of the part as you read it", example = "\"1\"")),
    request_body(content = PartChange, example = json!({"label": "spare 4"})),
    responses((status = 200, description = "The part after the change", body = PartDocument))
)]
#[patch("/v1/parts/{part_id}")]
async fn change_part(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    part_id: web::Path<PartId>,
    seen: IfMatch,
    body: Json<PartChange>,
) -> Result<HttpResponse, Problem> {
    let patch = body.0.parse()?;
    let revision = seen
        .revision(async || Ok(parts::get(&services, change.actor(), *part_id).await?.part.revision))
        .await?;
    let part = parts::change(&services, &mut change, *part_id, revision, patch).await?;
    Ok(answer::current(part.part.revision, PartDocument::from(part)))
}
