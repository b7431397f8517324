//! Answers for cases that are not stored.

use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use wear_core::degradation::WearParameters;
use wear_core::fleet::calibration;
use wear_core::reading::InstrumentCalibrations;

use crate::domain::{Field, FieldErrors, Invalid};
use crate::estimate::{Answer, Case, Learned, RawCase, answer};
use crate::input::{WrongField, WrongFieldDocument, parse_value};
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::problem::Problem;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_estimates);
}

/// Most cases of one request.
const MOST_CASES: usize = 1_000;

/// Largest body, bytes.
const LIMIT: usize = 4_000_000;

/// Cases to be answered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Cases {
    /// The cases, as the `estimate` command reads them. Each is checked by itself.
    #[schema(value_type = Vec<RawCase>, max_items = 1_000)]
    cases: Vec<Value>,
    /// Whether the wear of each group is fitted to all of its cases before they are answered; no when left out.
    learn: Option<bool>,
}

/// Answers in the order of the cases.
#[derive(Serialize, ToSchema)]
struct Answers {
    /// One for each case, in the same order: an answer, or what is wrong with the case.
    answers: Vec<AnswerOrError>,
}

/// An answer, or what is wrong with the case.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
enum AnswerOrError {
    Answer(Answer),
    Error(CaseError),
}

/// A case that can't be answered.
#[derive(Serialize, ToSchema)]
struct CaseError {
    /// Its place in the request, from 0.
    #[schema(minimum = 0)]
    index: usize,
    /// What is wrong with it, in words.
    error: String,
    /// The same field by field, by pointers into the case.
    #[schema(value_type = Vec<WrongFieldDocument>)]
    errors: Vec<WrongField>,
}

fn case(value: Value) -> Result<Case, Vec<WrongField>> {
    let raw: RawCase = parse_value(value).map_err(|error| vec![error])?;
    raw.parse().map_err(|errors| errors.into_vec().into_iter().map(WrongField::from).collect())
}

fn answer_all(cases: Vec<Value>, learn: bool) -> Vec<AnswerOrError> {
    let cases: Vec<_> = cases.into_iter().map(case).collect();
    let fit = learn.then(|| {
        let chains = cases.iter().flatten();
        let chains: Vec<_> = chains.map(Case::history).collect();
        calibration::fit(&chains, &WearParameters::default(), &InstrumentCalibrations::default())
    });
    let mut place = 0..;
    let answers = cases.iter().enumerate().map(|(index, case)| match case {
        Ok(case) => {
            let place = place.next().unwrap_or_default();
            let from = fit.as_ref().map_or(Learned::No, |fit| Learned::From(fit, place));
            AnswerOrError::Answer(answer(case, from))
        }
        Err(errors) => {
            let error = errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ");
            AnswerOrError::Error(CaseError { index, error, errors: errors.clone() })
        }
    });
    answers.collect()
}

/// Answer cases that are not stored
///
/// The same JSON as the `estimate` command. A case that is wrong gets its error at its place; the rest is
/// answered.
#[utoipa::path(
    operation_id = "create_estimates",
    tag = "estimates",
    security(("bearer" = ["app", "mechanic", "manager"])),
    request_body(content = Cases, example = json!({"cases": [{
        "id": "7f", "group": "town-8s", "limit_percent": 0.75,
        "readings": [{"instrument": "rule", "at_reference_km": 812.0, "percent": 0.21},
            {"instrument": "drop_in", "at_reference_km": 1500.0, "mark_percent": 0.5, "drops_in": false}],
        "at_reference_km": 1700.0
    }]})),
    responses((status = 200, description = "The answers", body = Answers))
)]
#[post("/v1/estimates")]
async fn create_estimates(_actor: As<App>, body: Json<Cases, LIMIT>) -> Result<HttpResponse, Problem> {
    let Cases { cases, learn } = body.0;
    if cases.len() > MOST_CASES {
        let cause =
            Invalid::Count { what: Field::Cases, found: cases.len(), minimum: 0, maximum: MOST_CASES };
        return Err(FieldErrors::from(cause.at("/cases")).into());
    }
    let answered = web::block(move || answer_all(cases, learn.unwrap_or(false)));
    let answers = answered.await.map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().json(Answers { answers }))
}
