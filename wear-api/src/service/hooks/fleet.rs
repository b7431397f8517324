//! What hooks are told of the fleet each night: parts to order, and a record of forecasts that drifts.
//!
//! Both are judged by what the pages show: a part is to be ordered while the orders of the usual horizon say so, and the record
//! drifts while the track record of the last twelve months says so. Each is told once until a night finds it no longer so.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::super::orders::{self, HORIZON_DAYS, OrdersQuery, PartKind, PartNeeded};
use super::super::{ServiceError, Services, track_record};
use super::tell::{About, listening, tell};
use crate::domain::{
    ClaimedJob, Drift, Finished, HookEvent, JobKind, Month, NewJob, NoticeSaid, ServiceLevel, Timestamp,
};
use crate::store::{FleetTopic, StoreError, Tx};
use crate::words::Words;

/// The job that looks at orders and at the record.
pub(in crate::service) fn job(now: Timestamp) -> NewJob {
    NewJob { kind: JobKind::TellOfFleet, key: "all".to_owned(), payload: (), due_at: now, created_at: now }
}

/// Tells hooks of parts to order and of groups whose forecasts drift, of which they weren't told yet.
///
/// # Errors
/// [`ServiceError::BrokenOff`] after a defect; [`ServiceError::Unavailable`].
pub(in crate::service) async fn tell_of_fleet(
    services: &Services,
    claimed: &ClaimedJob,
) -> Result<(), ServiceError> {
    let now = services.now();
    let (gathered, record) = {
        let mut tx = services.store.begin_read(claimed.workshop_id).await?;
        let zone = tx.workshop().await?.settings.time_zone;
        let to = Month::of(now.date_in(zone));
        let from = Month::from_number(to.number() - track_record::MONTHS + 1);
        (orders::gather_in(&mut tx, now).await?, track_record::between(&mut tx, None, (from, to)).await?)
    };
    let service_level = ServiceLevel::new(ServiceLevel::DEFAULT).map_err(|_| ServiceError::BrokenOff)?;
    let query = OrdersQuery { horizon_days: HORIZON_DAYS, service_level, bikes: 0 };
    let needed = services.background.compute(move || gathered.count(query)).await?;
    let mut tx = services.store.begin_write(claimed.workshop_id).await?;
    if tx.finish_job(claimed, now).await? == Finished::Lost {
        return Ok(());
    }
    let words = Words::for_workshop(&tx.workshop().await?, None);
    let parts = needed.parts.into_iter().filter(|part| part.reorder.quantity > 0);
    let parts = parts.map(|part| (subject(&part.kind), order_data(&words, &part))).collect();
    tell_fresh(&mut tx, FleetTopic::Order, HookEvent::OrderNeeded, parts, now).await?;
    let drifts = record.drifts().into_iter().map(|drift| {
        let group = drift.group.as_ref().map(|group| group.as_str().to_owned()).unwrap_or_default();
        (group, drift_data(&words, &drift))
    });
    tell_fresh(&mut tx, FleetTopic::Record, HookEvent::RecordDrifted, drifts.collect(), now).await?;
    Ok(tx.commit().await?)
}

async fn tell_fresh(
    tx: &mut Tx,
    topic: FleetTopic,
    event: HookEvent,
    now_so: BTreeMap<String, Value>,
    now: Timestamp,
) -> Result<(), StoreError> {
    let fresh = tx.replace_fleet_announced(topic, &now_so.keys().cloned().collect(), now).await?;
    for (_, data) in now_so.iter().filter(|(subject, _)| fresh.contains(*subject)) {
        tell(tx, About::Workshop, now, data, listening(event)).await?;
    }
    Ok(())
}

fn subject(kind: &PartKind) -> String {
    match kind {
        PartKind::Model(id) => id.to_string(),
        PartKind::Unnamed(place, shape) => format!("{place} {shape}"),
    }
}

fn order_data(words: &Words, part: &PartNeeded) -> Value {
    let (model_id, shape) = match &part.kind {
        PartKind::Model(id) => (Some(id), None),
        PartKind::Unnamed(_, shape) => (None, Some(shape)),
    };
    let reorder = &part.reorder;
    let said = NoticeSaid::OrderNeeded {
        count: u32::try_from(reorder.quantity).unwrap_or(u32::MAX),
        percent: NoticeSaid::percent(reorder.lasts_probability),
    };
    json!({
        "part_model_id": model_id, "name": part.name.as_ref().map(|name| name.as_str()),
        "place": part.place.as_str(), "shape": shape, "order_quantity": reorder.quantity,
        "order_packs": reorder.packs, "on_shelf": part.on_shelf,
        "under_way_in_time": part.under_way_in_time, "lead_time_days": part.lead_time.get(),
        "lasts_probability": reorder.lasts_probability, "reason": words.answered(&said),
        "reason_code": said.code(), "orders": "/v1/orders-needed",
    })
}

fn drift_data(words: &Words, drift: &Drift) -> Value {
    let said = drift.said();
    json!({
        "group": drift.group.as_ref().map(|group| group.as_str()), "coverage": drift.record.coverage,
        "expected_from": drift.record.coverage_band.0, "expected_to": drift.record.coverage_band.1,
        "readings": drift.readings, "reason": words.answered(&said), "reason_code": said.code(),
        "track_record": "/v1/track-record",
    })
}
