//! Work at the chain, from the best source that a ride offers.

use super::power::{DEFAULT_EFFICIENCY, GRAVITY};
use super::reference_km::RideFacts;
use super::{Surface, Use};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Where the work at the chain comes from, best first.
    EnergySource, "energy source" {
        /// A power meter's integral.
        Measured = "measured",
        /// A road-power model along the recorded track.
        RoadPower = "road_power",
        /// Distance and climb.
        DistanceAndClimb = "distance_and_climb",
        /// Distance only.
        Distance = "distance",
    }
}

vocabulary! {
    /// A motor, and whether its work goes through the chain.
    Motor, "motor" {
        /// No motor.
        None = "none",
        /// At the cranks: the motor's work goes through the chain.
        MidDrive = "mid_drive",
        /// In a hub: the motor's work bypasses the chain, and so does what it takes back when braking.
        Hub = "hub",
    }
}

/// Motor work per unit of the rider's work where the motor's is not recorded (A).
pub const DEFAULT_ASSIST_RATIO: f64 = 1.0;

impl EnergySource {
    pub(crate) const COUNT: usize = Self::ALL.len();

    pub(crate) const fn index(self) -> usize {
        self as usize
    }

    /// Standard deviations of the logarithm of the work (A): of one ride's own error, and of the error that all of a
    /// bike's rides share.
    #[must_use]
    pub const fn ln_sd(self) -> (f64, f64) {
        match self {
            Self::Measured => (0.02, 0.02),
            Self::RoadPower => (0.10, 0.12),
            Self::DistanceAndClimb => (0.15, 0.20),
            Self::Distance => (0.30, 0.25),
        }
    }
}

/// How far the logarithm of a ride's work may be off, where its recording tells better than its source does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EnergySd {
    /// Standard deviation that is this ride's own.
    pub own: f64,
    /// Standard deviation that all of the bike's rides share.
    pub shared: f64,
}

/// Work at the chain over one ride.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ChainEnergy {
    /// Work through the tight strand, kJ.
    pub kj: f64,
    /// Where the number comes from.
    pub source: EnergySource,
    /// Standard deviation of ln work that is this ride's own.
    pub own_ln_sd: f64,
    /// Standard deviation of ln work that all of the bike's rides share.
    pub shared_ln_sd: f64,
}

/// Standard deviation that an assumed motor share adds to ln work (A).
const ASSUMED_ASSIST_LN_SD: f64 = 0.25;

impl Use {
    /// The motor that a bike of this use has when nobody said (A).
    #[must_use]
    pub const fn usual_motor(self) -> Motor {
        match self {
            Self::EBike | Self::ECargo => Motor::MidDrive,
            _ => Motor::None,
        }
    }
}

/// Work at the pedals over one ride of this use without a motor, kJ, from distance, climb and mass (A; the climbing
/// term is m·g·h).
///
/// `climb_m` of `None` takes the use's usual climb. Indoors there is none.
pub(crate) fn estimated_work_kj(ride: &RideFacts) -> f64 {
    let profile = ride.usage.profile();
    let mass = ride.mass.map_or(profile.mass_kg, |mass| mass.get());
    let km = ride.distance.get();
    let climb_m = match (ride.surface, ride.climb) {
        (Surface::Indoor, _) => 0.0,
        (_, Some(climb)) => climb.get(),
        (_, None) => profile.climb_m_per_km * km,
    };
    distance_and_climb_kj(ride.usage, mass, km, climb_m)
}

/// Work at the pedals from distance and climb, kJ: `W = [(c·m·g + w_air)·d + m·g·h] / E_c` (A).
pub(crate) fn distance_and_climb_kj(usage: Use, mass_kg: f64, km: f64, climb_m: f64) -> f64 {
    let profile = usage.profile();
    let flat_kj = (profile.rolling * mass_kg * GRAVITY + profile.air_and_stops_kj_per_km) * km;
    (flat_kj + mass_kg * GRAVITY * climb_m / 1000.0) / DEFAULT_EFFICIENCY
}

/// Work at the chain over one ride, from the best source that it offers.
///
/// Measured power is the rider's. A mid-drive motor's work is added, as recorded or in the assumed ratio; a hub motor's
/// isn't. Modelled work is what the bike needed altogether, so a hub motor's share is taken off it.
pub(crate) fn chain_energy(ride: &RideFacts) -> ChainEnergy {
    let motor = ride.motor.unwrap_or(ride.usage.usual_motor());
    let sd = |source: EnergySource| {
        let known = ride.energy_sd.filter(|sd| sd.own.is_finite() && sd.shared.is_finite());
        known.map_or(source.ln_sd(), |sd| (sd.own.clamp(0.0, 2.0), sd.shared.clamp(0.0, 2.0)))
    };
    if let Some(rider) = ride.rider_energy {
        let (own, shared) = sd(EnergySource::Measured);
        let (kj, assumed) = match (motor, ride.motor_energy) {
            (Motor::MidDrive, Some(motor_energy)) => (rider.get() + motor_energy.get(), 0.0),
            (Motor::MidDrive, None) => (rider.get() * (1.0 + DEFAULT_ASSIST_RATIO), ASSUMED_ASSIST_LN_SD),
            (Motor::None | Motor::Hub, _) => (rider.get(), 0.0),
        };
        return ChainEnergy {
            kj,
            source: EnergySource::Measured,
            own_ln_sd: own,
            shared_ln_sd: f64::hypot(shared, assumed),
        };
    }
    let (needed_kj, source) = match (ride.road_power_energy, ride.climb) {
        (Some(energy), _) => (energy.get(), EnergySource::RoadPower),
        (None, Some(_)) => (estimated_work_kj(ride), EnergySource::DistanceAndClimb),
        (None, None) => (estimated_work_kj(ride), EnergySource::Distance),
    };
    let (own, shared) = if source == EnergySource::RoadPower { sd(source) } else { source.ln_sd() };
    let (kj, assumed) = match (motor, ride.motor_energy) {
        (Motor::Hub, Some(motor_energy)) => ((needed_kj - motor_energy.get()).max(0.0), 0.0),
        (Motor::Hub, None) => (needed_kj / (1.0 + DEFAULT_ASSIST_RATIO), ASSUMED_ASSIST_LN_SD),
        (Motor::None | Motor::MidDrive, _) => (needed_kj, 0.0),
    };
    ChainEnergy { kj, source, own_ln_sd: own, shared_ln_sd: f64::hypot(shared, assumed) }
}
