//! The coming year by month.

use actix_web::{HttpResponse, get, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use wear_core::fleet::coming_year::{Needs, Range};

use crate::domain::{GroupName, Month};
use crate::service::Services;
use crate::service::coming_year::{self, YearAhead};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::{Problem, ProblemDocument};
use crate::web::query::{Parameters, Query};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_coming_year);
}

/// A number that isn't known yet.
#[derive(Serialize, ToSchema)]
#[schema(as = ComingRange)]
struct RangeDocument {
    /// One chance in ten that it is less.
    #[schema(example = 9)]
    p10: i64,
    /// As likely less as more.
    #[schema(example = 14)]
    p50: i64,
    /// One chance in ten that it is more.
    #[schema(example = 20)]
    p90: i64,
    /// Expected.
    #[schema(example = 14.3)]
    mean: f64,
}

impl From<Range> for RangeDocument {
    fn from(range: Range) -> Self {
        let Range { p10, p50, p90, mean } = range;
        let [p10, p50, p90] = [p10, p50, p90].map(|value| value.round() as i64);
        Self { p10, p50, p90, mean }
    }
}

/// What a time uses.
#[derive(Serialize, ToSchema)]
#[schema(as = ComingNeeds)]
struct NeedsDocument {
    /// Chains: one for each swap.
    chains: RangeDocument,
    /// Cassettes, as far as they are on record; cogs that are parts of their own count together as one.
    cassettes: RangeDocument,
    /// Rings, as far as they are on record.
    rings: RangeDocument,
    /// Minutes at the bench, set-up included.
    bench_minutes: RangeDocument,
    /// Parts and labour, minor units.
    cost_minor: RangeDocument,
}

impl From<Needs> for NeedsDocument {
    fn from(needs: Needs) -> Self {
        let Needs { chains, cassettes, rings, minutes, cost } = needs;
        Self {
            chains: chains.into(),
            cassettes: cassettes.into(),
            rings: rings.into(),
            bench_minutes: minutes.into(),
            cost_minor: cost.into(),
        }
    }
}

/// What a month uses.
#[derive(Serialize, ToSchema)]
#[schema(as = ComingMonth)]
struct MonthDocument {
    /// The month.
    #[schema(example = "2026-12")]
    month: String,
    #[serde(flatten)]
    needs: NeedsDocument,
}

/// The coming year.
#[derive(Serialize, ToSchema)]
#[schema(as = ComingYear)]
struct ComingYearDocument {
    /// The group; null for the workshop as a whole.
    group: Option<String>,
    /// The date that it was counted from.
    as_of: NaiveDate,
    /// Currency of the money.
    #[schema(example = "EUR")]
    currency: String,
    /// Bikes whose outlooks were counted.
    bikes_counted: usize,
    /// Bikes whose outlooks are being computed anew and weren't counted; ask again in a minute.
    bikes_waiting: usize,
    /// What is left of the present month, with what is overdue already. Not part of `year`.
    rest_of_month: NeedsDocument,
    /// The twelve months that follow.
    #[schema(min_items = 12, max_items = 12)]
    months: Vec<MonthDocument>,
    /// These twelve together. Months aren't independent of each other, so their P10 and P90 don't add up to the year's.
    year: NeedsDocument,
    /// What was assumed for want of data.
    assumed: Vec<String>,
    /// The same as stable words for programs.
    assumed_codes: Vec<&'static str>,
}

impl From<YearAhead> for ComingYearDocument {
    fn from(ahead: YearAhead) -> Self {
        let YearAhead { group, as_of, currency, bikes_counted, bikes_waiting, months, assumed, known } =
            ahead;
        let mut periods = known.periods.into_iter();
        let rest = periods.next().unwrap_or_default();
        let month =
            |(month, needs): (Month, Needs)| MonthDocument { month: month.to_string(), needs: needs.into() };
        Self {
            group: group.map(|group| group.to_string()),
            as_of,
            currency: currency.to_string(),
            bikes_counted,
            bikes_waiting,
            rest_of_month: rest.into(),
            months: months.into_iter().zip(periods).map(month).collect(),
            year: known.year.into(),
            assumed_codes: assumed.iter().map(|it| it.code()).collect(),
            assumed: assumed.iter().map(ToString::to_string).collect(),
        }
    }
}

#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct ComingYearQuery {
    /// Only the bikes of this group.
    #[param(value_type = Option<String>, min_length = 1, max_length = 64)]
    group: Option<String>,
}

/// Get what the coming year needs, by month
///
/// Chains, cassettes, rings, bench minutes and money of each of the twelve months that follow, and of all of them. Each
/// bike's next swap comes as its outlook says; those after it by the life of a new chain and the use that is expected,
/// season included. Cassettes and rings go with a chain when they are used up by then. What all bikes have in common, a
/// wet or a busy year, is in the ranges.
#[utoipa::path(
    operation_id = "get_coming_year",
    tag = "decisions",
    security(("bearer" = ["mechanic", "manager"])),
    params(ComingYearQuery),
    responses(
        (status = 200, description = "The coming year", body = ComingYearDocument),
        (status = 404, description = "The fleet has no bike of the group", body = ProblemDocument,
            content_type = "application/problem+json")
    )
)]
#[get("/v1/coming-year")]
async fn get_coming_year(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<ComingYearQuery>,
) -> Result<HttpResponse, Problem> {
    let ComingYearQuery { group } = query.0;
    let mut parameters = Parameters::new();
    let group = parameters.optional("group", group.as_deref(), GroupName::new);
    parameters.finish()?;
    let gathered = coming_year::gather(&services, &actor, group).await?;
    let counted = web::block(move || gathered.count()).await.map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().json(ComingYearDocument::from(counted)))
}
