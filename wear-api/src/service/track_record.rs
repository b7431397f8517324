//! The track record: how forecasts did.

use std::collections::BTreeMap;

use wear_core::fleet::track_record::{Record, Tally};

use super::{Actor, ServiceError, Services};
use crate::domain::{GroupName, Month, MonthlyTally, Warning};

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
    pub fn warnings(&self) -> Vec<Warning> {
        let groups = self.groups.iter().map(|(group, held)| (format!("Group {group}"), held));
        std::iter::once(("All groups together".to_owned(), &self.overall))
            .chain(groups)
            .filter_map(|(whose, held)| drift(&whose, &held.tally))
            .collect()
    }
}

fn drift(whose: &str, tally: &Tally) -> Option<Warning> {
    let record = tally.record().filter(Record::has_drifted)?;
    let (code, so) = if record.coverage < record.coverage_band.0 {
        (
            "intervals_too_narrow",
            "the forecasts were surer than they should have been: plan with more margin, and let the fleet learn anew",
        )
    } else {
        ("intervals_too_wide", "the forecasts were less sure than they could have been")
    };
    Some(Warning {
        code: code.to_owned(),
        message: format!(
            "{whose}: {:.0} % of {} readings lay between P10 and P90, and chance explains {:.0} to {:.0} %; {so}",
            100.0 * record.coverage,
            tally.readings,
            100.0 * record.coverage_band.0,
            100.0 * record.coverage_band.1,
        ),
    })
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
