//! Forecasts of when chains pass their limits, and how they did.

use wear_core::bike::SwapTiming;
use wear_core::fleet::demand_record::QuarterDemand;
use wear_core::fleet::passage::PassageForecast;
use wear_core::fleet::passage_record::PassageTally;
use wear_core::fleet::skip_reliability::SkipReliability;
use wear_core::fleet::swap_by_record::SwapByTally;
use wear_core::units::{Limit, Probability};

use super::{Advice, BikeId, GroupName, Month, Outlook, PartId, Timestamp};

wear_core::vocabulary! {
    /// When a forecast was made.
    Made, "made" {
        /// At the time: somebody could have seen it.
        Shown = "shown",
        /// Afterwards, from what was known at the time.
        MadeLater = "made_later",
    }
}

/// A forecast of when a chain passes its limit, as it is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptPassage {
    /// The chain.
    pub part_id: PartId,
    /// The bike that it was on.
    pub bike_id: BikeId,
    /// That bike's group.
    pub group: GroupName,
    /// Whether anybody could have seen it.
    pub made: Made,
    /// The month that it was made in, where the workshop is.
    pub month: Month,
    /// How many readings it rests on.
    pub readings_used: i64,
    /// The instant that it is of.
    pub made_at: Timestamp,
    /// Distance of the chain then, km.
    pub chain_km: f64,
    /// The limit that it speaks of.
    pub limit: Limit,
    /// When it is passed, in kilometres of the chain.
    pub kilometres: PassageForecast,
    /// The same in days; none where no date was told.
    pub days: Option<PassageForecast>,
    /// Days to the day named for the swap; none where none was named.
    pub swap_in_days: Option<u32>,
    /// Probability of a swap by the end of the quarter.
    pub quarter_swap: Probability,
    /// Share of what makes that swap early or late that all bikes have in common.
    pub quarter_common: f64,
    /// Probability that the cassette skips under a new chain; none where it isn't on record.
    pub skips: Option<Probability>,
}

impl KeptPassage {
    /// What an outlook says, with the timing of the next swap; none without a chain, and none where somebody has to check the
    /// record first and no number is shown.
    #[must_use]
    pub fn of(outlook: &Outlook, swap: &SwapTiming, group: &GroupName, made: Made) -> Option<Self> {
        if outlook.advice == Advice::Hold {
            return None;
        }
        let month = Month::of(outlook.today);
        let in_quarter = month.quarter_ends().signed_duration_since(outlook.today).num_days().max(0) as f64;
        Some(Self {
            part_id: outlook.part_id?,
            bike_id: outlook.bike_id,
            group: group.clone(),
            made,
            month,
            readings_used: i64::from(outlook.basis.readings_used),
            made_at: outlook.computed_at,
            chain_km: outlook.basis.distance_km,
            limit: Limit::new(outlook.limit_percent).ok()?,
            kilometres: PassageForecast::in_kilometres(outlook)?,
            days: PassageForecast::in_days(outlook, swap),
            swap_in_days: outlook.swap_in_days,
            quarter_swap: Probability::saturating(swap.by(in_quarter)),
            quarter_common: swap.common_by(in_quarter),
            skips: outlook
                .cassette
                .as_ref()
                .map(|cassette| Probability::saturating(cassette.probability_skips)),
        })
    }
}

/// Scores added up.
#[derive(Debug, Clone, PartialEq)]
pub enum Sums {
    /// Of kilometres to the limit.
    Kilometres(PassageTally),
    /// Of dates of the limit.
    Dates(PassageTally),
    /// Of days named for swaps.
    SwapBy(SwapByTally),
    /// Of the swaps of a quarter.
    Demand(QuarterDemand),
    /// Of skipping.
    Skips(SkipReliability),
}

/// Scores of one kind, group and month, added up.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordTally {
    /// Whether anybody could have seen the forecasts.
    pub made: Made,
    /// The group; none for the workshop as a whole, where groups don't add up to it.
    pub group: Option<GroupName>,
    /// The month in which the forecasts were made or the swaps came; of demand, the first of the quarter.
    pub month: Month,
    /// The sums.
    pub sums: Sums,
}

/// Up to where forecasts were made later of a bike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordedBike {
    /// The bike.
    pub bike_id: BikeId,
    /// The last month.
    pub through: Month,
    /// What they rested on.
    pub fingerprint: String,
}
