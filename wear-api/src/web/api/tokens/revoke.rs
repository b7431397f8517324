use actix_web::{HttpResponse, delete, web};
use uuid::Uuid;

use crate::domain::TokenId;
use crate::service::{Services, tokens};
use crate::web::auth::{As, Manager};
use crate::web::problem::Problem;

/// Revoke a token
///
/// From then on it opens nothing; where several processes serve one store, the others refuse it within a second. A
/// token never changes, so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "revoke_token",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    params(("token_id" = Uuid, Path, description = "The token")),
    responses((status = 204, description = "The token is revoked"))
)]
#[delete("/v1/tokens/{token_id}")]
pub(super) async fn revoke_token(
    services: web::Data<Services>,
    actor: As<Manager>,
    token_id: web::Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    tokens::revoke(&services, &actor, TokenId::from_uuid(*token_id)).await?;
    Ok(HttpResponse::NoContent().finish())
}
