//! The audit list.

use actix_web::{HttpResponse, get, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{AuditEntry, NamedEntry};
use crate::service::{Services, audit};
use crate::web::auth::{As, Manager};
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(list_audit);
}

/// Something that was done.
#[derive(Serialize, ToSchema)]
#[schema(as = AuditEntry)]
struct AuditDocument {
    /// Its id.
    id: Uuid,
    /// When.
    at: DateTime<Utc>,
    /// The token that did it; null when the program itself did.
    token_id: Option<Uuid>,
    /// The token's label.
    #[schema(example = "workbench")]
    token_label: Option<String>,
    /// What was done.
    #[schema(example = "reading.void")]
    action: String,
    /// To what: its address below `/v1/`.
    #[schema(
        example = "bikes/019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10/readings/019abf3e-6a34-7d6e-9a51-0d3c5e1f2a11"
    )]
    subject: String,
    /// Label or name, as it is now, of the bike, part, part model, hook or token that the subject is or belongs to; null
    /// when there is none or it is gone.
    #[schema(example = "041")]
    label: Option<String>,
    /// What else is known of it; null when there is nothing.
    #[schema(value_type = Option<Object>)]
    detail: Option<Value>,
}

impl From<NamedEntry> for AuditDocument {
    fn from(NamedEntry { entry, label, token_label }: NamedEntry) -> Self {
        let AuditEntry { id, at, token_id, action, subject, detail } = entry;
        Self {
            id: id.uuid(),
            at: at.datetime(),
            token_id: token_id.map(|id| id.uuid()),
            token_label,
            action,
            subject,
            label,
            detail: Some(detail).filter(|detail| !detail.is_null()),
        }
    }
}

/// A page of the audit list.
#[derive(ToSchema)]
#[allow(dead_code)]
struct AuditList {
    /// Entries of this page, the latest first.
    items: Vec<AuditDocument>,
}

/// List what was done
///
/// Every change of the workshop's data but rides, with the token that made it. The list only grows.
#[utoipa::path(
    operation_id = "list_audit",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of entries", body = AuditList))
)]
#[get("/v1/audit")]
async fn list_audit(
    services: web::Data<Services>,
    actor: As<Manager>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = audit::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, AuditDocument::from))
}
