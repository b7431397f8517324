//! The lubricants that a workshop puts on chains.

use actix_web::{HttpResponse, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::part_models::price;
use crate::domain::{
    Currency, Field, FieldErrors, Form, Invalid, Label, Lubricant, LubricantFacts, LubricantId, Minutes,
    Money, Timestamp,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::lubricants;
use crate::web::answer;
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_lubricant)
        .service(list_lubricants)
        .service(get_lubricant)
        .service(change_lubricant);
}

/// A lubricant that the workshop puts on chains.
#[derive(Serialize, ToSchema)]
#[schema(as = Lubricant)]
struct LubricantDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    name: String,
    /// What one application costs, the stuff alone, minor units; null when nobody said.
    price_minor: Option<i64>,
    /// Currency of the price.
    currency: Option<String>,
    /// Minutes of work that one application takes; null when nobody said.
    minutes: Option<u32>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Since when it is out of use; null while it is in use.
    retired_at: Option<DateTime<Utc>>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Lubricant> for LubricantDocument {
    fn from(Lubricant { id, facts, created_at, retired_at, revision }: Lubricant) -> Self {
        let LubricantFacts { name, price, minutes } = facts;
        Self {
            id: id.uuid(),
            name: name.to_string(),
            price_minor: price.map(Money::minor),
            currency: price.map(|price| price.currency().to_string()),
            minutes: minutes.map(Minutes::get),
            created_at: created_at.datetime(),
            retired_at: retired_at.map(Timestamp::datetime),
            revision,
        }
    }
}

/// A lubricant to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewLubricant {
    /// What people call it; no other lubricant in use has the name.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// What one application costs, the stuff alone, minor units: held against what it saves.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    price_minor: Option<i64>,
    /// Currency of the price.
    #[schema(pattern = "^[A-Z]{3}$")]
    currency: Option<String>,
    /// Minutes of work that one application takes.
    #[schema(minimum = 0, maximum = 1_000_000)]
    minutes: Option<i64>,
}

impl NewLubricant {
    fn parse(self) -> Result<LubricantFacts, FieldErrors> {
        let Self { name, price_minor, currency, minutes } = self;
        let mut errors = FieldErrors::new();
        let name = errors.keep("/name", Label::new(&name));
        let price = price(price_minor, currency.as_deref(), &mut errors);
        let minutes = minutes.and_then(|minutes| errors.keep("/minutes", Minutes::new(minutes)));
        match name {
            Some(name) if errors.is_empty() => Ok(LubricantFacts { name, price, minutes }),
            _ => Err(errors),
        }
    }
}

/// A page of lubricants.
#[derive(ToSchema)]
#[allow(dead_code)]
struct LubricantList {
    /// Lubricants of this page, retired ones too, in the order they were entered.
    items: Vec<LubricantDocument>,
}

/// What to change of a lubricant; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct LubricantChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// What one application costs, the stuff alone, minor units of `currency`; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    price_minor: Option<Option<i64>>,
    /// Currency of the price; the old price's when left out.
    #[schema(pattern = "^[A-Z]{3}$")]
    currency: Option<String>,
    /// Minutes of work that one application takes; null takes them away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000)]
    minutes: Option<Option<i64>>,
    /// Since when it is out of use; null takes it into use again. Care that names it before stays.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = DateTime)]
    retired_at: Option<Option<String>>,
}

impl LubricantChange {
    fn retired_at(&self) -> Result<Option<Option<Timestamp>>, FieldErrors> {
        let mut errors = FieldErrors::new();
        let at = |at: &String| errors.keep("/retired_at", parse::text::<Timestamp>(at));
        let retired_at = self.retired_at.as_ref().map(|given| given.as_ref().and_then(at));
        if errors.is_empty() { Ok(retired_at) } else { Err(errors) }
    }

    fn apply(self, facts: LubricantFacts) -> Result<LubricantFacts, FieldErrors> {
        let Self { name, price_minor, currency, minutes, retired_at: _ } = self;
        let LubricantFacts { name: old_name, price: old_price, minutes: old_minutes } = facts;
        let mut errors = FieldErrors::new();
        let name = name.and_then(|name| errors.keep("/name", Label::new(&name))).unwrap_or(old_name);
        let given_currency =
            currency.and_then(|code| errors.keep("/currency", parse::text::<Currency>(&code)));
        let minor = price_minor.unwrap_or(old_price.map(Money::minor));
        let price = match (minor, given_currency.or(old_price.map(Money::currency))) {
            (Some(minor), Some(currency)) => errors.keep("/price_minor", Money::new(minor, currency)),
            (None, _) if given_currency.is_none() => None,
            (minor, _) => {
                let pointer = if minor.is_some() { "/currency" } else { "/price_minor" };
                let cause = Invalid::Missing { what: Field::HalfOfPrice, allowed: Form::PriceAndCurrency };
                errors.push(cause.at(pointer));
                None
            }
        };
        let minutes = match minutes {
            Some(minutes) => minutes.and_then(|minutes| errors.keep("/minutes", Minutes::new(minutes))),
            None => old_minutes,
        };
        if errors.is_empty() { Ok(LubricantFacts { name, price, minutes }) } else { Err(errors) }
    }
}

/// Enter a lubricant
///
/// Care that names it tells what chains are run on. Each night the fleet learns what that is worth, once chains on two
/// have been read; outlooks go by it, and a group's policy holds it against the lubricant in use.
#[utoipa::path(
    operation_id = "create_lubricant",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewLubricant, example = json!({"name": "drip wax", "price_minor": 85, "currency": "EUR", "minutes": 6})),
    responses((status = 201, description = "The lubricant", body = LubricantDocument,
        headers(("Location" = String, description = "Address of the lubricant"))))
)]
#[post("/v1/lubricants")]
async fn create_lubricant(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewLubricant>,
) -> Result<HttpResponse, Problem> {
    let lubricant = lubricants::create(&services, &mut change, body.0.parse()?).await?;
    Ok(answer::created(
        format!("/v1/lubricants/{}", lubricant.id),
        lubricant.revision,
        LubricantDocument::from(lubricant),
    ))
}

/// List lubricants
#[utoipa::path(
    operation_id = "list_lubricants",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of lubricants", body = LubricantList))
)]
#[get("/v1/lubricants")]
async fn list_lubricants(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = lubricants::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, LubricantDocument::from))
}

/// Get a lubricant
#[utoipa::path(
    operation_id = "get_lubricant",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("lubricant_id" = Uuid, Path, description = "The lubricant")),
    responses((status = 200, description = "The lubricant", body = LubricantDocument))
)]
#[get("/v1/lubricants/{lubricant_id}")]
async fn get_lubricant(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    lubricant_id: web::Path<LubricantId>,
) -> Result<HttpResponse, Problem> {
    let lubricant = lubricants::get(&services, &actor, *lubricant_id).await?;
    Ok(answer::current(lubricant.revision, LubricantDocument::from(lubricant)))
}

/// Change a lubricant
///
/// Another name or price, other minutes, out of use or in use again.
#[utoipa::path(
    operation_id = "change_lubricant",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("lubricant_id" = Uuid, Path, description = "The lubricant"),
        ("If-Match" = String, Header, description = "`ETag` of the lubricant as you read it", example = "\"1\"")),
    request_body(content = LubricantChange, example = json!({"price_minor": 95})),
    responses((status = 200, description = "The lubricant after the change", body = LubricantDocument))
)]
#[patch("/v1/lubricants/{lubricant_id}")]
async fn change_lubricant(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    lubricant_id: web::Path<LubricantId>,
    seen: IfMatch,
    body: Json<LubricantChange>,
) -> Result<HttpResponse, Problem> {
    let retired_at = body.0.retired_at()?;
    let apply = |facts| body.0.apply(facts);
    let revision = seen
        .revision(async || Ok(lubricants::get(&services, change.actor(), *lubricant_id).await?.revision))
        .await?;
    let (id, revision) = (*lubricant_id, revision);
    let lubricant = lubricants::change(&services, &mut change, id, revision, apply, retired_at).await?;
    Ok(answer::current(lubricant.revision, LubricantDocument::from(lubricant)))
}
