//! Bench days: dates whose minutes are not those of their weekday.

use actix_web::{HttpRequest, HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{BenchDay, BenchDayFacts, BenchDayId, FieldErrors, Minutes, Note};
use crate::input::parse;
use crate::service::{Services, bench_days};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::{answer, pagination};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_bench_day)
        .service(list_bench_days)
        .service(get_bench_day)
        .service(change_bench_day)
        .service(remove_bench_day);
}

/// A bench day.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchDay)]
struct BenchDayDocument {
    /// Its id.
    id: Uuid,
    /// The date.
    date: NaiveDate,
    /// Minutes that the bench works.
    #[schema(minimum = 0, maximum = 1_000_000)]
    minutes: u32,
    /// A remark; null when there is none.
    note: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<BenchDay> for BenchDayDocument {
    fn from(BenchDay { id, facts, created_at, revision }: BenchDay) -> Self {
        let BenchDayFacts { date, minutes, note } = facts;
        Self {
            id: id.uuid(),
            date,
            minutes: minutes.get(),
            note: note.map(|note| note.to_string()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// A bench day to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewBenchDay {
    /// The date.
    #[schema(value_type = String, format = Date)]
    date: String,
    /// Minutes that the bench works; 0 closes it.
    #[schema(minimum = 0, maximum = 1_000_000)]
    minutes: i64,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
}

impl NewBenchDay {
    fn parse(self) -> Result<BenchDayFacts, FieldErrors> {
        let Self { date, minutes, note } = self;
        let mut errors = FieldErrors::new();
        let date = errors.keep("/date", parse::date(&date));
        let minutes = errors.keep("/minutes", Minutes::new(minutes));
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        match (date, minutes) {
            (Some(date), Some(minutes)) if errors.is_empty() => Ok(BenchDayFacts { date, minutes, note }),
            _ => Err(errors),
        }
    }
}

/// Which bench days.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct BenchDayQuery {
    /// First date.
    #[param(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Last date.
    #[param(value_type = Option<String>, format = Date)]
    to: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of bench days.
#[derive(ToSchema)]
#[allow(dead_code)]
struct BenchDayList {
    /// Bench days of this page, by date.
    items: Vec<BenchDayDocument>,
}

/// What to change of a bench day; what is left out stays, and so does its date.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BenchDayChange {
    /// Minutes that the bench works; 0 closes it.
    #[schema(minimum = 0, maximum = 1_000_000)]
    minutes: Option<i64>,
    /// A remark; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 2000)]
    note: Option<Option<String>>,
}

impl BenchDayChange {
    fn apply(self, facts: BenchDayFacts) -> Result<BenchDayFacts, FieldErrors> {
        let Self { minutes, note } = self;
        let mut errors = FieldErrors::new();
        let minutes = minutes.and_then(|minutes| errors.keep("/minutes", Minutes::new(minutes)));
        let note = match note {
            None => facts.note,
            Some(note) => note.and_then(|note| errors.keep("/note", Note::new(&note))),
        };
        let minutes = minutes.unwrap_or(facts.minutes);
        if errors.is_empty() { Ok(BenchDayFacts { date: facts.date, minutes, note }) } else { Err(errors) }
    }
}

/// Enter a bench day
///
/// A date has the minutes of its weekday until a bench day says otherwise. Each date can have one.
#[utoipa::path(
    operation_id = "create_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewBenchDay, example = json!({
        "date": "2026-12-01", "minutes": 300, "note": "two of us"
    })),
    responses((status = 201, description = "The bench day", body = BenchDayDocument,
        headers(("Location" = String, description = "Address of the bench day"))))
)]
#[post("/v1/bench-days")]
async fn create_bench_day(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewBenchDay>,
) -> Result<HttpResponse, Problem> {
    let day = bench_days::create(&services, &mut change, body.0.parse()?).await?;
    Ok(answer::created(format!("/v1/bench-days/{}", day.id), day.revision, BenchDayDocument::from(day)))
}

/// List bench days
///
/// Only dates that were entered; all others have the minutes of their weekday.
#[utoipa::path(
    operation_id = "list_bench_days",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(BenchDayQuery),
    responses((status = 200, description = "A page of bench days", body = BenchDayList))
)]
#[get("/v1/bench-days")]
async fn list_bench_days(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<BenchDayQuery>,
) -> Result<HttpResponse, Problem> {
    let BenchDayQuery { from, to, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let days = parameters.days(from.as_deref(), to.as_deref());
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = bench_days::list(&services, &actor, days, &page).await?;
    Ok(pagination::answer(&request, page, BenchDayDocument::from))
}

/// Get a bench day
#[utoipa::path(
    operation_id = "get_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bench_day_id" = Uuid, Path, description = "The bench day")),
    responses((status = 200, description = "The bench day", body = BenchDayDocument))
)]
#[get("/v1/bench-days/{bench_day_id}")]
async fn get_bench_day(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bench_day_id: web::Path<BenchDayId>,
) -> Result<HttpResponse, Problem> {
    let day = bench_days::get(&services, &actor, *bench_day_id).await?;
    Ok(answer::current(day.revision, BenchDayDocument::from(day)))
}

/// Change a bench day
#[utoipa::path(
    operation_id = "change_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bench_day_id" = Uuid, Path, description = "The bench day"),
        ("If-Match" = String, Header, description = "`ETag` of the bench day as you read it", example = "\"1\"")),
    request_body(content = BenchDayChange, example = json!({"minutes": 120, "note": "half a day"})),
    responses((status = 200, description = "The bench day after the change", body = BenchDayDocument))
)]
#[patch("/v1/bench-days/{bench_day_id}")]
async fn change_bench_day(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    bench_day_id: web::Path<BenchDayId>,
    seen: IfMatch,
    body: Json<BenchDayChange>,
) -> Result<HttpResponse, Problem> {
    let apply = |facts| body.0.apply(facts);
    let revision = seen
        .revision(async || Ok(bench_days::get(&services, change.actor(), *bench_day_id).await?.revision))
        .await?;
    let day = bench_days::change(&services, &mut change, *bench_day_id, revision, apply).await?;
    Ok(answer::current(day.revision, BenchDayDocument::from(day)))
}

/// Remove a bench day
///
/// Its date has the minutes of its weekday again.
#[utoipa::path(
    operation_id = "remove_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bench_day_id" = Uuid, Path, description = "The bench day"),
        ("If-Match" = String, Header, description = "`ETag` of the bench day as you read it", example = "\"1\"")),
    responses((status = 204, description = "The bench day is gone"))
)]
#[delete("/v1/bench-days/{bench_day_id}")]
async fn remove_bench_day(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    bench_day_id: web::Path<BenchDayId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(bench_days::get(&services, change.actor(), *bench_day_id).await?.revision))
        .await?;
    bench_days::remove(&services, &mut change, *bench_day_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
