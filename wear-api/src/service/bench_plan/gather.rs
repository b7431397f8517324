//! What a plan rests on, read in one transaction.

use std::collections::{BTreeMap, HashMap};

use chrono::{Days, Duration, NaiveDate, Timelike as _};
use chrono_tz::Tz;
use wear_core::Reason;

use crate::domain::{
    Advice, BenchPin, BenchSettings, BikeId, FittedPart, Label, MeasureFirst, Minutes, MovedVisit, Outlook,
    PartModelId, Place, PlanReason, PlanWindow, Timestamp, Workshop,
};
use crate::store::{StoreError, Tx};

/// A bike that may need the bench.
#[derive(Debug)]
pub(super) struct DueBike {
    pub bike_id: BikeId,
    pub label: Label,
    pub outlook: Outlook,
    pub parts: Vec<FittedPart>,
    pub away: Vec<(NaiveDate, NaiveDate)>,
    pub pinned: Option<NaiveDate>,
    /// Whether somebody chose that day.
    pub by_hand: bool,
}

/// What a plan rests on.
#[derive(Debug)]
pub(super) struct Gathered {
    pub workshop: Workshop,
    pub window: PlanWindow,
    pub settings: BenchSettings,
    /// The dates of the window with the bench's minutes; of today, what is left.
    pub days: Vec<(NaiveDate, Minutes)>,
    pub bikes: Vec<DueBike>,
    /// Parts of the models that someone keeps count of, by the date from which they are there.
    pub supply: BTreeMap<PartModelId, Vec<(NaiveDate, u32)>>,
    /// Bikes that someone has to look at before anything can be planned, and why.
    pub to_look_at: Vec<(BikeId, Label, PlanReason)>,
    /// Bikes that are measured before they are given a day: most of their chains can stay, and a reading costs less than
    /// a chain. Those of which too little is known for a day are among them.
    pub to_measure: Vec<MeasureFirst>,
    /// Bikes whose promised day is free again, as their chains can stay.
    pub released: Vec<MovedVisit>,
}

/// A promise is kept when the chain comes off anyway within so many days after it (A): people have made up their minds.
const KEPT_ANYWAY: Days = Days::new(7);

/// Whether a reading comes before anything else, as too little is known of the chain for any day to be named or trusted.
fn needs_reading(outlook: &Outlook) -> bool {
    let is_unknown = matches!(
        outlook.reason,
        Reason::AgeUnknown
            | Reason::RidingUnknown { .. }
            | Reason::ReadAtLimit { .. }
            | Reason::RiskPassedUnmeasured { .. }
    );
    outlook.advice == Advice::MeasureBy && is_unknown
}

/// Whether the outlook has moved so far that a chain that was promised the bench can stay. Of a chain that has to be
/// read first nobody can say so: its promise is kept.
fn can_stay(outlook: &Outlook, promised: NaiveDate, window: PlanWindow) -> bool {
    if needs_reading(outlook) {
        return false;
    }
    let is_late = |swap_by: NaiveDate| swap_by > window.to.max(promised + KEPT_ANYWAY);
    matches!(outlook.advice, Advice::RideOn | Advice::MeasureBy) && outlook.swap_by().is_none_or(is_late)
}

/// Minutes of the bench that went into what was recorded as swapped today.
async fn minutes_done(
    tx: &mut Tx,
    settings: &BenchSettings,
    today: NaiveDate,
    now: Timestamp,
    zone: Tz,
) -> Result<u32, StoreError> {
    let mut done: BTreeMap<BikeId, Vec<Place>> = BTreeMap::new();
    // A day of the year that clocks are set has at most 25 hours.
    for (bike_id, place, at) in tx.swaps_between(now.plus(-Duration::hours(25)), now).await? {
        if at.date_in(zone) == today {
            done.entry(bike_id).or_default().push(place);
        }
    }
    Ok(done.into_values().fold(0, |sum, places| sum.saturating_add(settings.minutes_of_all(places))))
}

/// Reads what a plan of the window rests on.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn gather(
    tx: &mut Tx,
    workshop: Workshop,
    window: PlanWindow,
    now: Timestamp,
) -> Result<Gathered, StoreError> {
    let (settings, _) = tx.bench_settings().await?;
    let own: HashMap<NaiveDate, Minutes> = tx
        .bench_days_between(window.from, window.to)
        .await?
        .into_iter()
        .map(|day| (day.facts.date, day.facts.minutes))
        .collect();
    let zone = workshop.settings.time_zone;
    let today = now.date_in(zone);
    let used = match window.from <= today {
        true => minutes_done(tx, &settings, today, now, zone).await?,
        false => 0,
    };
    let minute = now.datetime().with_timezone(&zone).time().num_seconds_from_midnight() / 60;
    let left = |(date, minutes): (NaiveDate, Minutes)| match date == today {
        true => (date, settings.left_of(minutes, minute, used)),
        false => (date, minutes),
    };
    let days: Vec<(NaiveDate, Minutes)> = window
        .from
        .iter_days()
        .take_while(|date| *date <= window.to)
        .map(|date| (date, own.get(&date).copied().unwrap_or_else(|| settings.week.on(date))))
        .map(left)
        .filter(|(_, minutes)| minutes.get() > 0)
        .collect();
    let mut parts: HashMap<BikeId, Vec<FittedPart>> = HashMap::new();
    for part in tx.parts_on_bikes_due(window.to).await? {
        parts.entry(part.bike_id).or_default().push(part);
    }
    let mut away: HashMap<BikeId, Vec<(NaiveDate, NaiveDate)>> = HashMap::new();
    for booking in tx.bookings_between(window.from, window.to).await? {
        away.entry(booking.facts.bike_id).or_default().push((booking.facts.from, booking.facts.to));
    }
    let pins: HashMap<BikeId, BenchPin> =
        tx.bench_pins().await?.into_iter().map(|pin| (pin.bike_id, pin)).collect();
    let mut bikes = Vec::new();
    let mut to_look_at = Vec::new();
    let mut released = Vec::new();
    let mut to_measure = Vec::new();
    for seen in tx.bikes_due(window.to).await? {
        // An outlook that an earlier version wrote is computed anew by the worker before long.
        let outlook: Outlook = match serde_json::from_value(seen.payload) {
            Ok(outlook) => outlook,
            Err(_) => {
                to_look_at.push((seen.bike_id, seen.label, PlanReason::BeingComputed));
                continue;
            }
        };
        if seen.advice == Advice::Hold {
            to_look_at.push((seen.bike_id, seen.label, PlanReason::from(outlook.reason)));
            continue;
        }
        let parts = parts.remove(&seen.bike_id).unwrap_or_default();
        let pin = pins.get(&seen.bike_id);
        // A promise is kept when its chain is off.
        let pin = pin.filter(|pin| parts.iter().any(|part| part.part_id == pin.part_id));
        let (pinned, by_hand) = (pin.map(|pin| pin.date), pin.is_some_and(|pin| pin.by_hand));
        // What somebody chose stays until somebody chooses otherwise.
        let may_go = pinned.filter(|promised| !by_hand && can_stay(&outlook, *promised, window));
        if let Some(from) = may_go {
            let reason = PlanReason::ChainCanStay { until: outlook.swap_by() };
            let label = seen.label.to_string();
            released.push(MovedVisit { bike_id: seen.bike_id, label, from, to: None, reason });
            continue;
        }
        let is_due = outlook.swap_by().is_some_and(|swap_by| swap_by <= window.to);
        let measure_by = outlook.measure_by().unwrap_or(window.from);
        let is_read_first = needs_reading(&outlook) && measure_by <= window.to;
        if pinned.is_none() && !is_due && !is_read_first {
            continue;
        }
        if pinned.is_none() && outlook.advice == Advice::MeasureBy {
            let by = measure_by.max(window.from);
            let label = seen.label.to_string();
            to_measure.push(MeasureFirst {
                bike_id: seen.bike_id,
                label,
                by,
                reason: PlanReason::from(outlook.reason),
            });
            continue;
        }
        bikes.push(DueBike {
            bike_id: seen.bike_id,
            label: seen.label,
            outlook,
            parts,
            away: away.remove(&seen.bike_id).unwrap_or_default(),
            pinned,
            by_hand,
        });
    }
    let mut supply: BTreeMap<PartModelId, Vec<(NaiveDate, u32)>> = tx
        .stock_counts()
        .await?
        .into_iter()
        .map(|(model, on_shelf)| (model, vec![(window.from, on_shelf)]))
        .collect();
    for parts in tx.parts_under_way().await? {
        // What should have come already is expected from day to day.
        let on = parts.expected_on.max(window.from);
        if let Some(arrivals) = supply.get_mut(&parts.part_model_id) {
            arrivals.push((on, parts.count));
        }
    }
    Ok(Gathered { workshop, window, settings, days, bikes, supply, to_look_at, to_measure, released })
}
