//! Linking an app: a code for it in large type, and who there is to link.

use actix_web::{HttpRequest, get, post, web};
use askama::Template;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::{Answer, again, html, qr, see};
use crate::domain::{
    AppId, FieldErrors, Label, Link, LinkCode, LinkId, LinkedReach, PageRequest, PageSize, Reach, RiderId,
    Role,
};
use crate::service::parties::{self, Names};
use crate::service::{Actor, ServiceError, Services, links};
use crate::web::auth::{Manager, Mechanic};

/// Where an app brings a code, which stands in the part of the address that no browser sends on.
const REDEMPTION: &str = "/v1/link-redemptions#";

#[derive(Template)]
#[template(path = "links.html")]
struct LinksPage {
    f: Frame,
    apps: Vec<Choice>,
    riders: Vec<Choice>,
    label: String,
    waiting: Vec<Waiting>,
    made: Option<Made>,
    errors: Vec<String>,
}

struct Choice {
    id: String,
    name: String,
    chosen: bool,
}

/// A link that waits to be redeemed.
struct Waiting {
    id: String,
    label: String,
    to: String,
    until: String,
}

/// A code that was just made.
struct Made {
    code: String,
    drawn: Option<String>,
    to: String,
    until: String,
}

/// What a reach is bound to, in words; nothing for the whole workshop.
pub(super) fn reach_in_words(f: &Frame, reach: Reach, names: &Names) -> Option<String> {
    let name = |name: Option<&Label>| name.map_or_else(|| f.settings_token_gone(), ToString::to_string);
    let app = reach.app().map(|app| name(names.apps.get(&app)));
    let rider = reach.rider().map(|rider| name(names.riders.get(&rider)));
    match (app, rider) {
        (None, None) => None,
        (Some(app), None) => Some(f.settings_token_of_app(app)),
        (None, Some(rider)) => Some(f.settings_token_of_rider(rider)),
        (Some(app), Some(rider)) => Some(f.settings_token_of_both(app, rider)),
    }
}

async fn shown(
    services: &Services,
    actor: &Actor,
    f: Frame,
    typed: &Fields,
    errors: Vec<String>,
) -> Result<LinksPage, Failure> {
    let most = PageRequest::first(PageSize::LARGEST);
    let apps = parties::apps(services, actor, &most).await?.items;
    let riders = parties::riders(services, actor, &most).await?.items;
    let waiting = links::list(services, actor, &most).await?.items;
    let names = parties::names(services, actor, waiting.iter().map(|link| link.reach.get())).await?;
    let choice = |id: String, name: &Label, field: &str| {
        let chosen = typed.get(field) == id;
        Choice { id, name: name.to_string(), chosen }
    };
    Ok(LinksPage {
        apps: apps.iter().map(|app| choice(app.id.to_string(), &app.name, "app")).collect(),
        riders: riders.iter().map(|rider| choice(rider.id.to_string(), &rider.name, "rider")).collect(),
        label: typed.get("label").to_owned(),
        waiting: waiting.iter().map(|link| waiting_link(&f, link, &names)).collect(),
        made: None,
        errors,
        f,
    })
}

fn waiting_link(f: &Frame, link: &Link, names: &Names) -> Waiting {
    Waiting {
        id: link.id.to_string(),
        label: link.label.to_string(),
        to: reach_in_words(f, link.reach.get(), names).unwrap_or_default(),
        until: f.links_until(f.instant(link.expires_at)),
    }
}

#[get("/links")]
pub(super) async fn page(viewer: Viewer<Mechanic>, services: web::Data<Services>) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&shown(&services, &actor, frame, &Fields::default(), Vec::new()).await?)
}

/// What was chosen: mechanics link riders' bikes alone.
fn chosen(f: &Frame, actor: &Actor, fields: &Fields) -> Result<(LinkedReach, Option<Label>), Vec<String>> {
    let mut errors = FieldErrors::new();
    let app = fields.filled("app").and_then(|id| errors.keep("/app_id", id.parse::<AppId>()));
    let rider = fields.filled("rider").and_then(|id| errors.keep("/rider_id", id.parse::<RiderId>()));
    let label = fields.filled("label").and_then(|label| errors.keep("/label", Label::new(label)));
    let reach = errors.keep("/app_id", LinkedReach::new(app, rider));
    match reach {
        Some(_) if rider.is_none() && actor.role != Role::Manager => Err(vec![f.links_rider_needed()]),
        Some(reach) if errors.is_empty() => Ok((reach, label)),
        _ => Err(f.wrongs(&errors)),
    }
}

#[post("/links")]
pub(super) async fn make(
    request: HttpRequest,
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let errors = match chosen(&frame, &actor, &fields) {
        Ok((reach, label)) => {
            let made =
                services.change(&actor, async |work| links::create(&services, work, reach, label).await);
            match made.await {
                Ok((link, code)) => return with_code(&request, &services, &actor, frame, &link, &code).await,
                Err(error) => frame.refused(error)?,
            }
        }
        Err(errors) => errors,
    };
    again(&shown(&services, &actor, frame, &fields, errors).await?)
}

async fn with_code(
    request: &HttpRequest,
    services: &Services,
    actor: &Actor,
    frame: Frame,
    link: &Link,
    code: &LinkCode,
) -> Answer {
    let names = parties::names(services, actor, [link.reach.get()]).await?;
    let Waiting { to, until, .. } = waiting_link(&frame, link, &names);
    let code = code.reveal();
    let drawn = qr::code(&qr::address(request, &format!("{REDEMPTION}{code}")), &frame.links_code());
    let listed = shown(services, actor, frame, &Fields::default(), Vec::new()).await?;
    html(&LinksPage { made: Some(Made { code, drawn, to, until }), ..listed })
}

#[post("/links/{id}/delete")]
pub(super) async fn take_back(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<LinkId>,
) -> Answer {
    let gone = services.change(&posted.viewer.actor, async |work| links::delete(&services, work, *id).await);
    match gone.await {
        // Redeemed or taken back meanwhile: it is gone, as was wanted.
        Ok(()) | Err(ServiceError::NotFound { .. }) => Ok(see("/links")),
        Err(other) => Err(other.into()),
    }
}

/// Enters an app or a rider, by the form's kind.
#[post("/links/parties")]
pub(super) async fn enter(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let entered = match Label::new(fields.get("name")) {
        Ok(name) if fields.get("kind") == "app" => services
            .change(&actor, async |work| parties::enter_app(&services, work, name, Vec::new()).await)
            .await
            .map(|_| ()),
        Ok(name) => services
            .change(&actor, async |work| parties::enter_rider(&services, work, name).await)
            .await
            .map(|_| ()),
        Err(cause) => Err(ServiceError::field("/name", cause)),
    };
    match entered {
        Ok(()) => Ok(see("/links")),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&shown(&services, &actor, frame, &Fields::default(), errors).await?)
        }
    }
}
