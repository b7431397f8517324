//! Digests: e-mails with what is due.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{
    Digest, DigestDays, DigestDone, DigestDue, DigestFacts, DigestHour, DigestId, DigestPeriod, EmailAddress,
    Field, FieldErrors, GroupName, Invalid, Language, Weekday,
};
use crate::input::parse;
use crate::service::digests;
use crate::service::{Conflict, ServiceError, Services};
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_digest)
        .service(list_digests)
        .service(get_digest)
        .service(change_digest)
        .service(delete_digest)
        .service(test_digest);
}

/// Whether this service sends e-mail at all.
#[derive(Debug, Clone, Copy)]
pub struct SendsMail(pub bool);

impl SendsMail {
    fn check(self) -> Result<(), ServiceError> {
        if self.0 { Ok(()) } else { Err(ServiceError::Conflict(Conflict::NoMail)) }
    }
}

/// An e-mail with what is due, once a period.
#[derive(Serialize, ToSchema)]
#[schema(as = Digest)]
struct DigestDocument {
    /// Its id.
    id: Uuid,
    /// Who gets it.
    #[schema(example = "yard@bikes.example")]
    address: String,
    /// How often it comes.
    #[schema(value_type = schema::DigestPeriod)]
    period: &'static str,
    /// On which day of the week a weekly one comes; null for a daily one.
    #[schema(value_type = Option<schema::Weekday>)]
    weekday: Option<&'static str>,
    /// At which hour where the workshop is.
    #[schema(minimum = 0, maximum = 23)]
    hour: u32,
    /// In which language.
    #[schema(value_type = Language)]
    language: &'static str,
    /// Bikes of these groups alone; all of them when empty.
    #[schema(max_items = 20)]
    groups: Vec<String>,
    /// Whether it comes when nothing is due as well.
    when_nothing_due: bool,
    /// When it comes next, or is tried next; null once its recipient stopped it.
    next_at: Option<DateTime<Utc>>,
    /// The date of the latest message that is done with; null before the first.
    last_on: Option<NaiveDate>,
    /// What became of that message.
    #[schema(value_type = Option<schema::DigestOutcome>)]
    last_outcome: Option<&'static str>,
    /// Why the last attempt failed, in the mail server's words; null after one that didn't.
    last_error: Option<String>,
    /// When its recipient stopped it by the link in each message; null while it goes on.
    unsubscribed_at: Option<DateTime<Utc>>,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` holds it.
    revision: i64,
}

impl From<Digest> for DigestDocument {
    fn from(digest: Digest) -> Self {
        let Digest {
            id,
            facts,
            secret: _,
            next,
            tries: _,
            last,
            last_error,
            unsubscribed_at,
            created_at,
            revision,
        } = digest;
        let DigestFacts { address, days, hour, language, groups, when_nothing_due } = facts;
        let (last_on, last_outcome) =
            last.map(|DigestDone { on, at: _, outcome }| (on, outcome.as_str())).unzip();
        Self {
            id: id.uuid(),
            address: address.as_str().to_owned(),
            period: days.period().as_str(),
            weekday: days.weekday().map(Weekday::as_str),
            hour: hour.get(),
            language: language.as_str(),
            groups: groups.iter().map(|group| group.as_str().to_owned()).collect(),
            when_nothing_due,
            next_at: next.map(|DigestDue { on: _, at }| at.datetime()),
            last_on,
            last_outcome,
            last_error,
            unsubscribed_at: unsubscribed_at.map(|at| at.datetime()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// Groups, each kept once.
fn groups_of(given: &[String], errors: &mut FieldErrors) -> Option<Vec<GroupName>> {
    let most = DigestFacts::MOST_GROUPS;
    if given.len() > most {
        let cause = Invalid::Count { what: Field::Groups, found: given.len(), minimum: 0, maximum: most };
        errors.push(cause.at("/groups"));
        return None;
    }
    let found = given.iter().enumerate();
    let found: Vec<Option<GroupName>> =
        found.map(|(index, name)| errors.keep(format!("/groups/{index}"), GroupName::new(name))).collect();
    let mut groups = found.into_iter().collect::<Option<Vec<GroupName>>>()?;
    groups.sort();
    groups.dedup();
    Some(groups)
}

fn days_of(period: &str, weekday: Option<&str>, errors: &mut FieldErrors) -> Option<DigestDays> {
    let period = errors.keep("/period", parse::text::<DigestPeriod>(period));
    let weekday = weekday.map(|word| errors.keep("/weekday", parse::text::<Weekday>(word)));
    let weekday = match weekday {
        Some(None) => return None,
        Some(Some(weekday)) => Some(weekday),
        None => None,
    };
    errors.keep("/weekday", DigestDays::new(period?, weekday))
}

/// A digest to be made.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewDigest {
    /// Who gets it.
    #[schema(min_length = 3, max_length = 254)]
    address: String,
    /// How often it comes.
    #[schema(value_type = schema::DigestPeriod)]
    period: String,
    /// On which day of the week a weekly one comes.
    #[schema(value_type = Option<schema::Weekday>)]
    weekday: Option<String>,
    /// At which hour where the workshop is; seven when left out.
    #[schema(minimum = 0, maximum = 23)]
    hour: Option<i64>,
    /// In which language; the workshop's when left out.
    #[schema(value_type = Option<Language>)]
    language: Option<String>,
    /// Bikes of these groups alone; all of them when left out or empty.
    #[schema(max_items = 20)]
    groups: Option<Vec<String>>,
    /// Whether it comes when nothing is due as well; it doesn't when left out.
    when_nothing_due: Option<bool>,
}

impl NewDigest {
    fn parse(self) -> Result<impl FnOnce(Language) -> DigestFacts, FieldErrors> {
        let Self { address, period, weekday, hour, language, groups, when_nothing_due } = self;
        let mut errors = FieldErrors::new();
        let address = errors.keep("/address", EmailAddress::new(&address));
        let days = days_of(&period, weekday.as_deref(), &mut errors);
        let hour = hour.map_or(Some(DigestHour::SEVEN), |hour| errors.keep("/hour", DigestHour::new(hour)));
        let language = language.map(|word| errors.keep("/language", parse::text::<Language>(&word)));
        let groups = groups_of(&groups.unwrap_or_default(), &mut errors);
        match (address, days, hour, language, groups) {
            (Some(address), Some(days), Some(hour), None | Some(Some(_)), Some(groups)) => {
                let language = language.flatten();
                let when_nothing_due = when_nothing_due.unwrap_or(false);
                Ok(move |usual| DigestFacts {
                    address,
                    days,
                    hour,
                    language: language.unwrap_or(usual),
                    groups,
                    when_nothing_due,
                })
            }
            _ => Err(errors),
        }
    }
}

/// A page of digests.
#[derive(ToSchema)]
#[allow(dead_code)]
struct DigestList {
    /// Digests of this page, in the order in which they were made.
    items: Vec<DigestDocument>,
}

/// What to change of a digest; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct DigestChange {
    /// Who gets it.
    #[schema(min_length = 3, max_length = 254)]
    address: Option<String>,
    /// How often it comes; with `weekly` name the weekday as well.
    #[schema(value_type = Option<schema::DigestPeriod>)]
    period: Option<String>,
    /// On which day of the week it comes: makes it a weekly one.
    #[schema(value_type = Option<schema::Weekday>)]
    weekday: Option<String>,
    /// At which hour where the workshop is.
    #[schema(minimum = 0, maximum = 23)]
    hour: Option<i64>,
    /// In which language.
    #[schema(value_type = Option<Language>)]
    language: Option<String>,
    /// Bikes of these groups alone; all of them when empty.
    #[schema(max_items = 20)]
    groups: Option<Vec<String>>,
    /// Whether it comes when nothing is due as well.
    when_nothing_due: Option<bool>,
}

impl DigestChange {
    fn parse(self) -> Result<digests::DigestChange, FieldErrors> {
        let Self { address, period, weekday, hour, language, groups, when_nothing_due } = self;
        let mut errors = FieldErrors::new();
        let address = address.and_then(|address| errors.keep("/address", EmailAddress::new(&address)));
        let days = match (period, weekday) {
            (None, None) => None,
            (period, weekday) => {
                let period = period.unwrap_or_else(|| DigestPeriod::Weekly.as_str().to_owned());
                days_of(&period, weekday.as_deref(), &mut errors)
            }
        };
        let hour = hour.and_then(|hour| errors.keep("/hour", DigestHour::new(hour)));
        let language = language.and_then(|word| errors.keep("/language", parse::text::<Language>(&word)));
        let groups = groups.and_then(|groups| groups_of(&groups, &mut errors));
        let change = digests::DigestChange { address, days, hour, language, groups, when_nothing_due };
        if errors.is_empty() { Ok(change) } else { Err(errors) }
    }
}

/// Make a digest
///
/// An e-mail with the bikes that are due, each day or each week at an hour, from the next time on: at most one a period, and none
/// when nothing is due unless asked for. What the mail server doesn't take is tried again until the next one is due; what
/// it refuses for good is given up. Each message holds a link that stops the digest without a sign-in. It lists at most
/// 50 bikes, the most urgent first, and says how many more there are.
///
/// 409 where the service sends no e-mail.
#[utoipa::path(
    operation_id = "create_digest",
    tag = "digests",
    security(("bearer" = ["manager"])),
    request_body(content = NewDigest, example = json!({"address": "yard@bikes.example", "period": "weekly",
        "weekday": "monday", "hour": 7})),
    responses((status = 201, description = "The digest", body = DigestDocument,
        headers(("Location" = String, description = "Address of the digest"))))
)]
#[post("/v1/digests")]
async fn create_digest(
    services: web::Data<Services>,
    mail: web::Data<SendsMail>,
    mut change: Change<Manager>,
    body: Json<NewDigest>,
) -> Result<HttpResponse, Problem> {
    let facts = body.0.parse()?;
    mail.check()?;
    let digest = digests::create(&services, &mut change, facts).await?;
    Ok(answer::created(format!("/v1/digests/{}", digest.id), digest.revision, DigestDocument::from(digest)))
}

/// List digests
#[utoipa::path(
    operation_id = "list_digests",
    tag = "digests",
    security(("bearer" = ["manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of digests", body = DigestList))
)]
#[get("/v1/digests")]
async fn list_digests(
    services: web::Data<Services>,
    actor: As<Manager>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = digests::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, DigestDocument::from))
}

/// Get a digest
#[utoipa::path(
    operation_id = "get_digest",
    tag = "digests",
    security(("bearer" = ["manager"])),
    params(("digest_id" = Uuid, Path, description = "The digest")),
    responses((status = 200, description = "The digest", body = DigestDocument))
)]
#[get("/v1/digests/{digest_id}")]
async fn get_digest(
    services: web::Data<Services>,
    actor: As<Manager>,
    digest_id: web::Path<DigestId>,
) -> Result<HttpResponse, Problem> {
    let digest = digests::get(&services, &actor, *digest_id).await?;
    Ok(answer::current(digest.revision, DigestDocument::from(digest)))
}

/// Change a digest
///
/// One that its recipient stopped can't be changed: make another one if they want it again.
#[utoipa::path(
    operation_id = "change_digest",
    tag = "digests",
    security(("bearer" = ["manager"])),
    params(("digest_id" = Uuid, Path, description = "The digest"),
        ("If-Match" = String, Header, description = "`ETag` of the digest as you read it", example = "\"1\"")),
    request_body(content = DigestChange, example = json!({"period": "daily", "hour": 6})),
    responses((status = 200, description = "The digest after the change", body = DigestDocument))
)]
#[patch("/v1/digests/{digest_id}")]
async fn change_digest(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    digest_id: web::Path<DigestId>,
    seen: IfMatch,
    body: Json<DigestChange>,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(digests::get(&services, change.actor(), *digest_id).await?.revision))
        .await?;
    let digest = digests::change(&services, &mut change, *digest_id, revision, body.0.parse()?).await?;
    Ok(answer::current(digest.revision, DigestDocument::from(digest)))
}

/// Remove a digest
#[utoipa::path(
    operation_id = "delete_digest",
    tag = "digests",
    security(("bearer" = ["manager"])),
    params(("digest_id" = Uuid, Path, description = "The digest"),
        ("If-Match" = String, Header, description = "`ETag` of the digest as you read it", example = "\"1\"")),
    responses((status = 204, description = "The digest is gone"))
)]
#[delete("/v1/digests/{digest_id}")]
async fn delete_digest(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    digest_id: web::Path<DigestId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(digests::get(&services, change.actor(), *digest_id).await?.revision))
        .await?;
    digests::delete(&services, &mut change, *digest_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Send a digest now
///
/// As it would be now, beside its usual messages, even when nothing is due. Whether the mail server took it stands in `last_error`
/// soon after.
#[utoipa::path(
    operation_id = "test_digest",
    tag = "digests",
    security(("bearer" = ["manager"])),
    params(("digest_id" = Uuid, Path, description = "The digest")),
    responses((status = 202, description = "The message is on its way", body = DigestDocument))
)]
#[post("/v1/digests/{digest_id}/test")]
async fn test_digest(
    services: web::Data<Services>,
    mail: web::Data<SendsMail>,
    mut change: Change<Manager>,
    digest_id: web::Path<DigestId>,
) -> Result<HttpResponse, Problem> {
    let digest = digests::send_test(&services, &mut change, *digest_id).await?;
    mail.check()?;
    Ok(HttpResponse::Accepted().json(DigestDocument::from(digest)))
}
