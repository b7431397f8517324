//! Linking an app: a one-time code is made here, and whoever brings it back gets the token.

use serde_json::json;

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange, parties, record_with};
use crate::domain::{
    Field, Form, Grant, Invalid, LINK_IN_FORCE, Label, Link, LinkCode, LinkId, LinkedReach, NewToken, Page,
    PageRequest, Timestamp, TokenId, TokenSecret, WorkshopName,
};
use crate::store::Tx;

/// Makes a code, which is in this answer and nowhere else. The token is called as the label says, else as its app.
///
/// # Errors
/// [`ServiceError::Invalid`] for an app or a rider that the workshop doesn't have, and for no label without an app;
/// [`ServiceError::NoRandomness`].
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    reach: LinkedReach,
    label: Option<Label>,
) -> Result<(Link, LinkCode), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    parties::are_there(change.tx, reach.get()).await?;
    let label = match (label, reach.get().app()) {
        (Some(label), _) => label,
        (None, Some(app)) => change.tx.app(app).await?.name,
        (None, None) => {
            let what = Field::Named { name: "label" };
            let cause = Invalid::Missing { what, allowed: Form::LabelWithoutApp };
            return Err(ServiceError::field("/label", cause));
        }
    };
    let code = LinkCode::generate().map_err(|_| ServiceError::NoRandomness)?;
    let expires_at = change.now.plus(LINK_IN_FORCE);
    let link = Link { id: LinkId::generate(), reach, label, created_at: change.now, expires_at };
    change.tx.sweep_links(change.now).await?;
    change.tx.insert_link(&link, &code.hash()).await?;
    change.record("link.create", format!("links/{}", link.id)).await?;
    Ok((link, code))
}

/// A page of the links that wait to be redeemed.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Link>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.links(services.now(), page).await?)
}

/// Takes a link back: its code leads to nothing any more.
///
/// # Errors
/// [`ServiceError::NotFound`], also when it was redeemed.
pub async fn delete(services: &Services, work: &mut UnitOfWork, id: LinkId) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.delete_link(id).await.map_err(ServiceError::or_not_found("link"))?;
    change.record("link.delete", format!("links/{id}")).await
}

/// What a code was exchanged for.
#[derive(Debug)]
pub struct Redeemed {
    /// The token's secret, shown this once.
    pub secret: TokenSecret,
    /// What its holder may do.
    pub grant: Grant,
    /// What the token is called.
    pub label: Label,
    /// The workshop.
    pub workshop: WorkshopName,
}

/// Exchanges a code for a token; none for one that is unknown, used or past its time. Of two who bring the same, one gets
/// it.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`].
pub async fn redeem(services: &Services, code: &LinkCode) -> Result<Option<Redeemed>, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_system_write().await?;
    let found = tx.take_link(&code.hash()).await?.filter(|(_, link)| now < link.expires_at);
    let Some((workshop_id, Link { id, reach, label, .. })) = found else { return Ok(None) };
    let mut tx = tx.enter(workshop_id).await?;
    let (_, redeemed) = give_token(&mut tx, now, reach, label, format!("links/{id}")).await?;
    tx.commit().await?;
    Ok(Some(redeemed))
}

/// Gives out an app's token. `subject` is the address of what it is exchanged for, below `/v1/`.
///
/// # Errors
/// [`ServiceError::NoRandomness`], [`ServiceError::Unavailable`].
pub(super) async fn give_token(
    tx: &mut Tx,
    now: Timestamp,
    reach: LinkedReach,
    label: Label,
    subject: String,
) -> Result<(TokenId, Redeemed), ServiceError> {
    let secret = TokenSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    let (id, grant, reach) = (TokenId::generate(), Grant::app(reach.get()), reach.get());
    tx.insert_token(&NewToken { id, hash: secret.hash(), grant, label: label.clone(), created_at: now })
        .await?;
    let workshop = tx.workshop().await?;
    let actor = Actor { token_id: Some(id), ..Actor::program(workshop.id) };
    let detail = json!({"app_id": reach.app(), "rider_id": reach.rider()});
    record_with(tx, &actor, now, "link.redeem", subject, detail).await?;
    Ok((id, Redeemed { secret, grant, label, workshop: workshop.settings.name }))
}
