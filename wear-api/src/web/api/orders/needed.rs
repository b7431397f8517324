use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use super::document::OrdersDocument;
use crate::domain::{Field, Form, Invalid, ServiceLevel};
use crate::service::Services;
use crate::service::orders::{self, MOST_BIKES, MOST_HORIZON_DAYS, OrdersQuery};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Days that are counted where nobody says (A).
const HORIZON_DAYS: u32 = 28;

/// Bikes that are named behind each number where nobody says.
const BIKES: usize = 50;

/// What to count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct OrdersParameters {
    /// Days over which swaps are counted; an order also covers these days after its arrival. 28 when left out.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 182)]
    horizon_days: Option<String>,
    /// Probability of not running out within the lead time, for part models without one of their own. 0.95 when left
    /// out.
    #[param(value_type = Option<f64>, minimum = 0.5, maximum = 0.999)]
    service_level: Option<String>,
    /// Most bikes named behind each number. 50 when left out.
    #[param(value_type = Option<u32>, minimum = 0, maximum = 1000)]
    bikes: Option<String>,
}

/// What to order
///
/// Counts the swaps that the outlooks expect, by part model: each bike's chain comes off when it reaches its limit, or
/// on its `swap_by` where the advice is to swap; cassette and rings go with it when they are used up by then. The count
/// is exact (Poisson-binomial) under a season that all bikes share. Each place of a bike counts once. Where nobody
/// entered a model, parts are counted by their shape.
#[utoipa::path(
    operation_id = "get_orders_needed",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(OrdersParameters),
    responses((status = 200, description = "By part: what has to be ordered first", body = OrdersDocument))
)]
#[get("/v1/orders-needed")]
pub(super) async fn get_orders_needed(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<OrdersParameters>,
) -> Result<HttpResponse, Problem> {
    let OrdersParameters { horizon_days, service_level, bikes } = query.0;
    let mut parameters = Parameters::new();
    let horizon_days = parameters.optional("horizon_days", horizon_days.as_deref(), |given| {
        let days = given.parse().ok().filter(|days| (1..=MOST_HORIZON_DAYS).contains(days));
        days.ok_or_else(|| Invalid::unparsed(Field::Days, given, Form::Days182))
    });
    let service_level = parameters.optional("service_level", service_level.as_deref(), |given| {
        let wrong = || Invalid::unparsed(Field::ServiceLevel, given, Form::ServiceLevel);
        ServiceLevel::new(given.parse().map_err(|_| wrong())?)
    });
    let bikes = parameters.optional("bikes", bikes.as_deref(), |given| {
        let count = given.parse().ok().filter(|count| *count <= MOST_BIKES);
        count.ok_or_else(|| Invalid::unparsed(Field::Bikes, given, Form::UpTo1000))
    });
    let usual = parameters.finish_with(ServiceLevel::new(ServiceLevel::DEFAULT).ok())?;
    let query = OrdersQuery {
        horizon_days: horizon_days.unwrap_or(HORIZON_DAYS),
        service_level: service_level.unwrap_or(usual),
        bikes: bikes.unwrap_or(BIKES),
    };
    let gathered = orders::gather(&services, &actor).await?;
    let counted = web::block(move || gathered.count(query));
    let needed = counted.await.map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().json(OrdersDocument::of(needed, query)))
}
