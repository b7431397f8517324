use actix_web::{HttpRequest, HttpResponse, get, web};
use utoipa::ToSchema;

use super::document::TokenDocument;
use crate::service::{Services, tokens};
use crate::web::auth::{As, Manager};
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

/// A page of tokens.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(super) struct TokenList {
    /// Tokens of this page, revoked ones too.
    items: Vec<TokenDocument>,
}

/// List tokens
#[utoipa::path(
    operation_id = "list_tokens",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of tokens", body = TokenList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/tokens")]
pub(super) async fn list_tokens(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Manager>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, Problem> {
    let (size, after) = query.0.parse()?;
    let page = tokens::list(&services, &actor, after.as_ref(), size).await?;
    Ok(pagination::answer(&request, page, TokenDocument::from))
}
