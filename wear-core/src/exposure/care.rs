//! Lubrication: a chain wears faster the longer it goes without care.
//!
//! The multiplier depends on the path: it is 1 up to 200 reference kilometres since the chain was cleaned and
//! lubricated, rises in a straight line to 2 at 800 and stays there. Kilometres in rain count three times towards the
//! 200 and the 800. All numbers are assumptions (A).

use crate::bounds::{self, OutOfRange};
use crate::units::Probability;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What was done to a chain.
    CareKind, "care" {
        /// Cleaned and lubricated: the count starts again.
        CleanedAndLubricated = "cleaned_and_lubricated",
        /// Lubricated over the dirt: half of the count stays (A).
        Lubricated = "lubricated",
        /// Cleaned without oil after it: the count stays (A).
        Cleaned = "cleaned",
    }
}

/// How the wear multiplier follows the distance since care.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CareModel {
    rise_from: f64,
    rise_to: f64,
    neglected: f64,
    rain_weight: f64,
}

impl Default for CareModel {
    fn default() -> Self {
        Self { rise_from: 200.0, rise_to: 800.0, neglected: 2.0, rain_weight: 3.0 }
    }
}

/// The state of lubrication, for checkpoints.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct CareState {
    /// Reference kilometres since the chain was cleaned and lubricated, rain counted by its weight.
    weighted_km: f64,
}

impl CareState {
    /// A new chain, or one just cleaned and lubricated.
    #[must_use]
    pub const fn fresh() -> Self {
        Self { weighted_km: 0.0 }
    }

    /// A state written down earlier. A negative number or NaN is taken as fresh.
    #[must_use]
    pub fn resumed(weighted_km: f64) -> Self {
        Self { weighted_km: if weighted_km > 0.0 { weighted_km.min(f64::MAX) } else { 0.0 } }
    }

    /// Reference kilometres since the chain was cleaned and lubricated, rain counted by its weight.
    #[must_use]
    pub const fn weighted_km(self) -> f64 {
        self.weighted_km
    }

    /// The state after care.
    #[must_use]
    pub fn after(self, care: CareKind) -> Self {
        match care {
            CareKind::CleanedAndLubricated => Self::fresh(),
            CareKind::Lubricated => Self { weighted_km: self.weighted_km / 2.0 },
            CareKind::Cleaned => self,
        }
    }
}

/// Exposure between two events, with wet and dry spread evenly over it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Segment {
    /// Ridden dry, reference kilometres before care; not negative.
    pub dry: f64,
    /// Ridden wet, reference kilometres before care; not negative.
    pub wet: f64,
}

/// One step in the life of a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum CareStep {
    /// It was ridden.
    Ride(Segment),
    /// It was looked after.
    Care(CareKind),
}

impl CareModel {
    /// The same with another multiplier for neglect.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`bounds::NEGLECT`].
    pub fn with_neglected(mut self, multiplier: f64) -> Result<Self, OutOfRange> {
        self.neglected = bounds::NEGLECT.check(multiplier)?;
        Ok(self)
    }

    /// The multiplier of a neglected chain.
    #[must_use]
    pub const fn neglected(&self) -> f64 {
        self.neglected
    }

    /// How much of a segment counts as neglected, 0 to 1, and the state after it: exposure with care is
    /// `(dry + wet)·(1 + (neglected − 1)·share)`.
    #[must_use]
    pub fn neglect(&self, state: CareState, segment: Segment) -> (Probability, CareState) {
        // The multiplier of a model that doubles at neglect is 1 + share.
        let doubling = Self { neglected: 2.0, ..*self };
        let (exposure, after) = doubling.accrue(state, segment);
        let whole = segment.dry + segment.wet;
        let share = if whole > 0.0 { exposure / whole - 1.0 } else { doubling.multiplier(state) - 1.0 };
        (Probability::saturating(share), after)
    }

    /// The wear multiplier in a state.
    #[must_use]
    pub fn multiplier(&self, state: CareState) -> f64 {
        let risen = (state.weighted_km - self.rise_from) / (self.rise_to - self.rise_from);
        1.0 + (self.neglected - 1.0) * risen.clamp(0.0, 1.0)
    }

    /// Exposure with care over one segment, reference kilometres, and the state after it. Exact: the multiplier is
    /// piecewise linear, so splitting a segment in proportion changes nothing.
    #[must_use]
    pub fn accrue(&self, state: CareState, segment: Segment) -> (f64, CareState) {
        // s = (dry + wet)/(u₁ − u₀) · ∫ m(u) du,  u₁ = u₀ + dry + 3·wet
        let from = state.weighted_km;
        let counted = segment.dry + self.rain_weight * segment.wet;
        if counted <= 0.0 {
            return (0.0, state);
        }
        let to = from + counted;
        let within = |low: f64, high: f64| (to.min(high) - from.max(low)).max(0.0);
        let fresh = within(0.0, self.rise_from);
        let rising = within(self.rise_from, self.rise_to);
        let neglected = within(self.rise_to, f64::INFINITY);
        let middle = 0.5 * (from.max(self.rise_from) + to.min(self.rise_to));
        let integral =
            fresh + rising * self.multiplier(CareState { weighted_km: middle }) + neglected * self.neglected;
        // The pieces' own sum is the divisor: where `counted` is lost in `from`, the quotient is still a multiplier.
        let pieces = fresh + rising + neglected;
        let mean = if pieces > 0.0 { integral / pieces } else { self.multiplier(state) };
        ((segment.dry + segment.wet) * mean, CareState { weighted_km: to })
    }

    /// Exposure with care of each ride in turn, and the state at the end. One number for each [`CareStep::Ride`].
    #[must_use]
    pub fn timeline(&self, start: CareState, steps: impl IntoIterator<Item = CareStep>) -> CareTimeline {
        let mut state = start;
        let mut accrued = Vec::new();
        for step in steps {
            match step {
                CareStep::Ride(segment) => {
                    let (exposure, after) = self.accrue(state, segment);
                    accrued.push(exposure);
                    state = after;
                }
                CareStep::Care(care) => state = state.after(care),
            }
        }
        CareTimeline { accrued, end: state }
    }

    /// Mean multiplier of a chain that is cleaned and lubricated every `interval` reference kilometres, of which the
    /// share `wet_share` (0 to 1) is ridden wet: what a forecast takes for the time to come.
    #[must_use]
    pub fn mean_multiplier(&self, interval: f64, wet_share: f64) -> f64 {
        let segment = Segment { dry: interval * (1.0 - wet_share), wet: interval * wet_share };
        let whole = segment.dry + segment.wet;
        if whole > 0.0 { self.accrue(CareState::fresh(), segment).0 / whole } else { 1.0 }
    }
}

/// What [`CareModel::timeline`] found.
#[derive(Debug, Clone, PartialEq)]
pub struct CareTimeline {
    /// Exposure with care of each ride, reference kilometres.
    pub accrued: Vec<f64>,
    /// The state after the last step.
    pub end: CareState,
}
