use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::HookId;
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

/// Remove a hook
///
/// Its log goes with it, and what waits isn't sent.
#[utoipa::path(
    operation_id = "delete_hook",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("If-Match" = String, Header, description = "`ETag` of the hook as you read it", example = "\"1\"")),
    responses((status = 204, description = "The hook is gone"))
)]
#[delete("/v1/hooks/{hook_id}")]
pub(super) async fn delete_hook(
    services: web::Data<Services>,
    actor: As<Manager>,
    hook_id: web::Path<Uuid>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    hooks::delete(&services, &actor, HookId::from_uuid(*hook_id), seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
