use actix_web::{HttpResponse, patch, web};
use serde::{Deserialize, Deserializer};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::BenchDayDocument;
use crate::domain::{BenchDayFacts, BenchDayId, FieldErrors, Minutes, Note};
use crate::service::{Services, bench_days};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;

/// What to change of a bench day; what is left out stays, and so does its date.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BenchDayChange {
    /// Minutes that the bench works; 0 closes it.
    #[schema(minimum = 0, maximum = 1_000_000)]
    minutes: Option<i64>,
    /// A remark; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 2000)]
    note: Option<Option<String>>,
}

/// Tells `null` from a field that isn't there.
fn given<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Option<String>>, D::Error> {
    Option::deserialize(deserializer).map(Some)
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

/// Change a bench day
#[utoipa::path(
    operation_id = "change_bench_day",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bench_day_id" = Uuid, Path, description = "The bench day"),
        ("If-Match" = String, Header, description = "`ETag` of the bench day as you read it", example = "\"1\"")),
    request_body(content = BenchDayChange, example = json!({"minutes": 120, "note": "half a day"})),
    responses((status = 200, description = "The bench day after the change", body = BenchDayDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/bench-days/{bench_day_id}")]
pub(super) async fn change_bench_day(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bench_day_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<BenchDayChange>,
) -> Result<HttpResponse, Problem> {
    let id = BenchDayId::from_uuid(*bench_day_id);
    let facts = body.0.apply(bench_days::get(&services, &actor, id).await?.facts)?;
    let day = bench_days::change(&services, &actor, id, seen.0, facts.minutes, facts.note.as_ref()).await?;
    Ok(HttpResponse::Ok().insert_header(etag(day.revision)).json(BenchDayDocument::from(day)))
}
