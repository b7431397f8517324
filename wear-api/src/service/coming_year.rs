//! The coming year by month: what the bikes' swaps use up, what they take of the bench, what they cost.

use std::collections::{BTreeSet, HashMap};

use chrono::{Datelike as _, Months, NaiveDate};
use wear_core::bike::NextSwap;
use wear_core::fleet::coming_year::{BikeAhead, ComingYear, Takes};
use wear_core::knock_on::SkipThreshold;
use wear_core::policy::{CASSETTE_PER_CHAIN, RING_PER_CHAIN, USUAL_CHAIN};

use super::prices::price_of;
use super::{Actor, ServiceError, Services, cassettes_learned};
use crate::domain::{
    Assumption, BenchSettings, BikeNeeds, Currency, GroupName, Month, NeededPart, PartModelId, Place,
    SwapNeeds,
};

/// Full months that a year has.
const MONTHS: u32 = 12;

/// What the coming year is counted from.
#[derive(Debug)]
pub struct Gathered {
    group: Option<GroupName>,
    bikes: Vec<BikeNeeds>,
    prices: HashMap<PartModelId, f64>,
    settings: BenchSettings,
    labour: f64,
    currency: Currency,
    today: NaiveDate,
    cassettes_bear: SkipThreshold,
}

/// The coming year.
#[derive(Debug, Clone, PartialEq)]
pub struct YearAhead {
    /// The group; none for the workshop.
    pub group: Option<GroupName>,
    /// The date that it was counted from.
    pub as_of: NaiveDate,
    /// Currency of its money.
    pub currency: Currency,
    /// Bikes whose outlooks were counted.
    pub bikes_counted: usize,
    /// Bikes whose outlooks are being computed anew.
    pub bikes_waiting: usize,
    /// The twelve months that follow the present one.
    pub months: Vec<Month>,
    /// What was assumed for want of data.
    pub assumed: BTreeSet<Assumption>,
    /// What is left of the present month, then each of the months, and all of these together.
    pub known: ComingYear,
}

/// Loads what the coming year is counted from: the outlooks as they stand, prices and the bench's minutes.
///
/// # Errors
/// [`ServiceError::NotFound`] when the fleet has no bike of the group.
pub async fn gather(
    services: &Services,
    actor: &Actor,
    group: Option<GroupName>,
) -> Result<Gathered, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(actor).await?;
    let workshop = tx.workshop().await?;
    if let Some(asked) = &group
        && !tx.groups().await?.iter().any(|(name, _)| name == asked)
    {
        return Err(ServiceError::NotFound { what: "group" });
    }
    let mut bikes = tx.needs(workshop.settings.time_zone).await?;
    bikes.retain(|bike| group.as_ref().is_none_or(|group| bike.group == *group));
    let models = tx.all_part_models().await?;
    let prices = models.iter().filter_map(|model| Some((model.id, price_of(&workshop, model)?)));
    Ok(Gathered {
        prices: prices.collect(),
        group,
        bikes,
        settings: tx.bench_settings().await?.0,
        labour: workshop.settings.costs.swap_labour_minor as f64,
        currency: workshop.settings.currency,
        today: now.date_in(workshop.settings.time_zone),
        cassettes_bear: cassettes_learned::threshold(&mut tx).await?,
    })
}

impl Gathered {
    /// The coming year. A fleet of 20,000 takes seconds of counting: not for a thread that serves requests.
    #[must_use]
    pub fn count(self) -> YearAhead {
        let first = self.today.with_day(1).unwrap_or(self.today);
        let begin = |months: u32| first.checked_add_months(Months::new(months)).unwrap_or(NaiveDate::MAX);
        let ends: Vec<f64> =
            (1..=MONTHS + 1).map(|months| (begin(months) - self.today).num_days() as f64).collect();
        let mut assumed = BTreeSet::new();
        let counted: Vec<BikeAhead> =
            self.bikes.iter().filter_map(|bike| self.bike(bike, &mut assumed)).collect();
        YearAhead {
            as_of: self.today,
            currency: self.currency,
            bikes_counted: counted.len(),
            bikes_waiting: self.bikes.len() - counted.len(),
            months: (1..=MONTHS).map(|months| Month::of(begin(months))).collect(),
            assumed,
            known: ComingYear::of(&counted, &ends, &self.cassettes_bear),
            group: self.group,
        }
    }

    fn bike(&self, bike: &BikeNeeds, assumed: &mut BTreeSet<Assumption>) -> Option<BikeAhead> {
        let SwapNeeds { timing, parts, renewals } = bike.needs.as_ref()?;
        let at = |place: Place| parts.iter().filter(move |part| part.place == place);
        // Cogs that are parts of their own go together, as one cassette.
        let cassette = at(Place::Cassette).chain(at(Place::Cog)).next();
        let rings: Vec<&NeededPart> = at(Place::Ring).collect();
        let mut price = |part: Option<&NeededPart>, usual: f64, assumption: Assumption| {
            let own = part.and_then(|part| self.prices.get(&part.model_id?).copied());
            own.unwrap_or_else(|| {
                if part.is_some() {
                    assumed.insert(assumption);
                }
                usual
            })
        };
        let chain = price(at(Place::Chain).next(), USUAL_CHAIN, Assumption::ChainPrice);
        let minutes = |place: Place| f64::from(self.settings.minutes_of(place).get());
        // In one visit the bike is set up once.
        let more = |place: Place| (minutes(place) - f64::from(self.settings.setup.get())).max(0.0);
        let mut takes = |part: Option<&NeededPart>, place: Place, usual: f64, assumption: Assumption| Takes {
            cost: price(part, usual * chain, assumption),
            minutes: more(place),
        };
        let of_cassette = takes(cassette, Place::Cassette, CASSETTE_PER_CHAIN, Assumption::CassettePrice);
        let of_rings =
            rings.iter().map(|ring| takes(Some(*ring), Place::Ring, RING_PER_CHAIN, Assumption::RingPrice));
        Some(BikeAhead {
            rings: of_rings.collect(),
            swap: NextSwap {
                timing: *timing,
                cassette: cassette.map(|part| part.share),
                rings: rings.iter().map(|ring| ring.share).collect(),
                renewals: *renewals,
            },
            age_days: (self.today - bike.as_of).num_days().max(0) as f64,
            chain: Takes { cost: chain + self.labour, minutes: minutes(Place::Chain) },
            cassette: of_cassette,
        })
    }
}
