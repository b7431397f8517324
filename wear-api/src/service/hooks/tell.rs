//! The outbox: messages to hooks, written in the transaction of what they tell of.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use wear_core::Reason;

use super::super::{ServiceError, Services, UnitOfWork};
use crate::domain::{
    Alert, AlertChange, Bike, DisabledReason, Hook, HookEvent, HookId, JobKind, MessageId, NewHookMessage,
    NewJob, Outlook, PartId, Timestamp, TokenId,
};
use crate::input::WrongField;
use crate::store::{StoreError, Tx};

/// Most refused rides that one message lists.
const MOST_LISTED: usize = 100;

/// What a job needs to know to deliver a message: `due` tells a job that is overtaken by a later plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct DeliveryJob {
    pub(super) message_id: MessageId,
    pub(super) hook_id: HookId,
    pub(super) due: Timestamp,
}

impl DeliveryJob {
    /// Asks for the job in the caller's transaction.
    pub(super) async fn enqueue(self, tx: &mut Tx, now: Timestamp) -> Result<(), StoreError> {
        let payload = serde_json::to_value(self).map_err(|error| StoreError::Corrupt {
            table: "jobs",
            column: "payload",
            reason: error.to_string(),
        })?;
        let job = NewJob {
            kind: JobKind::DeliverHook,
            key: format!("{}/{}", self.message_id, self.due.micros()),
            payload,
            due_at: self.due,
            created_at: now,
        };
        tx.enqueue(&job).await.map(|_| ())
    }
}

/// Writes a message to one hook into the outbox.
pub(super) async fn post(
    tx: &mut Tx,
    hook_id: HookId,
    event: &str,
    now: Timestamp,
    data: &Value,
) -> Result<MessageId, StoreError> {
    let body = json!({"type": event, "timestamp": now, "data": data}).to_string();
    let id = MessageId::generate();
    let message = NewHookMessage { id, hook_id, event: event.to_owned(), body, created_at: now };
    tx.insert_hook_message(&message).await?;
    DeliveryJob { message_id: id, hook_id, due: now }.enqueue(tx, now).await?;
    Ok(id)
}

/// What a message is about: who may hear of it.
#[derive(Clone, Copy)]
enum About<'a> {
    /// A bike: the workshop, and whose token reaches it.
    Bike(&'a Bike),
    /// What a token sent: the workshop, and whoever made a hook with that token.
    Sent(Option<TokenId>),
    /// The workshop's own affairs.
    Workshop,
}

/// Tells each hook in force that may hear of it and that listens for what `choose` says.
async fn tell(
    tx: &mut Tx,
    about: About<'_>,
    now: Timestamp,
    data: &Value,
    choose: impl Fn(&Hook) -> Option<HookEvent>,
) -> Result<(), StoreError> {
    let hooks = match about {
        About::Bike(bike) => tx.hooks_for_bike(bike).await?,
        About::Sent(sender) => tx.hooks_for_sender(sender).await?,
        About::Workshop => tx.hooks_for_sender(None).await?,
    };
    for hook in hooks {
        if let Some(event) = choose(&hook) {
            post(tx, hook.id, event.as_str(), now, data).await?;
        }
    }
    Ok(())
}

/// Tells hooks where an outlook is more urgent than the one before, in the transaction that stores it. The bikes'
/// marks are held, so that no other outlook of a part comes between.
pub(in crate::service) async fn outlooks_stored<'a>(
    tx: &mut Tx,
    stored: impl Iterator<Item = (&'a Bike, &'a Outlook)> + Clone,
) -> Result<(), StoreError> {
    let parts: Vec<PartId> = stored.clone().filter_map(|(_, outlook)| outlook.part_id).collect();
    let before = tx.alerts(&parts).await?;
    for (bike, outlook) in stored {
        let now = outlook.computed_at;
        let Some(part_id) = outlook.part_id.filter(|_| bike.retired_at.is_none()) else { continue };
        // That nothing is known of a chain is no news: whoever entered the bike knows, and lists say so.
        if matches!(outlook.reason, Reason::AgeUnknown | Reason::RidingUnknown { .. }) {
            continue;
        }
        match Alert::by(before.get(&part_id), outlook.advice, evidence(outlook), now) {
            AlertChange::Nothing => {}
            AlertChange::Silent(alert) => tx.save_alert(part_id, &alert).await?,
            AlertChange::Raised { from, to } => {
                tx.save_alert(part_id, &to).await?;
                let data = alert_data(bike, part_id, outlook);
                tell(tx, About::Bike(bike), now, &data, |hook| {
                    Alert::event(from, to.level, &hook.facts.events)
                })
                .await?;
            }
        }
    }
    Ok(())
}

fn alert_data(bike: &Bike, part_id: PartId, outlook: &Outlook) -> Value {
    json!({
        "bike_id": bike.id, "label": bike.facts.label.as_str(), "group": bike.facts.group.as_str(),
        "part_id": part_id, "advice": outlook.advice.as_str(), "reason": outlook.reason.to_string(),
        "limit_percent": outlook.limit_percent, "swap_by": outlook.swap_by(),
        "measure_by": outlook.measure_by(), "probability_over_limit": outlook.probability_over_limit,
        "remaining_km": outlook.remaining_km,
        "outlook": format!("/v1/bikes/{}/outlook", bike.id),
    })
}

/// What an advice rests on, other than the passing of time and kilometres.
fn evidence(outlook: &Outlook) -> String {
    let last =
        outlook.basis.last_reading_at.map_or_else(|| "-".to_owned(), |at| outlook.time_of(at).to_string());
    format!("{} {} {}", outlook.basis.readings_used, last, outlook.limit_percent)
}

/// Tells hooks that a bike has left the fleet.
///
/// # Errors
/// [`StoreError`].
pub(in crate::service) async fn bike_left(
    tx: &mut Tx,
    bike: &Bike,
    now: Timestamp,
) -> Result<(), StoreError> {
    tell(tx, About::Bike(bike), now, &bike_data(bike), listening(HookEvent::BikeRetired)).await
}

/// Tells hooks that a bike is back in the fleet.
///
/// # Errors
/// [`StoreError`].
pub(in crate::service) async fn bike_returned(
    tx: &mut Tx,
    bike: &Bike,
    now: Timestamp,
) -> Result<(), StoreError> {
    tell(tx, About::Bike(bike), now, &bike_data(bike), listening(HookEvent::BikeReturned)).await
}

fn bike_data(bike: &Bike) -> Value {
    json!({
        "bike_id": bike.id, "label": bike.facts.label.as_str(), "group": bike.facts.group.as_str(),
        "retired_at": bike.retired_at, "bike": format!("/v1/bikes/{}", bike.id),
    })
}

fn listening(event: HookEvent) -> impl Fn(&Hook) -> Option<HookEvent> {
    move |hook| hook.facts.events.contains(&event).then_some(event)
}

/// Tells the other hooks that one was disabled.
pub(super) async fn hook_disabled(
    tx: &mut Tx,
    hook: &Hook,
    reason: DisabledReason,
    now: Timestamp,
) -> Result<(), StoreError> {
    let data = json!({
        "hook_id": hook.id, "label": hook.facts.label.as_str(), "reason": reason.as_str(), "disabled_at": now,
    });
    tell(tx, About::Workshop, now, &data, |other| {
        (other.id != hook.id && other.facts.events.contains(&HookEvent::HookDisabled))
            .then_some(HookEvent::HookDisabled)
    })
    .await
}

/// A ride that was refused, as its sender named it.
#[derive(Debug, Clone, Serialize)]
pub struct RejectedRide {
    /// Its place in the batch; none when it was sent alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub index: Option<usize>,
    /// The bike as the sender named it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bike_id: Option<String>,
    /// Who logged it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// The source's own id of the ride.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source_id: Option<String>,
    /// What is wrong with it.
    pub errors: Vec<WrongField>,
}

/// Tells hooks of rides that one request sent and that were refused.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn rides_rejected(
    services: &Services,
    work: &mut UnitOfWork,
    rejected: &[RejectedRide],
) -> Result<(), ServiceError> {
    if rejected.is_empty() {
        return Ok(());
    }
    let now = services.now();
    let listed = rejected.get(..MOST_LISTED).unwrap_or(rejected);
    let data = json!({"count": rejected.len(), "rejected": listed});
    let (tx, actor) = work.begin().await?;
    tell(tx, About::Sent(actor.token_id), now, &data, listening(HookEvent::RideRejected)).await?;
    Ok(())
}
