//! A bike's outlook: what is known of its chain, cassette and rings, and what to do when.

use std::fmt;

use super::{Moment, RateSource, Warning};
use crate::degradation::{ExplanationKind, Quantiles};
use crate::exposure::Driver;
use crate::forecast::{Advice, MORE_LIKELY_THAN_NOT, Reason};
use crate::vocabulary::vocabulary;

/// What is known of a bike, and what to do. Days are counted from the day asked for.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Outlook {
    /// What to do.
    pub advice: Advice,
    /// Why; its `Display` gives words and numbers.
    pub reason: Reason,
    /// Elongation at which the chain comes off, percent.
    pub limit_percent: f64,
    /// Elongation now, percent; none without a chain.
    pub elongation_percent: Option<Quantiles>,
    /// Distance to the limit, km; none without a chain. [`Basis::kilometres_from`] says whose kilometres they are.
    pub remaining_km: Option<Quantiles>,
    /// Distance to the limit, reference km; none without a chain.
    pub remaining_reference_km: Option<Quantiles>,
    /// Probability that the chain is over its limit now; none without a chain.
    pub probability_over_limit: Option<f64>,
    /// Days until the limit is reached; none without use.
    pub limit_in_days: Option<DayQuantiles>,
    /// Days until the probability of being over passes the accepted risk, 0 when the chain is to come off now; none
    /// without use or beyond ten years.
    pub swap_in_days: Option<u32>,
    /// Days until a reading pays; none likewise, and when the chain is to come off now.
    pub measure_in_days: Option<u32>,
    /// What made the exposure.
    pub drivers: Vec<DriverShare>,
    /// The cassette, where it is on record.
    pub cassette: Option<CassetteReport>,
    /// The rings, fewest teeth first; none where they aren't on record.
    pub rings: Vec<RingReport>,
    /// What a person should know.
    pub warnings: Vec<Warning>,
    /// What it rests on.
    pub basis: Basis,
    /// The probability of being over the limit against distance.
    pub curve: Vec<CurvePoint>,
    /// What may explain readings that the record speaks against, the most probable first; none when they agree. Where the
    /// record is more likely wrong than right, the numbers above are of all of them together, each by its probability.
    #[cfg_attr(feature = "serde", serde(default))]
    pub explanations: Vec<ExplanationReport>,
}

/// One explanation for readings that the record speaks against, with what it makes of the chain.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ExplanationReport {
    /// What it says.
    pub kind: ExplanationKind,
    /// Its probability.
    pub probability: f64,
    /// When it most likely happened: after the reading before, or the fitting, and by the next one, or at the wrong
    /// one. None for [`ExplanationKind::AsRecorded`].
    pub between: Option<(Moment, Moment)>,
    /// How much riding is missing, km.
    pub missing_km: Option<Quantiles>,
    /// Elongation now if this is true, percent.
    pub elongation_percent: Quantiles,
    /// Distance to the limit if this is true, km.
    pub remaining_km: Quantiles,
    /// What to do if this is true.
    pub advice: Advice,
}

/// Days at 10, 50 and 90 %; none where it is more than ten years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DayQuantiles {
    /// One chance in ten before this day.
    pub p10: Option<u32>,
    /// As likely before as after.
    pub p50: Option<u32>,
    /// Nine chances in ten before this day.
    pub p90: Option<u32>,
}

/// How much of the exposure one cause made.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DriverShare {
    /// The cause.
    pub driver: Driver,
    /// Its share of the exposure, percent; negative where it spared the chain. Shares sum to 100.
    pub share_percent: f64,
}

/// One sprocket's damage.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SprocketDamage {
    /// Its teeth.
    pub teeth: u16,
    /// Damage, as a share of what a typical sprocket bears before it skips with a new chain; 1 is typical.
    pub damage: f64,
    /// Probability that it would skip under a new chain.
    pub probability_skips: f64,
}

/// The cassette.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct CassetteReport {
    /// Damage by sprocket, fewest teeth first.
    pub sprockets: Vec<SprocketDamage>,
    /// Probability that a new chain would skip on any of them.
    pub probability_skips: f64,
    /// The same once the chain that is on has been ridden to its limit.
    #[cfg_attr(feature = "serde", serde(default))]
    pub probability_skips_at_limit: f64,
    /// New chains that it still takes before one skips.
    pub chains_to_come: Quantiles,
    /// Share of a cassette that one more kilometre uses up now.
    pub share_per_km_now: f64,
    /// The same with the chain at its limit.
    pub share_per_km_at_limit: f64,
    /// That money per 1,000 km, in the unit of the cassette's price; none where nobody gave one.
    pub cost_per_1000_km_now: Option<f64>,
    /// The same with the chain at its limit.
    pub cost_per_1000_km_at_limit: Option<f64>,
}

/// What the next chain is likely to do on the cassette; [`fmt::Display`] says it in English.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum NextChain {
    /// It most likely runs well.
    RunsWell {
        /// Probability that it skips.
        skips: f64,
    },
    /// It may skip.
    MaySkip {
        /// Probability that it skips.
        skips: f64,
    },
    /// It likely skips.
    LikelySkips {
        /// Probability that it skips.
        skips: f64,
    },
}

/// Probability of a skip from which the next chain is said to be open (A).
const MAY_SKIP: f64 = 0.2;

impl CassetteReport {
    /// What the next chain does on it, put on when this one has been ridden to its limit.
    #[must_use]
    pub fn next_chain(&self) -> NextChain {
        match self.probability_skips_at_limit {
            skips if skips >= MORE_LIKELY_THAN_NOT => NextChain::LikelySkips { skips },
            skips if skips >= MAY_SKIP => NextChain::MaySkip { skips },
            skips => NextChain::RunsWell { skips },
        }
    }
}

impl fmt::Display for NextChain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |p: f64| (p * 100.0).round();
        match *self {
            Self::RunsWell { skips } => {
                write!(
                    f,
                    "The next chain will most likely run well on this cassette; it skips with {} %",
                    percent(skips)
                )
            }
            Self::MaySkip { skips } => write!(
                f,
                "The next chain may skip on this cassette ({} %): have a cassette at hand, and test for skipping under load, off traffic, before the bike goes out",
                percent(skips)
            ),
            Self::LikelySkips { skips } => write!(
                f,
                "The next chain will likely skip on this cassette ({} %): plan a cassette with it, or test for skipping under load, off traffic, before the bike goes out",
                percent(skips)
            ),
        }
    }
}

/// One ring.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RingReport {
    /// Its teeth.
    pub teeth: u16,
    /// Damage, as a share of what a typical ring bears.
    pub damage: f64,
    /// Probability that it is worn out.
    pub probability_worn: f64,
    /// The same once the chain that is on has been ridden to its limit.
    #[cfg_attr(feature = "serde", serde(default))]
    pub probability_worn_at_limit: f64,
}

vocabulary! {
    /// Something that had to be assumed for want of data.
    Assumption, "assumption" {
        /// Multipliers of surface and water.
        ContextMultipliers = "context_multipliers",
        /// Multiplier of the distance since care.
        CareMultiplier = "care_multiplier",
        /// Gears by use.
        Gears = "gears",
        /// Slopes and thresholds of the wear of cassette and rings.
        KnockOn = "knock_on",
        /// The wear rate.
        WearRate = "wear_rate",
        /// Prices that decide when a reading pays.
        Prices = "prices",
        /// Work per kilometre by use.
        WorkPerKilometre = "work_per_kilometre",
        /// The rider's mass by use.
        RiderMass = "rider_mass",
        /// The age of a chain that was on when the record began.
        AgeAsFound = "age_as_found",
        /// A drivetrain typical of the use, as nobody entered the bike's own.
        TypicalDrivetrain = "typical_drivetrain",
        /// Usual care, as nobody records it.
        UnrecordedCare = "unrecorded_care",
        /// The kind of riding behind distance that the odometer counted and no ride accounts for.
        UnloggedDistance = "unlogged_distance",
        /// The distance since the odometer was last read.
        SinceOdometer = "since_odometer",
        /// Declared use.
        DeclaredUse = "declared_use",
    }
}

impl Assumption {
    /// In English.
    #[must_use]
    pub const fn in_english(self) -> &'static str {
        match self {
            Self::ContextMultipliers => "multipliers of surface and water",
            Self::CareMultiplier => "multiplier of the distance since care",
            Self::Gears => "gears by use",
            Self::KnockOn => "knock-on slopes and thresholds",
            Self::WearRate => "wear rate",
            Self::Prices => "prices that decide when a reading pays",
            Self::WorkPerKilometre => "work per kilometre by use",
            Self::RiderMass => "rider's mass by use",
            Self::AgeAsFound => "age of a chain that was on already",
            Self::TypicalDrivetrain => "a drivetrain typical of the use",
            Self::UnrecordedCare => "usual care, as none is recorded",
            Self::UnloggedDistance => "what kind of riding the odometer counted",
            Self::SinceOdometer => "distance since the odometer was last read",
            Self::DeclaredUse => "declared distance a week",
        }
    }
}

vocabulary! {
    /// From where kilometres per reference kilometre are known.
    KilometresFrom, "kilometres_from" {
        /// From the bike's own rides or odometer.
        Bike = "bike",
        /// From the bikes of its group.
        Group = "group",
        /// From what is usual for its use.
        Use = "use",
    }
}

vocabulary! {
    /// How a chain's record begins.
    StartKnown, "starts" {
        /// With a new chain.
        New = "new",
        /// With a chain that was on already.
        AsFound = "as_found",
    }
}

/// What an outlook rests on.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Basis {
    /// Readings of this chain that count.
    pub readings_used: u32,
    /// When the last of them was taken.
    pub last_reading_at: Option<Moment>,
    /// When the chain was first fitted.
    pub fitted_at: Option<Moment>,
    /// Distance on this chain, km.
    pub distance_km: f64,
    /// Exposure of this chain, reference km.
    pub reference_km: f64,
    /// Exposure by where its energy came from.
    pub energy_source_percent: EnergySourcePercent,
    /// Exposure per day that days rest on, reference km; none when the bike isn't used.
    pub reference_km_per_day: Option<f64>,
    /// Kilometres of this bike per reference kilometre; none without a chain.
    pub km_per_reference_km: Option<f64>,
    /// From where those kilometres are known; none without a chain.
    #[cfg_attr(feature = "serde", serde(default))]
    pub kilometres_from: Option<KilometresFrom>,
    /// How the chain's record begins; none without a chain.
    #[cfg_attr(feature = "serde", serde(default))]
    pub starts: Option<StartKnown>,
    /// Distance on this chain that no ride accounts for, km: by odometer or declared.
    #[cfg_attr(feature = "serde", serde(default))]
    pub unlogged_km: f64,
    /// Where the wear rate comes from.
    pub wear_rate_from: RateSource,
    /// What the cassette's part rests on; none where it isn't on record.
    #[cfg_attr(feature = "serde", serde(default))]
    pub cassette: Option<CassetteBasis>,
    /// Whether a year and more is on record, of the bike or of its like, so that use ahead has a season.
    #[cfg_attr(feature = "serde", serde(default))]
    pub season_on_record: bool,
    /// What was assumed for want of data.
    pub assumed: Vec<Assumption>,
}

/// What a cassette's outlook rests on besides damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct CassetteBasis {
    /// Whether the fleet has learned how much damage cassettes bear; assumed otherwise.
    pub learned: bool,
    /// New chains that held on this cassette: ridden [`crate::knock_on::TRIAL_KM`], and nobody reported a skip.
    pub chains_held: u32,
    /// Skips that were reported of it.
    pub skips_reported: u32,
}

/// Shares of the exposure by source of energy, percent; they sum to 100 when there is any.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct EnergySourcePercent {
    /// Measured power.
    pub measured: f64,
    /// Estimated from distance and ascent.
    pub distance_and_climb: f64,
    /// Estimated from distance alone.
    pub distance: f64,
}

/// One point of the curve to plot.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct CurvePoint {
    /// Distance from now, km.
    pub ahead_km: f64,
    /// Probability that the chain is over its limit by then.
    pub probability_over_limit: f64,
}

impl Outlook {
    /// Probability that the chain is over its limit after so many more kilometres: between the points of the curve by
    /// straight lines, beyond its end as at its end; 0 without a chain.
    #[must_use]
    pub fn probability_after_km(&self, ahead_km: f64) -> f64 {
        let after = self.curve.partition_point(|point| point.ahead_km < ahead_km);
        match (after.checked_sub(1).and_then(|before| self.curve.get(before)), self.curve.get(after)) {
            (Some(before), Some(after)) => {
                let share = (ahead_km - before.ahead_km) / (after.ahead_km - before.ahead_km);
                before.probability_over_limit
                    + share * (after.probability_over_limit - before.probability_over_limit)
            }
            (None, Some(point)) | (Some(point), None) => point.probability_over_limit,
            (None, None) => self.probability_over_limit.unwrap_or(0.0),
        }
    }
}

impl fmt::Display for Outlook {
    /// `ride_on: 1927 (1098 to 3190) km`: what to do, and how far the chain has to go.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.advice)?;
        match self.remaining_km {
            Some(km) => write!(f, ": {km:.0} km"),
            None => Ok(()),
        }
    }
}
