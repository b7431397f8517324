use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::HookDocument;
use crate::domain::HookId;
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::etag::etag;
use crate::web::problem::Problem;

/// Get a hook
#[utoipa::path(
    operation_id = "get_hook",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook")),
    responses((status = 200, description = "The hook", body = HookDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[get("/v1/hooks/{hook_id}")]
pub(super) async fn get_hook(
    services: web::Data<Services>,
    actor: As<Manager>,
    hook_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let hook = hooks::get(&services, &actor, HookId::from_uuid(*hook_id)).await?;
    Ok(HttpResponse::Ok().insert_header(etag(hook.revision)).json(HookDocument::from(hook)))
}
