//! The track record: how forecasts did.

use std::collections::BTreeMap;

use wear_core::fleet::track_record::Tally;

use super::{Actor, ServiceError, Services};
use crate::domain::{Drift, GroupName, Month, MonthlyTally};

/// How forecasts did.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Held {
    /// The scores added up.
    pub tally: Tally,
    /// Forecasts among them that were kept before the reading was taken.
    pub kept: i64,
}

/// The track record.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrackRecord {
    /// All of it.
    pub overall: Held,
    /// By group.
    pub groups: BTreeMap<GroupName, Held>,
    /// By month of the reading.
    pub months: BTreeMap<Month, Held>,
}

impl TrackRecord {
    fn of(tallies: Vec<MonthlyTally>) -> Self {
        let mut record = Self::default();
        for MonthlyTally { group, month, tally, kept } in tallies {
            let month = record.months.entry(month).or_default();
            let group = record.groups.entry(group).or_default();
            for held in [&mut record.overall, month, group] {
                held.tally += tally;
                held.kept += kept;
            }
        }
        record
    }

    /// Where the coverage has left the band that chance explains.
    #[must_use]
    pub fn drifts(&self) -> Vec<Drift> {
        let groups = self.groups.iter().map(|(group, held)| (Some(group), held));
        std::iter::once((None, &self.overall))
            .chain(groups)
            .filter_map(|(group, held)| Drift::of(group, &held.tally))
            .collect()
    }
}

/// How forecasts did on the readings from one month to another, both included.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    group: Option<&GroupName>,
    months: (Month, Month),
) -> Result<TrackRecord, ServiceError> {
    let mut tx = services.store.begin_read(actor.workshop_id).await?;
    Ok(TrackRecord::of(tx.tallies(group, months).await?))
}
