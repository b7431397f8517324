//! What to order: counts of parts from the bikes' outlooks against shelf and deliveries.

mod count;

use std::collections::{BTreeMap, HashMap};

use chrono::{Days, NaiveDate};
use wear_core::units::Probability;

use super::{Actor, Admitted, ServiceError, Services};
use crate::domain::{
    Advice, BikeId, BikeNeeds, GroupName, Label, LeadTimeDays, Money, PackSize, PartModel, PartModelId,
    PartsUnderWay, Place, ServiceLevel, ShelfCount, StandIn, StockEntry, Timestamp,
};
use crate::store::{StoreError, Tx};
use count::{Shelf, Windows, probability_by};

pub use count::Reorder;

/// Most days that can be asked about: each place of a bike counts once, and beyond half a year many a bike needs the
/// chain after next.
pub const MOST_HORIZON_DAYS: u32 = 182;

/// Most bikes named behind one number.
pub const MOST_BIKES: usize = 1_000;

/// Days that swaps are counted over unless someone says otherwise (A).
pub const HORIZON_DAYS: u32 = 28;

/// What one count takes at 200,000 bikes is about twice as much (A): of a workshop two at once.
const WEIGHT: usize = 64 << 20;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrdersQuery {
    /// Days to count swaps over; an order also covers these days after its arrival. 1 to [`MOST_HORIZON_DAYS`].
    pub horizon_days: u32,
    /// For models without a level of their own.
    pub service_level: ServiceLevel,
    /// Bikes named behind each number, up to [`MOST_BIKES`].
    pub bikes: usize,
}

/// What to order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrdersNeeded {
    /// Today where the workshop is.
    pub as_of: NaiveDate,
    /// Bikes whose outlooks were counted.
    pub bikes_counted: usize,
    /// Bikes whose outlooks are still being computed anew and weren't counted.
    pub bikes_waiting: usize,
    /// By part: what has to be ordered first, then by place and name.
    pub parts: Vec<PartNeeded>,
}

/// Which part: a model, or, where nobody entered one, a shape.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum PartKind {
    /// A model.
    Model(PartModelId),
    /// A shape, such as `8 sprockets`.
    Unnamed(Place, String),
}

/// One part with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct PartNeeded {
    /// Which part.
    pub kind: PartKind,
    /// What people call its model.
    pub name: Option<Label>,
    /// Where it sits.
    pub place: Place,
    /// Price of one.
    pub price: Option<Money>,
    /// Expected number over the horizon.
    pub mean: f64,
    /// One chance in ten of fewer.
    pub p10: usize,
    /// As likely more as fewer.
    pub p50: usize,
    /// One chance in ten of more.
    pub p90: usize,
    /// On the shelf; none where nobody keeps count.
    pub on_shelf: Option<u32>,
    /// In deliveries that haven't arrived.
    pub under_way: u32,
    /// Of these, expected within the lead time.
    pub under_way_in_time: u32,
    /// Days from an order to its arrival.
    pub lead_time: LeadTimeDays,
    /// Parts sold together.
    pub pack_size: PackSize,
    /// The level that was worked with.
    pub service_level: ServiceLevel,
    /// Whether the workshop set the reorder point itself.
    pub reorder_point_is_set: bool,
    /// What to order.
    pub reorder: Reorder,
    /// Other models that fit.
    pub substitutes: Vec<Substitute>,
    /// The bikes behind the number, the likeliest first.
    pub bikes: Vec<BikeBehind>,
    /// Further bikes that aren't named.
    pub other_bikes: usize,
    /// What they add to the expected number.
    pub other_bikes_mean: f64,
}

/// Another model that may take the part's place.
#[derive(Debug, Clone, PartialEq)]
pub struct Substitute {
    /// The model.
    pub part_model_id: PartModelId,
    /// What people call it.
    pub name: Label,
    /// On the shelf; none where nobody keeps count.
    pub on_shelf: Option<u32>,
    /// Whether its shape fits.
    pub fits: StandIn,
    /// Whether the workshop named it.
    pub is_named: bool,
}

/// A bike behind a number.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeBehind {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: Label,
    /// Its group.
    pub group: GroupName,
    /// Expected number of the part that it needs over the horizon: a probability, or a sum of them for several places.
    pub expected: f64,
    /// What to do about it.
    pub advice: Advice,
    /// By when its chain is to be swapped.
    pub swap_by: Option<NaiveDate>,
}

/// What orders are counted from.
#[derive(Debug)]
pub struct Gathered {
    bikes: Vec<BikeNeeds>,
    place: Workplace,
    /// The memory that it takes, where somebody asked; the night's own count asks for none.
    admitted: Admitted,
}

/// What the workshop has and knows.
#[derive(Debug)]
struct Workplace {
    models: HashMap<PartModelId, PartModel>,
    stock: HashMap<PartModelId, StockEntry>,
    under_way: Vec<PartsUnderWay>,
    today: NaiveDate,
}

/// Loads what orders are counted from: the outlooks as they stand, shelf and deliveries.
///
/// # Errors
/// [`ServiceError`].
pub async fn gather(services: &Services, actor: &Actor) -> Result<Gathered, ServiceError> {
    let admitted = services.memory.admit(actor.workshop_id, WEIGHT).await?;
    let mut tx = services.store.begin_read(actor).await?;
    Ok(Gathered { admitted, ..gather_in(&mut tx, services.now()).await? })
}

/// The same in a transaction that has begun.
pub(super) async fn gather_in(tx: &mut Tx, now: Timestamp) -> Result<Gathered, StoreError> {
    let zone = tx.workshop().await?.settings.time_zone;
    let bikes = tx.needs(zone).await?;
    let place = Workplace {
        models: tx.all_part_models().await?.into_iter().map(|model| (model.id, model)).collect(),
        stock: tx.whole_stock().await?.into_iter().map(|entry| (entry.part_model_id, entry)).collect(),
        under_way: tx.parts_under_way().await?,
        today: now.date_in(zone),
    };
    Ok(Gathered { bikes, place, admitted: Admitted::default() })
}

impl Gathered {
    /// What to order. A fleet of 20,000 takes a second or so of counting: not for a thread that serves requests.
    #[must_use]
    pub fn count(&self, query: OrdersQuery) -> OrdersNeeded {
        let _while_it_counts = &self.admitted;
        count_all(&self.bikes, &self.place, query)
    }
}

/// A bike's use of one part: the bike by its place in the list, and the share of its swaps that use the part.
type Uses = Vec<(usize, f64)>;

fn count_all(bikes: &[BikeNeeds], place: &Workplace, query: OrdersQuery) -> OrdersNeeded {
    let mut uses: BTreeMap<PartKind, Uses> =
        place.stock.keys().map(|model| (PartKind::Model(*model), Uses::new())).collect();
    for (index, bike) in bikes.iter().enumerate() {
        for part in bike.needs.iter().flat_map(|needs| &needs.parts).filter(|part| part.counts()) {
            let kind = match part.model_id {
                Some(model) => PartKind::Model(model),
                None => PartKind::Unnamed(part.place, part.shape.clone()),
            };
            uses.entry(kind).or_default().push((index, part.share));
        }
    }
    let mut parts: Vec<PartNeeded> =
        uses.into_iter().filter_map(|(kind, uses)| part_needed(kind, &uses, bikes, place, query)).collect();
    parts.sort_by(|a, b| {
        let key = |part: &PartNeeded| (part.reorder.quantity == 0, part.place, part.name.clone());
        key(a).cmp(&key(b)).then_with(|| a.kind.cmp(&b.kind))
    });
    let bikes_waiting = bikes.iter().filter(|bike| bike.needs.is_none()).count();
    OrdersNeeded { as_of: place.today, bikes_counted: bikes.len() - bikes_waiting, bikes_waiting, parts }
}

/// Demand that is worth a line, parts over the horizon.
const WORTH_A_LINE: f64 = 0.005;

fn part_needed(
    kind: PartKind,
    uses: &[(usize, f64)],
    bikes: &[BikeNeeds],
    place: &Workplace,
    query: OrdersQuery,
) -> Option<PartNeeded> {
    let model_id = if let PartKind::Model(model) = kind { Some(model) } else { None };
    let model = model_id.and_then(|id| place.models.get(&id));
    let entry = model_id.and_then(|id| place.stock.get(&id));
    let (lead_time, pack_size, service_level) =
        entry.map_or((LeadTimeDays::WEEK, PackSize::ONE, query.service_level), |entry| {
            let facts = &entry.facts;
            (facts.lead_time, facts.pack_size, facts.service_level.unwrap_or(query.service_level))
        });
    let at = match &kind {
        PartKind::Model(_) => model?.facts.geometry.place(),
        PartKind::Unnamed(at, _) => *at,
    };
    let arrives_by = place.today.checked_add_days(Days::new(u64::from(lead_time.get())))?;
    let coming = place.under_way.iter().filter(|parts| Some(parts.part_model_id) == model_id);
    let (mut under_way, mut under_way_in_time) = (0, 0);
    for parts in coming {
        under_way += parts.count;
        under_way_in_time += if parts.expected_on <= arrives_by { parts.count } else { 0 };
    }
    let on_shelf = entry.map(|entry| entry.facts.count.get());
    let swaps = |days: f64, deviate: f64| -> Vec<f64> {
        uses.iter()
            .map(|&(bike, share)| share * probability_by(&bikes[bike], place.today, days, deviate))
            .collect()
    };
    let shelf = Shelf {
        on_hand: on_shelf.unwrap_or(0),
        under_way: under_way_in_time,
        pack: pack_size.get(),
        reorder_point: entry.and_then(|entry| entry.facts.reorder_point).map(ShelfCount::get),
    };
    let level = Probability::new(service_level.get()).ok()?;
    let windows = Windows { horizon: f64::from(query.horizon_days), lead_time: f64::from(lead_time.get()) };
    let counted = count::count(&windows, shelf, level, swaps)?;
    if entry.is_none() && counted.mean < WORTH_A_LINE {
        return None;
    }
    let named = named_bikes(uses, bikes, &counted.expected, query.bikes);
    let other_bikes_mean = counted.mean - named.bikes.iter().map(|bike| bike.expected).sum::<f64>();
    Some(PartNeeded {
        substitutes: model.map_or_else(Vec::new, |model| substitutes(model, entry, place)),
        kind,
        name: model.map(|model| model.facts.name.clone()),
        place: at,
        price: model.and_then(|model| model.facts.price),
        mean: counted.mean,
        p10: counted.p10,
        p50: counted.p50,
        p90: counted.p90,
        on_shelf,
        under_way,
        under_way_in_time,
        lead_time,
        pack_size,
        service_level,
        reorder_point_is_set: shelf.reorder_point.is_some(),
        reorder: counted.reorder,
        bikes: named.bikes,
        other_bikes: named.others,
        other_bikes_mean: other_bikes_mean.max(0.0),
    })
}

struct Named {
    bikes: Vec<BikeBehind>,
    others: usize,
}

/// Bikes whose swap is less likely than this are left unnamed.
const WORTH_A_NAME: f64 = 0.0005;

/// The likeliest bikes; `expected` goes with `uses`.
fn named_bikes(uses: &[(usize, f64)], bikes: &[BikeNeeds], expected: &[f64], most: usize) -> Named {
    let mut sums: BTreeMap<usize, f64> = BTreeMap::new();
    for ((bike, _), expected) in uses.iter().zip(expected) {
        *sums.entry(*bike).or_default() += expected;
    }
    let mut likeliest: Vec<(usize, f64)> = sums.into_iter().filter(|(_, it)| *it > 0.0).collect();
    likeliest.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let worth = likeliest.iter().take(most).take_while(|(_, it)| *it >= WORTH_A_NAME).count();
    let others = likeliest.len() - worth;
    let bikes = likeliest[..worth]
        .iter()
        .map(|&(index, expected)| {
            let BikeNeeds { bike_id, label, group, advice, swap_by, as_of: _, needs: _ } = &bikes[index];
            BikeBehind {
                bike_id: *bike_id,
                label: label.clone(),
                group: group.clone(),
                expected,
                advice: *advice,
                swap_by: *swap_by,
            }
        })
        .collect();
    Named { bikes, others }
}

/// Those that the workshop named, in its order, then other models of the same shape.
fn substitutes(model: &PartModel, entry: Option<&StockEntry>, place: &Workplace) -> Vec<Substitute> {
    let named: &[PartModelId] = entry.map_or(&[], |entry| &entry.facts.substitutes);
    let offer = |other: &PartModel, is_named: bool| Substitute {
        part_model_id: other.id,
        name: other.facts.name.clone(),
        on_shelf: place.stock.get(&other.id).map(|entry| entry.facts.count.get()),
        fits: other.facts.geometry.stands_in_for(&model.facts.geometry),
        is_named,
    };
    let mut offers: Vec<Substitute> =
        named.iter().filter_map(|id| place.models.get(id)).map(|other| offer(other, true)).collect();
    let mut others: Vec<Substitute> = place
        .models
        .values()
        .filter(|other| other.id != model.id && !named.contains(&other.id))
        .map(|other| offer(other, false))
        .filter(|offer| offer.fits == StandIn::Fits)
        .collect();
    others.sort_by(|a, b| (&a.name, a.part_model_id).cmp(&(&b.name, b.part_model_id)));
    offers.extend(others);
    offers
}
