//! The drivetrain: teeth, links, lengths and the loads on teeth.

mod caution;
pub mod chain_length;
pub mod compatibility;
mod geometry;
mod layout;
pub mod procedure;
pub mod sprocket_load;
pub mod symptom;
mod typical;

pub use crate::units::{JockeyTeeth, Links, Teeth};
pub use caution::Caution;
pub use geometry::{
    PITCH_MM, chordal_variation, length_mm, micrometres_per_joint, percent_from_length,
    pitch_circle_diameter_mm, pitch_circumference_mm,
};
pub use layout::{
    DEFAULT_JOCKEY_TEETH, DEFAULT_WHEEL, Drivetrain, DrivetrainError, DrivetrainFacts, Gearing, default_limit,
};
pub use typical::TYPICAL_LN_SD;
