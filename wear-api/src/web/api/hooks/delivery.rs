use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

use super::document::HookMessageDocument;
use crate::domain::{HookId, MessageId};
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

/// Get a message
#[utoipa::path(
    operation_id = "get_hook_message",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("message_id" = Uuid, Path, description = "The message")),
    responses((status = 200, description = "The message with its attempts", body = HookMessageDocument))
)]
#[get("/v1/hooks/{hook_id}/deliveries/{message_id}")]
pub(super) async fn get_delivery(
    services: web::Data<Services>,
    actor: As<Manager>,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse, Problem> {
    let (hook_id, id) = path.into_inner();
    let (hook_id, id) = (HookId::from_uuid(hook_id), MessageId::from_uuid(id));
    let delivery = hooks::delivery(&services, &actor, hook_id, id).await?;
    Ok(HttpResponse::Ok().json(HookMessageDocument::from(delivery)))
}
