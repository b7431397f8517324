//! Messages to hooks: what was sent, what came of it, and sending again.

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{Attempt, HookId, HookMessage, MessageId, NewAttempt};
use crate::service::Services;
use crate::service::hooks::{self, webhook_id};
use crate::web::auth::{App, As};
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::schema;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(send_test_message).service(list_deliveries).service(get_delivery).service(redeliver);
}

/// One attempt to deliver a message.
#[derive(Serialize, ToSchema)]
#[schema(as = HookAttempt)]
struct AttemptDocument {
    /// Counts the message's attempts from 1.
    #[schema(minimum = 1)]
    number: i64,
    /// When it began.
    at: DateTime<Utc>,
    /// How long it took.
    #[schema(minimum = 0)]
    milliseconds: i64,
    /// What it came to.
    #[schema(value_type = schema::AttemptOutcome)]
    outcome: &'static str,
    /// The status of the answer, where there was one.
    status: Option<u16>,
}

impl From<Attempt> for AttemptDocument {
    fn from(attempt: Attempt) -> Self {
        let Attempt { number, facts: NewAttempt { at, milliseconds, outcome, status } } = attempt;
        Self { number, at: at.datetime(), milliseconds, outcome: outcome.as_str(), status }
    }
}

/// A message to a hook, and what became of it.
#[derive(Serialize, ToSchema)]
#[schema(as = HookMessage)]
struct HookMessageDocument {
    /// Its id.
    id: Uuid,
    /// The hook.
    hook_id: Uuid,
    /// Its id as the receiver sees it, in the header `webhook-id`: the same on every attempt.
    #[schema(example = "msg_019abf3e6a347d6e9a510d3c5e1f2a10")]
    webhook_id: String,
    /// What it tells of: an event, or `hook.test`.
    event: String,
    /// Where it stands.
    #[schema(value_type = schema::MessageState)]
    state: &'static str,
    /// When it is tried next; null when it isn't.
    next_at: Option<DateTime<Utc>>,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Every attempt, the first one first.
    attempts: Vec<AttemptDocument>,
    /// The body as it is sent.
    #[schema(value_type = Object)]
    body: Value,
}

impl From<HookMessage> for HookMessageDocument {
    fn from(delivery: HookMessage) -> Self {
        let HookMessage { message, state, tries: _, next_at, attempts } = delivery;
        Self {
            id: message.id.uuid(),
            hook_id: message.hook_id.uuid(),
            webhook_id: webhook_id(message.id),
            event: message.event,
            state: state.as_str(),
            next_at: next_at.map(|at| at.datetime()),
            created_at: message.created_at.datetime(),
            attempts: attempts.into_iter().map(AttemptDocument::from).collect(),
            body: serde_json::from_str(&message.body).unwrap_or(Value::Null),
        }
    }
}

/// A page of a hook's log.
#[derive(ToSchema)]
#[allow(dead_code)]
struct HookMessageList {
    /// Messages of this page, the latest first.
    items: Vec<HookMessageDocument>,
}

/// Send a test message
///
/// A message of the type `hook.test` goes to the hook at once, whatever it listens for. The answer names it; get it
/// again to see what became of it.
#[utoipa::path(
    operation_id = "send_test_message",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook")),
    responses((status = 202, description = "The message, which is on its way", body = HookMessageDocument))
)]
#[post("/v1/hooks/{hook_id}/test")]
async fn send_test_message(
    services: web::Data<Services>,
    mut change: Change<App>,
    hook_id: web::Path<HookId>,
) -> Result<HttpResponse, Problem> {
    let delivery = hooks::send_test(&services, &mut change, *hook_id).await?;
    Ok(HttpResponse::Accepted().json(HookMessageDocument::from(delivery)))
}

/// List a hook's messages
///
/// What was sent and what came of it, for 30 days.
#[utoipa::path(
    operation_id = "list_hook_messages",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"), PageQuery),
    responses((status = 200, description = "A page of messages", body = HookMessageList))
)]
#[get("/v1/hooks/{hook_id}/deliveries")]
async fn list_deliveries(
    services: web::Data<Services>,
    actor: As<App>,
    hook_id: web::Path<HookId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = hooks::deliveries(&services, &actor, *hook_id, &listing.page).await?;
    Ok(listing.answer(page, HookMessageDocument::from))
}

/// Get a message
#[utoipa::path(
    operation_id = "get_hook_message",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("message_id" = Uuid, Path, description = "The message")),
    responses((status = 200, description = "The message with its attempts", body = HookMessageDocument))
)]
#[get("/v1/hooks/{hook_id}/deliveries/{message_id}")]
async fn get_delivery(
    services: web::Data<Services>,
    actor: As<App>,
    path: web::Path<(HookId, MessageId)>,
) -> Result<HttpResponse, Problem> {
    let (hook_id, id) = path.into_inner();
    let delivery = hooks::delivery(&services, &actor, hook_id, id).await?;
    Ok(HttpResponse::Ok().json(HookMessageDocument::from(delivery)))
}

/// Send a message again
///
/// At once, under the same `webhook-id`, whatever became of it before; when it fails, by the usual schedule.
#[utoipa::path(
    operation_id = "redeliver",
    tag = "hooks",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("hook_id" = Uuid, Path, description = "The hook"),
        ("message_id" = Uuid, Path, description = "The message")),
    responses((status = 202, description = "The message, which is on its way", body = HookMessageDocument))
)]
#[post("/v1/hooks/{hook_id}/deliveries/{message_id}/redelivery")]
async fn redeliver(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(HookId, MessageId)>,
) -> Result<HttpResponse, Problem> {
    let (hook_id, id) = path.into_inner();
    let delivery = hooks::redeliver(&services, &mut change, hook_id, id).await?;
    Ok(HttpResponse::Accepted().json(HookMessageDocument::from(delivery)))
}
