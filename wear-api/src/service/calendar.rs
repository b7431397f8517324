//! The workshop's calendar.

use chrono::{Days, NaiveDate};

use super::{Actor, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{BenchDay, CalendarSecret, PlannedSwap, Timestamp};

/// How far ahead the calendar looks, days (A).
const AHEAD: Days = Days::new(180);

/// Most swaps in a calendar: more than a person reads (A).
const MOST_SWAPS: i64 = 2_000;

/// Gives the calendar a new address; the one before opens nothing any more.
///
/// # Errors
/// [`ServiceError::NoRandomness`].
pub async fn renew(
    services: &Services,
    work: &mut UnitOfWork,
) -> Result<(CalendarSecret, Timestamp), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let secret = CalendarSecret::generate().map_err(|_| ServiceError::NoRandomness)?;
    change.tx.save_calendar(&secret.hash(), change.now).await?;
    change.record("calendar.renew", "calendar".to_owned()).await?;
    Ok((secret, change.now))
}

/// Since when the calendar has its address.
///
/// # Errors
/// [`ServiceError::NotFound`] when it has none.
pub async fn get(services: &Services, actor: &Actor) -> Result<Timestamp, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.calendar().await.map_err(ServiceError::or_not_found("calendar"))
}

/// Takes the calendar's address away.
///
/// # Errors
/// [`ServiceError::NotFound`] when it has none.
pub async fn close(services: &Services, work: &mut UnitOfWork) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.delete_calendar().await.map_err(ServiceError::or_not_found("calendar"))?;
    change.record("calendar.close", "calendar".to_owned()).await?;
    Ok(())
}

/// What stands in a calendar.
#[derive(Debug, Clone, PartialEq)]
pub struct Entries {
    /// Name of the workshop.
    pub workshop: String,
    /// Swaps by date; those that are overdue stand on the present day.
    pub swaps: Vec<PlannedSwap>,
    /// Days on which the bench works other than on its weekday.
    pub bench_days: Vec<BenchDay>,
    /// The present day in the workshop.
    pub today: NaiveDate,
}

/// The entries of the calendar that this secret opens.
///
/// # Errors
/// [`ServiceError::NotFound`] when it opens none.
pub async fn entries(services: &Services, secret: &CalendarSecret) -> Result<Entries, ServiceError> {
    let found = services.store.begin_system_read().await?.find_calendar(&secret.hash()).await?;
    let workshop_id = found.ok_or(ServiceError::NotFound { what: "calendar" })?;
    let mut tx = services.store.begin_read(workshop_id).await?;
    let workshop = tx.workshop().await?;
    let today = services.now().date_in(workshop.settings.time_zone);
    let until = today.checked_add_days(AHEAD).unwrap_or(NaiveDate::MAX);
    let swaps = tx.planned_swaps(until, MOST_SWAPS).await?;
    let bench_days = tx.bench_days_between(today, until).await?;
    Ok(Entries { workshop: workshop.settings.name.to_string(), swaps, bench_days, today })
}
