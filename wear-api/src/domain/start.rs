//! How a part's stay on a bike begins.

use chrono::NaiveDate;
use wear_core::bike::ChainStart;
use wear_core::bounds::OutOfRange;
use wear_core::units::Kilometres;

use super::Timestamp;

/// How a part's stay begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FittingStart {
    /// The part was new, or its record goes back further than the stay.
    #[default]
    New,
    /// It was on the bike when the bike was entered, and nobody knows since when.
    AsFound {
        /// About so far it had run before, where somebody says so.
        ridden: Option<KmBefore>,
    },
}

impl FittingStart {
    /// Found on the bike, of an age that nobody knows.
    pub const AS_FOUND: Self = Self::AsFound { ridden: None };

    /// One word for it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::AsFound { .. } => "as_found",
        }
    }

    /// Whether it was found on the bike.
    #[must_use]
    pub const fn is_as_found(self) -> bool {
        matches!(self, Self::AsFound { .. })
    }

    /// How far the part had run before, where somebody says so.
    #[must_use]
    pub const fn ridden(self) -> Option<KmBefore> {
        match self {
            Self::New => None,
            Self::AsFound { ridden } => ridden,
        }
    }

    /// The same for the library.
    #[must_use]
    pub fn of_chain(self) -> ChainStart {
        match self {
            Self::New => ChainStart::New,
            Self::AsFound { ridden: None } => ChainStart::AsFound,
            Self::AsFound { ridden: Some(before) } => {
                Kilometres::new(before.km()).map_or(ChainStart::AsFound, ChainStart::AsFoundAfter)
            }
        }
    }
}

/// About so far a part had run before its record begins, in whole millimetres; range of distances.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KmBefore(i64);

impl KmBefore {
    /// From kilometres.
    ///
    /// # Errors
    /// [`OutOfRange`] outside the range of distances.
    pub fn new(km: f64) -> Result<Self, OutOfRange> {
        Ok(Self((Kilometres::new(km)?.get() * 1e6).round() as i64))
    }

    /// From millimetres.
    ///
    /// # Errors
    /// [`OutOfRange`] outside the range of distances.
    pub fn from_mm(mm: i64) -> Result<Self, OutOfRange> {
        Self::new(mm as f64 / 1e6)
    }

    /// In millimetres.
    #[must_use]
    pub const fn mm(self) -> i64 {
        self.0
    }

    /// In kilometres.
    #[must_use]
    pub fn km(self) -> f64 {
        self.0 as f64 / 1e6
    }
}

/// How the record of a bike's first chain begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BikeStart {
    /// With a new chain.
    New {
        /// The day on which it was fitted, where the workshop is.
        fitted_on: NaiveDate,
    },
    /// With the chain that was on.
    AsFound {
        /// The instant of the bike's first event, or of its entry where that is earlier.
        since: Timestamp,
        /// About so far it had run before, where somebody says so.
        ridden: Option<KmBefore>,
    },
}

/// A correction of how a bike's record begins.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StartPatch {
    /// The day on which the chain, cassette and rings that came first were fitted, new; `Some(None)` says that nobody
    /// knows.
    pub fitted_on: Option<Option<NaiveDate>>,
    /// About so far the first chain had run before; `Some(None)` says that nobody knows.
    pub ridden: Option<Option<KmBefore>>,
}

impl StartPatch {
    /// Whether it changes nothing.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.fitted_on.is_none() && self.ridden.is_none()
    }
}
