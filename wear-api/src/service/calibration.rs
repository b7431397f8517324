//! What a fleet learns from its own chains, each night and when asked to.

use chrono::{Days, NaiveTime, TimeZone as _};
use wear_core::Fleet;
use wear_core::fleet::calibration::{FleetFit, GroupFit};

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    ClaimedJob, Finished, FleetRate, GroupKilometres, GroupName, JobKind, LEARNED_OVER, NewJob, ReadChain,
    Timestamp, Workshop,
};
use crate::store::Tx;

/// Fewer chains with a reading teach a workshop nothing: the defaults hold (A).
pub const FEWEST_CHAINS: usize = 10;

/// The key of the job that comes each night; a key of its own when someone asks.
const NIGHTLY: &str = "nightly";
const ASKED: &str = "asked";

/// What was learned last, the fleet as a whole first.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(services: &Services, actor: &Actor) -> Result<Vec<FleetRate>, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(tx.fleet_rates().await?)
}

/// Asks for learning now; the worker does it.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn ask(services: &Services, work: &mut UnitOfWork) -> Result<Timestamp, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.enqueue(&job(ASKED, change.now, change.now)).await?;
    change.record("calibration.ask", "calibration".to_owned()).await?;
    Ok(change.now)
}

/// Sees to it that a workshop learns each night.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn every_night(tx: &mut Tx, workshop: &Workshop, now: Timestamp) -> Result<(), ServiceError> {
    tx.enqueue(&job(NIGHTLY, next_night(workshop, now), now)).await?;
    Ok(())
}

fn job(key: &str, due_at: Timestamp, created_at: Timestamp) -> NewJob {
    NewJob {
        kind: JobKind::CalibrateFleet,
        key: key.to_owned(),
        payload: serde_json::Value::Null,
        due_at,
        created_at,
    }
}

/// Between one and two o'clock where the workshop is, workshops spread over the hour.
fn next_night(workshop: &Workshop, now: Timestamp) -> Timestamp {
    let zone = workshop.settings.time_zone;
    let seconds = 3_600 + workshop.id.uuid().as_u128() % 3_600;
    let time = NaiveTime::from_num_seconds_from_midnight_opt(u32::try_from(seconds).unwrap_or(3_600), 0)
        .unwrap_or_default();
    let today = now.date_in(zone);
    [0, 1, 2]
        .into_iter()
        .filter_map(|days| today.checked_add_days(Days::new(days)))
        .filter_map(|day| zone.from_local_datetime(&day.and_time(time)).latest())
        .filter_map(|local| Timestamp::new(local.to_utc()).ok())
        .find(|due_at| *due_at > now)
        .unwrap_or_else(|| now.plus(chrono::Duration::days(1)))
}

/// Learns from all chains, stores what was learned and asks for every outlook anew: the night's outlooks are of
/// the new day as well.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn learn(services: &Services, claimed: &ClaimedJob) -> Result<(), ServiceError> {
    let now = services.now();
    let (workshop, chains, ridden) = {
        let mut tx = services.store.begin_read(claimed.workshop_id).await?;
        let since = now.utc_date().checked_sub_days(LEARNED_OVER).unwrap_or_default();
        (tx.workshop().await?, tx.read_chains().await?, tx.ridden_by_groups(since).await?)
    };
    let kilometres: Vec<GroupKilometres> =
        ridden.into_iter().filter_map(|(group, rides)| GroupKilometres::of(group, &rides, now)).collect();
    let fleet = fleet_of(chains, &workshop);
    let rates = if fleet.chains_read() < FEWEST_CHAINS {
        Vec::new()
    } else {
        let fitting = move || rates(fleet.learn().fit(), now);
        tokio::task::spawn_blocking(fitting).await.map_err(|_| ServiceError::BrokenOff)?
    };
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    match tx.finish_job(claimed, now).await? {
        Finished::Lost => return Ok(()),
        Finished::Cleared if claimed.key == NIGHTLY => every_night(&mut tx, &workshop, now).await?,
        Finished::Cleared | Finished::Again => {}
    }
    tx.replace_fleet_rates(&rates).await?;
    tx.replace_group_kilometres(&kilometres).await?;
    tx.mark_all_bikes(now).await?;
    tx.commit().await?;
    Ok(())
}

fn fleet_of(chains: Vec<ReadChain>, workshop: &Workshop) -> Fleet {
    let mut fleet = Fleet::with_instruments(workshop.settings.instruments());
    for chain in chains {
        fleet.add_readings_starting(chain.group.as_str(), chain.start, chain.readings);
    }
    fleet
}

fn rates(learned: &FleetFit, learned_at: Timestamp) -> Vec<FleetRate> {
    let count = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let sum = |of: fn(&GroupFit) -> usize| count(learned.groups.values().map(of).sum());
    let fleet = FleetRate {
        group: None,
        parameters: learned.fleet,
        mean_log_rate_sd: learned.sd_among,
        chains: sum(|group| group.chains),
        chains_read: sum(|group| group.chains_read),
        learned_at,
    };
    let groups = learned.groups.iter().filter_map(|(name, group)| {
        Some(FleetRate {
            group: Some(GroupName::new(name).ok()?),
            parameters: group.parameters,
            mean_log_rate_sd: group.mean_log_rate_sd,
            chains: count(group.chains),
            chains_read: count(group.chains_read),
            learned_at,
        })
    });
    std::iter::once(fleet).chain(groups).collect()
}
