//! Care of drivetrains.

use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{
    BikeId, Care, CareId, CareKind, FieldErrors, LubricantId, Note, OdometerTotal, Timestamp,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::care::{self, EnterCare};
use crate::web::api::outlooks::{OutlookDocument, WarningDocument};
use crate::web::api::voiding::{self, VoidQuery};
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_care).service(list_care).service(void_care).service(restore_care);
}

/// Care of a drivetrain.
#[derive(Serialize, ToSchema)]
#[schema(as = Care)]
struct CareDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// What was done.
    #[schema(value_type = schema::CareKind)]
    kind: &'static str,
    /// When.
    done_at: DateTime<Utc>,
    /// A remark; null when there is none.
    note: Option<String>,
    /// Since when it doesn't count; null when it does.
    voided_at: Option<DateTime<Utc>>,
    /// Why it doesn't count.
    voided_reason: Option<String>,
    /// What it was lubricated with; null where nobody named it.
    lubricant_id: Option<Uuid>,
}

impl From<Care> for CareDocument {
    fn from(Care { id, bike_id, kind, done_at, note, voided, lubricant_id }: Care) -> Self {
        let (voided_at, voided_reason) = voided.map(voiding::told).unzip();
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            kind: kind.as_str(),
            done_at: done_at.datetime(),
            note: note.map(|note| note.to_string()),
            voided_at,
            voided_reason,
            lubricant_id: lubricant_id.map(LubricantId::uuid),
        }
    }
}

/// Care to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewCare {
    /// What was done; `cleaned_and_lubricated` when left out.
    #[schema(value_type = Option<schema::CareKind>)]
    kind: Option<String>,
    /// When; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    done_at: Option<String>,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
    /// What the odometer showed: a statement of its own at the same time.
    #[schema(schema_with = schema::optional::odometer_km, required = false)]
    odometer_km: Option<f64>,
    /// What it was lubricated with, one of the workshop's: the chain counts as run on it until the next care, and the fleet
    /// learns what it is worth. Not with `cleaned`.
    lubricant_id: Option<Uuid>,
}

impl NewCare {
    fn parse(self, now: Timestamp) -> Result<EnterCare, FieldErrors> {
        let Self { kind, done_at, note, odometer_km, lubricant_id } = self;
        let mut errors = FieldErrors::new();
        let kind = match kind {
            Some(kind) => errors.keep("/kind", parse::text::<CareKind>(&kind)),
            None => Some(CareKind::CleanedAndLubricated),
        };
        let done_at = match done_at {
            Some(at) => errors.keep("/done_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        let odometer = odometer_km.and_then(|km| errors.keep("/odometer_km", OdometerTotal::from_km(km)));
        match (kind, done_at) {
            (Some(kind), Some(done_at)) if errors.is_empty() => {
                let lubricant_id = lubricant_id.map(LubricantId::from_uuid);
                Ok(EnterCare { kind, done_at, note, odometer, lubricant_id })
            }
            _ => Err(errors),
        }
    }
}

/// Care as it was entered.
#[derive(Serialize, ToSchema)]
#[schema(as = EnteredCare)]
struct EnteredDocument {
    #[serde(flatten)]
    care: CareDocument,
    /// What doesn't fit about `odometer_km`.
    warnings: Vec<WarningDocument>,
}

/// A page of care.
#[derive(ToSchema)]
#[allow(dead_code)]
struct CareList {
    /// Care of this page, newest first.
    items: Vec<CareDocument>,
}

/// Enter care of a drivetrain
///
/// The same kind at the same instant is one event: sent again with a lubricant it is that one, and sent again after it was voided it
/// stays void. A bike's first entry says that its care is recorded from then on,
/// unless the bike or its workshop says otherwise.
#[utoipa::path(
    operation_id = "create_care",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewCare, example = json!({
        "kind": "cleaned_and_lubricated", "done_at": "2026-03-01T17:30:00Z", "note": "after the rain"
    })),
    responses(
        (status = 201, description = "The care is new", body = EnteredDocument),
        (status = 200, description = "The care was there", body = EnteredDocument)
    )
)]
#[post("/v1/bikes/{bike_id}/care")]
async fn create_care(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<NewCare>,
) -> Result<HttpResponse, Problem> {
    let enter = body.0.parse(services.now())?;
    let (stored, notices) = care::post(&services, &mut change, *bike_id, enter).await?;
    let warnings = notices.into_iter().map(Into::into).collect();
    Ok(answer::entered(stored, |care| EnteredDocument { care: care.into(), warnings }))
}

/// List a bike's care
#[utoipa::path(
    operation_id = "list_care",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of care", body = CareList))
)]
#[get("/v1/bikes/{bike_id}/care")]
async fn list_care(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = care::list(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, CareDocument::from))
}

/// Take care out of account
///
/// It stays on record with the reason. The answer is the bike's outlook without it.
#[utoipa::path(
    operation_id = "void_care",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("care_id" = Uuid, Path, description = "The care"), VoidQuery),
    responses((status = 200, description = "The outlook without the care", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/care/{care_id}")]
async fn void_care(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, CareId)>,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let reason = voiding::reason(&query.0.reason)?;
    let outlook = care::void(&services, &mut change, bike_id, id, reason).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}

/// Restore care
///
/// Takes its voiding back, with what the odometer showed with it. The answer is the bike's outlook with it.
#[utoipa::path(
    operation_id = "restore_care",
    tag = "work",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("care_id" = Uuid, Path, description = "The care")),
    responses((status = 200, description = "The outlook with it", body = OutlookDocument))
)]
#[post("/v1/bikes/{bike_id}/care/{care_id}/restoration")]
async fn restore_care(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, CareId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let outlook = care::restore(&services, &mut change, bike_id, id).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
