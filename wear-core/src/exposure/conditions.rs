//! What surface, water, a trainer and neglect do to wear, together.

use std::sync::LazyLock;

use super::ContextMultipliers;
use super::care::CareModel;
use super::care_habit::UnrecordedCare;

/// What surface, water, a trainer and neglect do to wear: assumed by default, or learned from a fleet
/// ([`crate::fleet::multipliers`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    multipliers: ContextMultipliers,
    care: CareModel,
    unrecorded: UnrecordedCare,
}

impl Default for Conditions {
    fn default() -> Self {
        static ASSUMED: LazyLock<Conditions> =
            LazyLock::new(|| Conditions::new(ContextMultipliers::default(), CareModel::default()));
        *ASSUMED
    }
}

impl Conditions {
    /// With these multipliers and this care.
    #[must_use]
    pub fn new(multipliers: ContextMultipliers, care: CareModel) -> Self {
        Self { multipliers, care, unrecorded: care.unrecorded() }
    }

    /// What surface, water and a trainer do.
    #[must_use]
    pub const fn multipliers(&self) -> &ContextMultipliers {
        &self.multipliers
    }

    /// What neglect does.
    #[must_use]
    pub const fn care(&self) -> &CareModel {
        &self.care
    }

    /// The mean over care that nobody records.
    #[must_use]
    pub const fn unrecorded(&self) -> UnrecordedCare {
        self.unrecorded
    }
}
