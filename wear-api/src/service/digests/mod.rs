//! Digests: kept by managers, sent by the worker once a period, stopped by who gets them.

mod listing;
pub mod send;

use chrono_tz::Tz;

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    Digest, DigestDays, DigestDue, DigestFacts, DigestHour, DigestId, DigestSecret, EmailAddress, GroupName,
    Language, Page, PageRequest, WorkshopId,
};
use crate::store::{StoreError, Tx};
use send::DigestJob;

/// Most digests of a workshop (A).
pub const MOST_DIGESTS: i64 = 50;

/// What to change of a digest; what is none stays.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DigestChange {
    /// Who gets it.
    pub address: Option<EmailAddress>,
    /// On which days.
    pub days: Option<DigestDays>,
    /// At which hour.
    pub hour: Option<DigestHour>,
    /// In which language.
    pub language: Option<Language>,
    /// Bikes of which groups.
    pub groups: Option<Vec<GroupName>>,
    /// Whether it comes when nothing is due as well.
    pub when_nothing_due: Option<bool>,
}

/// Makes a digest, in the workshop's language where none is named; it comes from the next time on.
///
/// # Errors
/// [`ServiceError::Conflict`] when the workshop has the most digests already.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: impl FnOnce(Language) -> DigestFacts,
) -> Result<Digest, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    if change.tx.count_digests().await? >= MOST_DIGESTS {
        return Err(ServiceError::Conflict(Conflict::TooManyDigests { most: MOST_DIGESTS.to_string() }));
    }
    let settings = change.tx.workshop().await?.settings;
    let facts = facts(settings.language);
    let next = facts.next(change.now, settings.time_zone);
    let digest = Digest {
        id: DigestId::generate(),
        facts,
        secret: DigestSecret::generate().map_err(|_| ServiceError::NoRandomness)?,
        next,
        tries: 0,
        last: None,
        last_error: None,
        unsubscribed_at: None,
        created_at: change.now,
        revision: 1,
    };
    change.tx.insert_digest(&digest).await?;
    enqueue(&mut change, digest.id, digest.next).await?;
    change.record("digest.create", format!("digests/{}", digest.id)).await?;
    Ok(digest)
}

async fn enqueue(
    change: &mut WorkshopChange<'_>,
    id: DigestId,
    next: Option<DigestDue>,
) -> Result<(), ServiceError> {
    if let Some(due) = next {
        DigestJob::of(id, due).enqueue(change.tx, change.now).await?;
    }
    Ok(())
}

async fn found(tx: &mut Tx, id: DigestId) -> Result<Digest, ServiceError> {
    tx.digest(id).await.map_err(ServiceError::or_not_found("digest"))
}

/// One digest.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: DigestId) -> Result<Digest, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    found(&mut tx, id).await
}

/// A page of the workshop's digests.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Digest>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.digests(page).await?)
}

/// Changes a digest; from then on it comes at its new time.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] once its recipient stopped it.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: DigestId,
    revision: i64,
    wanted: DigestChange,
) -> Result<Digest, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let mut digest = found(change.tx, id).await?;
    going_on(&digest)?;
    let zone = change.tx.workshop().await?.settings.time_zone;
    let DigestChange { address, days, hour, language, groups, when_nothing_due } = wanted;
    let facts = &mut digest.facts;
    facts.address = address.unwrap_or_else(|| facts.address.clone());
    facts.days = days.unwrap_or(facts.days);
    facts.hour = hour.unwrap_or(facts.hour);
    facts.language = language.unwrap_or(facts.language);
    facts.groups = groups.unwrap_or_else(|| facts.groups.clone());
    facts.when_nothing_due = when_nothing_due.unwrap_or(facts.when_nothing_due);
    digest.next = not_again(&digest, digest.facts.next(change.now, zone), zone);
    digest.tries = 0;
    digest.revision = revision;
    change.tx.change_digest(&digest).await.map_err(ServiceError::or_stale("digest"))?;
    enqueue(&mut change, id, digest.next).await?;
    change.record("digest.change", format!("digests/{id}")).await?;
    digest.revision += 1;
    Ok(digest)
}

/// Plans a digest's next message as of now, where it was planned by a clock that was ahead; whether it was.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub(super) async fn plan_anew(
    services: &Services,
    workshop_id: WorkshopId,
    id: DigestId,
) -> Result<bool, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_write(workshop_id).await?;
    let digest = match tx.digest(id).await {
        Ok(digest) => digest,
        Err(StoreError::NotFound) => return Ok(false),
        Err(other) => return Err(other.into()),
    };
    let zone = tx.workshop().await?.settings.time_zone;
    let Some(next) = digest.facts.next(now, zone) else { return Ok(false) };
    let planned = tx.plan_digest(id, Some(next), 0, digest.last_error.as_deref()).await?;
    if planned {
        DigestJob::of(id, next).enqueue(&mut tx, now).await?;
    }
    tx.commit().await?;
    Ok(planned)
}

/// The first message whose date isn't done with: a later hour of the same day brings no second one.
fn not_again(digest: &Digest, next: Option<DigestDue>, zone: Tz) -> Option<DigestDue> {
    let next = next?;
    let is_done = digest.last.as_ref().is_some_and(|done| done.on >= next.on);
    if is_done { digest.facts.next(next.at, zone) } else { Some(next) }
}

fn going_on(digest: &Digest) -> Result<(), ServiceError> {
    match digest.unsubscribed_at {
        None => Ok(()),
        Some(at) => Err(ServiceError::Conflict(Conflict::DigestStopped { at: at.to_string() })),
    }
}

/// Removes a digest.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn delete(
    services: &Services,
    work: &mut UnitOfWork,
    id: DigestId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    found(change.tx, id).await?;
    change.tx.delete_digest(id, revision).await.map_err(ServiceError::or_stale("digest"))?;
    change.record("digest.delete", format!("digests/{id}")).await
}

/// Sends a digest as it would be now, beside its usual messages, even when nothing is due.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] once its recipient stopped it.
pub async fn send_test(
    services: &Services,
    work: &mut UnitOfWork,
    id: DigestId,
) -> Result<Digest, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let digest = found(change.tx, id).await?;
    going_on(&digest)?;
    DigestJob::test(id, change.now).enqueue(change.tx, change.now).await?;
    change.record("digest.test", format!("digests/{id}")).await?;
    Ok(digest)
}

async fn of_secret(services: &Services, secret: &DigestSecret) -> Result<(Actor, DigestId), ServiceError> {
    let found = services.store.begin_system_read().await?.find_digest(secret).await?;
    let (workshop_id, id) = found.ok_or(ServiceError::NotFound { what: "digest" })?;
    Ok((Actor::program(workshop_id), id))
}

/// The digest that a link stops.
///
/// # Errors
/// [`ServiceError::NotFound`] when the link opens nothing.
pub async fn by_link(services: &Services, secret: &DigestSecret) -> Result<Digest, ServiceError> {
    let (actor, id) = of_secret(services, secret).await?;
    get(services, &actor, id).await
}

/// Stops a digest for its recipient, who shows the secret of its link; stopped again, nothing changes.
///
/// # Errors
/// [`ServiceError::NotFound`] when the link opens nothing.
pub async fn unsubscribe(services: &Services, secret: &DigestSecret) -> Result<(), ServiceError> {
    let (actor, id) = of_secret(services, secret).await?;
    services
        .change(&actor, async |work| {
            let mut change = WorkshopChange::begin(services, work).await?;
            if change.tx.unsubscribe(id, change.now).await? {
                change.record("digest.unsubscribe", format!("digests/{id}")).await?;
            }
            Ok(())
        })
        .await
}
