//! The outbox: messages to hooks, written in the transaction of what they tell of.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::super::{ServiceError, Services, UnitOfWork};
use crate::domain::{
    Bike, BikeId, DisabledReason, Findings, Hook, HookEvent, HookId, JobKind, MessageId, NewHookMessage,
    NewJob, News, Outlook, Over, PartId, Raised, SprocketFinding, Timestamp, TokenId, by_code,
};
use crate::input::WrongField;
use crate::store::{StoreError, Tx};
use crate::words::Words;

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
        let job = NewJob {
            kind: JobKind::DeliverHook,
            key: format!("{}/{}", self.message_id, self.due.micros()),
            payload: self,
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
pub(super) enum About<'a> {
    /// A bike: the workshop, and whose token reaches it.
    Bike(&'a Bike),
    /// What a token sent: the workshop, and whoever made a hook with that token.
    Sent(Option<TokenId>),
    /// The workshop's own affairs.
    Workshop,
}

/// Tells each hook in force that may hear of it and that listens for what `choose` says.
pub(super) async fn tell(
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

/// Tells hooks what outlooks change about what they were told, in the transaction that stores them. The bikes' marks are
/// held, so that no other outlook of a bike comes between.
pub(in crate::service) async fn outlooks_stored<'a>(
    tx: &mut Tx,
    stored: impl Iterator<Item = (&'a Bike, &'a Outlook, &'a Findings)> + Clone,
) -> Result<(), StoreError> {
    let stored = stored.filter(|(bike, ..)| bike.retired_at.is_none());
    let bikes: Vec<BikeId> = stored.clone().map(|(bike, ..)| bike.id).collect();
    let mut before = tx.announced(&bikes).await?;
    for (bike, outlook, findings) in stored {
        let told = before.remove(&bike.id).unwrap_or_default();
        let news = News::of(&told, findings, outlook.computed_at);
        if !news.is_empty() {
            tell_news(tx, (bike, outlook, findings), news).await?;
        }
    }
    Ok(())
}

async fn tell_news(
    tx: &mut Tx,
    (bike, outlook, findings): (&Bike, &Outlook, &Findings),
    news: News,
) -> Result<(), StoreError> {
    let now = outlook.computed_at;
    let words = Words::for_workshop(&tx.workshop().await?, None);
    let News { standing, fallen, raised, over } = news;
    for (part_id, topic) in fallen {
        tx.remove_announced(bike.id, part_id, topic).await?;
    }
    for it in &standing {
        tx.save_announced(bike.id, it).await?;
    }
    for Raised { part_id, events } in raised {
        let sprocket = findings.sprockets.iter().find(|it| it.part_id == part_id);
        let data = match sprocket {
            Some(sprocket) => sprocket_data(&words, bike, sprocket),
            None => chain_data(&words, bike, findings, (part_id, outlook)),
        };
        let first = |hook: &Hook| events.iter().copied().find(|event| hook.facts.events.contains(event));
        tell(tx, About::Bike(bike), now, &data, first).await?;
    }
    for over in over {
        let data = over_data(&words, bike, &over, outlook);
        tell(tx, About::Bike(bike), now, &data, listening(HookEvent::NoLongerDue)).await?;
    }
    Ok(())
}

fn chain_data(
    words: &Words,
    bike: &Bike,
    findings: &Findings,
    (part_id, outlook): (PartId, &Outlook),
) -> Value {
    let model_id = findings.chain.as_ref().and_then(|chain| chain.model_id);
    let (reason_code, reason_parameters) = by_code(outlook.reason);
    json!({
        "bike_id": bike.id, "label": bike.facts.label.as_str(), "group": bike.facts.group.as_str(),
        "part_id": part_id, "part_model_id": model_id,
        "advice": outlook.advice.as_str(), "reason": words.answered(&outlook.reason),
        "reason_code": reason_code, "reason_parameters": reason_parameters,
        "limit_percent": outlook.limit_percent, "swap_by": outlook.swap_by(),
        "measure_by": outlook.measure_by(), "probability_over_limit": outlook.probability_over_limit,
        "remaining_km": outlook.remaining_km,
        "outlook": format!("/v1/bikes/{}/outlook", bike.id),
    })
}

fn sprocket_data(words: &Words, bike: &Bike, sprocket: &SprocketFinding) -> Value {
    let SprocketFinding { part_id, model_id, topic, position, shape, probability, said, worn: _ } = sprocket;
    json!({
        "bike_id": bike.id, "label": bike.facts.label.as_str(), "group": bike.facts.group.as_str(),
        "part_id": part_id, "part_model_id": model_id, "place": topic.as_str(), "position": position.get(),
        "shape": shape, "probability": probability, "reason": words.answered(said), "reason_code": said.code(),
        "outlook": format!("/v1/bikes/{}/outlook", bike.id),
    })
}

fn over_data(words: &Words, bike: &Bike, over: &Over, outlook: &Outlook) -> Value {
    let Over { part_id, announced, because } = over;
    let announced: Vec<&str> = announced.iter().map(|event| event.as_str()).collect();
    json!({
        "bike_id": bike.id, "label": bike.facts.label.as_str(), "group": bike.facts.group.as_str(),
        "part_id": part_id, "announced": announced, "reason": words.answered(because),
        "reason_code": because.code(), "advice": outlook.advice.as_str(),
        "outlook": format!("/v1/bikes/{}/outlook", bike.id),
    })
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

pub(super) fn listening(event: HookEvent) -> impl Fn(&Hook) -> Option<HookEvent> {
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
