//! How the bench works on all dates that aren't bench days.

use actix_web::{HttpResponse, get, patch, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::domain::{BenchSettings, FieldErrors, Minutes, WeekMinutes};
use crate::service::{Services, bench_days};
use crate::web::answer;
use crate::web::auth::{As, Manager, Mechanic};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_bench_settings).service(change_bench_settings);
}

/// How the bench works unless a bench day says otherwise.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchSettings)]
struct SettingsDocument {
    /// Minutes that the bench works on each weekday, Monday first.
    #[schema(min_items = 7, max_items = 7)]
    week_minutes: Vec<u32>,
    /// Minutes to swap a chain.
    chain_minutes: u32,
    /// Minutes to swap a cassette.
    cassette_minutes: u32,
    /// Minutes to swap a ring.
    ring_minutes: u32,
    /// Minutes of each of these that go to setting up; work on one bike on one day sets up once.
    setup_minutes: u32,
    /// When the bench closes, by the clock where the workshop is: a plan that begins today plans no more than fits in before.
    #[schema(example = "18:00", pattern = "^([01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$")]
    closes_at: String,
    /// Counts the changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl SettingsDocument {
    fn of(settings: BenchSettings, revision: i64) -> Self {
        let BenchSettings { week: WeekMinutes(week), chain, cassette, ring, setup, closes_at } = settings;
        Self {
            week_minutes: week.iter().map(|minutes| minutes.get()).collect(),
            chain_minutes: chain.get(),
            cassette_minutes: cassette.get(),
            ring_minutes: ring.get(),
            setup_minutes: setup.get(),
            closes_at: closes_at.to_string(),
            revision,
        }
    }
}

/// What to change of the bench's settings; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BenchSettingsChange {
    /// Minutes that the bench works on each weekday, Monday first.
    #[schema(min_items = 7, max_items = 7)]
    week_minutes: Option<[i64; 7]>,
    /// Minutes to swap a chain.
    #[schema(minimum = 0, maximum = 1_000_000)]
    chain_minutes: Option<i64>,
    /// Minutes to swap a cassette.
    #[schema(minimum = 0, maximum = 1_000_000)]
    cassette_minutes: Option<i64>,
    /// Minutes to swap a ring.
    #[schema(minimum = 0, maximum = 1_000_000)]
    ring_minutes: Option<i64>,
    /// Minutes of each of these that go to setting up; no more than the shortest of them.
    #[schema(minimum = 0, maximum = 1_000_000)]
    setup_minutes: Option<i64>,
    /// When the bench closes, by the clock where the workshop is.
    #[schema(example = "18:00", pattern = "^([01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$")]
    closes_at: Option<String>,
}

impl BenchSettingsChange {
    fn apply(self, settings: BenchSettings) -> Result<BenchSettings, FieldErrors> {
        let Self { week_minutes, chain_minutes, cassette_minutes, ring_minutes, setup_minutes, closes_at } =
            self;
        let mut errors = FieldErrors::new();
        let mut changed = settings;
        for (day, given) in week_minutes.into_iter().flatten().enumerate() {
            if let Some(minutes) = errors.keep(format!("/week_minutes/{day}"), Minutes::new(given)) {
                changed.week.0[day] = minutes;
            }
        }
        let mut keep = |pointer: &str, given: Option<i64>, old: Minutes| {
            given.and_then(|given| errors.keep(pointer, Minutes::new(given))).unwrap_or(old)
        };
        changed.chain = keep("/chain_minutes", chain_minutes, settings.chain);
        changed.cassette = keep("/cassette_minutes", cassette_minutes, settings.cassette);
        changed.ring = keep("/ring_minutes", ring_minutes, settings.ring);
        changed.setup = keep("/setup_minutes", setup_minutes, settings.setup);
        if let Some(closes_at) = closes_at.and_then(|text| errors.keep("/closes_at", text.parse())) {
            changed.closes_at = closes_at;
        }
        let checked = errors.keep("/setup_minutes", changed.check());
        checked.filter(|_| errors.is_empty()).ok_or(errors)
    }
}

/// Get the bench's settings
#[utoipa::path(
    operation_id = "get_bench_settings",
    tag = "bench",
    security(("bearer" = ["mechanic", "manager"])),
    responses((status = 200, description = "The settings", body = SettingsDocument))
)]
#[get("/v1/bench-settings")]
async fn get_bench_settings(
    services: web::Data<Services>,
    actor: As<Mechanic>,
) -> Result<HttpResponse, Problem> {
    let (settings, revision) = bench_days::settings(&services, &actor).await?;
    Ok(answer::current(revision, SettingsDocument::of(settings, revision)))
}

/// Change the bench's settings
#[utoipa::path(
    operation_id = "change_bench_settings",
    tag = "bench",
    security(("bearer" = ["manager"])),
    params(("If-Match" = String, Header, description = "`ETag` of the settings as you read them", example = "\"1\"")),
    request_body(content = BenchSettingsChange, example = json!({
        "week_minutes": [300, 300, 300, 300, 180, 0, 0], "chain_minutes": 15, "setup_minutes": 8
    })),
    responses((status = 200, description = "The settings after the change", body = SettingsDocument))
)]
#[patch("/v1/bench-settings")]
async fn change_bench_settings(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    seen: IfMatch,
    body: Json<BenchSettingsChange>,
) -> Result<HttpResponse, Problem> {
    let apply = |settings| body.0.apply(settings);
    let revision =
        seen.revision(async || Ok(bench_days::settings(&services, change.actor()).await?.1)).await?;
    let (settings, revision) = bench_days::change_settings(&services, &mut change, revision, apply).await?;
    Ok(answer::current(revision, SettingsDocument::of(settings, revision)))
}
