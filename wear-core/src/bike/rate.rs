//! How fast chains wear, and where that is known from.

use std::sync::Arc;

use crate::degradation::WearParameters;
use crate::exposure::ExposureSum;
use crate::fleet::{Drift, LubricantEffects};
use crate::units::LogSd;

/// Where a wear rate comes from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "snake_case"))]
pub enum RateSource {
    /// Nobody measured enough chains: our assumption.
    #[default]
    Default,
    /// Learned from the chains of the bike's group.
    Group {
        /// The group.
        group: String,
        /// Chains in it that have been read.
        chains_read: u64,
    },
    /// Learned from the fleet's chains, as the group has none.
    Fleet {
        /// Chains in the fleet that have been read.
        chains_read: u64,
    },
}

impl std::fmt::Display for RateSource {
    /// `default`, or whose chains taught it and how many they were.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Default => f.write_str("default"),
            Self::Fleet { chains_read } => write!(f, "fleet, {chains_read} chains read"),
            Self::Group { group, chains_read } => write!(f, "group {group}, {chains_read} chains read"),
        }
    }
}

/// How fast the chains of a bike's group wear.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rate {
    parameters: WearParameters,
    source: RateSource,
    /// How it drifts over the calendar.
    drift: Option<Drift>,
    /// What lubricants make of it.
    lubricants: Option<Arc<LubricantEffects>>,
}

impl Rate {
    /// Parameters, with where they come from.
    #[must_use]
    pub const fn new(parameters: WearParameters, source: RateSource) -> Self {
        Self { parameters, source, drift: None, lubricants: None }
    }

    /// The same of a fleet whose wear drifts so: exposure is counted by the clock of what lies ahead.
    #[must_use]
    pub fn with_drift(self, drift: Option<Drift>) -> Self {
        Self { drift, ..self }
    }

    /// How it drifts; `None` where nothing was learned of that.
    #[must_use]
    pub const fn drift(&self) -> Option<Drift> {
        self.drift
    }

    /// The same of a fleet that knows what lubricants make of it. The parameters are those of the group's usual mix of them.
    #[must_use]
    pub fn with_lubricants(self, lubricants: Option<Arc<LubricantEffects>>) -> Self {
        Self { lubricants, ..self }
    }

    /// What lubricants make of it; `None` where nothing was learned of them.
    #[must_use]
    pub fn lubricants(&self) -> Option<&LubricantEffects> {
        self.lubricants.as_deref()
    }

    /// The parameters.
    #[must_use]
    pub const fn parameters(&self) -> &WearParameters {
        &self.parameters
    }

    /// Where they come from.
    #[must_use]
    pub const fn source(&self) -> &RateSource {
        &self.source
    }

    /// The parameters for a chain whose exposure is made of `mix`.
    ///
    /// Learned rates were learned on kilometres counted like these and hold what they share; the defaults don't.
    pub(super) fn for_exposure(&self, mix: &ExposureSum) -> WearParameters {
        let shared = match self.source {
            RateSource::Default => mix.shared_ln_sd(),
            RateSource::Group { .. } | RateSource::Fleet { .. } => LogSd::ZERO,
        };
        self.parameters.with_shared_exposure_error(shared)
    }
}
