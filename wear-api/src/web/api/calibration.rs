//! What the fleet learned from its own chains.

use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::domain::FleetRate;
use crate::service::Services;
use crate::service::calibration::{self, FEWEST_CHAINS};
use crate::web::auth::{As, Manager, Mechanic};
use crate::web::change::Change;
use crate::web::problem::Problem;

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
        let FleetRate { group, parameters, mean_log_rate_sd, chains, chains_read, learned_at: _ } = rate;
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
}

/// That learning was asked for.
#[derive(Serialize, ToSchema)]
struct CalibrationAsked {
    /// When; `learned_at` of the calibration is later once it is done.
    asked_at: DateTime<Utc>,
}

/// Tell what the fleet learned of its wear
///
/// The wear rates that outlooks rest on. A group of few chains leans on the fleet, a large one speaks for itself.
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
    let rates = calibration::get(&services, &actor).await?;
    Ok(HttpResponse::Ok().json(Calibration {
        learned_at: rates.first().map(|rate| rate.learned_at.datetime()),
        fewest_chains: FEWEST_CHAINS,
        rates: rates.into_iter().map(GroupRate::from).collect(),
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
