//! Sessions of the pages: signed in with a token or a code, over after a time, ended by signing out.

use std::collections::HashMap;

use chrono::Duration;
use serde_json::json;

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange, clock_steps, record, record_with};
use crate::domain::{Device, NewSession, Session, SessionId, Timestamp, TokenId, TokenSecret};
use crate::store::{Over, Tx};

/// How long a session lasts without being used (A): a working day.
const IDLE: Duration = Duration::hours(12);

/// How long a session lasts at most (A).
const LONGEST: Duration = Duration::days(14);

/// The same on somebody's own device (A): a mechanic comes back from a holiday and is still signed in …
const IDLE_OWN: Duration = Duration::days(30);

/// … and is asked again once in a season (A).
const LONGEST_OWN: Duration = Duration::days(90);

/// A session in steady use costs one write in so long.
const USE_NOTED_EVERY: Duration = Duration::minutes(5);

/// Sessions that are over.
pub(super) fn over(now: Timestamp) -> Over {
    Over {
        shared_begun: now.plus(-LONGEST),
        shared_seen: now.plus(-IDLE),
        own_begun: now.plus(-LONGEST_OWN),
        own_seen: now.plus(-IDLE_OWN),
    }
}

/// How long a session on such a device lasts at most.
#[must_use]
pub const fn longest(device: Device) -> Duration {
    match device {
        Device::Own => LONGEST_OWN,
        Device::Shared => LONGEST,
    }
}

/// Begins a session of the token's holder; the secret goes into the cookie and is never stored. The pages are of the whole
/// workshop.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`]; [`ServiceError::NotFound`] when the actor holds no
/// token, or one that is bound.
pub async fn begin(services: &Services, actor: &Actor, device: Device) -> Result<TokenSecret, ServiceError> {
    let token_id =
        actor.token_id.filter(|_| !actor.reach.is_bound()).ok_or(ServiceError::NotFound { what: "token" })?;
    let mut tx = services.store.begin_write(actor).await?;
    let secret = begin_in(&mut tx, actor, token_id, device, services.now()).await?;
    tx.commit().await?;
    Ok(secret)
}

/// Writes down that a token was shown which doesn't open the pages: one that is bound, whose holder is `bound`, or one that
/// was revoked. A token that no workshop ever had is nobody's to hear of.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn refuse(
    services: &Services,
    secret: Option<&TokenSecret>,
    bound: Option<&Actor>,
) -> Result<(), ServiceError> {
    let (actor, why) = match (bound, secret) {
        (Some(actor), _) => (*actor, "bound"),
        (None, Some(secret)) => {
            let found = {
                let mut tx = services.store.begin_system_read().await?;
                tx.find_revoked_token(&secret.hash()).await?
            };
            let Some((workshop_id, token_id)) = found else { return Ok(()) };
            (Actor { token_id: Some(token_id), ..Actor::program(workshop_id) }, "revoked")
        }
        (None, None) => return Ok(()),
    };
    let Some(token_id) = actor.token_id else { return Ok(()) };
    let mut tx = services.store.begin_write(&actor).await?;
    let (subject, detail) = (format!("tokens/{token_id}"), json!({"why": why}));
    record_with(&mut tx, &actor, services.now(), "session.refuse", subject, detail).await?;
    Ok(tx.commit().await?)
}

/// The same in a transaction that goes on.
pub(super) async fn begin_in(
    tx: &mut Tx,
    actor: &Actor,
    token_id: TokenId,
    device: Device,
    now: Timestamp,
) -> Result<TokenSecret, ServiceError> {
    let secret = TokenSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    let session =
        NewSession { id: SessionId::generate(), hash: secret.hash(), token_id, device, created_at: now };
    tx.clear_sessions(over(now)).await?;
    tx.insert_session(&session).await?;
    record(tx, actor, now, "session.begin", format!("sessions/{}", session.id)).await?;
    Ok(secret)
}

/// The session that a secret opens, while it lasts.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn find(services: &Services, secret: &TokenSecret) -> Result<Option<Session>, ServiceError> {
    let now = services.now();
    let found = {
        let mut tx = services.store.begin_system_read().await?;
        tx.find_session(&secret.hash(), over(now), clock_steps::credible(now)).await?
    };
    let Some(session) = found else { return Ok(None) };
    if session.last_seen_at < now.plus(-USE_NOTED_EVERY) {
        let mut tx = services.store.begin_write(session.workshop_id).await?;
        tx.touch_session(session.id, now).await?;
        tx.commit().await?;
    }
    Ok(Some(session))
}

/// Ends a session.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn end(services: &Services, session: &Session) -> Result<(), ServiceError> {
    let now = services.now();
    let actor = actor(session);
    let mut tx = services.store.begin_write(session.workshop_id).await?;
    tx.end_session(session.id).await?;
    record(&mut tx, &actor, now, "session.end", format!("sessions/{}", session.id)).await?;
    tx.commit().await?;
    Ok(())
}

/// Ends every session of a token's holder, and takes back the codes that would begin another. Who may is the caller's to say.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such token.
pub async fn end_all(
    services: &Services,
    work: &mut UnitOfWork,
    token_id: TokenId,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.token(token_id).await.map_err(ServiceError::or_not_found("token"))?;
    change.tx.end_sessions_of(token_id).await?;
    change.tx.delete_sign_ins_of(token_id).await?;
    change.record("session.end_all", format!("tokens/{token_id}")).await
}

/// On how many devices each token's holder is signed in.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn counts(services: &Services, actor: &Actor) -> Result<HashMap<TokenId, i64>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.session_counts(over(services.now())).await?.into_iter().collect())
}

/// Who acts in a session.
#[must_use]
pub fn actor(session: &Session) -> Actor {
    Actor { token_id: Some(session.token_id), role: session.role, ..Actor::program(session.workshop_id) }
}
