//! Hooks: which programs are told, and whether it got through.

use actix_web::{get, post, web};
use askama::Template;
use chrono::Duration;

use super::frame::{Fields, Frame, Posted, Viewer};
use super::{Answer, again, html, see};
use crate::domain::{
    DisabledReason, FieldErrors, Hook, HookEvent, HookFacts, HookId, HookMessage, HookUrl, Invalid, Label,
    MessageId, MessageState, PageRequest, PageSize,
};
use crate::service::hooks::HookChange;
use crate::service::{Actor, ServiceError, Services, hooks};
use crate::web::auth::Manager;
use crate::webhook::AddressPolicy;

use super::failure::Failure;

/// Messages shown of each hook.
const SHOWN: i64 = 5;

/// How long an old secret signs along.
const OVERLAP: Duration = Duration::hours(24);

#[derive(Template)]
#[template(path = "hooks.html")]
struct HooksPage {
    f: Frame,
    hooks: Vec<HookShown>,
    events: Vec<Choice>,
    label: String,
    url: String,
    secret: Option<(String, String)>,
    errors: Vec<String>,
}

struct Choice {
    value: &'static str,
    text: String,
    chosen: bool,
}

struct HookShown {
    id: String,
    label: String,
    url: String,
    events: String,
    state: String,
    is_on: bool,
    revision: i64,
    log: Vec<MessageShown>,
}

struct MessageShown {
    id: String,
    when: String,
    event: String,
    state: String,
    may_repeat: bool,
}

fn event_named(f: &Frame, event: HookEvent) -> String {
    match event {
        HookEvent::MeasureBy => f.hooks_event_measure_by(),
        HookEvent::SwapBy => f.hooks_event_swap_by(),
        HookEvent::SwapNow => f.hooks_event_swap_now(),
        HookEvent::MeasureSoon => f.hooks_event_measure_soon(),
        HookEvent::SwapSoon => f.hooks_event_swap_soon(),
        HookEvent::Check => f.hooks_event_check(),
        HookEvent::NoLongerDue => f.hooks_event_no_longer_due(),
        HookEvent::CassetteWorn => f.hooks_event_cassette_worn(),
        HookEvent::RingWorn => f.hooks_event_ring_worn(),
        HookEvent::OrderNeeded => f.hooks_event_order_needed(),
        HookEvent::RecordDrifted => f.hooks_event_record_drifted(),
        HookEvent::BikeRetired => f.hooks_event_bike_retired(),
        HookEvent::BikeReturned => f.hooks_event_bike_returned(),
        HookEvent::RideRejected => f.hooks_event_ride_rejected(),
        HookEvent::HookDisabled => f.hooks_event_hook_disabled(),
    }
}

fn state_of(f: &Frame, hook: &Hook) -> String {
    if let Some((since, reason)) = hook.disabled {
        let since = f.instant(since);
        return match reason {
            DisabledReason::ByHand => f.hooks_off_by_hand(since),
            DisabledReason::Gone => f.hooks_off_gone(since),
            DisabledReason::Failing => f.hooks_off_failing(since),
        };
    }
    match hook.failing_since {
        Some(since) => f.hooks_failing(f.instant(since)),
        None => f.hooks_well(),
    }
}

fn message(f: &Frame, message: &HookMessage) -> MessageShown {
    MessageShown {
        id: message.message.id.to_string(),
        when: f.instant(message.message.created_at),
        event: message
            .message
            .event
            .parse()
            .map_or_else(|_| f.hooks_event_test(), |event| event_named(f, event)),
        state: match message.state {
            MessageState::Delivered => f.hooks_delivered(),
            MessageState::Waiting => f.hooks_waiting(message.tries),
            MessageState::GivenUp => f.hooks_given_up(message.tries),
        },
        may_repeat: message.state != MessageState::Waiting,
    }
}

async fn shown(
    services: &Services,
    actor: &Actor,
    f: Frame,
    fields: &Fields,
    errors: Vec<String>,
) -> Result<HooksPage, Failure> {
    let most = PageRequest::first(PageSize::LARGEST);
    let few = PageRequest::first(PageSize::new(SHOWN).map_err(|_| Failure::Internal)?);
    let mut listed = Vec::new();
    for hook in hooks::list(services, actor, &most).await?.items {
        let log = hooks::deliveries(services, actor, hook.id, &few).await?.items;
        let events: Vec<String> = hook.facts.events.iter().map(|event| event_named(&f, *event)).collect();
        listed.push(HookShown {
            id: hook.id.to_string(),
            label: hook.facts.label.to_string(),
            url: hook.facts.url.as_str().to_owned(),
            events: events.join("; "),
            state: state_of(&f, &hook),
            is_on: hook.disabled.is_none(),
            revision: hook.revision,
            log: log.iter().map(|it| message(&f, it)).collect(),
        });
    }
    Ok(HooksPage {
        hooks: listed,
        events: HookEvent::ALL
            .iter()
            .map(|&event| Choice {
                value: event.as_str(),
                text: event_named(&f, event),
                chosen: if errors.is_empty() {
                    matches!(event, HookEvent::MeasureBy | HookEvent::SwapBy | HookEvent::SwapNow)
                } else {
                    fields.filled(event.as_str()).is_some()
                },
            })
            .collect(),
        label: fields.get("label").to_owned(),
        url: fields.get("url").to_owned(),
        secret: None,
        errors,
        f,
    })
}

#[get("/hooks")]
pub(super) async fn page(viewer: Viewer<Manager>, services: web::Data<Services>) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&shown(&services, &actor, frame, &Fields::default(), Vec::new()).await?)
}

fn facts(fields: &Fields, policy: &AddressPolicy) -> Result<HookFacts, FieldErrors> {
    let mut errors = FieldErrors::new();
    let label = errors.keep("/label", Label::new(fields.get("label")));
    let url = errors.keep("/url", allowed_url(fields.get("url"), policy));
    let events = HookEvent::ALL.iter().copied().filter(|event| fields.filled(event.as_str()).is_some());
    match (label, url) {
        (Some(label), Some(url)) => Ok(HookFacts { label, url, events: events.collect() }),
        _ => Err(errors),
    }
}

/// An address that the service's settings let hooks have.
fn allowed_url(given: &str, policy: &AddressPolicy) -> Result<HookUrl, Invalid> {
    let url = HookUrl::new(given)?;
    policy.check(&url)?;
    Ok(url)
}

#[post("/hooks")]
pub(super) async fn make(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    policy: web::Data<AddressPolicy>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let made = match facts(&fields, &policy) {
        Ok(facts) if facts.events.is_empty() => {
            let errors = vec![frame.hooks_no_event()];
            return again(&shown(&services, &actor, frame, &fields, errors).await?);
        }
        Ok(facts) => services.change(&actor, async |work| hooks::create(&services, work, facts).await).await,
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    match made {
        Ok(hook) => with_secret(&services, &actor, frame, &hook).await,
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&shown(&services, &actor, frame, &fields, errors).await?)
        }
    }
}

async fn with_secret(services: &Services, actor: &Actor, frame: Frame, hook: &Hook) -> Answer {
    let says = frame.hooks_secret(hook.facts.label.as_str());
    let secret = Some((says, hook.secrets.current.reveal()));
    let listed = shown(services, actor, frame, &Fields::default(), Vec::new()).await?;
    html(&HooksPage { secret, ..listed })
}

#[post("/hooks/{id}/test")]
pub(super) async fn test(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<HookId>,
) -> Answer {
    services.change(&posted.viewer.actor, async |work| hooks::send_test(&services, work, *id).await).await?;
    Ok(see("/hooks"))
}

#[post("/hooks/{id}/switch")]
pub(super) async fn switch(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<HookId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let change = HookChange { enabled: Some(fields.get("to") == "on"), ..HookChange::default() };
    services
        .change(&viewer.actor, async |work| hooks::change(&services, work, *id, revision, change).await)
        .await?;
    Ok(see("/hooks"))
}

#[post("/hooks/{id}/secret")]
pub(super) async fn rotate(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<HookId>,
) -> Answer {
    let Viewer { actor, frame, .. } = posted.viewer;
    let hook =
        services.change(&actor, async |work| hooks::rotate(&services, work, *id, OVERLAP).await).await?;
    with_secret(&services, &actor, frame, &hook).await
}

#[post("/hooks/{id}/remove")]
pub(super) async fn remove(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<HookId>,
) -> Answer {
    let revision = posted.fields.get("revision").parse().unwrap_or_default();
    services
        .change(&posted.viewer.actor, async |work| hooks::delete(&services, work, *id, revision).await)
        .await?;
    Ok(see("/hooks"))
}

#[post("/hooks/{id}/messages/{message_id}/again")]
pub(super) async fn repeat(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    path: web::Path<(HookId, MessageId)>,
) -> Answer {
    let (id, message_id) = path.into_inner();
    services
        .change(&posted.viewer.actor, async |work| hooks::redeliver(&services, work, id, message_id).await)
        .await?;
    Ok(see("/hooks"))
}
