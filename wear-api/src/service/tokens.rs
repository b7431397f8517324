//! Tokens, and the workshops that they open.

use std::time::Instant;

use super::{
    Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange, calibration, parties, record,
};
use crate::domain::{
    Grant, Label, NewToken, Page, PageRequest, Timestamp, Token, TokenHash, TokenId, TokenSecret, Workshop,
    WorkshopId, WorkshopName, WorkshopSettings,
};
use crate::store::{StoreError, Tx};

/// Who holds a token; nobody when it is unknown or revoked. A token that was looked up within the last second is taken
/// as known ([`super::known_tokens`]).
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn authenticate(services: &Services, hash: &TokenHash) -> Result<Option<Actor>, ServiceError> {
    let look_up = match services.known_tokens.find(hash, Instant::now()) {
        Ok(actor) => return Ok(Some(actor)),
        Err(look_up) => look_up,
    };
    let token = {
        let mut tx = services.store.begin_system_read().await?;
        tx.find_token(hash).await?
    };
    let actor = token.filter(|token| token.revoked_at.is_none()).map(|token| Actor {
        workshop_id: token.workshop_id,
        token_id: Some(token.id),
        role: token.grant.role(),
        reach: token.grant.reach(),
    });
    if let Some(actor) = actor {
        services.known_tokens.keep(*hash, actor, look_up);
    }
    Ok(actor)
}

/// Notes that a token was used.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn note_use(services: &Services, actor: &Actor) -> Result<(), ServiceError> {
    let Some(token_id) = actor.token_id else { return Ok(()) };
    let mut tx = services.store.begin_write(actor).await?;
    tx.touch_token(token_id, services.now()).await?;
    tx.commit().await?;
    Ok(())
}

/// Makes a token; the secret is shown this once and never stored.
///
/// # Errors
/// [`ServiceError::NoRandomness`] when the machine has none to give; [`ServiceError::Invalid`] for an app or a rider that the
/// workshop doesn't have.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    grant: impl Into<Grant>,
    label: Label,
) -> Result<(Token, TokenSecret), ServiceError> {
    let grant = grant.into();
    let mut change = WorkshopChange::begin(services, work).await?;
    parties::are_there(change.tx, grant.reach()).await?;
    let secret = TokenSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    let new = NewToken { id: TokenId::generate(), hash: secret.hash(), grant, label, created_at: change.now };
    change.tx.insert_token(&new).await?;
    change.record("token.create", format!("tokens/{}", new.id)).await?;
    let NewToken { id, hash: _, grant, label, created_at } = new;
    let workshop_id = change.actor.workshop_id;
    Ok((Token { id, workshop_id, grant, label, created_at, last_used_at: None, revoked_at: None }, secret))
}

/// A page of the workshop's tokens, without their secrets.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Token>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.tokens(page).await?)
}

/// Revokes a token. This process refuses it from now on, others within a second. Hooks that it made get nothing more.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such token; [`ServiceError::Conflict`] for the last manager's in force.
pub async fn revoke(services: &Services, work: &mut UnitOfWork, id: TokenId) -> Result<(), ServiceError> {
    let change = WorkshopChange::begin(services, work).await?;
    if change.tx.managers_locked().await? == [id] {
        return Err(ServiceError::Conflict(Conflict::LastManager));
    }
    cut_off(change.tx, change.actor, change.now, id).await?;
    let known = services.known_tokens.clone();
    work.after_commit(move || known.forget(id));
    Ok(())
}

/// Revokes a token, and has its hooks get nothing more. This process is to forget the token once that lasts.
///
/// # Errors
/// [`ServiceError::NotFound`] when there is no such token.
pub(super) async fn cut_off(
    tx: &mut Tx,
    actor: &Actor,
    now: Timestamp,
    id: TokenId,
) -> Result<(), ServiceError> {
    tx.revoke_token(id, now).await.map_err(ServiceError::or_not_found("token"))?;
    tx.disable_hooks_of(id, now).await?;
    Ok(record(tx, actor, now, "token.revoke", format!("tokens/{id}")).await?)
}

/// The workshop of that name, if there is one.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn find_workshop(
    services: &Services,
    name: &WorkshopName,
) -> Result<Option<WorkshopId>, ServiceError> {
    let mut tx = services.store.begin_system_read().await?;
    Ok(tx.find_workshop(name).await?.map(|workshop| workshop.id))
}

/// The workshop of that name, made when there is none yet: what the command line does.
///
/// # Errors
/// [`ServiceError`].
pub async fn workshop_named(services: &Services, name: WorkshopName) -> Result<WorkshopId, ServiceError> {
    let found = {
        let mut tx = services.store.begin_system_read().await?;
        tx.find_workshop(&name).await?
    };
    if let Some(workshop) = found {
        return Ok(workshop.id);
    }
    let settings =
        WorkshopSettings::defaults(name.clone()).map_err(|cause| ServiceError::field("", cause))?;
    let workshop = Workshop { id: WorkshopId::generate(), settings, created_at: services.now(), revision: 1 };
    let mut tx = services.store.begin_system_write().await?;
    match tx.insert_workshop(&workshop).await {
        Ok(()) => {
            let mut tx = tx.enter(workshop.id).await?;
            calibration::every_night(&mut tx, &workshop, workshop.created_at).await?;
            tx.commit().await?;
            Ok(workshop.id)
        }
        // Someone else made it in the meantime.
        Err(StoreError::Conflict) => {
            drop(tx);
            let mut tx = services.store.begin_system_read().await?;
            let found = tx.find_workshop(&name).await?;
            found.map(|workshop| workshop.id).ok_or(ServiceError::NotFound { what: "workshop" })
        }
        Err(other) => Err(other.into()),
    }
}
