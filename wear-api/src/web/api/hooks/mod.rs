//! Hooks: addresses that are told of alerts.

mod deliveries;
pub(crate) mod messages;
pub(crate) mod webhooks;

use actix_web::http::header;
use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Duration, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{Field, FieldErrors, Hook, HookEvent, HookFacts, HookId, HookUrl, Invalid, Label};
use crate::input::parse;
use crate::service::Services;
use crate::service::hooks;
use crate::web::auth::{App, As};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::etag::{IfMatch, etag};
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::{answer, schema};
use crate::webhook::AddressPolicy;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_hook)
        .service(list_hooks)
        .service(get_hook)
        .service(change_hook)
        .service(delete_hook)
        .service(rotate_hook_secret);
    deliveries::operations(config);
}

/// A hook; never its secret.
#[derive(Serialize, ToSchema)]
#[schema(as = Hook)]
struct HookDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    label: String,
    /// Where its messages go.
    #[schema(format = "uri", example = "https://app.example/wear")]
    url: String,
    /// What it is told of.
    #[schema(value_type = Vec<schema::HookEvent>, min_items = 1, max_items = 15)]
    events: Vec<&'static str>,
    /// Whether it gets messages.
    enabled: bool,
    /// Why it gets none; null while it does.
    #[schema(value_type = Option<schema::DisabledReason>)]
    disabled_reason: Option<&'static str>,
    /// Since when it gets none.
    disabled_at: Option<DateTime<Utc>>,
    /// Since when nothing has got through; null while all is well.
    failing_since: Option<DateTime<Utc>>,
    /// The token that made it, where that was no manager's: it is told of the bikes that this token sees, and of nothing once
    /// the token is revoked. Null of the workshop's own hooks.
    token_id: Option<Uuid>,
    /// Until when the secret before signs along; null when it doesn't.
    previous_secret_until: Option<DateTime<Utc>>,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` holds it.
    revision: i64,
}

impl From<Hook> for HookDocument {
    fn from(hook: Hook) -> Self {
        let Hook { id, facts, secrets, failing_since, disabled, owner, created_at, revision } = hook;
        Self {
            id: id.uuid(),
            label: facts.label.to_string(),
            url: facts.url.as_str().to_owned(),
            events: facts.events.iter().map(|event| event.as_str()).collect(),
            enabled: disabled.is_none(),
            disabled_reason: disabled.map(|(_, reason)| reason.as_str()),
            disabled_at: disabled.map(|(at, _)| at.datetime()),
            failing_since: failing_since.map(|at| at.datetime()),
            token_id: owner.map(|owner| owner.token_id.uuid()),
            previous_secret_until: secrets.previous.map(|(_, until)| until.datetime()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// A hook with its secret, which is shown this once.
#[derive(Serialize, ToSchema)]
struct HookWithSecret {
    #[serde(flatten)]
    hook: HookDocument,
    /// What signs its messages: `whsec_` and base64, as Standard Webhooks libraries take it.
    #[schema(
        example = "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=",
        pattern = "^whsec_[A-Za-z0-9+/=]+$"
    )]
    secret: String,
}

impl From<Hook> for HookWithSecret {
    fn from(hook: Hook) -> Self {
        let secret = hook.secrets.current.reveal();
        Self { hook: hook.into(), secret }
    }
}

/// An address that the service's settings let hooks have.
fn allowed_url(given: &str, policy: &AddressPolicy) -> Result<HookUrl, Invalid> {
    let url = HookUrl::new(given)?;
    policy.check(&url)?;
    Ok(url)
}

/// Events, each kept once; at least one.
fn distinct_events(given: &[String], errors: &mut FieldErrors) -> Option<Vec<HookEvent>> {
    let most = HookEvent::ALL.len();
    if given.is_empty() || given.len() > most {
        let cause = Invalid::Count { what: Field::Events, found: given.len(), minimum: 1, maximum: most };
        errors.push(cause.at("/events"));
        return None;
    }
    let found: Vec<Option<HookEvent>> = given
        .iter()
        .enumerate()
        .map(|(index, word)| errors.keep(format!("/events/{index}"), parse::text::<HookEvent>(word)))
        .collect();
    let mut events = found.into_iter().collect::<Option<Vec<HookEvent>>>()?;
    events.sort_unstable();
    events.dedup();
    Some(events)
}

/// A hook to be made.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewHook {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: String,
    /// Where its messages go: an `https://` address on the public internet.
    #[schema(max_length = 2_000, format = "uri")]
    url: String,
    /// What it is told of.
    #[schema(value_type = Vec<schema::HookEvent>, min_items = 1, max_items = 15)]
    events: Vec<String>,
}

impl NewHook {
    fn parse(self, policy: &AddressPolicy) -> Result<HookFacts, FieldErrors> {
        let mut errors = FieldErrors::new();
        let label = errors.keep("/label", Label::new(&self.label));
        let url = errors.keep("/url", allowed_url(&self.url, policy));
        let events = distinct_events(&self.events, &mut errors);
        match (label, url, events) {
            (Some(label), Some(url), Some(events)) => Ok(HookFacts { label, url, events }),
            _ => Err(errors),
        }
    }
}

/// A page of hooks.
#[derive(ToSchema)]
#[allow(dead_code)]
struct HookList {
    /// Hooks of this page, in the order they were made.
    items: Vec<HookDocument>,
}

/// What to change of a hook; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct HookChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: Option<String>,
    /// Where its messages go.
    #[schema(max_length = 2_000, format = "uri")]
    url: Option<String>,
    /// What it is told of.
    #[schema(value_type = Option<Vec<schema::HookEvent>>, min_items = 1, max_items = 15)]
    events: Option<Vec<String>>,
    /// Whether it gets messages. What happens while it doesn't is not sent later.
    enabled: Option<bool>,
}

impl HookChange {
    fn parse(self, policy: &AddressPolicy) -> Result<hooks::HookChange, FieldErrors> {
        let Self { label, url, events, enabled } = self;
        let mut errors = FieldErrors::new();
        let label = label.and_then(|label| errors.keep("/label", Label::new(&label)));
        let url = url.and_then(|url| errors.keep("/url", allowed_url(&url, policy)));
        let events = events.and_then(|events| distinct_events(&events, &mut errors));
        if errors.is_empty() { Ok(hooks::HookChange { label, url, events, enabled }) } else { Err(errors) }
    }
}

/// Longest time that two secrets sign together: a week.
const LONGEST_OVERLAP_HOURS: i64 = 168;

/// How a secret is replaced.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct SecretRotation {
    /// For how long the secret before signs along; a day when left out, 0 not at all.
    #[schema(minimum = 0, maximum = 168)]
    overlap_hours: Option<i64>,
}

impl SecretRotation {
    fn parse(self) -> Result<Duration, FieldErrors> {
        let given = self.overlap_hours.unwrap_or(24);
        if (0..=LONGEST_OVERLAP_HOURS).contains(&given) {
            return Ok(Duration::hours(given));
        }
        let what = Field::OverlapHours;
        let cause = Invalid::WholeNumber { what, given, minimum: 0, maximum: LONGEST_OVERLAP_HOURS };
        Err(cause.at("/overlap_hours").into())
    }
}

/// Make a hook
///
/// From now on its receiver is told once of each thing that it listens for: a `POST` with a JSON body, signed as Standard Webhooks
/// has it. The section `webhooks` of this document shows the bodies. A receiver answers 2xx within 15 seconds;
/// anything else is tried again for about a day, redirects are not followed, and 410 disables the hook. Messages
/// come at least once: the same `webhook-id` is the same message.
///
/// A manager's hook is the workshop's and hears of every bike. One that another token makes is that token's: it hears of the
/// bikes that the token sees, and only the token and managers see it. It ends with the token.
///
/// Its secret is in this answer and can't be read again.
#[utoipa::path(
    operation_id = "create_hook",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    request_body(content = NewHook, example = json!({"label": "ride app", "url": "https://app.example/wear",
        "events": ["outlook.measure_by", "outlook.swap_by", "outlook.swap_now"]})),
    responses((status = 201, description = "The hook with its secret", body = HookWithSecret,
        headers(("Location" = String, description = "Address of the hook"))))
)]
#[post("/v1/hooks")]
async fn create_hook(
    services: web::Data<Services>,
    policy: web::Data<AddressPolicy>,
    mut change: Change<App>,
    body: Json<NewHook>,
) -> Result<HttpResponse, Problem> {
    let hook = hooks::create(&services, &mut change, body.0.parse(&policy)?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::LOCATION, format!("/v1/hooks/{}", hook.id)))
        .insert_header(etag(hook.revision))
        .json(HookWithSecret::from(hook)))
}

/// List hooks
///
/// Managers see all, others those that their token made.
#[utoipa::path(
    operation_id = "list_hooks",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of hooks", body = HookList))
)]
#[get("/v1/hooks")]
async fn list_hooks(
    services: web::Data<Services>,
    actor: As<App>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = hooks::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, HookDocument::from))
}

/// Get a hook
#[utoipa::path(
    operation_id = "get_hook",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook")),
    responses((status = 200, description = "The hook", body = HookDocument))
)]
#[get("/v1/hooks/{hook_id}")]
async fn get_hook(
    services: web::Data<Services>,
    actor: As<App>,
    hook_id: web::Path<HookId>,
) -> Result<HttpResponse, Problem> {
    let hook = hooks::get(&services, &actor, *hook_id).await?;
    Ok(answer::current(hook.revision, HookDocument::from(hook)))
}

/// Change a hook
#[utoipa::path(
    operation_id = "change_hook",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("If-Match" = String, Header, description = "`ETag` of the hook as you read it", example = "\"1\"")),
    request_body(content = HookChange, example = json!({"events": ["outlook.swap_now"], "enabled": true})),
    responses((status = 200, description = "The hook after the change", body = HookDocument))
)]
#[patch("/v1/hooks/{hook_id}")]
async fn change_hook(
    services: web::Data<Services>,
    policy: web::Data<AddressPolicy>,
    mut change: Change<App>,
    hook_id: web::Path<HookId>,
    seen: IfMatch,
    body: Json<HookChange>,
) -> Result<HttpResponse, Problem> {
    let revision =
        seen.revision(async || Ok(hooks::get(&services, change.actor(), *hook_id).await?.revision)).await?;
    let hook = hooks::change(&services, &mut change, *hook_id, revision, body.0.parse(&policy)?).await?;
    Ok(answer::current(hook.revision, HookDocument::from(hook)))
}

/// Remove a hook
///
/// Its log goes with it, and what waits isn't sent.
#[utoipa::path(
    operation_id = "delete_hook",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("If-Match" = String, Header, description = "`ETag` of the hook as you read it", example = "\"1\"")),
    responses((status = 204, description = "The hook is gone"))
)]
#[delete("/v1/hooks/{hook_id}")]
async fn delete_hook(
    services: web::Data<Services>,
    mut change: Change<App>,
    hook_id: web::Path<HookId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision =
        seen.revision(async || Ok(hooks::get(&services, change.actor(), *hook_id).await?.revision)).await?;
    hooks::delete(&services, &mut change, *hook_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Replace a hook's secret
///
/// The new secret is in this answer and can't be read again. While both are in force each message carries a signature
/// by either, so that no message is refused while the receiver changes over.
#[utoipa::path(
    operation_id = "rotate_hook_secret",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook")),
    request_body(content = SecretRotation, example = json!({"overlap_hours": 24})),
    responses((status = 200, description = "The hook with its new secret", body = HookWithSecret))
)]
#[post("/v1/hooks/{hook_id}/secret")]
async fn rotate_hook_secret(
    services: web::Data<Services>,
    mut change: Change<App>,
    hook_id: web::Path<HookId>,
    body: Json<SecretRotation>,
) -> Result<HttpResponse, Problem> {
    let overlap = body.0.parse()?;
    let hook = hooks::rotate(&services, &mut change, *hook_id, overlap).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header(etag(hook.revision))
        .json(HookWithSecret::from(hook)))
}
