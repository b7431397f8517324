//! One table of legal ranges.
//!
//! Constructors in [`crate::units`] and the schemas of the service draw on this table, so a range is
//! written once. A bound is inclusive at both ends.

use thiserror::Error;

/// The inclusive legal range of one named quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Bound {
    /// The name of the constant, such as `SWAP_LIMIT`: what a program may know the quantity by.
    pub code: &'static str,
    /// Name of the quantity in the field's terms, for messages.
    pub name: &'static str,
    /// Smallest legal value.
    pub minimum: f64,
    /// Largest legal value.
    pub maximum: f64,
    /// Unit of both ends.
    pub unit: &'static str,
}

impl Bound {
    /// Returns `value` when it is finite and inside the range.
    ///
    /// # Errors
    /// [`OutOfRange`] when `value` is NaN, infinite or outside the range.
    pub fn check(&'static self, value: f64) -> Result<f64, OutOfRange> {
        if value >= self.minimum && value <= self.maximum {
            Ok(value)
        } else {
            Err(OutOfRange { bound: self, value })
        }
    }
}

impl std::fmt::Display for Bound {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name)
    }
}

/// Most climb of a ride, m: 40 % of its distance and 200 m for what a device gets wrong on a short one (A).
///
/// The steepest street of the world rises 34.8 % at its steepest (Baldwin Street, Dunedin, S); no ride keeps that up.
#[must_use]
pub fn most_climb_m(distance_km: f64) -> f64 {
    400.0 * distance_km + 200.0
}

/// Most work at the pedals of a ride that gets somewhere, kJ.
///
/// `W = F·d + m·g·h / E_c`, with F = 200 N: 0.05 of a weight of 150 kg (soft ground) is 74 N, the air at a relative
/// 15 m/s on 0.8 m² 108 N; m = 250 kg, a loaded cargo bike, makes 2.6 kJ a metre of climb; 500 kJ are for what isn't
/// distance: starts, mud, a device that lost its place (all A). Without a climb it takes a tenth of the distance (A).
#[must_use]
pub fn most_energy_kj(distance_km: f64, climb_m: Option<f64>) -> f64 {
    200.0 * distance_km + 2.6 * climb_m.unwrap_or(100.0 * distance_km) + 500.0
}

/// Least time that a ride takes, s: at a mean of 60 km/h. The hour record stands at 56.8 km (S).
#[must_use]
pub fn least_seconds(distance_km: f64) -> f64 {
    60.0 * distance_km
}

/// A number outside the legal range of its quantity.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("{} is {value} {}, allowed {}", .bound.name, .bound.unit, .bound.allowed())]
#[non_exhaustive]
pub struct OutOfRange {
    /// The range that was missed.
    pub bound: &'static Bound,
    /// What was given.
    pub value: f64,
}

impl Bound {
    pub(crate) const fn nearest_to_zero(&self) -> f64 {
        if self.minimum > 0.0 {
            self.minimum
        } else if self.maximum < 0.0 {
            self.maximum
        } else {
            0.0
        }
    }

    /// The range in words, as error messages give it: `-0.3 to 3 percent`.
    #[must_use]
    pub fn allowed(&self) -> String {
        format!("{} to {} {}", self.minimum, self.maximum, self.unit)
    }
}

macro_rules! bounds {
    ($($(#[$doc:meta])* $ident:ident = $name:literal, $minimum:literal..$maximum:literal, $unit:literal;)+) => {
        $($(#[$doc])* pub static $ident: Bound =
            Bound { code: stringify!($ident), name: $name, minimum: $minimum as f64, maximum: $maximum as f64, unit: $unit };)+

        /// Every bound, for documents and tests.
        pub static ALL: &[&Bound] = &[$(&$ident),+];
    };
}

bounds! {
    /// Elongation read from a chain.
    ELONGATION_READING = "elongation reading", -0.3..3.0, "percent";
    /// Elongation at which a chain has to come off.
    LIMIT = "swap limit", 0.2..2.0, "percent";
    /// Nominal mark of a drop-in gauge.
    GAUGE_MARK = "gauge mark", 0.2..2.0, "percent";
    /// Number of pitches that a length was measured over.
    MEASURED_PITCHES = "measured pitches", 4..120, "pitches";
    /// Measured length divided by the number of pitches: 304.0 to 311.0 mm over 24 pitches.
    LENGTH_PER_24_PITCHES = "length over 24 pitches", 304.0..311.0, "mm";
    /// Places measured on one chain.
    SPOTS = "spots", 1..32, "spots";
    /// Accrued or remaining exposure.
    REFERENCE_KM = "reference distance", 0.0..10_000_000.0, "reference km";
    /// One ride's distance.
    RIDE_DISTANCE = "ride distance", 0.0..2_000.0, "km";
    /// A distance that is not one ride's.
    DISTANCE = "distance", 0.0..10_000_000.0, "km";
    /// What a bike's counter shows.
    ODOMETER = "odometer", 0.0..1_000_000.0, "km";
    /// Distance that a bike is said to go in a week.
    KM_PER_WEEK = "distance a week", 0.0..5_000.0, "km";
    /// Kilometres between two cleanings of a routine (A).
    CARE_INTERVAL_KM = "kilometres between two cleanings", 10..10_000, "km";
    /// Weeks between two cleanings of a routine (A).
    CARE_INTERVAL_WEEKS = "weeks between two cleanings", 1..104, "weeks";
    /// One ride's climb.
    RIDE_ASCENT = "ride climb", 0.0..30_000.0, "m";
    /// Work at the pedals over one ride.
    RIDE_ENERGY = "ride energy", 0.0..60_000.0, "kJ";
    /// Teeth of a ring or cog.
    TEETH = "teeth", 9..80, "teeth";
    /// Chain length, in pitches.
    LINKS = "chain length", 40..260, "pitches";
    /// A probability.
    PROBABILITY = "probability", 0.0..1.0, "";
    /// Bias of an instrument, read minus true.
    INSTRUMENT_BIAS = "instrument bias", -0.5..0.5, "percent";
    /// Standard deviation of one reading.
    INSTRUMENT_SD = "instrument standard deviation", 0.002..0.5, "percent";
    /// What isn't known of an instrument's bias, as a standard deviation.
    UNKNOWN_BIAS = "unknown part of the instrument's bias", 0.0..0.5, "percent";
    /// Elongation at which chains begin to wear faster.
    FAST_PHASE_ONSET = "onset of the fast phase", 0.2..3.0, "percent";
    /// How much faster they wear per percent beyond it.
    FAST_PHASE_GAIN = "gain of the fast phase", 0.01..10.0, "per percent";
    /// Mean of the logarithm of a group's wear rate, the rate in percent per reference km.
    MEAN_LOG_RATE = "mean log wear rate", -20.0..0.0, "ln(percent per reference km)";
    /// Spread of the logarithm of the wear rate among the chains of a group.
    SD_LOG_RATE = "spread of log wear rate", 0.001..3.0, "";
    /// Scale of one jump of wear.
    WEAR_SCALE = "wear scale", 1e-6..1.0, "percent";
    /// Mean elongation of a new chain.
    INITIAL_MEAN = "initial elongation", -0.3..0.5, "percent";
    /// Standard deviation of the elongation of a new chain.
    INITIAL_SD = "spread of initial elongation", 0.002..0.3, "percent";
    /// Elongation added by running-in.
    RUNNING_IN = "running-in", 0.0..0.3, "percent";
    /// Distance over which running-in fades.
    RUNNING_IN_DISTANCE = "running-in distance", 1.0..10_000.0, "reference km";
    /// Mass of rider, bike and load.
    TOTAL_MASS = "total mass", 20.0..500.0, "kg";
    /// Chainstay length, bottom bracket to rear axle.
    CHAINSTAY = "chainstay", 250.0..800.0, "mm";
    /// Number of rings.
    RING_COUNT = "rings", 1..3, "rings";
    /// Number of cogs.
    COG_COUNT = "cogs", 1..14, "cogs";
    /// Teeth of a jockey wheel.
    JOCKEY_TEETH = "jockey wheel teeth", 8..24, "teeth";
    /// Rolling circumference of the driven wheel.
    WHEEL_CIRCUMFERENCE = "wheel circumference", 700.0..2_700.0, "mm";
    /// Share of a ride's distance that was pedalled.
    PEDALLING_SHARE = "pedalling share", 0.05..1.0, "";
    /// Load exponent of the wear law.
    LOAD_EXPONENT = "load exponent", 0.3..1.0, "";
    /// Tension of the slack strand.
    SLACK_TENSION = "slack tension", 0.0..60.0, "N";
    /// Wear multiplier of a context.
    CONTEXT_MULTIPLIER = "context multiplier", 0.05..20.0, "";
    /// Wear multiplier of a neglected chain.
    NEGLECT = "neglect multiplier", 1.0..20.0, "";
    /// Standard deviation of a logarithm.
    LN_SD = "log standard deviation", 0.0..2.0, "";
    /// ln of the damage at which the middle sprocket skips, in cassettes.
    LN_SKIP_MEDIAN = "log of the median skip threshold", -3.0..3.0, "";
    /// Spread of ln of the damage at which sprockets skip.
    SKIP_SIGMA = "spread of the skip threshold", 0.05..3.0, "";
    /// Motor work per unit of the rider's work.
    ASSIST_RATIO = "assist ratio", 0.0..5.0, "";
    /// Degrees north of the equator.
    LATITUDE = "latitude", -90.0..90.0, "degrees";
    /// Degrees east of Greenwich.
    LONGITUDE = "longitude", -180.0..180.0, "degrees";
    /// Height of a recorded point.
    ELEVATION = "elevation", -1_000.0..10_000.0, "m";
    /// Power at one moment.
    POWER = "power", 0.0..5_000.0, "W";
    /// Turns of the crank.
    CADENCE = "cadence", 0.0..300.0, "per minute";
    /// Speed at one moment.
    SPEED = "speed", 0.0..60.0, "m/s";
    /// Time of a recorded point since any origin.
    TRACK_SECONDS = "time of a point", -1e12..1e12, "s";
    /// Distance that a device had counted.
    TRACK_METRES = "counted distance", 0.0..1e9, "m";
    /// Drag area of bike and rider.
    DRAG_AREA = "drag area", 0.1..2.0, "m²";
    /// Rolling force over weight.
    ROLLING = "rolling coefficient", 0.001..0.1, "";
    /// Density of the air.
    AIR_DENSITY = "air density", 0.6..1.6, "kg/m³";
    /// Wind.
    WIND_SPEED = "wind speed", 0.0..40.0, "m/s";
    /// A bearing from north.
    BEARING = "bearing", 0.0..360.0, "degrees";
    /// Minutes that a bench works on one day.
    BENCH_MINUTES = "bench minutes", 0.0..1_000_000.0, "minutes";
    /// Minutes that one job takes.
    JOB_MINUTES = "job minutes", 0.0..1_000_000.0, "minutes";
    /// Number of one part, in an arrival or a job.
    PART_COUNT = "part count", 0..1_000_000_000, "parts";
    /// A cost in a bench plan, per day or of being left out.
    PLAN_COST = "plan cost", 0.0..1e15, "";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_legal_and_beyond_them_is_not() {
        for bound in ALL {
            assert!(bound.check(bound.minimum).is_ok());
            assert!(bound.check(bound.maximum).is_ok());
            let step = (bound.maximum - bound.minimum) * 1e-9 + f64::EPSILON;
            for outside in [bound.minimum - step, bound.maximum + step, f64::NAN, f64::INFINITY] {
                let error = bound.check(outside).expect_err(bound.name);
                assert!(error.to_string().contains(&bound.allowed()), "{error}");
            }
        }
    }
}
