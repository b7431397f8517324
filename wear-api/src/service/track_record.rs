//! The track record: how forecasts did.

use std::collections::BTreeMap;

use wear_core::fleet::demand_record::{DemandRecord, QuarterDemand};
use wear_core::fleet::passage_record::PassageTally;
use wear_core::fleet::skip_reliability::SkipReliability;
use wear_core::fleet::swap_by_record::SwapByTally;
use wear_core::fleet::track_record::Tally;

use super::{Actor, ServiceError, Services};
use crate::domain::{Drift, GroupName, Made, Month, MonthlyTally, RecordTally, Sums};
use crate::store::{StoreError, Tx};

/// Months up to the present one that the record's page looks at (A).
pub const MONTHS: i64 = 12;

/// How forecasts did.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Held {
    /// The scores added up.
    pub tally: Tally,
    /// Forecasts among them that were kept before the reading was taken.
    pub kept: i64,
}

/// How forecasts did that people act on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ActedOn {
    /// Kilometres to the limit.
    pub kilometres: PassageTally,
    /// Dates of the limit.
    pub dates: PassageTally,
    /// The same by the season in which the forecast was made: from December, from March, from June, from September on.
    pub seasons: [PassageTally; 4],
    /// Days named for swaps.
    pub swap_by: SwapByTally,
    /// Swaps of each quarter that is over, by its first month.
    pub quarters: BTreeMap<Month, QuarterDemand>,
    /// Skipping under new chains.
    pub skips: SkipReliability,
}

impl ActedOn {
    /// How the forecasts of swaps did.
    #[must_use]
    pub fn demand(&self) -> DemandRecord {
        DemandRecord::of(self.quarters.values())
    }

    /// Whether nothing is known yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        let Self { kilometres, dates, seasons: _, swap_by, quarters, skips } = self;
        kilometres.forecasts + dates.forecasts + swap_by.ridden + swap_by.early == 0
            && quarters.is_empty()
            && skips.all().chains == 0
    }

    fn add(&mut self, month: Month, sums: &Sums) {
        match sums {
            Sums::Kilometres(tally) => self.kilometres += tally,
            Sums::Dates(tally) => {
                self.dates += tally;
                let season = (month.number() + 1).rem_euclid(12) / 3;
                self.seasons[usize::try_from(season).unwrap_or(0).min(3)] += tally;
            }
            Sums::SwapBy(tally) => self.swap_by += tally,
            // Counts of groups don't add up: each has its own.
            Sums::Demand(quarter) => drop(self.quarters.insert(month, *quarter)),
            Sums::Skips(tally) => self.skips += tally,
        }
    }
}

/// Forecasts that somebody could have seen, and forecasts that were made later, apart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Apart {
    /// Shown at the time.
    pub shown: ActedOn,
    /// Made later, from what was known at the time.
    pub made_later: ActedOn,
}

impl Apart {
    fn of(&mut self, made: Made) -> &mut ActedOn {
        match made {
            Made::Shown => &mut self.shown,
            Made::MadeLater => &mut self.made_later,
        }
    }
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
    /// What people act on: all of it.
    pub acted_on: Apart,
    /// What people act on, by group.
    pub acted_on_in: BTreeMap<GroupName, Apart>,
}

impl TrackRecord {
    fn of(tallies: Vec<MonthlyTally>, passages: Vec<RecordTally>, only: Option<&GroupName>) -> Self {
        let mut record = Self::default();
        for MonthlyTally { group, month, tally, kept } in tallies {
            let month = record.months.entry(month).or_default();
            let group = record.groups.entry(group).or_default();
            for held in [&mut record.overall, month, group] {
                held.tally += tally;
                held.kept += kept;
            }
        }
        for RecordTally { made, group, month, sums } in passages {
            let Some(group) = group else {
                if only.is_none() {
                    record.acted_on.of(made).add(month, &sums);
                }
                continue;
            };
            if only.is_some_and(|only| *only != group) {
                continue;
            }
            // Where one group is asked for, its counts are all there are.
            if only.is_some() || !matches!(sums, Sums::Demand(_)) {
                record.acted_on.of(made).add(month, &sums);
            }
            record.groups.entry(group.clone()).or_default();
            record.acted_on_in.entry(group).or_default().of(made).add(month, &sums);
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

/// How forecasts did from one month to another, both included: those of elongation by the month of the reading, those of
/// what people act on by the month in which they were made.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    group: Option<&GroupName>,
    months: (Month, Month),
) -> Result<TrackRecord, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(between(&mut tx, group, months).await?)
}

/// The same in a transaction that has begun.
pub(super) async fn between(
    tx: &mut Tx,
    group: Option<&GroupName>,
    months: (Month, Month),
) -> Result<TrackRecord, StoreError> {
    let tallies = tx.tallies(group, months).await?;
    Ok(TrackRecord::of(tallies, tx.record_tallies(months).await?, group))
}
