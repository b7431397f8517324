use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::document::{self, HookDocument};
use crate::domain::{FieldErrors, HookId, Label};
use crate::service::hooks::HookChange as Change;
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;
use crate::web::schema;
use crate::webhook::AddressPolicy;

/// What to change of a hook; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct HookChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: Option<String>,
    /// Where its messages go.
    #[schema(max_length = 2_000, format = "uri")]
    url: Option<String>,
    /// What it is told of.
    #[schema(value_type = Option<Vec<schema::HookEvent>>, min_items = 1, max_items = 5)]
    events: Option<Vec<String>>,
    /// Whether it gets messages. What happens while it doesn't is not sent later.
    enabled: Option<bool>,
}

impl HookChange {
    fn parse(self, policy: &AddressPolicy) -> Result<Change, FieldErrors> {
        let Self { label, url, events, enabled } = self;
        let mut errors = FieldErrors::new();
        let label = label.and_then(|label| errors.keep("/label", Label::new(&label)));
        let url = url.and_then(|url| errors.keep("/url", document::url(&url, policy)));
        let events = events.and_then(|events| document::events(&events, &mut errors));
        if errors.is_empty() { Ok(Change { label, url, events, enabled }) } else { Err(errors) }
    }
}

/// Change a hook
#[utoipa::path(
    operation_id = "change_hook",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("If-Match" = String, Header, description = "`ETag` of the hook as you read it", example = "\"1\"")),
    request_body(content = HookChange, example = json!({"events": ["outlook.swap_now"], "enabled": true})),
    responses((status = 200, description = "The hook after the change", body = HookDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/hooks/{hook_id}")]
pub(super) async fn change_hook(
    services: web::Data<Services>,
    policy: web::Data<AddressPolicy>,
    actor: As<Manager>,
    hook_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<HookChange>,
) -> Result<HttpResponse, Problem> {
    let id = HookId::from_uuid(*hook_id);
    let hook = hooks::change(&services, &actor, id, seen.0, body.0.parse(&policy)?).await?;
    Ok(HttpResponse::Ok().insert_header(etag(hook.revision)).json(HookDocument::from(hook)))
}
