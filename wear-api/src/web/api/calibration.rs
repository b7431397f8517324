//! What the fleet learned from its own chains.

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::fleet::cassettes::CassetteFit;
use wear_core::fleet::{Drift, LearnedBias, LearnedEffect};
use wear_core::knock_on::SkipThreshold;

use crate::domain::{
    CassettesSaid, FleetRate, GroupYear, LearnedCassettes, LearnedCondition, LubricantEffect, ModelEffect,
    MonthShare, PersonBias, ToolBias, drift_said,
};
use crate::service::Services;
use crate::service::calibration::{self, FEWEST_CHAINS, Known};
use crate::web::auth::{As, Manager, Mechanic};
use crate::web::change::Change;
use crate::web::problem::Problem;
use crate::web::schema;
use crate::web::speech;
use crate::words::texts::Sentence;

/// A sentence with its stable word.
fn coded(sentence: &impl Sentence) -> (String, &'static str) {
    (speech::said(sentence), sentence.code())
}

pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_calibration).service(ask_calibration);
}

/// What is known of how fast the chains of one group wear.
#[derive(Serialize, ToSchema)]
struct GroupRate {
    /// The group; null for the fleet as a whole, which holds for groups that are new.
    group: Option<String>,
    /// Wear of the middle chain, percent per 1,000 reference km.
    percent_per_1000_reference_km: f64,
    /// Standard deviation of ln(wear rate) from chain to chain, what is unknown of the group's mean included.
    sd_log_rate: f64,
    /// Standard deviation of what is known of the mean of ln(wear rate).
    mean_log_rate_sd: f64,
    /// Scale of the gamma process, percent.
    scale_percent: f64,
    /// Chains in it.
    #[schema(minimum = 0)]
    chains: i64,
    /// Chains of them with a reading.
    #[schema(minimum = 0)]
    chains_read: i64,
}

impl From<FleetRate> for GroupRate {
    fn from(rate: FleetRate) -> Self {
        let FleetRate {
            group,
            parameters,
            mean_log_rate_sd,
            of_bikes: _,
            gauges_judged: _,
            chains,
            chains_read,
            learned_at: _,
        } = rate;
        Self {
            group: group.map(|group| group.to_string()),
            percent_per_1000_reference_km: 1_000.0 * parameters.mean_log_rate().exp(),
            sd_log_rate: parameters.sd_log_rate(),
            mean_log_rate_sd,
            scale_percent: parameters.scale(),
            chains,
            chains_read,
        }
    }
}

/// How far a tool reads high.
#[derive(Serialize, ToSchema)]
struct LearnedTool {
    /// What it is.
    #[schema(value_type = schema::Instrument)]
    instrument: &'static str,
    /// The tool; null for all of its kind that nobody named.
    tool_id: Option<Uuid>,
    /// Its name.
    name: Option<String>,
    /// Read minus true, percent; of a gauge, by how much it drops in early.
    #[schema(example = -0.07)]
    bias_percent: f64,
    /// Standard deviation of what isn't known of that, percent.
    #[schema(example = 0.02, minimum = 0)]
    bias_sd_percent: f64,
    /// Readings that told.
    readings: usize,
    /// The same in plain words.
    #[schema(example = "bench rule reads 0.07 % low, give or take 0.02")]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
    /// What makes it better known; null where it is known well enough.
    to_do: Option<String>,
}

impl From<ToolBias> for LearnedTool {
    fn from(learned: ToolBias) -> Self {
        let to_do = learned.to_do().map(|it| speech::said(&it));
        let (said, said_code) = coded(&learned.said());
        let ToolBias { instrument, tool, bias: LearnedBias { bias, sd, readings, spread: _ } } = learned;
        let (tool_id, name) = tool.map(|(id, name)| (id.uuid(), name.to_string())).unzip();
        let instrument = instrument.as_str();
        Self {
            instrument,
            tool_id,
            name,
            bias_percent: bias,
            bias_sd_percent: sd,
            readings,
            said,
            said_code,
            to_do,
        }
    }
}

/// How far a person reads high, over what the tool reads.
#[derive(Serialize, ToSchema)]
struct LearnedPerson {
    /// Who.
    name: String,
    /// Read minus what the tool would read, percent.
    #[schema(example = 0.03)]
    bias_percent: f64,
    /// Standard deviation of what isn't known of that, percent.
    #[schema(example = 0.02, minimum = 0)]
    bias_sd_percent: f64,
    /// What the spread of single readings is over the usual one.
    #[schema(example = 1.1)]
    spread: f64,
    /// Readings that told.
    readings: usize,
    /// The same in plain words.
    #[schema(example = "Anna reads 0.03 % high, give or take 0.02")]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
    /// What makes it better known; null where it is known well enough.
    to_do: Option<String>,
}

impl From<PersonBias> for LearnedPerson {
    fn from(learned: PersonBias) -> Self {
        let to_do = learned.to_do().map(|it| speech::said(&it));
        let (said, said_code) = coded(&learned.said());
        let PersonBias { name, bias: LearnedBias { bias, sd, readings, spread } } = learned;
        Self { name, bias_percent: bias, bias_sd_percent: sd, spread, readings, said, said_code, to_do }
    }
}

/// How much damage cassettes bear before a new chain skips on them.
#[derive(Serialize, ToSchema)]
struct LearnedCassetteWear {
    /// Whether enough cassettes have told; the usual values hold until then.
    learned: bool,
    /// Damage at which a new chain skips on the middle sprocket, in cassettes: 1 is what two chains run to 0.75 % do.
    #[schema(example = 1.3, exclusive_minimum = 0)]
    median_damage: f64,
    /// Standard deviation of what isn't known of its logarithm; null while nothing is learned.
    median_ln_sd: Option<f64>,
    /// Spread of the logarithm of that damage from sprocket to sprocket.
    #[schema(example = 0.6, exclusive_minimum = 0)]
    sigma: f64,
    /// Standard deviation of what isn't known of it; null while nothing is learned.
    sigma_sd: Option<f64>,
    /// Share of the spread's square that the sprockets of one cassette have in common.
    #[schema(example = 0.5, minimum = 0, maximum = 1)]
    common_share: f64,
    /// Standard deviation of what isn't known of it; null while nothing is learned.
    common_share_sd: Option<f64>,
    /// New chains that held on a cassette with some wear: ridden 100 km, and nobody reported a skip.
    #[schema(minimum = 0)]
    tests_held: i64,
    /// Skips that were reported.
    #[schema(minimum = 0)]
    skips: i64,
    /// Cassettes that came off worn or skipping.
    #[schema(minimum = 0)]
    used_up: i64,
    /// The same in plain words.
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
}

impl From<Option<LearnedCassettes>> for LearnedCassetteWear {
    fn from(known: Option<LearnedCassettes>) -> Self {
        let fit = known.map(|known| known.fit);
        let threshold = fit.map_or(SkipThreshold::ASSUMED, |fit| fit.threshold());
        let learned = fit.filter(|_| threshold.is_learned());
        let count =
            |of: fn(&CassetteFit) -> usize| fit.map_or(0, |fit| i64::try_from(of(&fit)).unwrap_or(i64::MAX));
        Self {
            learned: threshold.is_learned(),
            median_damage: threshold.median(),
            median_ln_sd: learned.map(|fit| fit.ln_median.1),
            sigma: threshold.sigma(),
            sigma_sd: learned.map(|fit| fit.sigma.1),
            common_share: threshold.common_share(),
            common_share_sd: learned.map(|fit| fit.common_share.1),
            tests_held: count(|fit| fit.held),
            skips: count(|fit| fit.skipped),
            used_up: count(|fit| fit.used_up),
            said: speech::said(&CassettesSaid::of(known)),
            said_code: CassettesSaid::of(known).code(),
        }
    }
}

/// How use in a month compares with the year's mean.
#[derive(Serialize, ToSchema)]
struct MonthOfUse {
    /// 1 to 12.
    #[schema(minimum = 1, maximum = 12)]
    month: u32,
    /// Use a day over the year's mean: as likely less as more.
    #[schema(example = 1.8)]
    times_p50: f64,
    /// One chance in ten that it is less.
    #[schema(example = 1.6)]
    times_p10: f64,
    /// One chance in ten that it is more.
    #[schema(example = 2.0)]
    times_p90: f64,
}

/// How a year goes for the bikes of a group.
#[derive(Serialize, ToSchema)]
struct Season {
    /// The group; null for the workshop as a whole, whose year holds for groups of fewer than three bikes.
    group: Option<String>,
    /// Bikes that it was learned from.
    #[schema(minimum = 0)]
    bikes: i64,
    /// Days on record of these bikes, from the first to the last.
    #[schema(minimum = 0)]
    days_on_record: i64,
    /// Whether a season is known: a year and more is on record, of these bikes or of the workshop's.
    learned: bool,
    /// Reference km a day of the middle bike over a year; null for fewer than two bikes.
    reference_km_per_day: Option<f64>,
    /// How far habits drift: standard deviation of the logarithm of a bike's use over twelve weeks.
    drift_ln_sd: f64,
    /// Each month of the year; empty while no season is known.
    months: Vec<MonthOfUse>,
    /// The same in plain words.
    #[schema(
        example = "Most is ridden in July: 1.9 times the year's mean, give or take 12 %; least in January: 0.4 times"
    )]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
}

/// What a model of chain is worth.
#[derive(Serialize, ToSchema)]
struct LearnedModel {
    /// The model.
    part_model_id: Uuid,
    /// Its name.
    name: String,
    /// The change of ln(wear rate) against the fleet's chains on average.
    #[schema(example = -0.18)]
    ln_mean: f64,
    /// Standard deviation of what isn't known of that.
    #[schema(example = 0.06, minimum = 0)]
    ln_sd: f64,
    /// Chains with a reading that told.
    chains: usize,
    /// The same in plain words.
    #[schema(
        example = "Coated wears 16 % slower than the fleet's chains on average (8 in 10: -23 to -10 %)"
    )]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
}

/// What a lubricant is worth.
#[derive(Serialize, ToSchema)]
struct LearnedLubricant {
    /// The lubricant.
    lubricant_id: Uuid,
    /// Its name.
    name: String,
    /// The change of ln(wear rate) against the fleet's chains on average.
    #[schema(example = -0.14)]
    ln_mean: f64,
    /// Standard deviation of what isn't known of that.
    #[schema(example = 0.06, minimum = 0)]
    ln_sd: f64,
    /// Chains with a reading that were run on it and told.
    chains: usize,
    /// The same in plain words. What it is worth in money, its price held against what it saves: `lubricants` of a group's
    /// policy.
    #[schema(
        example = "Chains run on wax wear 13 % slower than the fleet's chains on average (8 in 10: -20 to -6 %)"
    )]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
}

impl From<LubricantEffect> for LearnedLubricant {
    fn from(learned: LubricantEffect) -> Self {
        let (said, said_code) = coded(&learned.said());
        let LubricantEffect { lubricant: (id, name), effect: LearnedEffect { ln_mean, ln_sd, chains } } =
            learned;
        Self { lubricant_id: id.uuid(), name, ln_mean, ln_sd, chains, said, said_code }
    }
}

impl Season {
    fn of(learned: GroupYear, year: i32) -> Self {
        let months = learned.months(year);
        let (said, said_code) = coded(&learned.said(year));
        let GroupYear { group, year, bikes, learned_at: _ } = learned;
        let months = months.into_iter().map(|MonthShare { month, p50, p10, p90 }| MonthOfUse {
            month,
            times_p50: p50,
            times_p10: p10,
            times_p90: p90,
        });
        Self {
            group: group.map(|group| group.to_string()),
            bikes,
            days_on_record: year.days_on_record(),
            learned: year.is_learned(),
            reference_km_per_day: year.reference_km_per_day(),
            drift_ln_sd: year.drift_ln_sd(),
            months: months.collect(),
            said,
            said_code,
        }
    }
}

impl From<ModelEffect> for LearnedModel {
    fn from(learned: ModelEffect) -> Self {
        let (said, said_code) = coded(&learned.said());
        let ModelEffect { model: (id, name), effect: LearnedEffect { ln_mean, ln_sd, chains } } = learned;
        Self { part_model_id: id.uuid(), name, ln_mean, ln_sd, chains, said, said_code }
    }
}

/// How wear drifts over the calendar.
#[derive(Serialize, ToSchema)]
struct LearnedDrift {
    /// The change of ln(wear rate) in a year.
    #[schema(example = 0.05)]
    ln_per_year: f64,
    /// Standard deviation of what isn't known of that.
    #[schema(example = 0.04, minimum = 0)]
    ln_sd: f64,
    /// The same in plain words.
    #[schema(example = "Chains wear 5 % faster from year to year (8 in 10: 0 to +11 %)")]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
}

impl From<Drift> for LearnedDrift {
    fn from(drift: Drift) -> Self {
        let (said, said_code) = coded(&drift_said(drift));
        Self { ln_per_year: drift.per_year, ln_sd: drift.sd, said, said_code }
    }
}

/// What rain, say, does to wear.
#[derive(Serialize, ToSchema)]
#[schema(as = LearnedCondition)]
struct Condition {
    /// Which: `wet`, `gravel`, `mud`, `indoor`, or `care` for a chain that nobody looks after.
    #[schema(value_type = schema::Covariate)]
    condition: &'static str,
    /// Whether enough chains differ in it to be learned from; assumed otherwise.
    learned: bool,
    /// How many times as fast chains wear as on a dry paved road, looked after: as likely less as more.
    #[schema(example = 2.4, exclusive_minimum = 0)]
    times_p50: f64,
    /// One chance in ten that it is less.
    #[schema(example = 2.1, exclusive_minimum = 0)]
    times_p10: f64,
    /// One chance in ten that it is more.
    #[schema(example = 2.8, exclusive_minimum = 0)]
    times_p90: f64,
    /// Chains that differ from the others in how much of it they had.
    chains: usize,
    /// The same in plain words.
    #[schema(example = "Rain wears chains 2.4 times as fast as a dry road (8 in 10: 2.1 to 2.8)")]
    said: String,
    /// The same as a stable word.
    said_code: &'static str,
}

impl From<LearnedCondition> for Condition {
    fn from(learned: LearnedCondition) -> Self {
        let (said, said_code) = coded(&learned.said());
        let LearnedCondition { covariate, p50, p10, p90, chains, is_learned } = learned;
        Self {
            condition: covariate.as_str(),
            learned: is_learned,
            times_p50: p50,
            times_p10: p10,
            times_p90: p90,
            chains,
            said,
            said_code,
        }
    }
}

/// What the fleet learned.
#[derive(Serialize, ToSchema)]
#[schema(as = LearnedWear)]
struct Calibration {
    /// When it was learned; null before the first time, while the defaults hold.
    learned_at: Option<DateTime<Utc>>,
    /// Chains with a reading that it takes to learn.
    #[schema(example = 10)]
    fewest_chains: usize,
    /// The fleet as a whole, then each group.
    rates: Vec<GroupRate>,
    /// How each tool errs that was read with.
    tools: Vec<LearnedTool>,
    /// How each person errs who is known to have read.
    people: Vec<LearnedPerson>,
    /// What each model of chain is worth, where chains of at least two have been read.
    models: Vec<LearnedModel>,
    /// What each lubricant is worth, where chains under at least two have been read.
    lubricants: Vec<LearnedLubricant>,
    /// How wear drifts over the calendar; null where fewer than ten chains have been read.
    drift: Option<LearnedDrift>,
    /// What rain, gravel, mud, trainers and neglect do to wear. Empty before anything was learned; one that too few chains
    /// differ in is assumed.
    conditions: Vec<Condition>,
    /// Whether gauges could be judged; null before the first time. Yes and no alone can't tell how early a gauge drops in:
    /// measure a few chains with the gauge and with a rule.
    gauges_judged: Option<bool>,
    /// How much damage cassettes bear.
    cassettes: LearnedCassetteWear,
    /// How a year goes: for the workshop first, then for each group of three bikes and more. Empty before the first night,
    /// and for fewer than three bikes.
    seasons: Vec<Season>,
}

/// That learning was asked for.
#[derive(Serialize, ToSchema)]
struct CalibrationAsked {
    /// When; `learned_at` of the calibration is later once it is done.
    asked_at: DateTime<Utc>,
}

/// Tell what the fleet learned of its wear
///
/// The wear rates that outlooks rest on, how far each tool and each person reads high or low, what models of chain and lubricants are
/// worth, and which months are ridden more than others. A group of few chains leans on the fleet, a large one speaks for itself.
#[utoipa::path(
    operation_id = "get_calibration",
    tag = "outlook",
    security(("bearer" = ["mechanic", "manager"])),
    responses((status = 200, description = "What was learned last", body = Calibration))
)]
#[get("/v1/calibration")]
async fn get_calibration(
    services: web::Data<Services>,
    actor: As<Mechanic>,
) -> Result<HttpResponse, Problem> {
    let Known { rates, tools, people, models, lubricants, drift, conditions, cassettes, years, year } =
        calibration::get(&services, &actor).await?;
    Ok(HttpResponse::Ok().json(Calibration {
        learned_at: rates.first().map(|rate| rate.learned_at.datetime()),
        fewest_chains: FEWEST_CHAINS,
        gauges_judged: rates.first().map(|rate| rate.gauges_judged),
        tools: tools.into_iter().map(LearnedTool::from).collect(),
        people: people.into_iter().map(LearnedPerson::from).collect(),
        cassettes: cassettes.into(),
        models: models.into_iter().map(LearnedModel::from).collect(),
        lubricants: lubricants.into_iter().map(LearnedLubricant::from).collect(),
        drift: drift.map(LearnedDrift::from),
        conditions: conditions.into_iter().map(Condition::from).collect(),
        rates: rates.into_iter().map(GroupRate::from).collect(),
        seasons: years.into_iter().map(|learned| Season::of(learned, year)).collect(),
    }))
}

/// Ask the fleet to learn now
///
/// It learns each night by itself. The worker starts within a second; a fleet of 1,000 chains takes a few seconds, and
/// outlooks follow.
#[utoipa::path(
    operation_id = "ask_calibration",
    tag = "outlook",
    security(("bearer" = ["manager"])),
    responses((status = 202, description = "It will", body = CalibrationAsked))
)]
#[post("/v1/calibration")]
async fn ask_calibration(
    services: web::Data<Services>,
    mut change: Change<Manager>,
) -> Result<HttpResponse, Problem> {
    let asked_at = calibration::ask(&services, &mut change).await?.datetime();
    Ok(HttpResponse::Accepted().json(CalibrationAsked { asked_at }))
}
