//! What a bike is used for, and what that lets us assume.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a bike is used for. It chooses the assumptions that fill in for facts nobody recorded.
    Use, "use" {
        /// Short trips with stops.
        Town = "town",
        /// Long trips with luggage.
        Touring = "touring",
        /// Fast riding on paved roads.
        Road = "road",
        /// Fast riding on unpaved roads.
        Gravel = "gravel",
        /// Off-road riding.
        Mountain = "mountain",
        /// Loads or passengers, without a motor.
        Cargo = "cargo",
        /// Any bike with a motor.
        EBike = "e_bike",
        /// Loads or passengers, with a motor.
        ECargo = "e_cargo",
    }
}

/// Assumptions about a use. Every number is an assumption (A), to be replaced by measured energy, climb, mass and gears.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct UseProfile {
    /// Mass of rider, bike and load, kg.
    pub mass_kg: f64,
    /// Rolling force over weight.
    pub rolling: f64,
    /// Work against air and in braking for stops, kJ per km.
    pub air_and_stops_kj_per_km: f64,
    /// Climb, m per km.
    pub climb_m_per_km: f64,
    /// Distance per turn of the crank that the rider likes best, m.
    pub development_m: f64,
}

impl Use {
    /// The assumptions about this use.
    #[must_use]
    pub const fn profile(self) -> UseProfile {
        match self {
            Self::Town => row(90.0, 0.006, 10.0, 4.0, 4.6),
            Self::Touring => row(105.0, 0.0055, 10.0, 9.0, 4.2),
            Self::Road => row(84.0, 0.0045, 14.0, 8.0, 5.5),
            Self::Gravel => row(86.0, 0.009, 11.0, 10.0, 4.7),
            Self::Mountain => row(90.0, 0.014, 5.0, 22.0, 2.9),
            Self::Cargo => row(140.0, 0.008, 12.0, 4.0, 4.0),
            Self::EBike => row(110.0, 0.007, 14.0, 6.0, 5.2),
            Self::ECargo => row(190.0, 0.008, 15.0, 5.0, 4.5),
        }
    }
}

const fn row(
    mass_kg: f64,
    rolling: f64,
    air_and_stops_kj_per_km: f64,
    climb_m_per_km: f64,
    development_m: f64,
) -> UseProfile {
    UseProfile { mass_kg, rolling, air_and_stops_kj_per_km, climb_m_per_km, development_m }
}
