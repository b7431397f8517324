//! Closed forms of chain and sprocket geometry.

use std::f64::consts::PI;

use super::Teeth;

/// Pitch of a bicycle chain: 12.7 mm (S: ISO 9633; half an inch).
pub const PITCH_MM: f64 = 12.7;

/// Diameter in mm of the circle through the pin centres of a chain that lies on `teeth` teeth
/// (C: the closed form of any machine-design handbook).
#[must_use]
pub fn pitch_circle_diameter_mm(teeth: Teeth) -> f64 {
    // d = p / sin(180°/z)
    PITCH_MM / (PI / teeth.as_f64()).sin()
}

/// Chain travel in mm per turn of a sprocket.
///
/// A turn moves one pitch per tooth: this is the perimeter of the polygon of pins, not of the circle.
#[must_use]
pub fn pitch_circumference_mm(teeth: Teeth) -> f64 {
    PITCH_MM * teeth.as_f64()
}

/// Relative variation of chain speed over one tooth, from the polygon that the chain forms: a share, not percent
/// (C: the closed form of any machine-design handbook).
#[must_use]
pub fn chordal_variation(teeth: Teeth) -> f64 {
    // Δv/v = 1 − cos(180°/z)
    1.0 - (PI / teeth.as_f64()).cos()
}

/// Length in mm of `pitches` pitches of a chain elongated by `percent`.
#[must_use]
pub fn length_mm(percent: f64, pitches: f64) -> f64 {
    pitches * PITCH_MM * (1.0 + percent / 100.0)
}

/// Elongation in percent of a chain of which `pitches` pitches measure `length_mm`.
///
/// `pitches` must not be zero; callers hold it inside [`crate::bounds::MEASURED_PITCHES`].
#[must_use]
pub fn percent_from_length(length_mm: f64, pitches: f64) -> f64 {
    100.0 * (length_mm / (pitches * PITCH_MM) - 1.0)
}

/// Growth of one joint in µm at an elongation of `percent`: 0.5 % is 63.5 µm.
#[must_use]
pub fn micrometres_per_joint(percent: f64) -> f64 {
    percent / 100.0 * PITCH_MM * 1000.0
}
