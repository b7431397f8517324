//! Sessions of the pages: signed in with a token, over after a time, ended by signing out.

use chrono::Duration;
use serde_json::json;

use super::{Actor, ServiceError, Services, clock_steps, record, record_with};
use crate::domain::{NewSession, Session, SessionId, Timestamp, TokenSecret};

/// How long a session lasts without being used (A): a working day.
const IDLE: Duration = Duration::hours(12);

/// How long a session lasts at most (A).
const LONGEST: Duration = Duration::days(14);

/// A session in steady use costs one write in so long.
const USE_NOTED_EVERY: Duration = Duration::minutes(5);

/// Sessions that began by the first instant, or were last used by the second, are over.
pub(super) fn over(now: Timestamp) -> (Timestamp, Timestamp) {
    (now.plus(-LONGEST), now.plus(-IDLE))
}

/// Begins a session of the token's holder; the secret goes into the cookie and is never stored. The pages are of the whole
/// workshop.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`]; [`ServiceError::NotFound`] when the actor holds no
/// token, or one that is bound.
pub async fn begin(services: &Services, actor: &Actor) -> Result<TokenSecret, ServiceError> {
    let now = services.now();
    let token_id =
        actor.token_id.filter(|_| !actor.reach.is_bound()).ok_or(ServiceError::NotFound { what: "token" })?;
    let secret = TokenSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    let session = NewSession { id: SessionId::generate(), hash: secret.hash(), token_id, created_at: now };
    let mut tx = services.store.begin_write(actor).await?;
    let (begun, seen) = over(now);
    tx.clear_sessions(begun, seen).await?;
    tx.insert_session(&session).await?;
    record(&mut tx, actor, now, "session.begin", format!("sessions/{}", session.id)).await?;
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

/// The session that a secret opens, while it lasts.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn find(services: &Services, secret: &TokenSecret) -> Result<Option<Session>, ServiceError> {
    let now = services.now();
    let (begun, seen) = over(now);
    let found = {
        let mut tx = services.store.begin_system_read().await?;
        tx.find_session(&secret.hash(), begun, seen, clock_steps::credible(now)).await?
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

/// Who acts in a session.
#[must_use]
pub fn actor(session: &Session) -> Actor {
    Actor { token_id: Some(session.token_id), role: session.role, ..Actor::program(session.workshop_id) }
}
