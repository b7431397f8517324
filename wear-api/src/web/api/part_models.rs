//! Part models: what a shop would order.

use actix_web::{HttpResponse, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::bounds::{self, Bound, OutOfRange};
use wear_core::units::{JockeyTeeth, Limit, Teeth};

use crate::domain::{
    Currency, Field, FieldErrors, Form, Geometry, Invalid, Label, Money, PartModel, PartModelFacts,
    PartModelId, Place,
};
use crate::input::parse;
use crate::service::{Services, part_models};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_part_model)
        .service(list_part_models)
        .service(get_part_model)
        .service(change_part_model);
}

/// A part model to be entered. What describes its shape depends on the place it fits: a chain may have
/// `sprockets`; a cassette has `cogs`; a cog, a ring and jockey wheels have `teeth`.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewPartModel {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// The place it fits.
    #[schema(value_type = Place)]
    place: String,
    /// Sprockets that a chain is made for.
    #[schema(minimum = 1, maximum = 14)]
    sprockets: Option<i64>,
    /// Teeth of a cassette's cogs.
    #[schema(schema_with = schema::cogs_or_null, required = false)]
    cogs: Option<Vec<i64>>,
    /// Whether a cassette comes as one piece, so that no cog can be replaced alone; no when left out.
    one_piece: Option<bool>,
    /// Teeth of a cog, a ring or each jockey wheel.
    #[schema(minimum = 8, maximum = 80)]
    teeth: Option<i64>,
    /// Whether wide and narrow teeth alternate on a ring; no when left out.
    narrow_wide: Option<bool>,
    /// Price of one, minor units.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    price_minor: Option<i64>,
    /// Currency of the price.
    #[schema(pattern = "^[A-Z]{3}$")]
    currency: Option<String>,
    /// Swap limit of chains of this model.
    #[schema(schema_with = schema::optional::limit_percent, required = false)]
    limit_percent: Option<f64>,
}

impl NewPartModel {
    fn parse(self) -> Result<PartModelFacts, FieldErrors> {
        let mut errors = FieldErrors::new();
        let name = errors.keep("/name", Label::new(&self.name));
        let place = errors.keep("/place", parse::text::<Place>(&self.place));
        let price = price(self.price_minor, self.currency.as_deref(), &mut errors);
        let limit = self.limit_percent.and_then(|limit| errors.keep("/limit_percent", Limit::new(limit)));
        if limit.is_some() && place.is_some_and(|place| place != Place::Chain) {
            let cause = Invalid::Together { what: Field::LimitAndPlace, allowed: Form::LimitWithChain };
            errors.push(cause.at("/limit_percent"));
        }
        let geometry = place.and_then(|place| self.geometry(place, &mut errors));
        match (name, geometry) {
            (Some(name), Some(geometry)) if errors.is_empty() => {
                Ok(PartModelFacts { name, geometry, price, limit })
            }
            _ => Err(errors),
        }
    }

    fn geometry(&self, place: Place, errors: &mut FieldErrors) -> Option<Geometry> {
        for (there, pointer, places) in [
            (self.sprockets.is_some(), "/sprockets", &[Place::Chain][..]),
            (self.cogs.is_some(), "/cogs", &[Place::Cassette]),
            (self.one_piece.is_some(), "/one_piece", &[Place::Cassette]),
            (self.teeth.is_some(), "/teeth", &[Place::Cog, Place::Ring, Place::JockeyWheels]),
            (self.narrow_wide.is_some(), "/narrow_wide", &[Place::Ring]),
        ] {
            if there && !places.contains(&place) {
                let what = Field::PlaceAndShape;
                let allowed = Form::ShapeOfPlace;
                errors.push(Invalid::Together { what, allowed }.at(pointer));
            }
        }
        Some(match place {
            Place::Chain => Geometry::Chain {
                sprockets: self.sprockets.and_then(|count| {
                    errors.keep("/sprockets", parse::whole::<u32>(count, &bounds::COG_COUNT))
                }),
            },
            Place::Cassette => Geometry::Cassette {
                cogs: self.cog_teeth(errors)?,
                one_piece: self.one_piece.unwrap_or(false),
            },
            Place::Cog => Geometry::Cog { teeth: self.some_teeth(&bounds::TEETH, Teeth::new, errors)? },
            Place::Ring => Geometry::Ring {
                teeth: self.some_teeth(&bounds::TEETH, Teeth::new, errors)?,
                narrow_wide: self.narrow_wide.unwrap_or(false),
            },
            Place::JockeyWheels => {
                let teeth = self.some_teeth(&bounds::JOCKEY_TEETH, JockeyTeeth::new, errors)?;
                Geometry::JockeyWheels { teeth }
            }
        })
    }

    fn some_teeth<T>(
        &self,
        bound: &'static Bound,
        new: impl Fn(u32) -> Result<T, OutOfRange>,
        errors: &mut FieldErrors,
    ) -> Option<T> {
        let Some(count) = self.teeth else {
            errors.push(Invalid::Missing { what: Field::Teeth, allowed: Form::Teeth }.at("/teeth"));
            return None;
        };
        let count = errors.keep("/teeth", parse::whole::<u32>(count, bound))?;
        errors.keep("/teeth", new(count))
    }

    fn cog_teeth(&self, errors: &mut FieldErrors) -> Option<Vec<Teeth>> {
        let Some(cogs) = &self.cogs else {
            errors.push(Invalid::Missing { what: Field::Cogs, allowed: Form::TeethOfEachCog }.at("/cogs"));
            return None;
        };
        if bounds::COG_COUNT.check(cogs.len() as f64).is_err() {
            let (minimum, maximum) = (bounds::COG_COUNT.minimum as usize, bounds::COG_COUNT.maximum as usize);
            let cause = Invalid::Count { what: Field::Cogs, found: cogs.len(), minimum, maximum };
            errors.push(cause.at("/cogs"));
            return None;
        }
        let mut teeth = Vec::with_capacity(cogs.len());
        for (index, &count) in cogs.iter().enumerate() {
            let pointer = format!("/cogs/{index}");
            let count = errors.keep(&pointer, parse::whole::<u32>(count, &bounds::TEETH));
            teeth.extend(count.and_then(|count| errors.keep(&pointer, Teeth::new(count))));
        }
        teeth.sort_unstable();
        (teeth.len() == cogs.len()).then_some(teeth)
    }
}

pub(super) fn price(minor: Option<i64>, currency: Option<&str>, errors: &mut FieldErrors) -> Option<Money> {
    match (minor, currency) {
        (None, None) => None,
        (Some(minor), Some(currency)) => {
            let currency = errors.keep("/currency", parse::text::<Currency>(currency))?;
            errors.keep("/price_minor", Money::new(minor, currency))
        }
        (minor, _) => {
            let pointer = if minor.is_some() { "/currency" } else { "/price_minor" };
            let cause = Invalid::Missing { what: Field::HalfOfPrice, allowed: Form::PriceAndCurrency };
            errors.push(cause.at(pointer));
            None
        }
    }
}

/// A part model.
#[derive(Serialize, ToSchema)]
#[schema(as = PartModel)]
struct PartModelDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    name: String,
    /// The place it fits.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Sprockets that a chain is made for; left out of other parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    sprockets: Option<u32>,
    /// Teeth of a cassette's cogs, fewest first; left out of other parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    cogs: Option<Vec<u16>>,
    /// Whether a cassette comes as one piece; left out of other parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    one_piece: Option<bool>,
    /// Teeth of a cog, a ring or each jockey wheel; left out of other parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    teeth: Option<u16>,
    /// Whether wide and narrow teeth alternate on a ring; left out of other parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    narrow_wide: Option<bool>,
    /// Price of one, minor units; null when nobody said.
    price_minor: Option<i64>,
    /// Currency of the price.
    currency: Option<String>,
    /// Swap limit of chains of this model; null where the workshop's or the trade's holds.
    limit_percent: Option<f64>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<PartModel> for PartModelDocument {
    fn from(PartModel { id, facts, created_at, revision }: PartModel) -> Self {
        let PartModelFacts { name, geometry, price, limit } = facts;
        let mut document = Self {
            id: id.uuid(),
            name: name.to_string(),
            place: geometry.place().as_str(),
            sprockets: None,
            cogs: None,
            one_piece: None,
            teeth: None,
            narrow_wide: None,
            price_minor: price.map(Money::minor),
            currency: price.map(|price| price.currency().to_string()),
            limit_percent: limit.map(Limit::get),
            created_at: created_at.datetime(),
            revision,
        };
        match geometry {
            Geometry::Chain { sprockets } => document.sprockets = sprockets,
            Geometry::Cassette { cogs, one_piece } => {
                document.cogs = Some(cogs.iter().map(|teeth| teeth.get()).collect());
                document.one_piece = Some(one_piece);
            }
            Geometry::Cog { teeth } => document.teeth = Some(teeth.get()),
            Geometry::Ring { teeth, narrow_wide } => {
                document.teeth = Some(teeth.get());
                document.narrow_wide = Some(narrow_wide);
            }
            Geometry::JockeyWheels { teeth } => document.teeth = Some(teeth.get()),
        }
        document
    }
}

/// A page of part models.
#[derive(ToSchema)]
#[allow(dead_code)]
struct PartModelList {
    /// Part models of this page.
    items: Vec<PartModelDocument>,
}

/// What to change of a part model; what is left out stays. Its shape stays: another shape is another model.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PartModelChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// Price of one, minor units of `currency`.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    price_minor: Option<i64>,
    /// Currency of the price; the old price's when left out.
    #[schema(pattern = "^[A-Z]{3}$")]
    currency: Option<String>,
    /// Swap limit of chains of this model; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<f64>, minimum = 0.2, maximum = 2.0)]
    limit_percent: Option<Option<f64>>,
}

impl PartModelChange {
    fn apply(self, facts: PartModelFacts) -> Result<PartModelFacts, FieldErrors> {
        let Self { name, price_minor, currency, limit_percent } = self;
        let mut errors = FieldErrors::new();
        let PartModelFacts { name: old_name, geometry, price: old_price, limit: old_limit } = facts;
        let name = name.and_then(|name| errors.keep("/name", Label::new(&name))).unwrap_or(old_name);
        let given_currency =
            currency.and_then(|code| errors.keep("/currency", parse::text::<Currency>(&code)));
        let minor = price_minor.or(old_price.map(Money::minor));
        let price = match (minor, given_currency.or(old_price.map(Money::currency))) {
            (Some(minor), Some(currency)) => errors.keep("/price_minor", Money::new(minor, currency)),
            (None, None) => None,
            (minor, _) => {
                let pointer = if minor.is_some() { "/currency" } else { "/price_minor" };
                let what = Field::HalfOfPrice;
                let cause = Invalid::Missing { what, allowed: Form::PriceAndCurrency };
                errors.push(cause.at(pointer));
                None
            }
        };
        let limit = match limit_percent {
            Some(Some(_)) if geometry.place() != Place::Chain => {
                let what = Field::LimitAndModelPlace;
                let cause = Invalid::Together { what, allowed: Form::LimitWithChain };
                errors.push(cause.at("/limit_percent"));
                None
            }
            Some(limit) => limit.and_then(|limit| errors.keep("/limit_percent", Limit::new(limit))),
            None => old_limit,
        };
        if errors.is_empty() { Ok(PartModelFacts { name, geometry, price, limit }) } else { Err(errors) }
    }
}

/// Enter a part model
#[utoipa::path(
    operation_id = "create_part_model",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewPartModel, examples(
        ("chain" = (summary = "A chain", value = json!({"name": "Chain 8-speed", "place": "chain", "sprockets": 8, "price_minor": 1490, "currency": "EUR", "limit_percent": 0.75}))),
        ("cassette" = (summary = "A cassette", value = json!({"name": "Cassette 11-30", "place": "cassette", "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "one_piece": false, "price_minor": 2790, "currency": "EUR"})))
    )),
    responses((status = 201, description = "The part model", body = PartModelDocument,
        headers(("Location" = String, description = "Address of the part model"))))
)]
#[post("/v1/part-models")]
async fn create_part_model(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewPartModel>,
) -> Result<HttpResponse, Problem> {
    let model = part_models::create(&services, &mut change, body.0.parse()?).await?;
    Ok(answer::created(
        format!("/v1/part-models/{}", model.id),
        model.revision,
        PartModelDocument::from(model),
    ))
}

/// List part models
#[utoipa::path(
    operation_id = "list_part_models",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of part models", body = PartModelList))
)]
#[get("/v1/part-models")]
async fn list_part_models(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = part_models::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, PartModelDocument::from))
}

/// Get a part model
#[utoipa::path(
    operation_id = "get_part_model",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model")),
    responses((status = 200, description = "The part model", body = PartModelDocument))
)]
#[get("/v1/part-models/{part_model_id}")]
async fn get_part_model(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<PartModelId>,
) -> Result<HttpResponse, Problem> {
    let model = part_models::get(&services, &actor, *part_model_id).await?;
    Ok(answer::current(model.revision, PartModelDocument::from(model)))
}

/// Change a part model
///
/// Outlooks that rest on it are computed anew within seconds.
#[utoipa::path(
    operation_id = "change_part_model",
    tag = "parts",
    security(("bearer" = ["mechanic", "manager"])),
    params(("part_model_id" = Uuid, Path, description = "The part model"),
        ("If-Match" = String, Header, description = "`ETag` of the part model as you read it", example = "\"1\"")),
    request_body(content = PartModelChange, example = json!({"price_minor": 1590, "currency": "EUR"})),
    responses((status = 200, description = "The part model after the change", body = PartModelDocument))
)]
#[patch("/v1/part-models/{part_model_id}")]
async fn change_part_model(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    part_model_id: web::Path<PartModelId>,
    seen: IfMatch,
    body: Json<PartModelChange>,
) -> Result<HttpResponse, Problem> {
    let apply = |facts| body.0.apply(facts);
    let revision = seen
        .revision(async || Ok(part_models::get(&services, change.actor(), *part_model_id).await?.revision))
        .await?;
    let model = part_models::change(&services, &mut change, *part_model_id, revision, apply).await?;
    Ok(answer::current(model.revision, PartModelDocument::from(model)))
}
