//! Codes that sign a person in once, so that nobody types a token on a phone; and people, who need no token to be shown at all.

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange, record, sessions, tokens};
use crate::domain::{
    Device, Invited, LINK_IN_FORCE, Label, LinkCode, NewSignIn, Role, Timestamp, TokenId, TokenSecret,
};

/// A code that was just made; it is here and nowhere else.
#[derive(Debug)]
pub struct Offered {
    /// The code.
    pub code: LinkCode,
    /// Whom it signs in.
    pub label: Label,
    /// Up to when.
    pub expires_at: Timestamp,
}

/// Makes a code that signs a token's holder in. Who may is the caller's to say: a manager anybody, everybody else themselves.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such token, or it was revoked, or it sees the bikes of an app or a rider alone;
/// [`ServiceError::NoRandomness`].
pub async fn offer(
    services: &Services,
    work: &mut UnitOfWork,
    token_id: TokenId,
) -> Result<Offered, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let token = change.tx.token(token_id).await.map_err(ServiceError::or_not_found("token"))?;
    if token.revoked_at.is_some() || token.grant.reach().is_bound() {
        return Err(ServiceError::NotFound { what: "token" });
    }
    let code = LinkCode::generate().map_err(|_| ServiceError::NoRandomness)?;
    let expires_at = change.now.plus(LINK_IN_FORCE);
    let new = NewSignIn { hash: code.hash(), token_id, created_at: change.now, expires_at };
    change.tx.sweep_sign_ins(change.now).await?;
    change.tx.insert_sign_in(&new).await?;
    change.record("sign_in.offer", format!("tokens/{token_id}")).await?;
    Ok(Offered { code, label: token.label, expires_at })
}

/// Enters a person, with the code of the first sign-in. The token that stands for them is never shown.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`].
pub async fn enter_person(
    services: &Services,
    work: &mut UnitOfWork,
    name: Label,
    role: Role,
) -> Result<Offered, ServiceError> {
    let (token, _never_shown) = tokens::create(services, work, role, name).await?;
    offer(services, work, token.id).await
}

/// Whom a code signs in, without using it; nobody when it is unknown, used or past its time.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn look(services: &Services, code: &LinkCode) -> Result<Option<Invited>, ServiceError> {
    let mut tx = services.store.begin_system_read().await?;
    Ok(tx.find_sign_in(&code.hash(), services.now()).await?)
}

/// Uses a code: begins a session, whose secret goes into the cookie. Of two who bring the same, one gets it.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`].
pub async fn redeem(
    services: &Services,
    code: &LinkCode,
    device: Device,
) -> Result<Option<TokenSecret>, ServiceError> {
    let now = services.now();
    let hash = code.hash();
    let mut tx = services.store.begin_system_write().await?;
    let Some(Invited { workshop_id, token_id, role, .. }) = tx.find_sign_in(&hash, now).await? else {
        return Ok(None);
    };
    if !tx.take_sign_in(&hash).await? {
        return Ok(None);
    }
    let mut tx = tx.enter(workshop_id).await?;
    let actor = Actor { token_id: Some(token_id), role, ..Actor::program(workshop_id) };
    record(&mut tx, &actor, now, "sign_in.redeem", format!("tokens/{token_id}")).await?;
    let secret = sessions::begin_in(&mut tx, &actor, token_id, device, now).await?;
    tx.commit().await?;
    Ok(Some(secret))
}
