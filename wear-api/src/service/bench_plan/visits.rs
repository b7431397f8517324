//! What a bike needs done, as one visit to the bench.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use wear_core::bench::{SwapCosts, SwapEconomics};

use super::gather::{DueBike, Gathered};
use crate::domain::{
    Advice, Currency, FittedPart, GOES_WITH_CHAIN, Outlook, PartModelId, Place, PlanAssumption, PlanReason,
    Visit, VisitTask, WaitingPart, WaitsFor,
};

/// Prices where a workshop has none, minor units (A).
const CHAIN_PRICE: f64 = 2_000.0;
const CASSETTE_PRICE: f64 = 3_500.0;

/// A bike left out of a plan waits for about this long beyond its last day (A).
const WAIT_AFTER_WINDOW: f64 = 14.0;

/// Least cost of a day late, minor units (A): of two bikes that cost nothing, the one due goes first.
const LEAST_LATE: f64 = 1.0;

/// Days over which the risk after the due day is averaged (A).
const DAYS_LATE: f64 = 28.0;

/// A bike's visit before it has a day, without rings of the models that are missing; none when the bike has no chain.
pub(super) fn visit(
    gathered: &Gathered,
    bike: &DueBike,
    missing: &BTreeSet<PartModelId>,
    assumed: &mut BTreeSet<PlanAssumption>,
) -> Option<Visit> {
    let outlook = &bike.outlook;
    let chain = bike.parts.iter().find(|part| part.place == Place::Chain)?;
    let mut tasks = vec![task(chain, PlanReason::from(outlook.reason))];
    let settings = &gathered.settings;
    let mut minutes = settings.minutes_of(Place::Chain).get();
    let worn = |part: &FittedPart, probability: f64| task(part, PlanReason::WouldSkip { probability });
    // In one visit the bike is set up once.
    let more = |part: &FittedPart| settings.minutes_of(part.place).get().saturating_sub(settings.setup.get());
    let cassette = bike.parts.iter().find(|part| matches!(part.place, Place::Cassette | Place::Cog));
    if let Some((part, report)) = cassette.zip(outlook.cassette.as_ref())
        && report.probability_skips >= GOES_WITH_CHAIN
    {
        minutes += more(part);
        tasks.push(worn(part, report.probability_skips));
    }
    // A chain doesn't wait for a ring: one that isn't to be had or that no day has room for waits itself. Rings are
    // reported from the fewest teeth and fitted from the most.
    let longest = gathered.days.iter().map(|(_, minutes)| minutes.get()).max().unwrap_or(0);
    let rings = bike.parts.iter().filter(|part| part.place == Place::Ring);
    let (mut waiting, mut wait_for) = (Vec::new(), Vec::new());
    for (part, report) in rings.zip(outlook.rings.iter().rev()) {
        if report.probability_worn < GOES_WITH_CHAIN {
            continue;
        }
        let task = worn(part, report.probability_worn);
        if part.model_id.is_some_and(|model| missing.contains(&model)) {
            wait_for.push(WaitsFor::Part);
            waiting.push(WaitingPart { task, waits_for: WaitsFor::Part });
        } else if minutes + more(part) > longest {
            wait_for.push(WaitsFor::Day);
            waiting.push(WaitingPart { task, waits_for: WaitsFor::Day });
        } else {
            minutes += more(part);
            tasks.push(task);
        }
    }
    if let PlanReason::Outlook { rings_wait_for, .. } = &mut tasks[0].reason {
        *rings_wait_for = wait_for;
    }
    let saved = settings.setup.get() * (tasks.len() as u32 - 1);
    let due = match outlook.advice {
        Advice::SwapNow => gathered.window.from,
        _ => outlook.swap_by().or(bike.pinned).unwrap_or(gathered.window.from),
    };
    let costs = costs(gathered, bike, chain, cassette, due, assumed);
    let late_per_day = costs.late_per_day.max(LEAST_LATE);
    let days_late = (gathered.window.to - due).num_days().max(0) as f64;
    let waits = if due > gathered.window.to { 0.0 } else { days_late + WAIT_AFTER_WINDOW };
    Some(Visit {
        bike_id: bike.bike_id,
        label: bike.label.to_string(),
        tasks,
        waiting,
        minutes,
        setup_minutes_saved: saved,
        due,
        date: None,
        pinned: bike.pinned,
        by_hand: bike.by_hand,
        cost_early_per_day_minor: costs.early_per_day,
        cost_late_per_day_minor: late_per_day,
        cost_left_out_minor: late_per_day * waits,
        cost_minor: 0.0,
    })
}

fn task(part: &FittedPart, reason: PlanReason) -> VisitTask {
    VisitTask {
        place: part.place.as_str().to_owned(),
        position: part.position.get(),
        part_id: part.part_id,
        part_model_id: part.model_id,
        part_model: part.model_name.as_ref().map(ToString::to_string),
        reason,
    }
}

fn costs(
    gathered: &Gathered,
    bike: &DueBike,
    chain: &FittedPart,
    cassette: Option<&FittedPart>,
    due: NaiveDate,
    assumed: &mut BTreeSet<PlanAssumption>,
) -> SwapCosts {
    let outlook = &bike.outlook;
    let currency = gathered.workshop.settings.currency;
    let mut price = |part: Option<&FittedPart>, usual: f64, what| {
        own_price(part, currency).unwrap_or_else(|| {
            assumed.insert(what);
            usual
        })
    };
    let chain_price = price(Some(chain), CHAIN_PRICE, PlanAssumption::ChainPrice);
    let sprocket_price = match cassette {
        Some(_) => price(cassette, CASSETTE_PRICE, PlanAssumption::CassettePrice),
        None => 0.0,
    };
    let reference_km_per_day = outlook.basis.reference_km_per_day.unwrap_or(0.0);
    let km_per_day = reference_km_per_day * outlook.basis.km_per_reference_km.unwrap_or(1.0);
    assumed.insert(PlanAssumption::Failures);
    let costs = &gathered.workshop.settings.costs;
    SwapCosts::of(&SwapEconomics {
        chain_price,
        labour: costs.swap_labour_minor as f64,
        life_so_far: outlook.basis.reference_km,
        life_left: outlook.remaining_reference_km.map_or(0.0, |band| band.p50),
        reference_km_per_day,
        km_per_day,
        probability_over: probability_after(outlook, gathered.window.from, due, km_per_day),
        failure: costs.failure_minor as f64,
        sprocket_price,
        share_per_km_at_limit: outlook.cassette.as_ref().map_or(0.0, |report| report.share_per_km_at_limit),
        limit_percent: outlook.limit_percent,
    })
}

fn own_price(part: Option<&FittedPart>, currency: Currency) -> Option<f64> {
    let price = part?.price.filter(|price| price.currency() == currency)?;
    Some(price.minor() as f64)
}

/// The probability of being over the limit, averaged over the days after the due day.
fn probability_after(outlook: &Outlook, from: NaiveDate, due: NaiveDate, km_per_day: f64) -> f64 {
    let to_due = (due - from).num_days().max(0) as f64;
    let steps = 8_u32;
    let sum: f64 = (0..steps)
        .map(|step| {
            let days = to_due + DAYS_LATE * (f64::from(step) + 0.5) / f64::from(steps);
            outlook.probability_after_km(days * km_per_day)
        })
        .sum();
    sum / f64::from(steps)
}
