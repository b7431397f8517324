use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::domain::{BikeStart, KmBefore};

/// How the record of a bike's first chain begins.
#[derive(Serialize, ToSchema)]
#[serde(tag = "state", rename_all = "snake_case")]
#[schema(as = BikeStart)]
pub(super) enum StartDocument {
    /// With a new chain.
    New {
        /// The day on which it was fitted, where the workshop is.
        fitted_on: NaiveDate,
    },
    /// With the chain that was on, of an age that nobody knows.
    AsFound {
        /// Since when there is a record of it: the bike's entry, or its first event where that is earlier.
        since: DateTime<Utc>,
        /// About so far it had run before; null when nobody said.
        #[schema(example = 2000.0)]
        chain_km: Option<f64>,
    },
}

impl From<BikeStart> for StartDocument {
    fn from(start: BikeStart) -> Self {
        match start {
            BikeStart::New { fitted_on } => Self::New { fitted_on },
            BikeStart::AsFound { since, ridden } => {
                Self::AsFound { since: since.datetime(), chain_km: ridden.map(KmBefore::km) }
            }
        }
    }
}
