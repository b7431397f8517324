//! Outlooks: from the events of a bike to what is known of it and what to do.

mod findings;
mod life;
mod load;
mod loaded;
mod past;
mod picture;
mod ridden;
mod unlogged;
mod used;

pub use life::{Stay, stays_of_part};
pub use load::{bikes as load_bikes, bikes_with_removed_cassettes};
pub use loaded::LoadedBike;
pub(super) use past::{PastBike, PastChain, past_bikes};
pub use picture::{Picture, PlottedReading, picture};
pub(super) use unlogged::told_of;

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::mem::discriminant;

use chrono::NaiveDate;
use loaded::Assessed;
use wear_core::bounds::DISTANCE;
use wear_core::degradation::Quantiles;
use wear_core::units::Probability;

use super::{Actor, ServiceError, Services, days, hooks, lock_bike, scoring};
use crate::domain::{
    Advice, Bike, BikeId, ChainRecord, FleetEntry, FleetSort, KeptPassage, Month, Outlook, OutlookFilter,
    OutlookRow, OutlookSummary, Page, PageRequest, PartId, Timestamp, Workshop,
};
use crate::store::{StoreError, Tx};

/// The bike's outlook as of now: the stored one while it is of today and nothing has happened since.
///
/// # Errors
/// [`ServiceError::NotFound`] when the bike isn't this workshop's.
pub async fn of_bike(services: &Services, actor: &Actor, bike_id: BikeId) -> Result<Outlook, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(actor).await?;
    let workshop = tx.workshop().await?;
    tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let today = now.date_in(workshop.settings.time_zone);
    if let Some(stored) = current(&mut tx, &workshop, bike_id, today).await? {
        return Ok(stored);
    }
    drop(tx);
    let mut tx = services.store.begin_write(actor).await?;
    let (workshop, bike) = lock_bike(&mut tx, bike_id, now).await?;
    let outlook = refresh(&mut tx, &workshop, &bike, now).await?;
    tx.commit().await?;
    Ok(outlook)
}

async fn current(
    tx: &mut Tx,
    workshop: &Workshop,
    bike_id: BikeId,
    today: NaiveDate,
) -> Result<Option<Outlook>, ServiceError> {
    if tx.is_marked(bike_id).await? {
        return Ok(None);
    }
    let Some(row) = tx.outlook(bike_id).await? else { return Ok(None) };
    if row.summary.computed_at.date_in(workshop.settings.time_zone) != today {
        return Ok(None);
    }
    // An outlook that an earlier version wrote and this one can't read is computed anew.
    Ok(serde_json::from_value(row.payload).ok())
}

/// The fleet by when each bike needs someone, soonest first.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn fleet(
    services: &Services,
    actor: &Actor,
    filter: &OutlookFilter,
    page: &PageRequest,
) -> Result<Page<FleetEntry>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.fleet(filter, page).await?)
}

/// Bikes of the fleet in this order, so many after so many others: for people, who turn pages. The pages are of the whole
/// workshop.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn fleet_page(
    services: &Services,
    actor: &Actor,
    filter: &OutlookFilter,
    sort: FleetSort,
    (rows, after): (u32, u64),
) -> Result<Vec<FleetEntry>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.fleet_page(filter, sort, rows, after).await?)
}

/// The fleet's entries of these bikes, in their order; those that aren't there are left out.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn entries(
    services: &Services,
    actor: &Actor,
    bikes: &[BikeId],
) -> Result<Vec<FleetEntry>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let mut entries = Vec::with_capacity(bikes.len());
    for bike in bikes {
        entries.extend(tx.fleet_entry(*bike).await?);
    }
    Ok(entries)
}

/// How many bikes have each advice.
///
/// # Errors
/// [`ServiceError`].
pub async fn counts(
    services: &Services,
    actor: &Actor,
    filter: &OutlookFilter,
) -> Result<Vec<(Advice, i64)>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.advice_counts(filter).await?)
}

/// Computes and stores the bike's outlook and takes its mark away, inside a transaction that began with the mark or
/// made the bike.
///
/// # Errors
/// [`StoreError`].
pub async fn refresh(
    tx: &mut Tx,
    workshop: &Workshop,
    bike: &Bike,
    now: Timestamp,
) -> Result<Outlook, StoreError> {
    days::settle(tx, workshop, bike).await?;
    let loaded = load::bike(tx, workshop, bike, now).await?;
    let computed = Computed::of(&loaded)?;
    save(tx, std::slice::from_ref(&computed)).await?;
    tx.clear_mark(bike.id).await?;
    Ok(computed.assessed.outlook)
}

/// An outlook that isn't stored yet.
pub struct Computed {
    bike: Bike,
    assessed: Assessed,
    row: OutlookRow,
}

impl Computed {
    /// From what was loaded.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`].
    pub fn of(loaded: &LoadedBike) -> Result<Self, StoreError> {
        let assessed = loaded.assessed();
        let row = row_of(&assessed.outlook)?;
        Ok(Self { bike: loaded.bike.clone(), assessed, row })
    }

    /// The bike.
    #[must_use]
    pub const fn bike_id(&self) -> BikeId {
        self.bike.id
    }

    /// Whether its forecast is the first of a month, or rests on other readings than the last.
    fn tells_anew(&self, known: &HashMap<PartId, ChainRecord>) -> bool {
        let Assessed { passage, chains, zone, .. } = &self.assessed;
        let Some(KeptPassage { part_id, month, .. }) = passage else { return false };
        let now = chains.iter().find(|record| record.part_id == *part_id);
        known.get(part_id).zip(now).is_none_or(|(before, now)| {
            before.marks.len() != now.marks.len() || Month::of(before.recorded_at.date_in(*zone)) != *month
        })
    }
}

/// Stores outlooks, with what follows from them; the bikes' marks are the caller's.
///
/// # Errors
/// [`StoreError`].
pub async fn save(tx: &mut Tx, computed: &[Computed]) -> Result<(), StoreError> {
    // Lists, orders, plans and the calendar read what is stored: a bike that left the fleet is in none of them.
    let in_fleet = computed.iter().filter(|it| it.bike.retired_at.is_none());
    let rows: Vec<_> = in_fleet.map(|it| (&it.row, Some(&it.assessed.needs))).collect();
    tx.save_outlooks(&rows).await?;
    remember(tx, computed).await?;
    used::remember(tx, computed).await?;
    let stored = computed.iter().map(|it| (&it.bike, &it.assessed.outlook, &it.assessed.findings));
    hooks::outlooks_stored(tx, stored).await
}

/// Keeps what outlooks saw of chains and what they forecast, and asks for forecasts to be scored where the readings are others
/// or elsewhere.
async fn remember(tx: &mut Tx, computed: &[Computed]) -> Result<(), StoreError> {
    let seen = computed.iter().flat_map(|it| &it.assessed.chains);
    let parts: BTreeSet<PartId> = seen.clone().map(|record| record.part_id).collect();
    let known = tx.chain_records_of(&parts.into_iter().collect::<Vec<_>>()).await?;
    let mut known: HashMap<PartId, ChainRecord> =
        known.into_iter().map(|record| (record.part_id, record)).collect();
    let told = computed.iter().filter(|it| it.bike.retired_at.is_none() && it.tells_anew(&known));
    let told = told.filter_map(|it| it.assessed.passage.as_ref());
    tx.keep_passages(&told.collect::<Vec<_>>()).await?;
    let mut changed: BTreeMap<PartId, &ChainRecord> = BTreeMap::new();
    let mut read_otherwise = BTreeSet::new();
    for record in seen {
        let ChainRecord { part_id, bike_id, group, start, reference_km, marks, recorded_at: _, .. } = record;
        let ChainRecord { read_under, ridden_under, .. } = record;
        // A chain that was on two of the bikes comes twice.
        let before = known.insert(*part_id, record.clone());
        if before.as_ref().is_some_and(|before| {
            (before.bike_id, before.reference_km, &before.group, before.start, &before.marks)
                == (*bike_id, *reference_km, group, *start, marks)
                && (&before.read_under, &before.ridden_under) == (read_under, ridden_under)
        }) {
            continue;
        }
        changed.insert(*part_id, record);
        let is_other = |before: &ChainRecord| {
            before.marks != *marks || discriminant(&before.start) != discriminant(start)
        };
        if before.is_none_or(|before| is_other(&before)) {
            read_otherwise.insert(*part_id);
        }
    }
    tx.save_chain_records(&changed.values().copied().collect::<Vec<_>>()).await?;
    for record in changed.values().filter(|record| read_otherwise.contains(&record.part_id)) {
        tx.enqueue(&scoring::job(record.part_id, record.recorded_at)).await?;
    }
    Ok(())
}

fn row_of(outlook: &Outlook) -> Result<OutlookRow, StoreError> {
    let (swap_by, measure_by) = (outlook.swap_by(), outlook.measure_by());
    let attention_on = match outlook.advice {
        Advice::SwapNow | Advice::Hold => Some(outlook.today),
        Advice::SwapBy => swap_by,
        Advice::MeasureBy => measure_by,
        Advice::RideOn => [measure_by, swap_by].into_iter().flatten().min(),
    };
    // Distances beyond the largest legal one are as good as the largest.
    let legal = |km: f64| km.clamp(0.0, DISTANCE.maximum);
    let summary = OutlookSummary {
        bike_id: outlook.bike_id,
        part_id: outlook.part_id,
        advice: outlook.advice,
        attention_on,
        swap_by,
        measure_by,
        probability_over: outlook.probability_over_limit.map(Probability::saturating),
        remaining: outlook.remaining_km.map(|Quantiles { p10, p50, p90 }| Quantiles {
            p10: legal(p10),
            p50: legal(p50),
            p90: legal(p90),
        }),
        computed_at: outlook.computed_at,
    };
    let corrupt = |reason: serde_json::Error| StoreError::Corrupt {
        table: "outlooks",
        column: "payload",
        reason: reason.to_string(),
    };
    let payload = serde_json::to_value(outlook).map_err(corrupt)?;
    Ok(OutlookRow { summary, payload })
}
