use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use super::document::PolicyDocument;
use crate::domain::{Field, Form, Invalid, Money, PriceWishes};
use crate::service::{Services, policy};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::{Problem, ProblemDocument};
use crate::web::query::{Parameters, Query};

/// Which group, and prices that stand in for those on record.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct PolicyQuery {
    /// The whole name of the group.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: String,
    /// Price of a chain; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    chain_minor: Option<String>,
    /// Price of a cassette; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    cassette_minor: Option<String>,
    /// Price of the rings, all of them; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    rings_minor: Option<String>,
    /// Price of one cog of a cassette that comes apart; the record's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    cog_minor: Option<String>,
    /// Labour of one swap; the workshop's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    swap_labour_minor: Option<String>,
    /// Cost of one reading; the workshop's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    reading_minor: Option<String>,
    /// Cost of one failure on the road; the workshop's when left out.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    failure_minor: Option<String>,
}

fn minor(given: &str) -> Result<i64, Invalid> {
    given
        .parse()
        .ok()
        .filter(|minor| (0..=Money::MAXIMUM_MINOR).contains(minor))
        .ok_or_else(|| Invalid::unparsed(Field::AmountMinor, given, Form::UpToBillions))
}

/// Get what is cheapest for a group
///
/// Cost per 1,000 km by swap limit from 0.30 to 1.20 percent with the looks that suit each, the best limit with its
/// interval, and what else could be done: keep the limit in force, run chain, cassette and rings to the end together,
/// ride several chains in turn, replace single cogs.
#[utoipa::path(
    operation_id = "get_policy",
    tag = "decisions",
    security(("bearer" = ["mechanic", "manager"])),
    params(PolicyQuery),
    responses(
        (status = 200, description = "The policy", body = PolicyDocument),
        (status = 404, description = "The fleet has no bike of the group", body = ProblemDocument,
            content_type = "application/problem+json")
    )
)]
#[get("/v1/policy")]
pub(super) async fn get_policy(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<PolicyQuery>,
) -> Result<HttpResponse, Problem> {
    let PolicyQuery {
        group,
        chain_minor,
        cassette_minor,
        rings_minor,
        cog_minor,
        swap_labour_minor,
        reading_minor,
        failure_minor,
    } = query.0;
    let mut parameters = Parameters::new();
    let group = parameters.word("group", Some(&group));
    let mut wish = |name: &str, given: Option<String>| parameters.optional(name, given.as_deref(), minor);
    let wishes = PriceWishes {
        chain_minor: wish("chain_minor", chain_minor),
        cassette_minor: wish("cassette_minor", cassette_minor),
        rings_minor: wish("rings_minor", rings_minor),
        cog_minor: wish("cog_minor", cog_minor),
        swap_labour_minor: wish("swap_labour_minor", swap_labour_minor),
        reading_minor: wish("reading_minor", reading_minor),
        failure_minor: wish("failure_minor", failure_minor),
    };
    let group = parameters.finish_with(group)?;
    let facts = policy::facts(&services, &actor, group, wishes).await?;
    let computed = web::block(move || facts.policy()).await.map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().json(PolicyDocument::from(computed?)))
}
