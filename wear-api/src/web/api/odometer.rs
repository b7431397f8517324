//! What bikes' counters showed.

use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::outlooks::{OutlookDocument, WarningDocument};
use crate::domain::{
    BikeId, EnteredWith, FieldErrors, OdometerStatement, OdometerTotal, StatementId, Timestamp,
};
use crate::input::parse;
use crate::service::{Services, odometer};
use crate::web::api::voiding;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_statement).service(list_statements).service(void_statement);
    config.service(restore_odometer_statement);
}

/// What a bike's odometer showed.
#[derive(Serialize, ToSchema)]
#[schema(as = OdometerStatement)]
struct StatementDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// When it was read.
    read_at: DateTime<Utc>,
    /// What it showed.
    #[schema(schema_with = schema::odometer_km)]
    km: f64,
    /// The reading that it was entered with; null when there is none.
    reading_id: Option<Uuid>,
    /// The swap that it was entered with; null when there is none.
    swap_id: Option<Uuid>,
    /// The care that it was entered with; null when there is none.
    care_id: Option<Uuid>,
    /// When it was entered.
    entered_at: DateTime<Utc>,
    /// Since when it doesn't count; null when it does.
    voided_at: Option<DateTime<Utc>>,
    /// Why it doesn't count.
    voided_reason: Option<String>,
}

impl From<OdometerStatement> for StatementDocument {
    fn from(given: OdometerStatement) -> Self {
        let OdometerStatement { id, bike_id, read_at, total, entered_with, entered_at, voided } = given;
        let (mut reading_id, mut swap_id, mut care_id) = (None, None, None);
        match entered_with {
            Some(EnteredWith::Reading(id)) => reading_id = Some(id.uuid()),
            Some(EnteredWith::Swap(id)) => swap_id = Some(id.uuid()),
            Some(EnteredWith::Care(id)) => care_id = Some(id.uuid()),
            None => {}
        }
        let (voided_at, voided_reason) = voided.map(voiding::told).unzip();
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            read_at: read_at.datetime(),
            km: total.km(),
            reading_id,
            swap_id,
            care_id,
            entered_at: entered_at.datetime(),
            voided_at,
            voided_reason,
        }
    }
}

/// What an odometer shows.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewOdometerStatement)]
struct NewStatement {
    /// When it was read; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    read_at: Option<String>,
    /// What it showed.
    #[schema(schema_with = schema::odometer_km)]
    km: f64,
}

impl NewStatement {
    fn parse(self, now: Timestamp) -> Result<(Timestamp, OdometerTotal), FieldErrors> {
        let Self { read_at, km } = self;
        let mut errors = FieldErrors::new();
        let read_at = match read_at {
            Some(at) => errors.keep("/read_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        let total = errors.keep("/km", OdometerTotal::from_km(km));
        read_at.zip(total).ok_or(errors)
    }
}

/// A statement, what doesn't fit about it, and what is known of the bike with it.
#[derive(Serialize, ToSchema)]
#[schema(as = OdometerAnswer)]
struct StatementAnswer {
    /// The statement.
    statement: StatementDocument,
    /// What a person should know of it: `new_counter` when the total is smaller than the one before, or the next one
    /// smaller than it; `rides_exceed_counter` when rides add up to more than the odometer counted.
    warnings: Vec<WarningDocument>,
    /// The bike's outlook with the statement counted.
    outlook: OutlookDocument,
}

/// A page of statements.
#[derive(ToSchema)]
#[allow(dead_code)]
#[schema(as = OdometerStatementList)]
struct StatementList {
    /// Statements of this page, newest first, voided ones too.
    items: Vec<StatementDocument>,
}

/// Why a statement doesn't count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "read from another bike",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    reason: String,
}

/// Enter what an odometer shows
///
/// Between two statements the bike went as far as they differ; what rides don't account for counts as riding of the
/// bike's usual kind, spread evenly over the days. A total smaller than the one before is a new odometer. The same
/// total at the same instant is one statement.
#[utoipa::path(
    operation_id = "create_odometer_statement",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewStatement, example = json!({"read_at": "2026-03-01T17:00:00Z", "km": 4_180})),
    responses(
        (status = 201, description = "The statement is new", body = StatementAnswer),
        (status = 200, description = "The statement was there", body = StatementAnswer)
    )
)]
#[post("/v1/bikes/{bike_id}/odometer")]
async fn create_statement(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<NewStatement>,
) -> Result<HttpResponse, Problem> {
    let (read_at, total) = body.0.parse(services.now())?;
    let (stored, outlook) = odometer::post(&services, &mut change, *bike_id, read_at, total).await?;
    let warnings = odometer::notices(&outlook, read_at).into_iter().map(Into::into).collect();
    Ok(answer::entered(stored, |statement| StatementAnswer {
        statement: statement.into(),
        warnings,
        outlook: outlook.into(),
    }))
}

/// List what a bike's odometer showed
#[utoipa::path(
    operation_id = "list_odometer_statements",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of statements", body = StatementList))
)]
#[get("/v1/bikes/{bike_id}/odometer")]
async fn list_statements(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = odometer::list(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, StatementDocument::from))
}

/// Take an odometer statement out of account
///
/// It stays on record with the reason. The answer is the bike's outlook without it. A statement never changes, so no
/// `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_odometer_statement",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("statement_id" = Uuid, Path, description = "The statement"), VoidQuery),
    responses((status = 200, description = "The outlook without the statement", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/odometer/{statement_id}")]
async fn void_statement(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, StatementId)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, statement_id) = path.into_inner();
    let reason = voiding::reason(&query.0.reason)?;
    let outlook = odometer::void(&services, &mut change, bike_id, statement_id, reason).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}

/// Restore an odometer statement
///
/// Takes its voiding back. The answer is the bike's outlook with it.
#[utoipa::path(
    operation_id = "restore_odometer_statement",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("statement_id" = Uuid, Path, description = "The statement")),
    responses((status = 200, description = "The outlook with it", body = OutlookDocument))
)]
#[post("/v1/bikes/{bike_id}/odometer/{statement_id}/restoration")]
async fn restore_odometer_statement(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, StatementId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let outlook = odometer::restore(&services, &mut change, bike_id, id).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
