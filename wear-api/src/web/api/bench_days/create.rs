use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;

use super::document::BenchDayDocument;
use crate::domain::{BenchDayFacts, FieldErrors, Minutes, Note};
use crate::input::parse;
use crate::service::{Services, bench_days};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// A bench day to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewBenchDay {
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
        headers(("Location" = String, description = "Address of the bench day"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/bench-days")]
pub(super) async fn create_bench_day(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewBenchDay>,
) -> Result<HttpResponse, Problem> {
    let day = bench_days::create(&services, &actor, body.0.parse()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/bench-days/{}", day.id)))
        .insert_header(etag(day.revision))
        .json(BenchDayDocument::from(day)))
}
