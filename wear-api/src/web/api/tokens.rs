//! Tokens of the workshop.

use actix_web::{HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{AppId, FieldErrors, Grant, Label, Reach, RiderId, Role, Token, TokenId};
use crate::input::parse;
use crate::service::{Services, tokens};
use crate::web::answer;
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_token).service(list_tokens).service(revoke_token);
}

/// What is known of a token; never its secret.
#[derive(Serialize, ToSchema)]
#[schema(as = Token)]
struct TokenDocument {
    /// Its id.
    id: Uuid,
    /// What its holder may do.
    #[schema(value_type = Role)]
    role: &'static str,
    /// The app that it is bound to; null without.
    app_id: Option<Uuid>,
    /// The rider that it is bound to; null without. Bound to neither, it sees the whole workshop.
    rider_id: Option<Uuid>,
    /// What people call it.
    label: String,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// When it was last used, to within minutes; null when never.
    last_used_at: Option<DateTime<Utc>>,
    /// When it was revoked; null while it is in force.
    revoked_at: Option<DateTime<Utc>>,
}

impl From<Token> for TokenDocument {
    fn from(token: Token) -> Self {
        let Token { id, workshop_id: _, grant, label, created_at, last_used_at, revoked_at } = token;
        Self {
            id: id.uuid(),
            role: grant.role().as_str(),
            app_id: grant.reach().app().map(AppId::uuid),
            rider_id: grant.reach().rider().map(RiderId::uuid),
            label: label.to_string(),
            created_at: created_at.datetime(),
            last_used_at: last_used_at.map(|at| at.datetime()),
            revoked_at: revoked_at.map(|at| at.datetime()),
        }
    }
}

/// A token to be made.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewToken {
    /// What its holder may do.
    #[schema(value_type = Role)]
    role: String,
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: String,
    /// Binds a token of the role `app` to an app: it sees the bikes that this app entered or was given.
    app_id: Option<Uuid>,
    /// Binds a token of the role `app` to a rider: it sees this rider's bikes, with `app_id` on the app's behalf.
    rider_id: Option<Uuid>,
}

impl NewToken {
    fn parse(self) -> Result<(Grant, Label), FieldErrors> {
        let mut errors = FieldErrors::new();
        let Self { role, label, app_id, rider_id } = self;
        let reach = Reach::of(app_id.map(AppId::from_uuid), rider_id.map(RiderId::from_uuid));
        let role = errors.keep("/role", parse::text::<Role>(&role));
        let grant = role.and_then(|role| errors.keep("/role", Grant::new(role, reach)));
        let label = errors.keep("/label", Label::new(&label));
        grant.zip(label).ok_or(errors)
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

/// A page of tokens.
#[derive(ToSchema)]
#[allow(dead_code)]
struct TokenList {
    /// Tokens of this page, revoked ones too.
    items: Vec<TokenDocument>,
}

/// Make a token
///
/// Its secret is in this answer and nowhere else: only a hash is kept. Bound to an app or a rider it sees their bikes alone,
/// and others aren't there. To give an app its token without copying it, make a link.
#[utoipa::path(
    operation_id = "create_token",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    request_body(content = NewToken, example = json!({"role": "app", "label": "ride log"})),
    responses((status = 201, description = "The token with its secret", body = MadeToken))
)]
#[post("/v1/tokens")]
async fn create_token(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    body: Json<NewToken>,
) -> Result<HttpResponse, Problem> {
    let (grant, label) = body.0.parse()?;
    let (token, secret) = tokens::create(&services, &mut change, grant, label).await?;
    Ok(answer::shown_once(MadeToken { token: token.into(), secret: secret.reveal() }))
}

/// List tokens
#[utoipa::path(
    operation_id = "list_tokens",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of tokens", body = TokenList))
)]
#[get("/v1/tokens")]
async fn list_tokens(
    services: web::Data<Services>,
    actor: As<Manager>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = tokens::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, TokenDocument::from))
}

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
async fn revoke_token(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    token_id: web::Path<TokenId>,
) -> Result<HttpResponse, Problem> {
    tokens::revoke(&services, &mut change, *token_id).await?;
    Ok(HttpResponse::NoContent().finish())
}
