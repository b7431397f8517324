//! How a year goes for a workshop's bikes: learned each night from what outlooks saw of their use.

use std::collections::BTreeMap;

use wear_core::forecast::{UseHistory, UsualYear};

use crate::domain::{GroupName, GroupYear, Timestamp, UsedBike};

/// Fewer bikes have no year in common that their own records don't tell (A).
const FEWEST_BIKES: usize = 3;

/// The workshop's year first, then each group's. Costs seconds where bikes are many.
pub(super) fn learned(used: Vec<UsedBike>, learned_at: Timestamp) -> Vec<GroupYear> {
    let mut groups: BTreeMap<GroupName, Vec<UseHistory>> = BTreeMap::new();
    let mut all = Vec::with_capacity(used.len());
    for UsedBike { bike_id: _, group, history } in used {
        all.push(history.clone());
        groups.entry(group).or_default().push(history);
    }
    if all.len() < FEWEST_BIKES {
        return Vec::new();
    }
    let workshop = UsualYear::of(&all);
    let count = |bikes: &[UseHistory]| i64::try_from(bikes.len()).unwrap_or(i64::MAX);
    let whole = GroupYear { group: None, year: workshop.clone(), bikes: count(&all), learned_at };
    let groups = groups.into_iter().filter(|(_, bikes)| bikes.len() >= FEWEST_BIKES);
    let groups = groups.map(|(group, bikes)| GroupYear {
        group: Some(group),
        year: workshop.of_group(&bikes),
        bikes: count(&bikes),
        learned_at,
    });
    std::iter::once(whole).chain(groups).collect()
}
