use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::document::TokenDocument;
use crate::domain::{FieldErrors, Label, Role};
use crate::input::parse;
use crate::service::{Services, tokens};
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::problem::Problem;

/// A token to be made.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewToken {
    /// What its holder may do.
    #[schema(value_type = Role)]
    role: String,
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: String,
}

impl NewToken {
    fn parse(self) -> Result<(Role, Label), FieldErrors> {
        let mut errors = FieldErrors::new();
        let role = errors.keep("/role", parse::text::<Role>(&self.role));
        let label = errors.keep("/label", Label::new(&self.label));
        role.zip(label).ok_or(errors)
    }
}

/// A new token with its secret, which is shown this once.
#[derive(Serialize, ToSchema)]
struct MadeToken {
    #[serde(flatten)]
    token: TokenDocument,
    /// What to send after `Bearer`.
    #[schema(
        example = "wear_00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff",
        pattern = "^wear_[0-9a-f]{64}$"
    )]
    secret: String,
}

/// Make a token
///
/// Its secret is in this answer and nowhere else: only a hash is kept.
#[utoipa::path(
    operation_id = "create_token",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    request_body(content = NewToken, example = json!({"role": "app", "label": "ride log"})),
    responses((status = 201, description = "The token with its secret", body = MadeToken))
)]
#[post("/v1/tokens")]
pub(super) async fn create_token(
    services: web::Data<Services>,
    actor: As<Manager>,
    body: Json<NewToken>,
) -> Result<HttpResponse, Problem> {
    let (role, label) = body.0.parse()?;
    let (token, secret) = tokens::create(&services, &actor, role, label).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .json(MadeToken { token: token.into(), secret: secret.reveal() }))
}
