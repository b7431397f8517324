//! Bookings: when bikes are away and can't be on the bench.

use actix_web::{HttpRequest, HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{BikeId, Booking, BookingFacts, BookingFilter, BookingId, FieldErrors, Note};
use crate::input::parse;
use crate::service::Services;
use crate::service::bookings::{self, BookingPatch};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::{answer, pagination};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_booking)
        .service(list_bookings)
        .service(get_booking)
        .service(change_booking)
        .service(remove_booking);
}

/// A time at which a bike is away.
#[derive(Serialize, ToSchema)]
#[schema(as = Booking)]
struct BookingDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// First day that it is away.
    from: NaiveDate,
    /// Last day that it is away.
    to: NaiveDate,
    /// A remark; null when there is none.
    note: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Booking> for BookingDocument {
    fn from(Booking { id, facts, created_at, revision }: Booking) -> Self {
        let BookingFacts { bike_id, from, to, note } = facts;
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            from,
            to,
            note: note.map(|note| note.to_string()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// A booking to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewBooking {
    /// The bike that is away.
    bike_id: Uuid,
    /// First day that it is away.
    #[schema(value_type = String, format = Date)]
    from: String,
    /// Last day that it is away, the same day or later.
    #[schema(value_type = String, format = Date)]
    to: String,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
}

impl NewBooking {
    fn parse(self) -> Result<BookingFacts, FieldErrors> {
        let Self { bike_id, from, to, note } = self;
        let mut errors = FieldErrors::new();
        let from = errors.keep("/from", parse::date(&from));
        let to = errors.keep("/to", parse::date(&to));
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        match (from, to) {
            (Some(from), Some(to)) if errors.is_empty() => {
                Ok(BookingFacts { bike_id: BikeId::from_uuid(bike_id), from, to, note })
            }
            _ => Err(errors),
        }
    }
}

/// Which bookings.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct BookingQuery {
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
struct BookingList {
    /// Bookings of this page, by first day.
    items: Vec<BookingDocument>,
}

/// What to change of a booking; what is left out stays, and so does its bike.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BookingChange {
    /// First day that it is away.
    #[schema(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Last day that it is away.
    #[schema(value_type = Option<String>, format = Date)]
    to: Option<String>,
    /// A remark; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 2000)]
    note: Option<Option<String>>,
}

impl BookingChange {
    fn parse(self) -> Result<BookingPatch, FieldErrors> {
        let Self { from, to, note } = self;
        let mut errors = FieldErrors::new();
        let from = from.and_then(|from| errors.keep("/from", parse::date(&from)));
        let to = to.and_then(|to| errors.keep("/to", parse::date(&to)));
        let note = note.map(|note| note.and_then(|note| errors.keep("/note", Note::new(&note))));
        if errors.is_empty() { Ok(BookingPatch { from, to, note }) } else { Err(errors) }
    }
}

/// Enter a booking
///
/// From its first day to its last the bike is away and isn't planned for the bench.
#[utoipa::path(
    operation_id = "create_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewBooking, example = json!({
        "bike_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "from": "2026-12-01", "to": "2026-12-04",
        "note": "school trip"
    })),
    responses((status = 201, description = "The booking", body = BookingDocument,
        headers(("Location" = String, description = "Address of the booking"))))
)]
#[post("/v1/bookings")]
async fn create_booking(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewBooking>,
) -> Result<HttpResponse, Problem> {
    let booking = bookings::create(&services, &mut change, body.0.parse()?).await?;
    Ok(answer::created(
        format!("/v1/bookings/{}", booking.id),
        booking.revision,
        BookingDocument::from(booking),
    ))
}

/// List bookings
#[utoipa::path(
    operation_id = "list_bookings",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(BookingQuery),
    responses((status = 200, description = "A page of bookings", body = BookingList))
)]
#[get("/v1/bookings")]
async fn list_bookings(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<BookingQuery>,
) -> Result<HttpResponse, Problem> {
    let BookingQuery { bike_id, from, to, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = BookingFilter {
        bike_id: parameters.word("bike_id", bike_id.as_deref()),
        days: parameters.days(from.as_deref(), to.as_deref()),
    };
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = bookings::list(&services, &actor, &filter, &page).await?;
    Ok(pagination::answer(&request, page, BookingDocument::from))
}

/// Get a booking
#[utoipa::path(
    operation_id = "get_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("booking_id" = Uuid, Path, description = "The booking")),
    responses((status = 200, description = "The booking", body = BookingDocument))
)]
#[get("/v1/bookings/{booking_id}")]
async fn get_booking(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    booking_id: web::Path<BookingId>,
) -> Result<HttpResponse, Problem> {
    let booking = bookings::get(&services, &actor, *booking_id).await?;
    Ok(answer::current(booking.revision, BookingDocument::from(booking)))
}

/// Change a booking
#[utoipa::path(
    operation_id = "change_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("booking_id" = Uuid, Path, description = "The booking"),
        ("If-Match" = String, Header, description = "`ETag` of the booking as you read it", example = "\"1\"")),
    request_body(content = BookingChange, example = json!({"to": "2026-12-24"})),
    responses((status = 200, description = "The booking after the change", body = BookingDocument))
)]
#[patch("/v1/bookings/{booking_id}")]
async fn change_booking(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    booking_id: web::Path<BookingId>,
    seen: IfMatch,
    body: Json<BookingChange>,
) -> Result<HttpResponse, Problem> {
    let patch = body.0.parse()?;
    let revision = seen
        .revision(async || Ok(bookings::get(&services, change.actor(), *booking_id).await?.revision))
        .await?;
    let booking = bookings::change(&services, &mut change, *booking_id, revision, patch).await?;
    Ok(answer::current(booking.revision, BookingDocument::from(booking)))
}

/// Remove a booking
#[utoipa::path(
    operation_id = "remove_booking",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("booking_id" = Uuid, Path, description = "The booking"),
        ("If-Match" = String, Header, description = "`ETag` of the booking as you read it", example = "\"1\"")),
    responses((status = 204, description = "The booking is gone"))
)]
#[delete("/v1/bookings/{booking_id}")]
async fn remove_booking(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    booking_id: web::Path<BookingId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(bookings::get(&services, change.actor(), *booking_id).await?.revision))
        .await?;
    bookings::remove(&services, &mut change, *booking_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
