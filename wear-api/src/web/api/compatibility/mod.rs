//! What goes on: chain length, and parts that go together. Nothing is stored.

mod parts;

use actix_web::{HttpResponse, post};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use wear_core::bounds;
use wear_core::drivetrain::chain_length::{chain_length, needed_capacity};
use wear_core::drivetrain::compatibility::{Finding, compare, overall};
use wear_core::units::Chainstay;

use self::parts::PartsBody;
use crate::domain::{Drivetrain, DrivetrainFacts, FieldError, FieldErrors, Gearing};
use crate::input::parse;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::problem::Problem;
use crate::web::schema;
use crate::web::speech;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(compute_chain_length).service(compare_parts);
}

/// Rings, cogs and the chainstay.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ChainLengthQuestion)]
struct QuestionBody {
    /// Teeth of the rings, in any order.
    #[schema(schema_with = schema::rings)]
    rings: Vec<i64>,
    /// Teeth of the cogs, in any order.
    #[schema(schema_with = schema::cogs)]
    cogs: Vec<i64>,
    /// Length of the chainstay: middle of the bottom bracket to the rear axle.
    #[schema(minimum = 250, maximum = 800)]
    chainstay_mm: f64,
    /// How the rear wheel is driven; by the number of sprockets when left out.
    #[schema(value_type = Option<schema::Gearing>)]
    gearing: Option<String>,
}

/// What chain the bike takes.
#[derive(Serialize, ToSchema)]
#[schema(as = ChainLength)]
struct ChainLengthDocument {
    /// Pitches to fit: rounded up to an even number, and one more pair with a derailleur.
    links: u16,
    /// What the formula gives from the largest ring to the largest cog.
    exact_pitches: f64,
    /// Chainstay at which the chain is straight; a bike without a derailleur is set to it.
    straight_chainstay_mm: f64,
    /// Teeth that the cage of a derailleur has to take up.
    needed_capacity_teeth: u16,
    /// What the numbers rest on.
    basis: Vec<&'static str>,
    /// What can hurt someone.
    caution: &'static str,
}

impl QuestionBody {
    fn parse(self) -> Result<(Drivetrain, Chainstay), FieldErrors> {
        let Self { rings, cogs, chainstay_mm, gearing } = self;
        let mut errors = FieldErrors::new();
        let mut counts = |field: &str, given: Vec<i64>| -> Vec<u32> {
            let parsed = given.into_iter().enumerate().filter_map(|(index, count)| {
                errors.keep(format!("/{field}/{index}"), parse::whole::<u32>(count, &bounds::TEETH))
            });
            parsed.collect()
        };
        let (rings, cogs) = (counts("rings", rings), counts("cogs", cogs));
        let gearing = gearing.and_then(|word| errors.keep("/gearing", parse::text::<Gearing>(&word)));
        let chainstay = errors.keep("/chainstay_mm", Chainstay::new(chainstay_mm));
        if !errors.is_empty() {
            return Err(errors);
        }
        // The length is what is asked; any legal one will do to describe the rest.
        let facts = DrivetrainFacts { rings, cogs, links: 114, gearing, ..DrivetrainFacts::default() };
        match (Drivetrain::new(&facts), chainstay) {
            (Ok(drivetrain), Some(chainstay)) => Ok((drivetrain, chainstay)),
            (Err(error), _) => Err(FieldError::from(error).into()),
            (_, None) => Err(errors),
        }
    }
}

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
            reason: speech::said(&reason),
            source: source.as_str(),
            caution: caution.map(|caution| speech::said(&caution)),
        }
    }
}

/// Compute a chain's length
///
/// From the largest ring to the largest cog. Check it on the bike before the chain is cut.
#[utoipa::path(
    operation_id = "compute_chain_length",
    tag = "decisions",
    security(("bearer" = ["app", "mechanic", "manager"])),
    request_body(content = QuestionBody, example = json!({
        "rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "chainstay_mm": 455
    })),
    responses((status = 200, description = "The length", body = ChainLengthDocument))
)]
#[post("/v1/chain-length")]
async fn compute_chain_length(_actor: As<App>, body: Json<QuestionBody>) -> Result<HttpResponse, Problem> {
    let (drivetrain, chainstay) = body.0.parse()?;
    let length = chain_length(&drivetrain, chainstay);
    let mut basis = vec!["chain-drive handbooks' formula, largest ring to largest cog"];
    if drivetrain.gearing() == Gearing::Derailleur {
        basis.push("one more pair for the derailleur: common practice");
    }
    Ok(HttpResponse::Ok().json(ChainLengthDocument {
        links: length.links.get(),
        exact_pitches: length.exact_pitches,
        straight_chainstay_mm: length.straight_chainstay_mm,
        needed_capacity_teeth: needed_capacity(&drivetrain),
        basis,
        caution: "Try the largest ring with the largest cog by hand before riding: a chain that is too short can lock the wheel",
    }))
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
async fn compare_parts(_actor: As<App>, body: Json<PartsBody>) -> Result<HttpResponse, Problem> {
    let findings = compare(&body.0.parse()?);
    Ok(HttpResponse::Ok().json(ComparisonDocument {
        verdict: overall(&findings).as_str(),
        findings: findings.into_iter().map(FindingDocument::from).collect(),
    }))
}
