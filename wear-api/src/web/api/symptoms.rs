//! What riders report.

use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::bounds;
use wear_core::drivetrain::symptom::{Lead, Symptom};

use crate::domain::{BikeId, FieldErrors, NewReport, Note, Report, SymptomId, Teeth, Timestamp};
use crate::input::parse;
use crate::service::Services;
use crate::service::symptoms::{self, EnterReport, Heard};
use crate::web::api::outlooks::OutlookDocument;
use crate::web::api::voiding;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};
use crate::web::speech;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_symptom).service(list_symptoms).service(void_symptom).service(restore_symptom);
}

/// What a rider reported.
#[derive(Serialize, ToSchema)]
#[schema(as = SymptomReport)]
struct SymptomDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// When it was reported.
    reported_at: DateTime<Utc>,
    /// What.
    #[schema(value_type = schema::Symptom)]
    symptom: &'static str,
    /// The cog that skips; null when none is named.
    cog_teeth: Option<u16>,
    /// Whether the mechanic saw it with a new chain.
    new_chain: bool,
    /// A remark; null when there is none.
    note: Option<String>,
    /// Since when it doesn't count; null when it does.
    voided_at: Option<DateTime<Utc>>,
    /// Why it doesn't count.
    voided_reason: Option<String>,
}

impl From<Report> for SymptomDocument {
    fn from(Report { facts, voided }: Report) -> Self {
        let NewReport { id, bike_id, reported_at, symptom, cog, new_chain, note } = facts;
        let (voided_at, voided_reason) = voided.map(voiding::told).unzip();
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            reported_at: reported_at.datetime(),
            symptom: symptom.as_str(),
            cog_teeth: cog.map(|cog| cog.get()),
            new_chain,
            note: note.map(|note| note.to_string()),
            voided_at,
            voided_reason,
        }
    }
}

/// A cause to look at.
#[derive(Serialize, ToSchema)]
#[schema(as = Lead)]
struct LeadDocument {
    /// The cause.
    #[schema(value_type = schema::Cause)]
    cause: &'static str,
    /// How to look.
    look: String,
    /// What can hurt someone; null where nothing much can.
    caution: Option<String>,
    /// What the outlook says of it; null where it says nothing.
    probability: Option<f64>,
}

impl From<Lead> for LeadDocument {
    fn from(Lead { cause, look, caution, probability }: Lead) -> Self {
        Self {
            cause: cause.as_str(),
            look: speech::said(&look),
            caution: caution.map(|caution| speech::said(&caution)),
            probability,
        }
    }
}

/// A report with what follows from it.
#[derive(Serialize, ToSchema)]
#[schema(as = SymptomHeard)]
struct HeardDocument {
    /// The report.
    symptom: SymptomDocument,
    /// Whether the outlook counts it: a skip, on whichever cog.
    is_evidence: bool,
    /// Where to look, in order: what the outlook holds likely first, then by common practice.
    leads: Vec<LeadDocument>,
    /// What the order of the leads rests on.
    leads_source: &'static str,
    /// The bike's outlook with the report.
    outlook: OutlookDocument,
}

/// What a rider reports.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewSymptom)]
struct SymptomBody {
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

/// A page of reports.
#[derive(ToSchema)]
#[allow(dead_code)]
struct SymptomList {
    /// Reports of this page, newest first.
    items: Vec<SymptomDocument>,
}

/// Why a report doesn't count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct VoidQuery {
    /// Why, in a few words.
    #[param(
        example = "a stiff link it was",
        min_length = 1,
        max_length = 2000,
        pattern = r"^[^\x00-\x09\x0b-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x09\x0b-\x1f\x7f-\x9f]*$"
    )]
    reason: String,
}

/// Enter what a rider reports
///
/// A skip under load is evidence: the outlook counts it, most where the cog is named. Everything else comes back with where to
/// look. The same symptom on the same cog at the same instant is one.
#[utoipa::path(
    operation_id = "create_symptom",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
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
async fn create_symptom(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<SymptomBody>,
) -> Result<HttpResponse, Problem> {
    let enter = body.0.parse(services.now())?;
    let Heard { report, is_evidence, leads, outlook } =
        symptoms::post(&services, &mut change, *bike_id, enter).await?;
    Ok(answer::entered(report, |report| HeardDocument {
        symptom: report.into(),
        is_evidence,
        leads: leads.into_iter().map(LeadDocument::from).collect(),
        leads_source: "common practice",
        outlook: outlook.into(),
    }))
}

/// List what riders of a bike reported
#[utoipa::path(
    operation_id = "list_symptoms",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of reports", body = SymptomList))
)]
#[get("/v1/bikes/{bike_id}/symptoms")]
async fn list_symptoms(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = symptoms::list(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, SymptomDocument::from))
}

/// Take a report out of account
///
/// It stays on record with the reason. The answer is the bike's outlook without it. A report never changes, so no
/// `If-Match` is needed.
#[utoipa::path(
    operation_id = "void_symptom",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("symptom_id" = Uuid, Path, description = "The report"), VoidQuery),
    responses((status = 200, description = "The outlook without the report", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/symptoms/{symptom_id}")]
async fn void_symptom(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, SymptomId)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, symptom_id) = path.into_inner();
    let outlook =
        symptoms::void(&services, &mut change, bike_id, symptom_id, voiding::reason(&query.0.reason)?)
            .await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}

/// Restore a report
///
/// Takes its voiding back. The answer is the bike's outlook with it.
#[utoipa::path(
    operation_id = "restore_symptom",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("symptom_id" = Uuid, Path, description = "The report")),
    responses((status = 200, description = "The outlook with it", body = OutlookDocument))
)]
#[post("/v1/bikes/{bike_id}/symptoms/{symptom_id}/restoration")]
async fn restore_symptom(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, SymptomId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let outlook = symptoms::restore(&services, &mut change, bike_id, id).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
