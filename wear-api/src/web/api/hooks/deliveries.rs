use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::HookMessageDocument;
use crate::domain::HookId;
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of a hook's log.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct HookMessageList {
    /// Messages of this page, the latest first.
    items: Vec<HookMessageDocument>,
}

/// List a hook's messages
///
/// What was sent and what came of it, for 30 days.
#[utoipa::path(
    operation_id = "list_hook_messages",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"), PageQuery),
    responses((status = 200, description = "A page of messages", body = HookMessageList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/hooks/{hook_id}/deliveries")]
pub(super) async fn list_deliveries(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Manager>,
    hook_id: web::Path<Uuid>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let id = HookId::from_uuid(*hook_id);
    let page = hooks::deliveries(&services, &actor, id, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, HookMessageDocument::from))
}
