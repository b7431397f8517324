//! What every page has: its words, who looks at it, the way to the other pages.

use std::collections::HashMap;
use std::marker::PhantomData;
use std::ops::Deref;
use std::pin::Pin;

use actix_web::dev::Payload;
use actix_web::http::{Method, Uri, header};
use actix_web::{FromRequest, HttpMessage as _, HttpRequest, web};
use chrono::NaiveDate;

use super::failure::Failure;
use super::proof::Proof;
use super::session::{self, PagesOpenAs, SignedIn};
use crate::domain::{Language, Role, Workshop};
use crate::service::{Actor, Services, workshops};
use crate::web::auth::{Acting, Needed};
use crate::web::speech;
use crate::web::waiting::{Bodies, GivenUp, READ_WITHIN};
use crate::words::Words;

/// Largest form, bytes: more than any page's.
const LARGEST_FORM: usize = 64 * 1024;

/// What a page's surroundings show.
#[derive(Debug, Clone)]
pub struct Frame {
    words: Words,
    /// The workshop's name; empty before signing in.
    pub workshop: String,
    /// The present date where the workshop is.
    pub today: NaiveDate,
    /// Whether there is a session to be ended.
    pub signed_in: bool,
    /// Who is signed in, by name.
    pub person: Option<String>,
    /// Proof that a form came from one of our pages, under this page's mask; empty where there is none.
    pub csrf: String,
    /// What the viewer may do; none before signing in.
    pub role: Option<Role>,
    /// Path of the page itself, with its query.
    pub here: String,
}

impl Deref for Frame {
    type Target = Words;

    fn deref(&self) -> &Words {
        &self.words
    }
}

impl Frame {
    /// Surroundings for someone who isn't signed in.
    pub fn outside(request: &HttpRequest) -> Self {
        let now = request.app_data::<web::Data<Services>>().map(|services| services.now());
        Self {
            words: Words::of(chosen(request).or_else(|| preferred(request)).unwrap_or(Language::En)),
            workshop: String::new(),
            today: now.map(crate::domain::Timestamp::utc_date).unwrap_or_default(),
            signed_in: false,
            person: None,
            csrf: shown(session::open_proof(request).as_ref()),
            role: None,
            here: here(request),
        }
    }

    /// The words.
    pub const fn words(&self) -> &Words {
        &self.words
    }

    /// The present date in words.
    pub fn today_in_words(&self) -> String {
        self.today_is(self.date(self.today))
    }

    /// A count in words.
    pub fn count(&self, count: &i64) -> String {
        self.number(*count as f64, 0)
    }

    /// Whether the viewer may do what a mechanic may.
    pub fn may_work(&self) -> bool {
        self.role.is_some_and(|role| role.covers(Role::Mechanic))
    }

    /// Whether the viewer may do what a manager may.
    pub fn may_manage(&self) -> bool {
        self.role.is_some_and(|role| role.covers(Role::Manager))
    }

    /// Whether a navigation entry is the page itself or above it.
    pub fn is_at(&self, path: &str) -> bool {
        self.here.split('?').next().is_some_and(|own| own.starts_with(path))
    }
}

/// Who looks at a page, with a role that covers `R`.
pub struct Viewer<R> {
    /// Who.
    pub actor: Actor,
    /// The workshop.
    pub workshop: Workshop,
    /// The page's surroundings.
    pub frame: Frame,
    /// The session, unless the pages are open.
    pub session: Option<crate::domain::Session>,
    proof: Option<Proof>,
    role: PhantomData<R>,
}

impl<R: Needed> Viewer<R> {
    pub(super) async fn of(request: &HttpRequest) -> Result<Self, Failure> {
        let services = request.app_data::<web::Data<Services>>().ok_or(Failure::Internal)?;
        let seen = match session::seen(request, services).await? {
            Some(seen) => seen,
            None => {
                let open = request.app_data::<web::Data<PagesOpenAs>>().and_then(|open| open.0);
                let actor = open.ok_or_else(|| Failure::NotSignedIn { back: here(request) })?;
                SignedIn { actor, session: None, proof: session::open_proof(request) }
            }
        };
        let SignedIn { actor, session, proof } = seen;
        request.extensions_mut().insert(Acting(actor));
        let workshop = workshops::get(services, &actor).await?;
        let words = Words::for_workshop(&workshop, chosen(request));
        let frame = Frame {
            words,
            workshop: workshop.settings.name.as_str().to_owned(),
            today: services.now().date_in(workshop.settings.time_zone),
            signed_in: session.is_some(),
            person: session.as_ref().map(|session| session.label.to_string()),
            csrf: shown(proof.as_ref()),
            role: Some(actor.role),
            here: here(request),
        };
        request.extensions_mut().insert(frame.clone());
        if !actor.role.covers(R::ROLE) {
            return Err(Failure::NotAllowed);
        }
        Ok(Self { actor, workshop, frame, session, proof, role: PhantomData })
    }

    /// Whether a form from this viewer came from one of our pages.
    pub(super) fn proves(&self, given: &str) -> bool {
        self.proof.as_ref().is_some_and(|proof| proof.is(given))
    }
}

fn shown(proof: Option<&Proof>) -> String {
    proof.map(Proof::shown).unwrap_or_default()
}

impl<R: Needed + 'static> FromRequest for Viewer<R> {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { Self::of(&request).await })
    }
}

/// The fields of a form as they were typed.
#[derive(Debug, Clone, Default)]
pub struct Fields(HashMap<String, Vec<String>>);

impl Fields {
    /// One field, trimmed; empty when it isn't there.
    pub fn get(&self, name: &str) -> &str {
        self.0.get(name).and_then(|values| values.first()).map(|value| value.trim()).unwrap_or_default()
    }

    /// One field, when something stands in it.
    pub fn filled(&self, name: &str) -> Option<&str> {
        Some(self.get(name)).filter(|value| !value.is_empty())
    }

    /// All values of a field that may stand more than once.
    pub fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        self.0.get(name).into_iter().flatten().map(|value| value.trim())
    }

    /// The same with one field changed.
    pub fn with(mut self, name: &str, value: impl Into<String>) -> Self {
        self.0.insert(name.to_owned(), vec![value.into()]);
        self
    }

    fn of(pairs: Vec<(String, String)>) -> Self {
        let mut fields: HashMap<String, Vec<String>> = HashMap::new();
        for (name, value) in pairs {
            fields.entry(name).or_default().push(value);
        }
        Self(fields)
    }
}

/// What was typed into one of a page's forms, when it wasn't taken.
#[derive(Debug, Clone, Default)]
pub struct Typed {
    form: &'static str,
    fields: Fields,
}

impl Typed {
    /// What was typed into the form of that name.
    pub const fn into(form: &'static str, fields: Fields) -> Self {
        Self { form, fields }
    }

    /// Whether it is this form that wasn't taken.
    pub fn is(&self, form: &str) -> bool {
        self.form == form
    }

    /// What was typed into a field of this form.
    pub fn get(&self, form: &str, name: &str) -> &str {
        if self.is(form) { self.fields.get(name) } else { "" }
    }

    /// The same, or what stands there as long as nothing was typed.
    pub fn or(&self, form: &str, name: &str, stored: String) -> String {
        if self.is(form) { self.fields.get(name).to_owned() } else { stored }
    }
}

/// A form that came from one of our own pages, from someone whose role covers `R`.
pub struct Posted<R> {
    /// Who sent it.
    pub viewer: Viewer<R>,
    /// What was typed.
    pub fields: Fields,
}

impl<R: Needed + 'static> FromRequest for Posted<R> {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let form = form(&request, payload);
        Box::pin(async move {
            let viewer = Viewer::<R>::of(&request).await?;
            let fields = form.await?;
            own_site(&request)?;
            if !viewer.proves(fields.get("csrf")) {
                return Err(Failure::Forged);
            }
            Ok(Self { viewer, fields })
        })
    }
}

/// A form from someone who isn't signed in yet.
pub struct PostedOutside(pub Fields);

impl FromRequest for PostedOutside {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let form = form(&request, payload);
        Box::pin(async move {
            own_site(&request)?;
            Ok(Self(form.await?))
        })
    }
}

fn form(
    request: &HttpRequest,
    payload: &mut Payload,
) -> impl Future<Output = Result<Fields, Failure>> + use<> {
    let encoded =
        actix_web::dev::UrlEncoded::<Vec<(String, String)>>::new(request, payload).limit(LARGEST_FORM);
    let bodies = request.app_data::<web::Data<Bodies>>().cloned();
    async move {
        let read = match bodies {
            Some(bodies) => bodies.read(READ_WITHIN, encoded).await,
            None => Ok(encoded.await),
        };
        let read = read.map_err(|why| match why {
            GivenUp::TooSlow => Failure::TooSlow,
            GivenUp::Crowded => Failure::Unavailable,
        })?;
        read.map(Fields::of).map_err(|_| Failure::Garbled)
    }
}

/// A browser says where a form was; another site's is refused. Who says nothing is no browser of today, and has the
/// form's own proof checked all the same.
pub(super) fn own_site(request: &HttpRequest) -> Result<(), Failure> {
    let header = |name: &str| request.headers().get(name).and_then(|value| value.to_str().ok());
    if let Some(site) = header("sec-fetch-site") {
        return if matches!(site, "same-origin" | "none") { Ok(()) } else { Err(Failure::Forged) };
    }
    let host = request.connection_info().host().to_owned();
    match header(header::ORIGIN.as_str()) {
        Some(origin) if origin.split_once("://").is_none_or(|(_, from)| from != host) => Err(Failure::Forged),
        _ => Ok(()),
    }
}

/// The page's own address; that of the form when the page is the answer to one, which can't be opened by itself.
fn here(request: &HttpRequest) -> String {
    let form = request.headers().get(header::REFERER).filter(|_| request.method() != Method::GET);
    let form = form.and_then(|referer| referer.to_str().ok()?.parse::<Uri>().ok());
    let address = form.as_ref().unwrap_or_else(|| request.uri());
    address.path_and_query().map_or_else(|| "/".to_owned(), ToString::to_string)
}

/// The language that someone chose on a page.
fn chosen(request: &HttpRequest) -> Option<Language> {
    request.cookie(session::LANGUAGE_COOKIE)?.value().parse().ok()
}

/// The language of ours that the browser likes best.
fn preferred(request: &HttpRequest) -> Option<Language> {
    speech::asked(request.headers())
}
