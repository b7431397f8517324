//! One attempt to deliver one message: what the worker does.

use chrono::Duration;

use super::super::{ServiceError, Services};
use super::tell::{DeliveryJob, hook_disabled};
use super::webhook_id;
use crate::domain::{
    AttemptOutcome, Claim, ClaimedJob, DisabledReason, Finished, Hook, HookId, HookMessage, JobKind,
    MessageState, NewAttempt, Timestamp,
};
use crate::store::{StoreError, Tx};
use crate::webhook::courier::Message;
use crate::webhook::{Courier, Report, schedule};

/// What a lease lasts beyond the longest attempt (A).
const LEASE_BEYOND: Duration = Duration::seconds(20);

/// A little less than the schedule's pauses last together when chance makes each as short as it may be.
const SHORTEST_DAY: Duration = Duration::hours(18);

/// Messages that don't wait any more are forgotten after this long (A).
const KEPT: Duration = Duration::days(30);

/// A job that this worker holds, and the hook that it is for.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedDelivery {
    /// The job.
    pub job: ClaimedJob,
    /// The hook; none when the job can't be read.
    pub hook_id: Option<HookId>,
}

/// Claims messages that are due, of any workshop.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn claim(
    services: &Services,
    courier: &Courier,
    most: i64,
) -> Result<Vec<ClaimedDelivery>, ServiceError> {
    let lease = courier.longest() + LEASE_BEYOND;
    let mut tx = services.store.begin_system_write().await?;
    let kind = JobKind::DeliverHook;
    let mut turn = services.turns.last(kind.as_str());
    let claimed = tx.claim_jobs(kind, &Claim { now: services.now(), lease, most }, &mut turn).await?;
    tx.commit().await?;
    services.turns.go_on(kind.as_str(), turn);
    let hook_of = |job: &ClaimedJob| read(job).ok().map(|job| job.hook_id);
    Ok(claimed.into_iter().map(|job| ClaimedDelivery { hook_id: hook_of(&job), job }).collect())
}

/// Lets a claimed message wait a moment, without an attempt.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn put_back(services: &Services, job: &ClaimedJob, pause: Duration) -> Result<(), ServiceError> {
    let mut tx = services.store.begin_write(job.workshop_id).await?;
    tx.pause_job(job, services.now().plus(pause), "others of this hook are under way").await?;
    tx.commit().await?;
    Ok(())
}

fn read(job: &ClaimedJob) -> Result<DeliveryJob, serde_json::Error> {
    serde_json::from_value(job.payload.clone())
}

/// What is to be done about a claimed job.
enum Plan {
    /// The message is gone, done with, or another job is responsible for it by now.
    Overtaken,
    /// The hook is disabled: the message isn't sent.
    Disabled(HookMessage),
    Send(Box<(Hook, HookMessage)>),
}

/// Delivers one message; what came of it, or none when there was nothing to send.
///
/// A worker that dies between the receiver's answer and the end of this leaves the message to another, which sends it
/// again under the same id: at least once, and receivers can tell.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn deliver(
    services: &Services,
    courier: &Courier,
    job: &ClaimedJob,
) -> Result<Option<Report>, ServiceError> {
    let plan = match read(job) {
        Ok(known) => plan(services, job, &known).await?,
        Err(error) => {
            tracing::error!(job = %job.id, error = %error, "a delivery's job can't be read");
            Plan::Overtaken
        }
    };
    let (hook, delivery) = match plan {
        Plan::Send(both) => *both,
        Plan::Disabled(delivery) => {
            let mut tx = services.store.begin_write(job.workshop_id).await?;
            if tx.finish_job(job, services.now()).await? != Finished::Lost {
                let HookMessage { message, tries, .. } = delivery;
                tx.set_hook_message(message.id, MessageState::GivenUp, tries, None).await?;
                tx.commit().await?;
            }
            return Ok(None);
        }
        Plan::Overtaken => {
            let mut tx = services.store.begin_write(job.workshop_id).await?;
            tx.finish_job(job, services.now()).await?;
            tx.commit().await?;
            return Ok(None);
        }
    };
    let began = services.now();
    let message = Message {
        url: &hook.facts.url,
        secrets: &hook.secrets,
        id: &webhook_id(delivery.message.id),
        body: &delivery.message.body,
    };
    let report = courier.send(&message, began).await;
    let mut tx = services.store.begin_write(job.workshop_id).await?;
    let now = services.now();
    if tx.finish_job(job, now).await? == Finished::Lost {
        return Ok(None);
    }
    match write_down(&mut tx, &hook, &delivery, &report, began, now).await {
        Ok(()) => tx.commit().await?,
        // The hook was deleted during the attempt, and the message with it.
        Err(StoreError::NotFound) => {
            drop(tx);
            let mut tx = services.store.begin_write(job.workshop_id).await?;
            tx.finish_job(job, now).await?;
            tx.commit().await?;
        }
        Err(other) => return Err(other.into()),
    }
    Ok(Some(report))
}

async fn plan(services: &Services, job: &ClaimedJob, known: &DeliveryJob) -> Result<Plan, ServiceError> {
    let mut tx = services.store.begin_read(job.workshop_id).await?;
    let delivery = match tx.hook_message(known.message_id).await {
        Ok(delivery) => delivery,
        Err(StoreError::NotFound) => return Ok(Plan::Overtaken),
        Err(other) => return Err(other.into()),
    };
    if delivery.state != MessageState::Waiting || delivery.next_at != Some(known.due) {
        return Ok(Plan::Overtaken);
    }
    let hook = tx.hook(delivery.message.hook_id).await?;
    Ok(if hook.is_in_force() { Plan::Send(Box::new((hook, delivery))) } else { Plan::Disabled(delivery) })
}

/// Writes an attempt down and plans the next, or none.
async fn write_down(
    tx: &mut Tx,
    hook: &Hook,
    delivery: &HookMessage,
    report: &Report,
    began: Timestamp,
    now: Timestamp,
) -> Result<(), StoreError> {
    let Report { outcome, status, wish, took } = report;
    let id = delivery.message.id;
    let tries = delivery.tries + 1;
    let well = *outcome == AttemptOutcome::Delivered;
    let (state, next_at) = match outcome {
        AttemptOutcome::Delivered => (MessageState::Delivered, None),
        AttemptOutcome::Gone => (MessageState::GivenUp, None),
        _ => match schedule::pause(tries, rand::random(), *wish) {
            Some(pause) => (MessageState::Waiting, Some(now.plus(pause))),
            None => (MessageState::GivenUp, None),
        },
    };
    // First, as it locks the message: attempts are numbered one after the other.
    tx.set_hook_message(id, state, tries, next_at).await?;
    let milliseconds = i64::try_from(took.as_millis()).unwrap_or(i64::MAX);
    tx.add_attempt(id, &NewAttempt { at: began, milliseconds, outcome: *outcome, status: *status }).await?;
    tx.note_hook_health(hook.id, well, began).await?;
    if let Some(due) = next_at {
        DeliveryJob { message_id: id, hook_id: hook.id, due }.enqueue(tx, now).await?;
    }
    let reason = match (outcome, state) {
        (AttemptOutcome::Gone, _) => Some((DisabledReason::Gone, None)),
        // Given up after a day in which nothing else got through either.
        (_, MessageState::GivenUp) => Some((DisabledReason::Failing, Some(now.plus(-SHORTEST_DAY)))),
        _ => None,
    };
    if let Some((reason, failing_since)) = reason
        && tx.disable_hook(hook.id, reason, now, failing_since).await?
    {
        tracing::warn!(hook = %hook.id, reason = reason.as_str(), "hook disabled");
        hook_disabled(tx, hook, reason, now).await?;
    }
    Ok(())
}

/// Forgets messages that have long been done with.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn prune(services: &Services) -> Result<(), ServiceError> {
    let mut tx = services.store.begin_system_write().await?;
    tx.prune_hook_messages(services.now().plus(-KEPT)).await?;
    tx.commit().await?;
    Ok(())
}
