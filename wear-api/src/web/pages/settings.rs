//! The workshop's settings and its tokens.

use actix_web::{HttpRequest, get, post, web};
use askama::Template;
use serde::Deserialize;
use wear_core::units::{Limit, Probability};

use super::care_setting::{self, CareChoice, Unset};
use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Typed, Viewer};
use super::{Answer, again, html, linking, qr, see};
use crate::domain::{
    BenchSettings, Costs, DefaultLimits, Label, Language, Minutes, PageRequest, PageSize, Place, Role,
    SoonDays, TokenId, UnitsShown, WeekMinutes, Workshop, WorkshopName, WorkshopSettings, parse_time_zone,
};
use crate::service::{Actor, ServiceError, Services, bench_days, calendar, parties, tokens, workshops};
use crate::web::auth::Manager;
use crate::words::parse_number;

#[derive(Template)]
#[template(path = "settings.html")]
struct SettingsPage {
    f: Frame,
    revision: i64,
    name: String,
    zone: String,
    currency: String,
    risk: String,
    soon: String,
    languages: Vec<Choice>,
    units: Vec<Choice>,
    limits: Vec<Number>,
    costs: Vec<Number>,
    costs_title: String,
    care: CareChoice,
    bench_revision: i64,
    closes_at: String,
    week: Vec<Number>,
    jobs: Vec<Number>,
    tokens: Vec<TokenShown>,
    roles: Vec<Choice>,
    calendar: Option<String>,
    address: Option<String>,
    token_label: String,
    made: Option<(String, String)>,
    saved: bool,
    errors: Vec<String>,
}

struct Choice {
    value: &'static str,
    text: String,
    chosen: bool,
}

struct Number {
    name: &'static str,
    text: String,
    typed: String,
}

struct TokenShown {
    id: String,
    label: String,
    role: &'static str,
    reach: Option<String>,
    when: String,
    revoked: bool,
}

#[derive(Deserialize)]
struct Query {
    saved: Option<u8>,
}

const LIMITS: [&str; 3] = ["limit_many", "limit_some", "limit_one"];
const COSTS: [&str; 3] = ["cost_swap", "cost_reading", "cost_failure"];
const WEEK: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
const JOBS: [&str; 4] = ["chain", "cassette", "ring", "setup"];

/// A Monday, to name the weekdays by.
const MONDAY: (i32, u32, u32) = (2026, 11, 23);

async fn shown(
    services: &Services,
    actor: &Actor,
    workshop: &Workshop,
    f: Frame,
    typed: Typed,
    errors: Vec<String>,
) -> Result<SettingsPage, Failure> {
    let settings = &workshop.settings;
    let (bench, bench_revision) = bench_days::settings(services, actor).await?;
    let most = PageRequest::first(PageSize::LARGEST);
    let all = tokens::list(services, actor, &most).await?.items;
    let names = parties::names(services, actor, all.iter().map(|token| token.grant.reach())).await?;
    let value = |name: &str, stored: String| typed.or("settings", name, stored);
    let number = |name, text, stored: String| Number { name, text, typed: value(name, stored) };
    let limit = |limit: Option<Limit>| limit.map(|limit| f.typed(limit.get(), 2)).unwrap_or_default();
    let decimals = f.decimals_of_money();
    let money = |minor: i64| f.typed(minor as f64 / 10_f64.powi(decimals as i32), decimals);
    let limits = &settings.limits;
    let costs = &settings.costs;
    let monday = chrono::NaiveDate::from_ymd_opt(MONDAY.0, MONDAY.1, MONDAY.2).unwrap_or_default();
    let minutes = |minutes: Minutes| minutes.get().to_string();
    Ok(SettingsPage {
        revision: workshop.revision,
        name: value("name", settings.name.as_str().to_owned()),
        zone: value("time_zone", settings.time_zone.name().to_owned()),
        currency: value("currency", settings.currency.to_string()),
        risk: value("risk", f.typed(100.0 * settings.risk.get(), 0)),
        soon: value("soon", settings.soon_days.get().to_string()),
        languages: [(Language::En, "English"), (Language::De, "Deutsch")]
            .into_iter()
            .map(|(language, text)| Choice {
                value: language.as_str(),
                text: text.to_owned(),
                chosen: value("language", settings.language.to_string()) == language.as_str(),
            })
            .collect(),
        units: [(UnitsShown::Km, f.settings_km()), (UnitsShown::Miles, f.settings_miles())]
            .into_iter()
            .map(|(units, text)| Choice {
                value: units.as_str(),
                text,
                chosen: value("units", settings.units_shown.to_string()) == units.as_str(),
            })
            .collect(),
        limits: vec![
            number(LIMITS[0], f.settings_limit_many(), limit(limits.eleven_or_more)),
            number(LIMITS[1], f.settings_limit_some(), limit(limits.up_to_ten)),
            number(LIMITS[2], f.settings_limit_one(), limit(limits.single_sprocket)),
        ],
        costs: vec![
            number(COSTS[0], f.settings_cost_swap(), money(costs.swap_labour_minor)),
            number(COSTS[1], f.settings_cost_reading(), money(costs.reading_minor)),
            number(COSTS[2], f.settings_cost_failure(), money(costs.failure_minor)),
        ],
        costs_title: f.settings_costs(settings.currency),
        care: if typed.is("settings") {
            let every = typed.get("settings", "care_every").to_owned();
            CareChoice::typed(f.words(), Unset::ByEntries, typed.get("settings", "care"), every)
        } else {
            CareChoice::of(f.words(), Unset::ByEntries, settings.care)
        },
        closes_at: typed.or("bench", "closes_at", bench.closes_at.to_string()),
        bench_revision,
        week: monday
            .iter_days()
            .zip(WEEK)
            .map(|(day, name)| {
                let text = f.weekday(day).to_owned();
                Number { name, text, typed: typed.or("bench", name, minutes(bench.week.on(day))) }
            })
            .collect(),
        jobs: [
            (JOBS[0], f.settings_bench_minutes(f.place(Place::Chain)), bench.chain),
            (JOBS[1], f.settings_bench_minutes(f.place(Place::Cassette)), bench.cassette),
            (JOBS[2], f.settings_bench_minutes(f.place(Place::Ring)), bench.ring),
            (JOBS[3], f.settings_bench_setup(), bench.setup),
        ]
        .into_iter()
        .map(|(name, text, stored)| Number { name, text, typed: typed.or("bench", name, minutes(stored)) })
        .collect(),
        tokens: all
            .iter()
            .map(|token| TokenShown {
                id: token.id.to_string(),
                label: token.label.as_str().to_owned(),
                role: token.grant.role().as_str(),
                reach: linking::reach_in_words(&f, token.grant.reach(), &names),
                when: match token.revoked_at {
                    Some(at) => f.settings_token_revoked(f.medium_date(f.day_of(at))),
                    None => f.settings_token_made_on(f.medium_date(f.day_of(token.created_at))),
                },
                revoked: token.revoked_at.is_some(),
            })
            .collect(),
        roles: [
            (Role::Mechanic, f.role_mechanic()),
            (Role::Manager, f.role_manager()),
            (Role::App, f.role_app()),
        ]
        .into_iter()
        .map(|(role, text)| Choice {
            value: role.as_str(),
            text,
            chosen: typed.or("token", "role", Role::Mechanic.to_string()) == role.as_str(),
        })
        .collect(),
        calendar: match calendar::get(services, actor).await {
            Ok(at) => Some(f.settings_calendar_since(f.instant(at))),
            Err(ServiceError::NotFound { .. }) => None,
            Err(other) => return Err(other.into()),
        },
        address: None,
        token_label: typed.get("token", "label").to_owned(),
        made: None,
        saved: false,
        errors,
        f,
    })
}

#[get("/settings")]
pub(super) async fn page(
    viewer: Viewer<Manager>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, workshop, frame, .. } = viewer;
    let shown = shown(&services, &actor, &workshop, frame, Typed::default(), Vec::new()).await?;
    html(&SettingsPage { saved: query.saved.is_some(), ..shown })
}

fn wrong(f: &Frame, error: &ServiceError) -> Option<Vec<String>> {
    let ServiceError::Invalid(errors) = error else { return None };
    Some(f.wrongs(errors))
}

fn parse(f: &Frame, settings: &WorkshopSettings, fields: &Fields) -> Result<WorkshopSettings, Vec<String>> {
    let mut errors = Vec::new();
    let mut keep = |sentence: String| errors.push(sentence);
    let mut changed = settings.clone();
    match WorkshopName::new(fields.get("name")) {
        Ok(name) => changed.name = name,
        Err(cause) => keep(f.wrong(&cause)),
    }
    match parse_time_zone(fields.get("time_zone")) {
        Ok(zone) => changed.time_zone = zone,
        Err(cause) => keep(f.wrong(&cause)),
    }
    match fields.get("currency").to_ascii_uppercase().parse() {
        Ok(currency) => changed.currency = currency,
        Err(_) => keep(f.settings_wrong(f.settings_currency(), "EUR, GBP, USD")),
    }
    changed.language = fields.get("language").parse().unwrap_or(changed.language);
    changed.units_shown = fields.get("units").parse().unwrap_or(changed.units_shown);
    match parse_number(fields.get("risk")).and_then(|percent| Probability::new(percent / 100.0).ok()) {
        Some(risk) => changed.risk = risk,
        None => keep(f.settings_wrong(f.settings_risk(), "0–100")),
    }
    match fields.filled("soon").map(|days| days.parse().ok().and_then(|days| SoonDays::new(days).ok())) {
        None => {}
        Some(Some(days)) => changed.soon_days = days,
        Some(None) => keep(f.settings_wrong(f.settings_soon(), "0–60")),
    }
    let mut limit = |name: &str, text: String| {
        let typed = fields.filled(name)?;
        let parsed = parse_number(typed).and_then(|percent| Limit::new(percent).ok());
        if parsed.is_none() {
            keep(f.settings_wrong(text, format!("{}–{}", f.number(0.2, 1), f.number(2.0, 1))));
        }
        parsed
    };
    changed.limits = DefaultLimits {
        eleven_or_more: limit(LIMITS[0], f.settings_limit_many()),
        up_to_ten: limit(LIMITS[1], f.settings_limit_some()),
        single_sprocket: limit(LIMITS[2], f.settings_limit_one()),
    };
    let scale = 10_f64.powi(f.decimals_of_money() as i32);
    let mut cost = |name: &str, text: String| match fields.filled(name).map(parse_number) {
        None => 0,
        Some(Some(amount)) if amount >= 0.0 => (amount * scale).round() as i64,
        Some(_) => {
            keep(f.settings_wrong(text, f.a_number()));
            0
        }
    };
    changed.costs = Costs {
        swap_labour_minor: cost(COSTS[0], f.settings_cost_swap()),
        reading_minor: cost(COSTS[1], f.settings_cost_reading()),
        failure_minor: cost(COSTS[2], f.settings_cost_failure()),
    };
    match care_setting::parse(f.words(), fields, settings.care) {
        Ok(care) => changed.care = care,
        Err(sentence) => errors.push(sentence),
    }
    if let Err(cause) = changed.costs.check(changed.currency) {
        errors.push(f.wrong(&cause));
    }
    if errors.is_empty() { Ok(changed) } else { Err(errors) }
}

#[post("/settings")]
pub(super) async fn save(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, workshop, frame, .. }, fields } = posted;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let errors = match parse(&frame, &workshop.settings, &fields) {
        Err(errors) => errors,
        Ok(settings) => match services
            .change(&actor, async |work| workshops::change(&services, work, revision, |_| Ok(settings)).await)
            .await
        {
            Ok(_) => return Ok(see("/settings?saved=1")),
            Err(error) => match wrong(&frame, &error) {
                Some(errors) => errors,
                None => return Err(error.into()),
            },
        },
    };
    again(&shown(&services, &actor, &workshop, frame, Typed::into("settings", fields), errors).await?)
}

fn parse_bench(fields: &Fields) -> Result<BenchSettings, ServiceError> {
    let minutes = |name: &str| {
        let given = fields.get(name).parse().unwrap_or(-1);
        Minutes::new(given).map_err(|cause| ServiceError::field(format!("/{name}"), cause))
    };
    let mut week = [Minutes::default(); 7];
    for (day, name) in week.iter_mut().zip(WEEK) {
        *day = minutes(name)?;
    }
    let settings = BenchSettings {
        week: WeekMinutes(week),
        chain: minutes(JOBS[0])?,
        cassette: minutes(JOBS[1])?,
        ring: minutes(JOBS[2])?,
        setup: minutes(JOBS[3])?,
        closes_at: fields
            .get("closes_at")
            .parse()
            .map_err(|cause| ServiceError::field("/closes_at", cause))?,
    };
    settings.check().map_err(|cause| ServiceError::field("/setup", cause))
}

#[post("/settings/bench")]
pub(super) async fn save_bench(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, workshop, frame, .. }, fields } = posted;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let saved = match parse_bench(&fields) {
        Ok(settings) => services
            .change(&actor, async |work| {
                bench_days::change_settings(&services, work, revision, |_| Ok(settings)).await
            })
            .await
            .map(|_| ()),
        Err(error) => Err(error),
    };
    match saved {
        Ok(()) => Ok(see("/settings?saved=1")),
        Err(error) => match wrong(&frame, &error) {
            Some(errors) => again(
                &shown(&services, &actor, &workshop, frame, Typed::into("bench", fields), errors).await?,
            ),
            None => Err(error.into()),
        },
    }
}

#[post("/settings/tokens")]
pub(super) async fn make_token(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, workshop, frame, .. }, fields } = posted;
    let role: Role = fields.get("role").parse().map_err(|_| Failure::Garbled)?;
    let label = match Label::new(fields.get("label")) {
        Ok(label) => label,
        Err(cause) => {
            let errors = vec![frame.wrong(&cause)];
            return again(
                &shown(&services, &actor, &workshop, frame, Typed::into("token", fields), errors).await?,
            );
        }
    };
    let (token, secret) =
        services.change(&actor, async |work| tokens::create(&services, work, role, label).await).await?;
    let says = frame.settings_token_made(token.label.as_str());
    let shown = shown(&services, &actor, &workshop, frame, Typed::default(), Vec::new()).await?;
    html(&SettingsPage { made: Some((says, secret.reveal())), ..shown })
}

#[post("/settings/tokens/{id}/revoke")]
pub(super) async fn revoke_token(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<TokenId>,
) -> Answer {
    services.change(&posted.viewer.actor, async |work| tokens::revoke(&services, work, *id).await).await?;
    Ok(see("/settings#tokens"))
}

/// Gives the calendar an address, or another one, and shows it this once.
#[post("/settings/calendar")]
pub(super) async fn renew_calendar(
    request: HttpRequest,
    posted: Posted<Manager>,
    services: web::Data<Services>,
) -> Answer {
    let Viewer { actor, workshop, frame, .. } = posted.viewer;
    let (secret, _) = services.change(&actor, async |work| calendar::renew(&services, work).await).await?;
    let address = qr::address(&request, &format!("/v1/calendar/{}.ics", secret.reveal()));
    let shown = shown(&services, &actor, &workshop, frame, Typed::default(), Vec::new()).await?;
    html(&SettingsPage { address: Some(address), ..shown })
}

#[post("/settings/calendar/close")]
pub(super) async fn close_calendar(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    match services.change(&posted.viewer.actor, async |work| calendar::close(&services, work).await).await {
        // Whoever closes it twice has what they want.
        Ok(()) | Err(ServiceError::NotFound { .. }) => Ok(see("/settings#calendar")),
        Err(other) => Err(other.into()),
    }
}
