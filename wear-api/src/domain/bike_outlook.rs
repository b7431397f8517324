//! A bike's outlook, whole: what is known of its chain, cassette and rings, and what to do when.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use wear_core::degradation::Quantiles;

use super::{Advice, BikeId, PartId, Timestamp};

/// One chance in ten below `p10`, one in two below `p50`, nine in ten below `p90`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Tenth percentile.
    pub p10: f64,
    /// Median.
    pub p50: f64,
    /// Ninetieth percentile.
    pub p90: f64,
}

impl Band {
    /// Every percentile times a factor above zero.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self { p10: self.p10 * factor, p50: self.p50 * factor, p90: self.p90 * factor }
    }
}

impl From<Quantiles> for Band {
    fn from(Quantiles { p10, p50, p90 }: Quantiles) -> Self {
        Self { p10, p50, p90 }
    }
}

/// A [`Band`] of dates; none where the date is more than ten years away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct DateBand {
    /// One chance in ten before this day.
    pub p10: Option<NaiveDate>,
    /// As likely before as after.
    pub p50: Option<NaiveDate>,
    /// Nine chances in ten before this day.
    pub p90: Option<NaiveDate>,
}

/// How much of the exposure one cause made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DriverShare {
    /// The cause.
    pub driver: String,
    /// Its share of the exposure, percent; negative where it spared the chain. Shares sum to 100.
    pub share_percent: f64,
}

/// One sprocket's damage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SprocketDamage {
    /// Its teeth.
    pub teeth: u32,
    /// Damage, as a share of what a typical sprocket bears before it skips with a new chain; 1 is typical.
    pub damage: f64,
    /// Probability that it would skip under a new chain.
    pub probability_skips: f64,
}

/// The cassette.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CassetteReport {
    /// Damage by sprocket, fewest teeth first.
    pub sprockets: Vec<SprocketDamage>,
    /// Probability that a new chain would skip on any of them.
    pub probability_skips: f64,
    /// New chains that it still takes before one skips.
    pub chains_to_come: Band,
    /// Share of a cassette that one more kilometre uses up now.
    pub share_per_km_now: f64,
    /// The same with the chain at its limit.
    pub share_per_km_at_limit: f64,
    /// That money, minor units per 1,000 km, where the cassette's price is known.
    pub cost_per_1000_km_now_minor: Option<i64>,
    /// The same with the chain at its limit.
    pub cost_per_1000_km_at_limit_minor: Option<i64>,
}

/// One chain ring.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RingReport {
    /// Its teeth.
    pub teeth: u32,
    /// Damage, as a share of what a typical ring bears.
    pub damage: f64,
    /// Probability that it is worn out.
    pub probability_worn: f64,
}

/// Something a person should know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Warning {
    /// A stable word for programs.
    pub code: String,
    /// A sentence for people.
    pub message: String,
}

/// What an outlook rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Basis {
    /// Readings of this chain that count.
    pub readings_used: u32,
    /// When the last of them was taken.
    pub last_reading_at: Option<Timestamp>,
    /// When the chain was first fitted.
    pub fitted_at: Option<Timestamp>,
    /// Distance on this chain, km.
    pub distance_km: f64,
    /// Exposure of this chain, reference km.
    pub reference_km: f64,
    /// Exposure by where its energy came from, percent.
    pub energy_source_percent: EnergySourcePercent,
    /// Exposure per day that dates rest on, reference km; none when the bike isn't used.
    pub reference_km_per_day: Option<f64>,
    /// Kilometres of this bike per reference kilometre.
    pub km_per_reference_km: Option<f64>,
    /// Where the wear rate comes from: `default`, or the group it was learned from.
    pub wear_rate_from: String,
    /// What was assumed for want of data.
    pub assumed: Vec<String>,
}

/// Shares of the exposure by source of energy, percent; they sum to 100 when there is any.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct EnergySourcePercent {
    /// Measured power.
    pub measured: f64,
    /// Estimated from distance and climb.
    pub distance_and_climb: f64,
    /// Estimated from distance alone.
    pub distance: f64,
}

/// One point of the curve to plot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Distance from now, km.
    pub ahead_km: f64,
    /// Probability that the chain is over its limit by then.
    pub probability_over_limit: f64,
}

/// A bike's outlook.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlook {
    /// The bike.
    pub bike_id: BikeId,
    /// The chain it speaks of; none when the bike has none.
    pub part_id: Option<PartId>,
    /// The instant it was computed for.
    pub computed_at: Timestamp,
    /// What to do.
    pub advice: Advice,
    /// Why, in words and numbers.
    pub reason: String,
    /// Elongation at which the chain comes off, percent.
    pub limit_percent: f64,
    /// Elongation now, percent.
    pub elongation_percent: Option<Band>,
    /// Distance to the limit, km; none when the bike's own use is unknown.
    pub remaining_km: Option<Band>,
    /// Distance to the limit, reference km.
    pub remaining_reference_km: Option<Band>,
    /// Probability that the chain is over its limit now.
    pub probability_over_limit: Option<f64>,
    /// When the limit is reached; none without use.
    pub limit_on: Option<DateBand>,
    /// Day on which the probability of being over passes the accepted risk.
    pub swap_by: Option<NaiveDate>,
    /// Day by which a reading pays.
    pub measure_by: Option<NaiveDate>,
    /// What made the exposure.
    pub drivers: Vec<DriverShare>,
    /// The cassette, where the bike has one.
    pub cassette: Option<CassetteReport>,
    /// The rings, fewest teeth first.
    pub rings: Vec<RingReport>,
    /// What a person should know.
    pub warnings: Vec<Warning>,
    /// What it rests on.
    pub basis: Basis,
    /// The probability of being over the limit against distance.
    pub curve: Vec<CurvePoint>,
}
