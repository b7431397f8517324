//! Linking an app by a one-time code.

use std::time::Instant;

use actix_web::{HttpRequest, HttpResponse, delete, get, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{AppId, FieldErrors, Label, Link, LinkCode, LinkId, LinkedReach, Reach, RiderId, Role};
use crate::input::{Place, WrongField};
use crate::service::links::{self, Redeemed};
use crate::service::{Actor, Services};
use crate::web::answer;
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::client;
use crate::web::pagination::Listing;
use crate::web::problem::{Kind, Problem};
use crate::web::query::PageQuery;
use crate::web::rate::Guesses;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_link).service(list_links).service(delete_link).service(redeem_link);
}

/// A link that waits to be redeemed; never its code.
#[derive(Serialize, ToSchema)]
#[schema(as = Link)]
struct LinkDocument {
    /// Its id.
    id: Uuid,
    /// The app that its token will be bound to; null without.
    app_id: Option<Uuid>,
    /// The rider that its token will be bound to; null without.
    rider_id: Option<Uuid>,
    /// What its token will be called.
    label: String,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Up to when its code can be redeemed: for 15 minutes.
    expires_at: DateTime<Utc>,
}

impl From<Link> for LinkDocument {
    fn from(Link { id, reach, label, created_at, expires_at }: Link) -> Self {
        Self {
            id: id.uuid(),
            app_id: reach.get().app().map(AppId::uuid),
            rider_id: reach.get().rider().map(RiderId::uuid),
            label: label.to_string(),
            created_at: created_at.datetime(),
            expires_at: expires_at.datetime(),
        }
    }
}

/// A link to be made: to an app, to a rider, or to an app on a rider's behalf.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewLink {
    /// Binds the token to an app: it sees the bikes that the app entered or was given.
    app_id: Option<Uuid>,
    /// Binds the token to a rider: it sees this rider's bikes, with `app_id` on the app's behalf.
    rider_id: Option<Uuid>,
    /// What the token will be called; the app's name when left out.
    #[schema(min_length = 1, max_length = 64)]
    label: Option<String>,
}

impl NewLink {
    fn parse(self) -> Result<(LinkedReach, Option<Label>), FieldErrors> {
        let Self { app_id, rider_id, label } = self;
        let mut errors = FieldErrors::new();
        let reach = LinkedReach::new(app_id.map(AppId::from_uuid), rider_id.map(RiderId::from_uuid));
        let reach = errors.keep("/app_id", reach);
        let label = label.and_then(|label| errors.keep("/label", Label::new(&label)));
        match reach {
            Some(reach) if errors.is_empty() => Ok((reach, label)),
            _ => Err(errors),
        }
    }
}

/// A new link with its code, which is shown this once.
#[derive(Serialize, ToSchema)]
struct MadeLink {
    #[serde(flatten)]
    link: LinkDocument,
    /// What the app is given: read aloud, typed, or as a QR code. Hyphens, spaces and the case of letters don't matter.
    #[schema(example = "7K3M-9QXT-2B4D", pattern = "^[0-9A-HJKMNP-TV-Z]{4}(-[0-9A-HJKMNP-TV-Z]{4}){2}$")]
    code: String,
}

/// A page of links.
#[derive(ToSchema)]
#[allow(dead_code)]
struct LinkList {
    /// Links of this page that wait to be redeemed, in the order they were made.
    items: Vec<LinkDocument>,
}

/// A code that an app was given.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Redemption {
    /// The code as it was shown, or as it was typed.
    #[schema(max_length = 64)]
    code: String,
}

/// Which bikes a token sees.
#[derive(Serialize, ToSchema)]
#[schema(as = Reach)]
struct ReachDocument {
    /// The app that it is bound to; null without.
    app_id: Option<Uuid>,
    /// The rider that it is bound to; null without.
    rider_id: Option<Uuid>,
}

impl From<Reach> for ReachDocument {
    fn from(reach: Reach) -> Self {
        Self { app_id: reach.app().map(AppId::uuid), rider_id: reach.rider().map(RiderId::uuid) }
    }
}

/// The token that a code was exchanged for.
#[derive(Serialize, ToSchema)]
struct RedeemedLink {
    /// What to send after `Bearer`; shown this once.
    #[schema(
        example = "wear_00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff",
        pattern = "^wear_[0-9a-f]{64}$"
    )]
    token: String,
    /// What the token is called.
    label: String,
    /// Name of the workshop.
    workshop: String,
    /// What its holder may do.
    #[schema(value_type = Role)]
    role: &'static str,
    /// Which bikes it sees.
    reach: ReachDocument,
}

impl From<Redeemed> for RedeemedLink {
    fn from(Redeemed { secret, grant, label, workshop }: Redeemed) -> Self {
        Self {
            token: secret.reveal(),
            label: label.to_string(),
            workshop: workshop.as_str().to_owned(),
            role: grant.role().as_str(),
            reach: grant.reach().into(),
        }
    }
}

/// A token for a rider's bikes is a mechanic's to hand over; one for all that an app enters is a manager's.
pub(in crate::web) fn may_link(actor: &Actor, reach: LinkedReach) -> Result<(), Problem> {
    if actor.role == Role::Manager || reach.get().rider().is_some() {
        return Ok(());
    }
    let detail =
        format!("the token's role is {}; without rider_id a link is a manager's to make", actor.role);
    Err(Problem::new(Kind::RoleNotAllowed, detail))
}

/// Make a link
///
/// Its code is in this answer and nowhere else. It can be redeemed once, within 15 minutes; give it to the owner of the
/// bikes, who gives it to the app. Mechanics make links to riders alone.
#[utoipa::path(
    operation_id = "create_link",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewLink, example = json!({"app_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10",
        "rider_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a11", "label": "Anna's ride log"})),
    responses((status = 201, description = "The link with its code", body = MadeLink))
)]
#[post("/v1/links")]
async fn create_link(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewLink>,
) -> Result<HttpResponse, Problem> {
    let (reach, label) = body.0.parse()?;
    may_link(change.actor(), reach)?;
    let (link, code) = links::create(&services, &mut change, reach, label).await?;
    Ok(answer::shown_once(MadeLink { link: link.into(), code: code.reveal() }))
}

/// List links
///
/// Those that wait to be redeemed; not those that were, or whose time is over.
#[utoipa::path(
    operation_id = "list_links",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of links", body = LinkList))
)]
#[get("/v1/links")]
async fn list_links(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = links::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, LinkDocument::from))
}

/// Take a link back
///
/// Its code leads to nothing from then on. A link never changes, so no `If-Match` is needed. A token that a code was exchanged for
/// is revoked as any other.
#[utoipa::path(
    operation_id = "delete_link",
    tag = "apps",
    security(("bearer" = ["mechanic", "manager"])),
    params(("link_id" = Uuid, Path, description = "The link")),
    responses((status = 204, description = "The link is gone"))
)]
#[delete("/v1/links/{link_id}")]
async fn delete_link(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    link_id: web::Path<LinkId>,
) -> Result<HttpResponse, Problem> {
    links::delete(&services, &mut change, *link_id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Redeem a link
///
/// An app exchanges the code that it was given for its token. No token is asked for: the code is the key. One that is
/// unknown, used, taken back or older than 15 minutes gets the same answer, and an address that brings ten such within
/// a minute has to wait for the next.
#[utoipa::path(
    operation_id = "redeem_link",
    tag = "apps",
    security(()),
    request_body(content = Redemption, example = json!({"code": "7K3M-9QXT-2B4D"})),
    responses((status = 201, description = "The token", body = RedeemedLink))
)]
#[post("/v1/link-redemptions")]
async fn redeem_link(
    request: HttpRequest,
    services: web::Data<Services>,
    guesses: web::Data<Guesses>,
    body: Json<Redemption>,
) -> Result<HttpResponse, Problem> {
    let (from, now) = (client::address(&request), Instant::now());
    if let Some(seconds) = from.and_then(|from| guesses.closed_for(from, now)) {
        let detail = "too many codes that aren't in force came from this address";
        return Err(Problem::new(Kind::TooManyRequests, detail).retry_after(seconds));
    }
    let redeemed = match body.0.code.parse::<LinkCode>() {
        Ok(code) => links::redeem(&services, &code).await?,
        Err(_) => None,
    };
    match redeemed {
        Some(redeemed) => Ok(answer::shown_once(RedeemedLink::from(redeemed))),
        None => {
            if let Some(from) = from {
                guesses.wrong(from, now);
            }
            Err(Problem::fields(vec![WrongField {
                place: Place::Body("/code".to_owned()),
                message: "is unknown, used or out of date".to_owned(),
                allowed: "a code that was made within the last 15 minutes and not used yet".to_owned(),
            }]))
        }
    }
}
