//! How the forecasts did.

use actix_web::{HttpResponse, get, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use wear_core::fleet::track_record::INTERVAL;

use super::acted_on::ApartDocument;
use crate::domain::{Drift, Month};
use crate::service::track_record::{self, Apart, Held};
use crate::service::{Services, workshops};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::words;

pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_track_record);
}

/// Months shown when none are asked for.
const MONTHS: i64 = 12;

/// Which forecasts.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct TrackRecordQuery {
    /// The whole name of a group.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: Option<String>,
    /// First month; eleven before the last when left out.
    #[param(pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$", example = "2026-01")]
    from: Option<String>,
    /// Last month; the present one when left out.
    #[param(pattern = "^[0-9]{4}-(0[1-9]|1[0-2])$", example = "2026-11")]
    to: Option<String>,
}

/// How forecasts of elongation did on the readings that came after them.
#[derive(Serialize, ToSchema)]
#[schema(as = Held)]
struct HeldDocument {
    /// Readings that gave a number.
    readings: u64,
    /// Those of them between P10 and P90 of their forecast.
    covered: u64,
    /// Their share; 0.8 is right. Null without readings.
    coverage: Option<f64>,
    /// As low as the share of right intervals is once in two hundred, with so few readings.
    coverage_lowest: Option<f64>,
    /// As high as that.
    coverage_highest: Option<f64>,
    /// Mean of read minus P50: above nought, chains wear faster than forecast.
    bias_percent: Option<f64>,
    /// Mean pinball loss over P10, P50 and P90, in percent of elongation: the smaller the better.
    loss_percent: Option<f64>,
    /// The same for someone who gives all chains one distance.
    loss_fixed_distance_percent: Option<f64>,
    /// The same for someone who draws a straight line through the readings before.
    loss_straight_line_percent: Option<f64>,
    /// Answers of gauges.
    gauge_answers: u64,
    /// Mean Brier score of the gauge answers: 0 is perfect, 0.25 is saying one half each time.
    gauge_brier: Option<f64>,
    /// Forecasts among all of these that were kept before the reading was taken; the others were computed afterwards
    /// from the readings before it.
    kept_before: i64,
}

impl From<&Held> for HeldDocument {
    fn from(Held { tally, kept }: &Held) -> Self {
        let record = tally.record();
        Self {
            readings: tally.readings,
            covered: tally.covered,
            coverage: record.map(|it| it.coverage),
            coverage_lowest: record.map(|it| it.coverage_band.0),
            coverage_highest: record.map(|it| it.coverage_band.1),
            bias_percent: record.map(|it| it.bias),
            loss_percent: record.map(|it| it.loss.forecast),
            loss_fixed_distance_percent: record.map(|it| it.loss.fixed_distance),
            loss_straight_line_percent: record.map(|it| it.loss.straight_line),
            gauge_answers: tally.gauges,
            gauge_brier: tally.brier(),
            kept_before: *kept,
        }
    }
}

/// All of the record.
#[derive(Serialize, ToSchema)]
struct AllHeld {
    /// How forecasts of elongation did.
    #[serde(flatten)]
    held: HeldDocument,
    /// How forecasts did that people act on.
    #[serde(flatten)]
    acted_on: ApartDocument,
}

/// A group's record.
#[derive(Serialize, ToSchema)]
struct GroupHeld {
    /// The group.
    group: String,
    /// How its forecasts of elongation did.
    #[serde(flatten)]
    held: HeldDocument,
    /// How its forecasts did that people act on.
    #[serde(flatten)]
    acted_on: ApartDocument,
}

/// A month's record.
#[derive(Serialize, ToSchema)]
struct MonthHeld {
    /// The month of the readings.
    #[schema(example = "2026-11")]
    month: String,
    /// How forecasts did in it.
    #[serde(flatten)]
    held: HeldDocument,
}

/// A warning of the track record.
#[derive(Serialize, ToSchema)]
struct TrackRecordWarning {
    /// What it is about, for programs.
    #[schema(example = "intervals_too_narrow")]
    code: String,
    /// The same for people.
    message: String,
}

impl From<Drift> for TrackRecordWarning {
    fn from(drift: Drift) -> Self {
        Self { code: drift.said().code().to_owned(), message: words::drift(&drift) }
    }
}

/// How the forecasts did.
#[derive(Serialize, ToSchema)]
struct TrackRecord {
    /// First month.
    #[schema(example = "2026-01")]
    from: String,
    /// Last month.
    #[schema(example = "2026-11")]
    to: String,
    /// The share of readings that an interval from P10 to P90 should hold.
    #[schema(example = 0.8)]
    interval: f64,
    /// All of them.
    overall: AllHeld,
    /// By group.
    groups: Vec<GroupHeld>,
    /// By month of the reading.
    months: Vec<MonthHeld>,
    /// Where the coverage has left the band that chance explains.
    warnings: Vec<TrackRecordWarning>,
}

/// Tell how the forecasts did
///
/// Each reading is held against the last forecast that was kept before it was taken, and against two naive answers:
/// one distance for all chains, and a straight line through the readings before.
///
/// What people act on is held against what came each night: kilometres and dates to the limit, days named for swaps, the
/// swaps of each quarter, skipping. Forecasts that were `shown` stand apart from those that were `made_later` from what was
/// known at the time. `from` and `to` choose the months in which these forecasts were made.
#[utoipa::path(
    operation_id = "get_track_record",
    tag = "outlook",
    security(("bearer" = ["mechanic", "manager"])),
    params(TrackRecordQuery),
    responses((status = 200, description = "The record", body = TrackRecord))
)]
#[get("/v1/track-record")]
async fn get_track_record(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<TrackRecordQuery>,
) -> Result<HttpResponse, Problem> {
    let TrackRecordQuery { group, from, to } = query.0;
    let mut parameters = Parameters::new();
    let group = parameters.word("group", group.as_deref());
    let from: Option<Month> = parameters.word("from", from.as_deref());
    let to: Option<Month> = parameters.word("to", to.as_deref());
    parameters.finish()?;
    let zone = workshops::get(&services, &actor).await?.settings.time_zone;
    let to = to.unwrap_or_else(|| Month::of(services.now().date_in(zone)));
    let from = from.unwrap_or_else(|| Month::from_number(to.number() - MONTHS + 1));
    let record = track_record::get(&services, &actor, group.as_ref(), (from, to)).await?;
    let nothing = Apart::default();
    Ok(HttpResponse::Ok().json(TrackRecord {
        from: from.to_string(),
        to: to.to_string(),
        interval: INTERVAL,
        overall: AllHeld {
            held: HeldDocument::from(&record.overall),
            acted_on: ApartDocument::from(&record.acted_on),
        },
        groups: record
            .groups
            .iter()
            .map(|(group, held)| GroupHeld {
                group: group.to_string(),
                held: held.into(),
                acted_on: ApartDocument::from(record.acted_on_in.get(group).unwrap_or(&nothing)),
            })
            .collect(),
        months: record
            .months
            .iter()
            .map(|(month, held)| MonthHeld { month: month.to_string(), held: held.into() })
            .collect(),
        warnings: record.drifts().into_iter().map(TrackRecordWarning::from).collect(),
    }))
}
