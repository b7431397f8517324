//! Who works here: people with names and roles, the codes that sign them in, and signing them out everywhere.

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use askama::Template;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::{Answer, again, html, qr, see, session};
use crate::domain::{Label, PageRequest, PageSize, Role, Token, TokenId};
use crate::service::sign_ins::Offered;
use crate::service::{Actor, ServiceError, Services, sessions, sign_ins, tokens};
use crate::web::auth::{App, Manager};

/// The roles that a person may have.
const ROLES: [Role; 2] = [Role::Mechanic, Role::Manager];

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    f: Frame,
    people: Vec<Person>,
    name: String,
    roles: Vec<(&'static str, String, bool)>,
    made: Option<CodeShown>,
    errors: Vec<String>,
}

struct Person {
    id: String,
    name: String,
    about: String,
    is_signed_in: bool,
}

#[derive(Template)]
#[template(path = "me.html")]
struct MePage {
    f: Frame,
    about: Option<String>,
    made: Option<CodeShown>,
}

/// A code as it is shown, this once.
struct CodeShown {
    title: String,
    code: String,
    address: String,
    drawn: Option<String>,
    says: String,
}

impl CodeShown {
    fn of(request: &HttpRequest, f: &Frame, offered: &Offered) -> Self {
        let Offered { code, label, expires_at } = offered;
        let code = code.reveal();
        let title = f.people_code_for(label.as_str());
        let address = qr::address(request, &format!("/sign-in/{code}"));
        Self {
            drawn: qr::code(&address, &title),
            says: f.people_code_text(f.instant(*expires_at)),
            title,
            code,
            address,
        }
    }
}

/// Whether a token signs a person in, rather than an app or a program.
fn is_a_persons(token: &Token) -> bool {
    token.revoked_at.is_none() && ROLES.contains(&token.grant.role())
}

async fn shown(
    services: &Services,
    actor: &Actor,
    mut f: Frame,
    typed: &Fields,
    errors: Vec<String>,
) -> Result<PeoplePage, Failure> {
    // Forms that weren't taken have addresses that can't be opened.
    "/people".clone_into(&mut f.here);
    let counts = sessions::counts(services, actor).await?;
    let mut people = Vec::new();
    let mut asked_page = PageRequest::first(PageSize::LARGEST);
    loop {
        let tokens = tokens::list(services, actor, &asked_page).await?;
        people.extend(tokens.items.iter().filter(|token| is_a_persons(token)).map(|token| {
            let devices = counts.get(&token.id).copied().unwrap_or_default();
            let role = f.word("role", token.grant.role().as_str());
            Person {
                id: token.id.to_string(),
                name: token.label.to_string(),
                about: f.people_about(role, devices),
                is_signed_in: devices > 0,
            }
        }));
        match tokens.next {
            Some(next) => asked_page.after = Some(next),
            None => break,
        }
    }
    people.sort_by_key(|person| person.name.to_lowercase());
    let asked = typed.filled("role").unwrap_or(Role::Mechanic.as_str());
    Ok(PeoplePage {
        people,
        name: typed.get("name").to_owned(),
        roles: [(Role::Mechanic, f.role_mechanic()), (Role::Manager, f.role_manager())]
            .map(|(role, text)| (role.as_str(), text, asked == role.as_str()))
            .into(),
        made: None,
        errors,
        f,
    })
}

#[get("/people")]
pub(super) async fn page(viewer: Viewer<Manager>, services: web::Data<Services>) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&shown(&services, &actor, frame, &Fields::default(), Vec::new()).await?)
}

#[post("/people")]
pub(super) async fn enter(
    request: HttpRequest,
    posted: Posted<Manager>,
    services: web::Data<Services>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let role = fields.get("role").parse().ok().filter(|role| ROLES.contains(role)).ok_or(Failure::Garbled)?;
    let entered = match Label::new(fields.get("name")) {
        Ok(name) => {
            let entering = async |work: &mut _| sign_ins::enter_person(&services, work, name, role).await;
            services.change(&actor, entering).await
        }
        Err(cause) => Err(ServiceError::field("/name", cause)),
    };
    match entered {
        Ok(offered) => with_code(&request, &services, &actor, frame, &offered).await,
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&shown(&services, &actor, frame, &fields, errors).await?)
        }
    }
}

async fn with_code(
    request: &HttpRequest,
    services: &Services,
    actor: &Actor,
    frame: Frame,
    offered: &Offered,
) -> Answer {
    let made = Some(CodeShown::of(request, &frame, offered));
    let listed = shown(services, actor, frame, &Fields::default(), Vec::new()).await?;
    html(&PeoplePage { made, ..listed })
}

#[post("/people/{id}/code")]
pub(super) async fn offer_code(
    request: HttpRequest,
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<TokenId>,
) -> Answer {
    let Viewer { actor, frame, .. } = posted.viewer;
    let offered = services.change(&actor, async |work| sign_ins::offer(&services, work, *id).await).await?;
    with_code(&request, &services, &actor, frame, &offered).await
}

#[post("/people/{id}/sign-out")]
pub(super) async fn sign_out(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<TokenId>,
) -> Answer {
    let actor = posted.viewer.actor;
    services.change(&actor, async |work| sessions::end_all(&services, work, *id).await).await?;
    Ok(see("/people"))
}

/// Whoever is removed is signed out everywhere, and can't sign in again.
#[post("/people/{id}/remove")]
pub(super) async fn remove(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<TokenId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, .. } = posted;
    let removed = services
        .change(&actor, async |work| {
            sessions::end_all(&services, work, *id).await?;
            tokens::revoke(&services, work, *id).await
        })
        .await;
    match removed {
        Ok(()) => Ok(see("/people")),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&shown(&services, &actor, frame, &Fields::default(), errors).await?)
        }
    }
}

fn me(f: Frame, made: Option<CodeShown>) -> MePage {
    let mut f = f;
    "/me".clone_into(&mut f.here);
    let role = f.role.map(|role| f.word("role", role.as_str()));
    let about = f.person.as_deref().zip(role).map(|(name, role)| f.me_about(name, role, f.workshop.as_str()));
    MePage { about, made, f }
}

#[get("/me")]
pub(super) async fn own(viewer: Viewer<App>) -> Answer {
    html(&me(viewer.frame, None))
}

/// A code for another device of whoever is signed in.
#[post("/me/code")]
pub(super) async fn own_code(
    request: HttpRequest,
    posted: Posted<App>,
    services: web::Data<Services>,
) -> Answer {
    let Viewer { actor, frame, .. } = posted.viewer;
    let token_id = actor.token_id.ok_or(Failure::NotAllowed)?;
    let offered =
        services.change(&actor, async |work| sign_ins::offer(&services, work, token_id).await).await?;
    let made = CodeShown::of(&request, &frame, &offered);
    html(&me(frame, Some(made)))
}

#[post("/me/sign-out")]
pub(super) async fn own_sign_out(
    posted: Posted<App>,
    services: web::Data<Services>,
) -> Result<HttpResponse, Failure> {
    let actor = posted.viewer.actor;
    let token_id = actor.token_id.ok_or(Failure::NotAllowed)?;
    services.change(&actor, async |work| sessions::end_all(&services, work, token_id).await).await?;
    let mut answer = see("/sign-in");
    answer.add_cookie(&session::ended()).map_err(|_| Failure::Internal)?;
    Ok(answer)
}
