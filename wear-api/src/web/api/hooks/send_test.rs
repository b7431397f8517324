use actix_web::{HttpResponse, post, web};
use uuid::Uuid;

use super::document::HookMessageDocument;
use crate::domain::HookId;
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

/// Send a test message
///
/// A message of the type `hook.test` goes to the hook at once, whatever it listens for. The answer names it; get it
/// again to see what became of it.
#[utoipa::path(
    operation_id = "send_test_message",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook")),
    responses((status = 202, description = "The message, which is on its way", body = HookMessageDocument))
)]
#[post("/v1/hooks/{hook_id}/test")]
pub(super) async fn send_test_message(
    services: web::Data<Services>,
    actor: As<Manager>,
    hook_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let delivery = hooks::send_test(&services, &actor, HookId::from_uuid(*hook_id)).await?;
    Ok(HttpResponse::Accepted().json(HookMessageDocument::from(delivery)))
}
