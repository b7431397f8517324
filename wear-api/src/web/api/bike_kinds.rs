//! Kinds of bike: what bikes of a kind have in common.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::units::Limit;

use super::bikes::drivetrain::{ChoiceBody, DrivetrainDocument};
use crate::domain::{
    BikeKind, BikeKindFacts, BikeKindId, DrivetrainChoice, FieldErrors, GroupName, Label, ModelsOfKind,
    PartModelId, Use,
};
use crate::input::parse;
use crate::service::bike_kinds::{self, EnterKind, KindPatch};
use crate::service::{Mismatch, Services};
use crate::web::auth::{As, Manager, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_bike_kind)
        .service(list_bike_kinds)
        .service(get_bike_kind)
        .service(change_bike_kind)
        .service(delete_bike_kind);
}

/// A kind of bike.
#[derive(Serialize, ToSchema)]
#[schema(as = BikeKind)]
struct BikeKindDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    #[schema(example = "hire bike")]
    name: String,
    /// What its bikes are used for.
    #[serde(rename = "use")]
    #[schema(value_type = schema::Use)]
    usage: &'static str,
    /// Their rings, cogs and chain length.
    drivetrain: DrivetrainDocument,
    /// Their own limit; null where the part model's, the workshop's or the trade's holds.
    limit_percent: Option<f64>,
    /// The group of its bikes; null where it is the kind's name.
    group: Option<String>,
    /// Model of their chain.
    chain_model_id: Option<Uuid>,
    /// Model of their cassette, or of the only cog.
    cassette_model_id: Option<Uuid>,
    /// Model of their rings.
    ring_model_id: Option<Uuid>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<BikeKind> for BikeKindDocument {
    fn from(BikeKind { id, facts, created_at, revision }: BikeKind) -> Self {
        let BikeKindFacts { name, usage, drivetrain, is_assumed, limit, group, models } = facts;
        let ModelsOfKind { chain, cassette, ring } = models;
        Self {
            id: id.uuid(),
            name: name.to_string(),
            usage: usage.as_str(),
            drivetrain: DrivetrainDocument::new(&drivetrain, limit, is_assumed),
            limit_percent: limit.map(Limit::get),
            group: group.map(|group| group.to_string()),
            chain_model_id: chain.map(PartModelId::uuid),
            cassette_model_id: cassette.map(PartModelId::uuid),
            ring_model_id: ring.map(PartModelId::uuid),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// A page of kinds of bike.
#[derive(ToSchema)]
#[allow(dead_code)]
struct BikeKindList {
    /// Kinds of this page.
    items: Vec<BikeKindDocument>,
}

/// A kind of bike to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewBikeKind {
    /// What people call it; no other kind of the workshop has the name, in any case.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// What its bikes are used for; `town` when left out.
    #[serde(rename = "use")]
    #[schema(value_type = Option<schema::Use>)]
    usage: Option<String>,
    /// Their rings, cogs and chain length, or how they are known; the usual ones of the use when left out.
    drivetrain: Option<ChoiceBody>,
    /// Their own limit.
    #[schema(schema_with = schema::optional::limit_percent, required = false)]
    limit_percent: Option<f64>,
    /// The group of its bikes; the kind's name when left out.
    #[schema(min_length = 1, max_length = 64)]
    group: Option<String>,
    /// Model of their chain.
    chain_model_id: Option<Uuid>,
    /// Model of their cassette, or of the only cog.
    cassette_model_id: Option<Uuid>,
    /// Model of their rings.
    ring_model_id: Option<Uuid>,
    /// `true` where parts or a chain's length that don't go together are meant so; refused when left out.
    accept_mismatch: Option<bool>,
}

impl NewBikeKind {
    fn parse(self) -> Result<EnterKind, FieldErrors> {
        let Self {
            name,
            usage,
            drivetrain,
            limit_percent,
            group,
            chain_model_id,
            cassette_model_id,
            ring_model_id,
            accept_mismatch,
        } = self;
        let mut errors = FieldErrors::new();
        let name = errors.keep("/name", Label::new(&name));
        let usage = match usage {
            Some(word) => errors.keep("/use", parse::text::<Use>(&word)),
            None => Some(Use::Town),
        };
        let (drivetrain, limit_of_body) = choice(drivetrain, &mut errors);
        let limit = limit_percent.and_then(|limit| errors.keep("/limit_percent", Limit::new(limit)));
        let group = group.and_then(|group| errors.keep("/group", GroupName::new(&group)));
        match (name, usage) {
            (Some(name), Some(usage)) if errors.is_empty() => Ok(EnterKind {
                name,
                usage,
                drivetrain: drivetrain.unwrap_or(DrivetrainChoice::Usual(None)),
                limit: limit.or(limit_of_body),
                group,
                models: ModelsOfKind {
                    chain: chain_model_id.map(PartModelId::from_uuid),
                    cassette: cassette_model_id.map(PartModelId::from_uuid),
                    ring: ring_model_id.map(PartModelId::from_uuid),
                },
                mismatch: Mismatch::of(accept_mismatch),
            }),
            _ => Err(errors),
        }
    }
}

fn choice(body: Option<ChoiceBody>, errors: &mut FieldErrors) -> (Option<DrivetrainChoice>, Option<Limit>) {
    match body.map(ChoiceBody::parse) {
        None => (None, None),
        Some(Ok((choice, limit))) => (Some(choice), limit),
        Some(Err(nested)) => {
            errors.extend_under("/drivetrain", nested);
            (None, None)
        }
    }
}

/// What to change of a kind of bike; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BikeKindChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// What its bikes are used for.
    #[serde(rename = "use")]
    #[schema(value_type = Option<schema::Use>)]
    usage: Option<String>,
    /// Their drivetrain anew, or how it is known.
    drivetrain: Option<ChoiceBody>,
    /// Their own limit; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(schema_with = schema::optional::limit_percent, required = false)]
    limit_percent: Option<Option<f64>>,
    /// The group of bikes to come; null for the kind's name.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 64)]
    group: Option<Option<String>>,
    /// Model of their chain; null when it isn't known.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    chain_model_id: Option<Option<Uuid>>,
    /// Model of their cassette, or of the only cog; null when it isn't known.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    cassette_model_id: Option<Option<Uuid>>,
    /// Model of their rings; null when it isn't known.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    ring_model_id: Option<Option<Uuid>>,
    /// Whether bikes of the kind follow: `true` changes those whose own value is the kind's old one, `false` leaves all as
    /// they are. Needed where bikes are of the kind and its drivetrain, use, limit or models change.
    apply_to_bikes: Option<bool>,
    /// `true` where parts or a chain's length that don't go together are meant so; refused when left out.
    accept_mismatch: Option<bool>,
}

impl BikeKindChange {
    fn parse(self) -> Result<KindPatch, FieldErrors> {
        let Self {
            name,
            usage,
            drivetrain,
            limit_percent,
            group,
            chain_model_id,
            cassette_model_id,
            ring_model_id,
            apply_to_bikes,
            accept_mismatch,
        } = self;
        let mut errors = FieldErrors::new();
        let (drivetrain, limit_of_body) = choice(drivetrain, &mut errors);
        let limit = limit_percent
            .map(|limit| limit.and_then(|limit| errors.keep("/limit_percent", Limit::new(limit))))
            .or(limit_of_body.map(Some));
        let model = |id: Option<Option<Uuid>>| id.map(|id| id.map(PartModelId::from_uuid));
        let patch = KindPatch {
            name: name.and_then(|name| errors.keep("/name", Label::new(&name))),
            usage: usage.and_then(|word| errors.keep("/use", parse::text::<Use>(&word))),
            drivetrain,
            limit,
            group: group.map(|group| group.and_then(|group| errors.keep("/group", GroupName::new(&group)))),
            chain: model(chain_model_id),
            cassette: model(cassette_model_id),
            ring: model(ring_model_id),
            apply_to_bikes,
            mismatch: Mismatch::of(accept_mismatch),
        };
        if errors.is_empty() { Ok(patch) } else { Err(errors) }
    }
}

/// Enter a kind of bike
///
/// A bike that is entered with it takes over its use, drivetrain, limit and group, and its parts are of its models; what
/// the bike's own call says wins.
#[utoipa::path(
    operation_id = "create_bike_kind",
    tag = "bikes",
    security(("bearer" = ["manager"])),
    request_body(content = NewBikeKind, example = json!({
        "name": "hire bike", "use": "town", "drivetrain": {"speeds": 8}, "limit_percent": 0.75
    })),
    responses((status = 201, description = "The kind", body = BikeKindDocument,
        headers(("Location" = String, description = "Address of the kind"))))
)]
#[post("/v1/bike-kinds")]
async fn create_bike_kind(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    body: Json<NewBikeKind>,
) -> Result<HttpResponse, Problem> {
    let kind = bike_kinds::create(&services, &mut change, body.0.parse()?).await?;
    let (address, revision) = (format!("/v1/bike-kinds/{}", kind.id), kind.revision);
    Ok(answer::created(address, revision, BikeKindDocument::from(kind)))
}

/// List kinds of bike
#[utoipa::path(
    operation_id = "list_bike_kinds",
    tag = "bikes",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of kinds", body = BikeKindList))
)]
#[get("/v1/bike-kinds")]
async fn list_bike_kinds(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = bike_kinds::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, BikeKindDocument::from))
}

/// Get a kind of bike
#[utoipa::path(
    operation_id = "get_bike_kind",
    tag = "bikes",
    security(("bearer" = ["mechanic", "manager"])),
    params(("kind_id" = Uuid, Path, description = "The kind")),
    responses((status = 200, description = "The kind", body = BikeKindDocument))
)]
#[get("/v1/bike-kinds/{kind_id}")]
async fn get_bike_kind(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    kind_id: web::Path<BikeKindId>,
) -> Result<HttpResponse, Problem> {
    let kind = bike_kinds::get(&services, &actor, *kind_id).await?;
    Ok(answer::current(kind.revision, BikeKindDocument::from(kind)))
}

/// Change a kind of bike
///
/// Where bikes are of it, `apply_to_bikes` says whether they follow. Those that do are as if they had been so from the
/// start; their outlooks are computed anew within seconds.
#[utoipa::path(
    operation_id = "change_bike_kind",
    tag = "bikes",
    security(("bearer" = ["manager"])),
    params(("kind_id" = Uuid, Path, description = "The kind"),
        ("If-Match" = String, Header, description = "`ETag` of the kind as you read it", example = "\"1\"")),
    request_body(content = BikeKindChange, example = json!({"limit_percent": 0.5, "apply_to_bikes": true})),
    responses((status = 200, description = "The kind after the change", body = BikeKindDocument))
)]
#[patch("/v1/bike-kinds/{kind_id}")]
async fn change_bike_kind(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    kind_id: web::Path<BikeKindId>,
    seen: IfMatch,
    body: Json<BikeKindChange>,
) -> Result<HttpResponse, Problem> {
    let patch = body.0.parse()?;
    let revision = seen
        .revision(async || Ok(bike_kinds::get(&services, change.actor(), *kind_id).await?.revision))
        .await?;
    let kind = bike_kinds::change(&services, &mut change, *kind_id, revision, patch).await?;
    Ok(answer::current(kind.revision, BikeKindDocument::from(kind)))
}

/// Delete a kind of bike
///
/// Refused while bikes are of it.
#[utoipa::path(
    operation_id = "delete_bike_kind",
    tag = "bikes",
    security(("bearer" = ["manager"])),
    params(("kind_id" = Uuid, Path, description = "The kind"),
        ("If-Match" = String, Header, description = "`ETag` of the kind as you read it", example = "\"1\"")),
    responses((status = 204, description = "The kind is gone"))
)]
#[delete("/v1/bike-kinds/{kind_id}")]
async fn delete_bike_kind(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    kind_id: web::Path<BikeKindId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(bike_kinds::get(&services, change.actor(), *kind_id).await?.revision))
        .await?;
    bike_kinds::delete(&services, &mut change, *kind_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
