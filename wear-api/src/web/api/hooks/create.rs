use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;

use super::document::{self, HookWithSecret};
use crate::domain::{FieldErrors, HookFacts, Label};
use crate::service::{Services, hooks};
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;
use crate::web::schema;
use crate::webhook::AddressPolicy;

/// A hook to be made.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewHook {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: String,
    /// Where its messages go: an `https://` address on the public internet.
    #[schema(max_length = 2_000, format = "uri")]
    url: String,
    /// What it is told of.
    #[schema(value_type = Vec<schema::HookEvent>, min_items = 1, max_items = 5)]
    events: Vec<String>,
}

impl NewHook {
    fn parse(self, policy: &AddressPolicy) -> Result<HookFacts, FieldErrors> {
        let mut errors = FieldErrors::new();
        let label = errors.keep("/label", Label::new(&self.label));
        let url = errors.keep("/url", document::url(&self.url, policy));
        let events = document::events(&self.events, &mut errors);
        match (label, url, events) {
            (Some(label), Some(url), Some(events)) => Ok(HookFacts { label, url, events }),
            _ => Err(errors),
        }
    }
}

/// Make a hook
///
/// From now on its receiver is told of each crossing once: a `POST` with a JSON body, signed as Standard Webhooks
/// has it. The section `webhooks` of this document shows the bodies. A receiver answers 2xx within 15 seconds;
/// anything else is tried again for about a day, redirects are not followed, and 410 disables the hook. Messages
/// come at least once: the same `webhook-id` is the same message.
///
/// Its secret is in this answer and can't be read again.
#[utoipa::path(
    operation_id = "create_hook",
    tag = "hooks",
    security(("bearer" = ["manager"])),
    request_body(content = NewHook, example = json!({"label": "ride app", "url": "https://app.example/wear",
        "events": ["outlook.measure_by", "outlook.swap_by", "outlook.swap_now"]})),
    responses((status = 201, description = "The hook with its secret", body = HookWithSecret,
        headers(("Location" = String, description = "Address of the hook"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/hooks")]
pub(super) async fn create_hook(
    services: web::Data<Services>,
    policy: web::Data<AddressPolicy>,
    actor: As<Manager>,
    body: Json<NewHook>,
) -> Result<HttpResponse, Problem> {
    let hook = hooks::create(&services, &actor, body.0.parse(&policy)?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::LOCATION, format!("/v1/hooks/{}", hook.id)))
        .insert_header(etag(hook.revision))
        .json(HookWithSecret::from(hook)))
}
