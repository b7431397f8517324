//! Exposure: how many reference kilometres a ride is worth.
//!
//! A reference kilometre is a dry paved kilometre at 20 kJ of work at the chain, on 42/17 teeth with two 11-tooth
//! jockey wheels and a 2,105 mm wheel, 114 links, pedalled throughout, lubricated within 200 km.
//! The derivation, with its units, is in `DESIGN.md`.

pub mod care;
pub mod care_habit;
mod conditions;
mod context;
mod drivers;
mod energy;
mod gears;
pub mod odometer;
pub mod power;
mod reference_km;
mod sum;
pub mod track;
mod usage;

pub use conditions::Conditions;
pub use context::{Context, ContextMultipliers, Multiplier, Surface};
pub use drivers::{Driver, DriverParts};
pub use energy::{ChainEnergy, EnergySd, EnergySource, Motor};
pub use gears::{GearShare, GearShareError};
pub use reference_km::{ExposureModel, LnSd, RideExposure, RideFacts};
pub use sum::{Assumption, ExposureSum, RolledUp};
pub use usage::{Use, UseProfile};
