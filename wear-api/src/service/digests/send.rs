//! One attempt to send one message of a digest: what the worker does.
//!
//! A date's message is written down as done with in the transaction that ends its job, so that it goes out once. Only a worker
//! that dies between the mail server's answer and that transaction leaves it to another, which sends it again under the same
//! `Message-ID`: SMTP knows no way to ask whether it was taken.

use chrono::Duration;
use serde::{Deserialize, Serialize};

use super::super::{ServiceError, Services};
use super::listing;
use crate::domain::{
    Claim, ClaimedJob, Digest, DigestDone, DigestDue, DigestId, DigestOutcome, Finished, JobKind, NewJob,
    Timestamp,
};
use crate::mail::digest::letter;
use crate::mail::{LONGEST, Letter, Mailer, NotTaken};
use crate::store::{StoreError, Tx};
use crate::telemetry::with_causes;
use crate::webhook::schedule;

/// What a lease lasts beyond the longest attempt (A).
const LEASE_BEYOND: Duration = Duration::seconds(60);

/// Messages that one look for work takes (A).
const MOST: i64 = 8;

/// What a job needs to know to send a message: `due` tells a job that is overtaken by a later plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct DigestJob {
    digest_id: DigestId,
    due: Timestamp,
    /// Whether a manager asked for it, beside the usual ones.
    test: bool,
}

impl DigestJob {
    pub(super) const fn of(digest_id: DigestId, due: DigestDue) -> Self {
        Self { digest_id, due: due.at, test: false }
    }

    pub(super) const fn test(digest_id: DigestId, due: Timestamp) -> Self {
        Self { digest_id, due, test: true }
    }

    /// Asks for the job in the caller's transaction.
    pub(super) async fn enqueue(self, tx: &mut Tx, now: Timestamp) -> Result<(), StoreError> {
        let test = if self.test { "/test" } else { "" };
        let job = NewJob {
            kind: JobKind::SendDigest,
            key: format!("{}/{}{test}", self.digest_id, self.due.micros()),
            payload: self,
            due_at: self.due,
            created_at: now,
        };
        tx.enqueue(&job).await.map(|_| ())
    }
}

/// Sends some of the messages that are due; how many jobs there were.
///
/// # Errors
/// [`ServiceError::Unavailable`] when the store can't be reached.
pub async fn send_some(services: &Services, mailer: &Mailer) -> Result<usize, ServiceError> {
    let claimed = {
        let mut tx = services.store.begin_system_write().await?;
        // One after the other, each may take its longest.
        let lease = LONGEST * i32::try_from(MOST).unwrap_or(1) + LEASE_BEYOND;
        let claim = Claim { now: services.now(), lease, most: MOST };
        let kind = JobKind::SendDigest;
        let mut turn = services.turns.last(kind.as_str());
        let claimed = tx.claim_jobs(kind, &claim, &mut turn).await?;
        tx.commit().await?;
        services.turns.go_on(kind.as_str(), turn);
        claimed
    };
    for job in &claimed {
        if let Err(error) = send(services, mailer, job).await {
            // The lease ends, and the message is tried again.
            tracing::error!(job = %job.id, error = with_causes(&error), "digest not written down");
        }
    }
    Ok(claimed.len())
}

/// What is to be done about a claimed job.
enum Plan {
    /// The digest is gone or stopped, or another job is responsible for its message by now.
    Overtaken,
    /// Nothing is due, and nobody wants to hear that.
    Silent(Box<Digest>, DigestDue),
    Send(Box<(Digest, Letter)>, DigestDue),
}

async fn send(services: &Services, mailer: &Mailer, job: &ClaimedJob) -> Result<(), ServiceError> {
    let plan = match serde_json::from_value::<DigestJob>(job.payload.clone()) {
        Ok(known) => plan(services, mailer, job, &known).await?.map_or(Plan::Overtaken, |plan| plan),
        Err(error) => {
            tracing::error!(job = %job.id, error = with_causes(&error), "a digest's job can't be read");
            Plan::Overtaken
        }
    };
    let (digest, due, sent) = match plan {
        Plan::Overtaken => {
            let mut tx = services.store.begin_write(job.workshop_id).await?;
            tx.finish_job(job, services.now()).await?;
            return Ok(tx.commit().await?);
        }
        Plan::Silent(digest, due) => (*digest, due, None),
        Plan::Send(both, due) => {
            let (digest, letter) = *both;
            let sent = mailer.send(&letter).await;
            log(&digest, &sent);
            (digest, due, Some(sent))
        }
    };
    let mut tx = services.store.begin_write(job.workshop_id).await?;
    let now = services.now();
    if tx.finish_job(job, now).await? == Finished::Lost {
        return Ok(());
    }
    if is_test(job) {
        let error = sent.and_then(Result::err).map(said);
        tx.note_digest_error(digest.id, error.as_deref()).await?;
    } else {
        write_down(&mut tx, &digest, due, sent, now).await?;
    }
    Ok(tx.commit().await?)
}

fn is_test(job: &ClaimedJob) -> bool {
    job.payload.get("test").and_then(serde_json::Value::as_bool).unwrap_or(false)
}

fn said(not_taken: NotTaken) -> String {
    match not_taken {
        NotTaken::ForGood(said) | NotTaken::ForNow(said) => said,
    }
}

fn log(digest: &Digest, sent: &Result<(), NotTaken>) {
    match sent {
        Ok(()) => tracing::info!(digest = %digest.id, "digest sent"),
        Err(NotTaken::ForNow(said)) => tracing::warn!(digest = %digest.id, said, "digest not taken yet"),
        Err(NotTaken::ForGood(said)) => tracing::warn!(digest = %digest.id, said, "digest refused"),
    }
}

async fn plan(
    services: &Services,
    mailer: &Mailer,
    job: &ClaimedJob,
    known: &DigestJob,
) -> Result<Option<Plan>, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(job.workshop_id).await?;
    let digest = match tx.digest(known.digest_id).await {
        Ok(digest) => digest,
        Err(StoreError::NotFound) => return Ok(None),
        Err(other) => return Err(other.into()),
    };
    if digest.unsubscribed_at.is_some() {
        return Ok(None);
    }
    let workshop = tx.workshop().await?;
    let zone = workshop.settings.time_zone;
    let due = match digest.next {
        _ if known.test => DigestDue { on: now.date_in(zone), at: known.due },
        Some(due) if due.at == known.due => {
            // After a long pause one message comes, that of the latest date.
            let latest = digest.facts.latest(now, zone).filter(|latest| latest.on > due.on);
            latest.map_or(due, |latest| DigestDue { on: latest.on, at: due.at })
        }
        _ => return Ok(None),
    };
    let listing = listing::list(&mut tx, &digest.facts, &workshop, now).await?;
    if listing.due == 0 && !digest.facts.when_nothing_due && !known.test {
        return Ok(Some(Plan::Silent(Box::new(digest), due)));
    }
    let test = known.test.then_some(known.due);
    let letter = letter(&digest, &workshop, &listing, mailer.public_url(), (due.on, test));
    Ok(Some(Plan::Send(Box::new((digest, letter)), due)))
}

/// Writes down what became of a message, and plans the next attempt or the next message.
async fn write_down(
    tx: &mut Tx,
    digest: &Digest,
    due: DigestDue,
    sent: Option<Result<(), NotTaken>>,
    now: Timestamp,
) -> Result<(), StoreError> {
    let present = match tx.digest(digest.id).await {
        Ok(present) => present,
        // It was deleted during the attempt.
        Err(StoreError::NotFound) => return Ok(()),
        Err(other) => return Err(other),
    };
    let zone = tx.workshop().await?.settings.time_zone;
    let next = present.facts.next(now, zone);
    let tries = digest.tries + 1;
    let (outcome, error) = match sent {
        None => (DigestOutcome::NothingDue, None),
        Some(Ok(())) => (DigestOutcome::Sent, None),
        Some(Err(NotTaken::ForGood(said))) => (DigestOutcome::GivenUp, Some(said)),
        Some(Err(NotTaken::ForNow(said))) => {
            let pause = schedule::pause(tries, rand::random(), None);
            let again = pause.map(|pause| DigestDue { on: due.on, at: now.plus(pause) });
            let again = again.filter(|again| next.is_none_or(|next| again.at < next.at));
            if let Some(again) = again {
                if present.next == digest.next
                    && tx.plan_digest(digest.id, Some(again), tries, Some(&said)).await?
                {
                    DigestJob::of(digest.id, again).enqueue(tx, now).await?;
                }
                return Ok(());
            }
            (DigestOutcome::GivenUp, Some(said))
        }
    };
    tx.digest_done(digest.id, &DigestDone { on: due.on, at: now, outcome }).await?;
    // Changed in the meantime, it has its plan already.
    if present.next == digest.next
        && tx.plan_digest(digest.id, next, 0, error.as_deref()).await?
        && let Some(next) = next
    {
        DigestJob::of(digest.id, next).enqueue(tx, now).await?;
    }
    Ok(())
}
