use actix_web::{HttpResponse, post};
use serde::Serialize;
use utoipa::ToSchema;
use wear_core::drivetrain::compatibility::{Finding, compare, overall};

use super::parts::PartsBody;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::problem::Problem;
use crate::web::schema;

/// Whether the parts go together.
#[derive(Serialize, ToSchema)]
#[schema(as = Comparison)]
struct ComparisonDocument {
    /// The worst of the findings.
    #[schema(value_type = schema::Verdict)]
    verdict: &'static str,
    /// What was found, one answer a question.
    findings: Vec<FindingDocument>,
}

/// One answer.
#[derive(Serialize, ToSchema)]
#[schema(as = Finding)]
struct FindingDocument {
    /// What was asked.
    #[schema(value_type = schema::FittingQuestion)]
    question: &'static str,
    /// Whether it goes together.
    #[schema(value_type = schema::Verdict)]
    verdict: &'static str,
    /// Why.
    reason: String,
    /// What that rests on: a source, or common practice.
    source: &'static str,
    /// What can hurt someone; null where nothing much can.
    caution: Option<String>,
}

impl From<Finding> for FindingDocument {
    fn from(Finding { question, verdict, reason, source, caution }: Finding) -> Self {
        Self {
            question: question.as_str(),
            verdict: verdict.as_str(),
            reason: reason.to_string(),
            source: source.as_str(),
            caution: caution.map(|caution| caution.to_string()),
        }
    }
}

/// Compare parts
///
/// Each verdict is `fits`, `doesn't` or `check`, with its reason and what it rests on. The makers' own word goes first.
#[utoipa::path(
    operation_id = "compare_parts",
    tag = "decisions",
    security(("bearer" = ["app", "mechanic", "manager"])),
    request_body(content = PartsBody, example = json!({
        "chain": {"sprockets": 9},
        "cassette": {"cogs": [11, 13, 15, 17, 20, 23, 26, 30], "interface": "nine splines"},
        "hub": {"interfaces": ["nine splines"]},
        "rings": [{"teeth": 42, "sprockets": 8}],
        "connecting_link": {"sprockets": 9, "used": true}
    })),
    responses((status = 200, description = "What was found", body = ComparisonDocument))
)]
#[post("/v1/compatibility")]
pub(super) async fn compare_parts(_actor: As<App>, body: Json<PartsBody>) -> Result<HttpResponse, Problem> {
    let findings = compare(&body.0.parse()?);
    Ok(HttpResponse::Ok().json(ComparisonDocument {
        verdict: overall(&findings).as_str(),
        findings: findings.into_iter().map(FindingDocument::from).collect(),
    }))
}
