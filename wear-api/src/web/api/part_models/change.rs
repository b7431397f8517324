use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;
use wear_core::units::Limit;

use super::facts::PartModelDocument;
use crate::domain::{
    Currency, Field, FieldErrors, Form, Invalid, Label, Money, PartModelFacts, PartModelId, Place,
};
use crate::input::parse;
use crate::service::{Services, part_models};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;

/// What to change of a part model; what is left out stays. Its shape stays: another shape is another model.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PartModelChange {
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
    responses((status = 200, description = "The part model after the change", body = PartModelDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/part-models/{part_model_id}")]
pub(super) async fn change_part_model(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    part_model_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<PartModelChange>,
) -> Result<HttpResponse, Problem> {
    let id = PartModelId::from_uuid(*part_model_id);
    let facts = body.0.apply(part_models::get(&services, &actor, id).await?.facts)?;
    let model = part_models::change(&services, &actor, id, seen.0, &facts).await?;
    Ok(HttpResponse::Ok().insert_header(etag(model.revision)).json(PartModelDocument::from(model)))
}
