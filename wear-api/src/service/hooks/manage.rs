//! What managers do with hooks, and everybody else with those that their own token made.

use crate::service::Conflict;
use chrono::Duration;
use serde_json::json;

use super::super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange};
use super::tell::{self, DeliveryJob};
use crate::domain::{
    DisabledReason, Hook, HookFacts, HookId, HookMessage, HookOwner, HookSecret, HookSecrets, MessageId,
    MessageState, Page, PageRequest, Role, TokenId,
};
use crate::store::Tx;

/// Most hooks of the workshop itself: each alert writes a message for each (A).
pub const MOST_HOOKS: i64 = 20;

/// Most hooks of one app's or mechanic's token (A).
pub const MOST_OF_TOKEN: i64 = 5;

/// The word of a test message.
const TEST: &str = "hook.test";

/// What to change of a hook; what is none stays.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct HookChange {
    /// What people call it.
    pub label: Option<crate::domain::Label>,
    /// Where its messages go.
    pub url: Option<crate::domain::HookUrl>,
    /// What it is told of.
    pub events: Option<Vec<crate::domain::HookEvent>>,
    /// Whether it is in force.
    pub enabled: Option<bool>,
}

/// Makes a hook. Its secret is in the answer, and can't be read again.
///
/// # Errors
/// [`ServiceError::Conflict`] when the workshop has the most hooks already.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: HookFacts,
) -> Result<Hook, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let current = HookSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    let reach = change.actor.reach;
    let owner = owner(change.actor);
    let hook = Hook {
        id: HookId::generate(),
        facts,
        secrets: HookSecrets { current, previous: None },
        failing_since: None,
        disabled: None,
        owner: owner.map(|token_id| HookOwner { token_id, reach, is_revoked: false }),
        created_at: change.now,
        revision: 1,
    };
    let most = if owner.is_some() { MOST_OF_TOKEN } else { MOST_HOOKS };
    if change.tx.count_hooks(owner).await? >= most {
        return Err(ServiceError::Conflict(match owner {
            Some(_) => Conflict::TooManyHooksOfToken { most: most.to_string() },
            None => Conflict::TooManyHooks { most: most.to_string() },
        }));
    }
    change.tx.insert_hook(&hook).await?;
    change.record("hook.create", format!("hooks/{}", hook.id)).await?;
    Ok(hook)
}

/// The token whose hooks someone sees: managers see all.
fn owner(actor: &Actor) -> Option<TokenId> {
    actor.token_id.filter(|_| actor.role != Role::Manager)
}

/// One hook.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: HookId) -> Result<Hook, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    found(&mut tx, actor, id).await
}

async fn found(tx: &mut Tx, actor: &Actor, id: HookId) -> Result<Hook, ServiceError> {
    let hook = tx.hook(id).await.map_err(ServiceError::or_not_found("hook"))?;
    match owner(actor) {
        Some(own) if hook.owner.is_none_or(|owner| owner.token_id != own) => {
            Err(ServiceError::NotFound { what: "hook" })
        }
        _ => Ok(hook),
    }
}

/// A page of the workshop's hooks, or of those that are the asker's own.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Hook>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.hooks(owner(actor), page).await?)
}

/// Changes a hook. Enabled again, it is told of what happens from then on.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: HookId,
    revision: i64,
    wanted: HookChange,
) -> Result<Hook, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let mut hook = found(change.tx, change.actor, id).await?;
    let HookChange { label, url, events, enabled } = wanted;
    hook.facts.label = label.unwrap_or(hook.facts.label);
    hook.facts.url = url.unwrap_or(hook.facts.url);
    hook.facts.events = events.unwrap_or(hook.facts.events);
    match enabled {
        Some(true) => (hook.disabled, hook.failing_since) = (None, None),
        Some(false) => hook.disabled = hook.disabled.or(Some((change.now, DisabledReason::ByHand))),
        None => {}
    }
    hook.revision = revision;
    change.tx.change_hook(&hook).await.map_err(ServiceError::or_stale("hook"))?;
    change.record("hook.change", format!("hooks/{id}")).await?;
    hook.revision += 1;
    Ok(hook)
}

/// Removes a hook with its log.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn delete(
    services: &Services,
    work: &mut UnitOfWork,
    id: HookId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    found(change.tx, change.actor, id).await?;
    change.tx.delete_hook(id, revision).await.map_err(ServiceError::or_stale("hook"))?;
    change.record("hook.delete", format!("hooks/{id}")).await
}

/// Puts a new secret in place of the present one, which signs along for `overlap`.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn rotate(
    services: &Services,
    work: &mut UnitOfWork,
    id: HookId,
    overlap: Duration,
) -> Result<Hook, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let current = HookSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    let mut hook = found(change.tx, change.actor, id).await?;
    let previous = (overlap > Duration::zero()).then(|| (hook.secrets.current, change.now.plus(overlap)));
    hook.secrets = HookSecrets { current, previous };
    change.tx.replace_hook_secrets(id, &hook.secrets).await.map_err(ServiceError::or_not_found("hook"))?;
    change.record("hook.rotate_secret", format!("hooks/{id}")).await?;
    hook.revision += 1;
    Ok(hook)
}

fn in_force(hook: &Hook) -> Result<(), ServiceError> {
    match hook.disabled {
        None => Ok(()),
        Some((at, reason)) => Err(ServiceError::Conflict(Conflict::HookDisabled {
            since: at.to_string(),
            reason: reason.to_string(),
        })),
    }
}

/// Sends a test message to a hook, whatever it listens for.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when the hook is disabled.
pub async fn send_test(
    services: &Services,
    work: &mut UnitOfWork,
    id: HookId,
) -> Result<HookMessage, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let hook = found(change.tx, change.actor, id).await?;
    in_force(&hook)?;
    let data = json!({"hook_id": id, "label": hook.facts.label.as_str()});
    let message_id = tell::post(change.tx, id, TEST, change.now, &data).await?;
    let delivery = change.tx.hook_message(message_id).await?;
    change.record("hook.test", format!("hooks/{id}")).await?;
    Ok(delivery)
}

/// A page of a hook's log, the latest message first.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] for another list's cursor.
pub async fn deliveries(
    services: &Services,
    actor: &Actor,
    id: HookId,
    page: &PageRequest,
) -> Result<Page<HookMessage>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    found(&mut tx, actor, id).await?;
    Ok(tx.hook_messages(id, page).await?)
}

/// One message of a hook's log.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn delivery(
    services: &Services,
    actor: &Actor,
    hook_id: HookId,
    id: MessageId,
) -> Result<HookMessage, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    found(&mut tx, actor, hook_id).await?;
    delivery_of(&mut tx, hook_id, id).await
}

async fn delivery_of(tx: &mut Tx, hook_id: HookId, id: MessageId) -> Result<HookMessage, ServiceError> {
    let delivery = tx.hook_message(id).await.map_err(ServiceError::or_not_found("message"))?;
    if delivery.message.hook_id == hook_id {
        Ok(delivery)
    } else {
        Err(ServiceError::NotFound { what: "message" })
    }
}

/// Sends a message again, under the same id, at once and then by the usual schedule.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when the hook is disabled.
pub async fn redeliver(
    services: &Services,
    work: &mut UnitOfWork,
    hook_id: HookId,
    id: MessageId,
) -> Result<HookMessage, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let hook = found(change.tx, change.actor, hook_id).await?;
    delivery_of(change.tx, hook_id, id).await?;
    in_force(&hook)?;
    change.tx.set_hook_message(id, MessageState::Waiting, 0, Some(change.now)).await?;
    DeliveryJob { message_id: id, hook_id, due: change.now }.enqueue(change.tx, change.now).await?;
    let delivery = change.tx.hook_message(id).await?;
    change.record("hook.redeliver", format!("hooks/{hook_id}/deliveries/{id}")).await?;
    Ok(delivery)
}
