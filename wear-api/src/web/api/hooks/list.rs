use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;

use super::document::HookDocument;
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of hooks.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct HookList {
    /// Hooks of this page, in the order they were made.
    items: Vec<HookDocument>,
}

/// List hooks
#[utoipa::path(
    operation_id = "list_hooks",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of hooks", body = HookList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/hooks")]
pub(super) async fn list_hooks(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Manager>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = hooks::list(&services, &actor, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, HookDocument::from))
}
