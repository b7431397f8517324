//! Bench days, and how the bench works on all others.

use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    BenchDay, BenchDayFacts, BenchDayId, BenchSettings, DateRange, FieldErrors, Page, PageRequest,
};

/// Enters a bench day.
///
/// # Errors
/// [`ServiceError::Conflict`] when the date has one already.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    facts: BenchDayFacts,
) -> Result<BenchDay, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let day = BenchDay { id: BenchDayId::generate(), facts, created_at: change.now, revision: 1 };
    let taken = Conflict::BenchDayTaken { date: day.facts.date.to_string() };
    change.tx.insert_bench_day(&day).await.map_err(ServiceError::or_conflict(taken))?;
    change.record("bench_day.create", format!("bench-days/{}", day.id)).await?;
    Ok(day)
}

/// One bench day.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: BenchDayId) -> Result<BenchDay, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.bench_day(id).await.map_err(ServiceError::or_not_found("bench day"))
}

/// A page of bench days, by date.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    days: DateRange,
    page: &PageRequest,
) -> Result<Page<BenchDay>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.bench_days(days, page).await?)
}

/// Changes a bench day's minutes and note. Its date stays.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Invalid`] with what `apply` refuses.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: BenchDayId,
    revision: i64,
    apply: impl FnOnce(BenchDayFacts) -> Result<BenchDayFacts, FieldErrors>,
) -> Result<BenchDay, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let before = change.tx.bench_day(id).await.map_err(ServiceError::or_not_found("bench day"))?;
    let facts = apply(before.facts)?;
    change
        .tx
        .update_bench_day(id, revision, facts.minutes, facts.note.as_ref())
        .await
        .map_err(ServiceError::or_stale("bench day"))?;
    let day = change.tx.bench_day(id).await?;
    change.record("bench_day.change", format!("bench-days/{id}")).await?;
    Ok(day)
}

/// Removes a bench day: its date is like any other of its weekday again.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`].
pub async fn remove(
    services: &Services,
    work: &mut UnitOfWork,
    id: BenchDayId,
    revision: i64,
) -> Result<(), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    change.tx.delete_bench_day(id, revision).await.map_err(ServiceError::or_stale("bench day"))?;
    change.record("bench_day.remove", format!("bench-days/{id}")).await
}

/// How the bench works, and the revision of that.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn settings(services: &Services, actor: &Actor) -> Result<(BenchSettings, i64), ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.bench_settings().await?)
}

/// Changes how the bench works; the settings after it, and their revision.
///
/// # Errors
/// [`ServiceError::Stale`]; [`ServiceError::Invalid`] with what `apply` refuses.
pub async fn change_settings(
    services: &Services,
    work: &mut UnitOfWork,
    revision: i64,
    apply: impl FnOnce(BenchSettings) -> Result<BenchSettings, FieldErrors>,
) -> Result<(BenchSettings, i64), ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let settings = apply(change.tx.bench_settings().await?.0)?;
    let revision = change
        .tx
        .save_bench_settings(revision, &settings)
        .await
        .map_err(ServiceError::or_stale("settings"))?;
    change.record("bench_settings.change", "bench-settings".to_owned()).await?;
    Ok((settings, revision))
}
