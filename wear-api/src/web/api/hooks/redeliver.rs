use actix_web::{HttpResponse, post, web};
use uuid::Uuid;

use super::document::HookMessageDocument;
use crate::domain::{HookId, MessageId};
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

/// Send a message again
///
/// At once, under the same `webhook-id`, whatever became of it before; when it fails, by the usual schedule.
#[utoipa::path(
    operation_id = "redeliver",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("message_id" = Uuid, Path, description = "The message")),
    responses((status = 202, description = "The message, which is on its way", body = HookMessageDocument))
)]
#[post("/v1/hooks/{hook_id}/deliveries/{message_id}/redelivery")]
pub(super) async fn redeliver(
    services: web::Data<Services>,
    actor: As<Manager>,
    path: web::Path<(Uuid, Uuid)>,
) -> Result<HttpResponse, Problem> {
    let (hook_id, id) = path.into_inner();
    let (hook_id, id) = (HookId::from_uuid(hook_id), MessageId::from_uuid(id));
    let delivery = hooks::redeliver(&services, &actor, hook_id, id).await?;
    Ok(HttpResponse::Accepted().json(HookMessageDocument::from(delivery)))
}
