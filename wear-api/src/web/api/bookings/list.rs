use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::document::BookingDocument;
use crate::domain::BookingFilter;
use crate::input::parse;
use crate::service::{Services, bookings};
use crate::web::auth::{As, Mechanic};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// Which bookings.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct BookingQuery {
    /// Bookings of this bike.
    #[param(value_type = Option<Uuid>)]
    bike_id: Option<String>,
    /// Bookings that end on this date or later.
    #[param(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Bookings that begin on this date or earlier.
    #[param(value_type = Option<String>, format = Date)]
    to: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of bookings.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct BookingList {
    /// Bookings of this page, by first day.
    items: Vec<BookingDocument>,
}

/// List bookings
#[utoipa::path(
    operation_id = "list_bookings",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(BookingQuery),
    responses((status = 200, description = "A page of bookings", body = BookingList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/bookings")]
pub(super) async fn list_bookings(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<BookingQuery>,
) -> Result<HttpResponse, Problem> {
    let BookingQuery { bike_id, from, to, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = BookingFilter {
        bike_id: parameters.word("bike_id", bike_id.as_deref()),
        from: parameters.optional("from", from.as_deref(), parse::date),
        to: parameters.optional("to", to.as_deref(), parse::date),
    };
    let (size, after) = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = bookings::list(&services, &actor, &filter, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, BookingDocument::from))
}
