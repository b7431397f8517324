use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{
    Attempt, Field, FieldErrors, Hook, HookEvent, HookMessage, HookUrl, Invalid, NewAttempt,
};
use crate::input::parse;
use crate::service::hooks::webhook_id;
use crate::web::schema;
use crate::webhook::AddressPolicy;

/// A hook; never its secret.
#[derive(Serialize, ToSchema)]
#[schema(as = Hook)]
pub(super) struct HookDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    label: String,
    /// Where its messages go.
    #[schema(format = "uri", example = "https://app.example/wear")]
    url: String,
    /// What it is told of.
    #[schema(value_type = Vec<schema::HookEvent>, min_items = 1, max_items = 5)]
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
    /// Until when the secret before signs along; null when it doesn't.
    previous_secret_until: Option<DateTime<Utc>>,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` holds it.
    revision: i64,
}

impl From<Hook> for HookDocument {
    fn from(hook: Hook) -> Self {
        let Hook { id, facts, secrets, failing_since, disabled, created_at, revision } = hook;
        Self {
            id: id.uuid(),
            label: facts.label.to_string(),
            url: facts.url.as_str().to_owned(),
            events: facts.events.iter().map(|event| event.as_str()).collect(),
            enabled: disabled.is_none(),
            disabled_reason: disabled.map(|(_, reason)| reason.as_str()),
            disabled_at: disabled.map(|(at, _)| at.datetime()),
            failing_since: failing_since.map(|at| at.datetime()),
            previous_secret_until: secrets.previous.map(|(_, until)| until.datetime()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// A hook with its secret, which is shown this once.
#[derive(Serialize, ToSchema)]
pub(super) struct HookWithSecret {
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
pub(super) struct HookMessageDocument {
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

/// An address that the service's settings let hooks have.
pub(super) fn url(given: &str, policy: &AddressPolicy) -> Result<HookUrl, Invalid> {
    let url = HookUrl::new(given)?;
    policy.check(&url)?;
    Ok(url)
}

/// Events, each kept once; at least one.
pub(super) fn events(given: &[String], errors: &mut FieldErrors) -> Option<Vec<HookEvent>> {
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
