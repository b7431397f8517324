//! Numbers with a unit that cannot be out of range.
//!
//! Each type wraps a private `f64` inside the range its [`Bound`](crate::bounds::Bound) gives.

use crate::bounds::{self, OutOfRange};

/// A number, and its unit where it has one: `18.4 km`, `0.75 %`.
fn with_unit(f: &mut std::fmt::Formatter<'_>, value: f64, unit: &str) -> std::fmt::Result {
    std::fmt::Display::fmt(&value, f)?;
    match unit {
        "" => Ok(()),
        "percent" => f.write_str(" %"),
        unit => write!(f, " {unit}"),
    }
}

macro_rules! quantity {
    ($($(#[$doc:meta])* $type:ident in $bound:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $type(f64);

        impl $type {
            #[doc = concat!("Parses a number inside [`bounds::", stringify!($bound), "`].")]
            ///
            /// # Errors
            /// [`OutOfRange`] when the number is not finite or outside the range.
            pub fn new(value: f64) -> Result<Self, OutOfRange> {
                bounds::$bound.check(value).map(Self)
            }

            /// Nothing: the number nearest to zero that is legal.
            pub const ZERO: Self = Self(bounds::$bound.nearest_to_zero());

            #[doc = concat!("A constant inside [`bounds::", stringify!($bound), "`], checked when the constant is compiled.")]
            #[allow(dead_code)]
            pub(crate) const fn constant(value: f64) -> Self {
                assert!(value >= bounds::$bound.minimum && value <= bounds::$bound.maximum);
                Self(value)
            }

            /// The number in the type's unit.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl std::fmt::Display for $type {
            /// The number with its unit, to the precision asked for.
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                with_unit(f, self.0, bounds::$bound.unit)
            }
        }

        impl TryFrom<f64> for $type {
            type Error = OutOfRange;

            fn try_from(value: f64) -> Result<Self, OutOfRange> {
                Self::new(value)
            }
        }

        impl From<$type> for f64 {
            fn from(value: $type) -> f64 {
                value.0
            }
        }
    )+};
}

quantity! {
    /// Elongation read from a chain, percent of the nominal pitch.
    ElongationReading in ELONGATION_READING;
    /// Elongation at which a chain has to come off, percent of the nominal pitch.
    Limit in LIMIT;
    /// Nominal mark of a drop-in gauge, percent of the nominal pitch.
    GaugeMark in GAUGE_MARK;
    /// Exposure in reference kilometres: dry, paved, 20 kJ/km at the chain, 42/17 teeth, 114 links, lubricated.
    ReferenceKilometres in REFERENCE_KM;
    /// A ride's distance, km.
    RideDistance in RIDE_DISTANCE;
    /// A distance, km.
    Kilometres in DISTANCE;
    /// A ride's climb, m.
    RideAscent in RIDE_ASCENT;
    /// Work at the pedals over one ride, kJ.
    RideEnergy in RIDE_ENERGY;
    /// A probability, 0 to 1.
    Probability in PROBABILITY;
    /// Bias of an instrument, percent elongation, read minus true.
    InstrumentBias in INSTRUMENT_BIAS;
    /// Standard deviation of one reading, percent elongation.
    InstrumentSd in INSTRUMENT_SD;
    /// Mass of rider, bike and load, kg.
    TotalMass in TOTAL_MASS;
    /// Chainstay length, mm.
    Chainstay in CHAINSTAY;
    /// Rolling circumference of the driven wheel, mm.
    WheelCircumference in WHEEL_CIRCUMFERENCE;
    /// Share of a ride's distance that was pedalled.
    PedallingShare in PEDALLING_SHARE;
    /// Drag area C_d·A of bike and rider, m².
    DragArea in DRAG_AREA;
    /// Rolling force over weight.
    RollingCoefficient in ROLLING;
    /// Density of the air, kg/m³.
    AirDensity in AIR_DENSITY;
    /// Speed of the wind, m/s.
    WindSpeed in WIND_SPEED;
    /// A bearing, degrees from north.
    Bearing in BEARING;
    /// Standard deviation of the logarithm of a positive number: 0.1 is about ten percent.
    LogSd in LN_SD;
}

macro_rules! count {
    ($($(#[$doc:meta])* $type:ident in $bound:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $type(u16);

        impl $type {
            #[doc = concat!("Parses a whole number inside [`bounds::", stringify!($bound), "`].")]
            ///
            /// # Errors
            /// [`OutOfRange`] when the number is outside the range.
            pub fn new(value: u32) -> Result<Self, OutOfRange> {
                bounds::$bound.check(f64::from(value)).map(|_| Self(value as u16))
            }

            #[doc = concat!("A constant inside [`bounds::", stringify!($bound), "`], checked when the constant is compiled.")]
            #[allow(dead_code)]
            pub(crate) const fn constant(value: u16) -> Self {
                assert!(value as f64 >= bounds::$bound.minimum && value as f64 <= bounds::$bound.maximum);
                Self(value)
            }

            /// The count.
            #[must_use]
            pub const fn get(self) -> u16 {
                self.0
            }

            /// The count as a floating-point number, for formulas.
            #[must_use]
            pub fn as_f64(self) -> f64 {
                f64::from(self.0)
            }
        }

        impl std::fmt::Display for $type {
            /// The count with its unit.
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(f, "{} {}", self.0, bounds::$bound.unit)
            }
        }

        impl TryFrom<u32> for $type {
            type Error = OutOfRange;

            fn try_from(value: u32) -> Result<Self, OutOfRange> {
                Self::new(value)
            }
        }
    )+};
}

count! {
    /// Teeth of a ring or cog.
    Teeth in TEETH;
    /// Teeth of a jockey wheel.
    JockeyTeeth in JOCKEY_TEETH;
    /// Chain length in pitches; a link is one pitch.
    Links in LINKS;
}

impl Probability {
    /// The probability nearest to a computed number; 0 for NaN.
    #[must_use]
    pub fn saturating(value: f64) -> Self {
        Self(if value.is_nan() { 0.0 } else { value.clamp(0.0, 1.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_shown_with_their_units() {
        assert_eq!(Limit::new(0.75).map(|limit| limit.to_string()), Ok("0.75 %".to_owned()));
        assert_eq!(RideDistance::new(18.44).map(|km| format!("{km:.1}")), Ok("18.4 km".to_owned()));
        assert_eq!(Probability::new(0.25).map(|p| p.to_string()), Ok("0.25".to_owned()));
        assert_eq!(Teeth::new(42).map(|teeth| teeth.to_string()), Ok("42 teeth".to_owned()));
        assert_eq!(Links::new(114).map(|links| links.to_string()), Ok("114 pitches".to_owned()));
    }
}
