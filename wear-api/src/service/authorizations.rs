//! Linking an app by OAuth 2.0: somebody allows it on a page, and the app exchanges the code that it is sent for its
//! token.

use serde_json::json;

use super::links::{Redeemed, give_token};
use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange, parties, tokens};
use crate::domain::{
    AppId, Authorization, AuthorizationCode, CODE_IN_FORCE, CODE_REMEMBERED, CodeChallenge, LinkedReach,
    RedirectUri, RiderId, TokenId, TokenSecret, WorkshopId,
};
use crate::store::Tx;

/// What an app asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The app.
    pub app_id: AppId,
    /// Where its code is to be sent.
    pub redirect_uri: RedirectUri,
    /// What it will prove.
    pub challenge: CodeChallenge,
}

/// Allows an app to see a rider's bikes, or without one those that it enters. The code goes to the app through the
/// browser, and is worth nothing without what only the app can prove.
///
/// # Errors
/// [`ServiceError::Invalid`] for an app or a rider that the workshop doesn't have; [`ServiceError::NoRandomness`].
pub async fn allow(
    services: &Services,
    work: &mut UnitOfWork,
    asked: Asked,
    rider: Option<RiderId>,
) -> Result<AuthorizationCode, ServiceError> {
    let Asked { app_id, redirect_uri, challenge } = asked;
    let mut change = WorkshopChange::begin(services, work).await?;
    let reach =
        LinkedReach::new(Some(app_id), rider).map_err(|cause| ServiceError::field("/app_id", cause))?;
    parties::are_there(change.tx, reach.get()).await?;
    let label = change.tx.app(app_id).await?.name;
    let code = AuthorizationCode::generate().map_err(|_| ServiceError::NoRandomness)?;
    let created_at = change.now;
    let authorization = Authorization { app_id, reach, label, redirect_uri, challenge, created_at };
    change.tx.sweep_authorizations(change.now.plus(-CODE_REMEMBERED)).await?;
    change.tx.insert_authorization(&authorization, &code.hash()).await?;
    let detail = json!({"rider_id": rider});
    change.record_with("link.create", format!("apps/{app_id}"), detail).await?;
    Ok(code)
}

/// Exchanges a code for a token; none for a code that is unknown, used or past its time, was sent elsewhere or for another
/// app, and for a wrong proof: whatever came of it, the code is used up. One that was exchanged before has been stolen from
/// somebody, so that the token it gave is revoked.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`].
pub async fn exchange(
    services: &Services,
    code: &AuthorizationCode,
    (app_id, redirect_uri): (AppId, &str),
    verifier: &str,
) -> Result<Option<Redeemed>, ServiceError> {
    let (now, hash) = (services.now(), code.hash());
    // Whoever guesses holds up nobody who writes.
    if !services.store.begin_system_read().await?.knows_authorization(&hash).await? {
        return Ok(None);
    }
    let mut tx = services.store.begin_system_write().await?;
    let Some((workshop_id, authorization)) = tx.use_authorization(&hash, now).await? else {
        if let Some((workshop_id, token)) = tx.token_given_for(&hash).await? {
            revoke(services, tx.enter(workshop_id).await?, workshop_id, token).await?;
        }
        return Ok(None);
    };
    let mut tx = tx.enter(workshop_id).await?;
    let Authorization { app_id: asked_by, reach, label, redirect_uri: sent_to, challenge, created_at } =
        authorization;
    let is_its_own = asked_by == app_id && sent_to.as_str() == redirect_uri && challenge.is_met_by(verifier);
    let are_there = match parties::are_there(&mut tx, reach.get()).await {
        Ok(()) => true,
        Err(ServiceError::Invalid(_)) => false,
        Err(other) => return Err(other),
    };
    if !is_its_own || !are_there || now >= created_at.plus(CODE_IN_FORCE) {
        tx.commit().await?;
        return Ok(None);
    }
    let (token, redeemed) = give_token(&mut tx, now, reach, label, format!("apps/{app_id}")).await?;
    tx.note_token_given(&hash, token).await?;
    tx.commit().await?;
    Ok(Some(redeemed))
}

/// Revokes a bound token at the app's own wish. People's tokens are a manager's to revoke, and stay.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn give_back(services: &Services, secret: &TokenSecret) -> Result<GivenBack, ServiceError> {
    let mut tx = services.store.begin_system_write().await?;
    let Some(token) = tx.find_token(&secret.hash()).await? else { return Ok(GivenBack::Gone) };
    if !token.grant.reach().is_bound() {
        return Ok(GivenBack::NotAnApps);
    }
    revoke(services, tx.enter(token.workshop_id).await?, token.workshop_id, token.id).await?;
    Ok(GivenBack::Gone)
}

/// What became of a token that was given back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GivenBack {
    /// It opens nothing, or never did.
    Gone,
    /// It is no app's.
    NotAnApps,
}

async fn revoke(
    services: &Services,
    mut tx: Tx,
    workshop_id: WorkshopId,
    token: TokenId,
) -> Result<(), ServiceError> {
    let actor = Actor { token_id: Some(token), ..Actor::program(workshop_id) };
    tokens::cut_off(&mut tx, &actor, services.now(), token).await?;
    tx.commit().await?;
    services.known_tokens.forget(token);
    Ok(())
}
