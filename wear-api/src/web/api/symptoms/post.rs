use actix_web::http::StatusCode;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;
use wear_core::bounds;
use wear_core::drivetrain::symptom::Symptom;

use super::document::{HeardDocument, answer};
use crate::domain::{BikeId, FieldErrors, Note, Teeth, Timestamp};
use crate::input::parse;
use crate::service::Services;
use crate::service::symptoms::{self, EnterReport};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::problem::Problem;
use crate::web::schema;

/// What a rider reports.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewSymptom)]
pub(super) struct SymptomBody {
    /// When it was reported; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    reported_at: Option<String>,
    /// What.
    #[schema(value_type = schema::Symptom)]
    symptom: String,
    /// The cog that skips, by its teeth.
    #[schema(schema_with = schema::optional::teeth, required = false)]
    cog_teeth: Option<i64>,
    /// Whether the mechanic saw it with a new chain; no when left out.
    new_chain: Option<bool>,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
}

impl SymptomBody {
    fn parse(self, now: Timestamp) -> Result<EnterReport, FieldErrors> {
        let Self { reported_at, symptom, cog_teeth, new_chain, note } = self;
        let mut errors = FieldErrors::new();
        let reported_at = match reported_at {
            Some(at) => errors.keep("/reported_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        let symptom = errors.keep("/symptom", parse::text::<Symptom>(&symptom));
        let cog = cog_teeth.and_then(|given| {
            let teeth = errors.keep("/cog_teeth", parse::whole::<u32>(given, &bounds::TEETH))?;
            errors.keep("/cog_teeth", Teeth::new(teeth))
        });
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        match (reported_at, symptom) {
            (Some(reported_at), Some(symptom)) if errors.is_empty() => {
                let new_chain = new_chain.unwrap_or(false);
                Ok(EnterReport { reported_at, symptom, cog, new_chain, note })
            }
            _ => Err(errors),
        }
    }
}

/// Enter what a rider reports
///
/// A skip under load on a cog that is named is evidence: the outlook counts it. Everything else comes back with where to
/// look. The same symptom on the same cog at the same instant is one.
#[utoipa::path(
    operation_id = "create_symptom",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = SymptomBody, examples(
        ("skip" = (value = json!({"reported_at": "2026-11-20T16:00:00Z", "symptom": "skips_under_load", "cog_teeth": 13}))),
        ("noise" = (value = json!({"symptom": "noisy", "note": "only in the rain"})))
    )),
    responses(
        (status = 201, description = "The report is new", body = HeardDocument),
        (status = 200, description = "The report was there", body = HeardDocument)
    )
)]
#[post("/v1/bikes/{bike_id}/symptoms")]
pub(super) async fn create_symptom(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    body: Json<SymptomBody>,
) -> Result<HttpResponse, Problem> {
    let enter = body.0.parse(services.now())?;
    let heard = symptoms::post(&services, &actor, BikeId::from_uuid(*bike_id), enter).await?;
    let (is_new, document) = answer(heard);
    let status = if is_new { StatusCode::CREATED } else { StatusCode::OK };
    Ok(HttpResponse::build(status).json(document))
}
