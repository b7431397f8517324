use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use chrono::Duration;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::HookWithSecret;
use crate::domain::{Field, FieldErrors, HookId, Invalid};
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Longest time that two secrets sign together: a week.
const LONGEST_OVERLAP_HOURS: i64 = 168;

/// How a secret is replaced.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SecretRotation {
    /// For how long the secret before signs along; a day when left out, 0 not at all.
    #[schema(minimum = 0, maximum = 168)]
    overlap_hours: Option<i64>,
}

impl SecretRotation {
    fn parse(self) -> Result<Duration, FieldErrors> {
        let given = self.overlap_hours.unwrap_or(24);
        if (0..=LONGEST_OVERLAP_HOURS).contains(&given) {
            return Ok(Duration::hours(given));
        }
        let what = Field::OverlapHours;
        let cause = Invalid::WholeNumber { what, given, minimum: 0, maximum: LONGEST_OVERLAP_HOURS };
        Err(cause.at("/overlap_hours").into())
    }
}

/// Replace a hook's secret
///
/// The new secret is in this answer and can't be read again. While both are in force each message carries a signature
/// by either, so that no message is refused while the receiver changes over.
#[utoipa::path(
    operation_id = "rotate_hook_secret",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook")),
    request_body(content = SecretRotation, example = json!({"overlap_hours": 24})),
    responses((status = 200, description = "The hook with its new secret", body = HookWithSecret,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/hooks/{hook_id}/secret")]
pub(super) async fn rotate_hook_secret(
    services: web::Data<Services>,
    actor: As<Manager>,
    hook_id: web::Path<Uuid>,
    body: Json<SecretRotation>,
) -> Result<HttpResponse, Problem> {
    let overlap = body.0.parse()?;
    let hook = hooks::rotate(&services, &actor, HookId::from_uuid(*hook_id), overlap).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header(etag(hook.revision))
        .json(HookWithSecret::from(hook)))
}
