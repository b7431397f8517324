//! How far the bikes of each group come on a reference kilometre.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::NaiveDate;
use wear_core::bike::RideTotals;

use super::error::{Sound, StoreError};
use super::instant::day_number;
use super::{Tx, execute, rows, statements, value_if_any};
use crate::domain::{GroupKilometres, GroupName};

statements! {
    RIDDEN = "
        select b.bike_group, d.surface, d.wet, cast(sum(d.rides) as bigint) as rides,
            cast(sum(d.distance_mm) as bigint) as distance_mm, cast(sum(d.energy_j) as bigint) as energy_j,
            cast(sum(d.base_reference_mm) as bigint) as base_reference_mm,
            cast(sum(d.measured_reference_mm) as bigint) as measured_reference_mm,
            cast(sum(d.climb_reference_mm) as bigint) as climb_reference_mm
        from bikes b join bike_days d on d.workshop_id = b.workshop_id and d.bike_id = b.bike_id
        where b.workshop_id = $1 and d.day >= $2
            and (b.retired_at is null or d.day <= b.retired_at / 86400000000)
        group by b.bike_group, d.surface, d.wet
        order by b.bike_group, d.surface, d.wet";
    CLEAR = "delete from group_kilometres where workshop_id = $1";
    INSERT = "
        insert into group_kilometres (workshop_id, bike_group, km_per_reference_km, distance_mm, learned_at)
        values ($1, $2, $3, $4, $5)";
    OF_GROUP = "
        select km_per_reference_km from group_kilometres where workshop_id = $1 and bike_group = $2";
}

#[derive(sqlx::FromRow)]
struct RiddenRow {
    bike_group: String,
    surface: String,
    wet: bool,
    rides: i64,
    distance_mm: i64,
    energy_j: i64,
    base_reference_mm: i64,
    measured_reference_mm: i64,
    climb_reference_mm: i64,
}

impl Tx {
    /// What the bikes of each group rode from a UTC date on, summed up by surface and water.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn ridden_by_groups(
        &mut self,
        from: NaiveDate,
    ) -> Result<BTreeMap<GroupName, Vec<RideTotals>>, StoreError> {
        let rows: Vec<RiddenRow> = rows!(self, RIDDEN, day_number(from))?;
        let mut groups: BTreeMap<GroupName, Vec<RideTotals>> = BTreeMap::new();
        for row in rows {
            let RiddenRow {
                bike_group,
                surface,
                wet,
                rides,
                distance_mm,
                energy_j,
                base_reference_mm,
                measured_reference_mm,
                climb_reference_mm,
            } = row;
            let sum = RideTotals {
                surface: surface.parse().sound("bike_days", "surface")?,
                wet,
                rides,
                distance_mm,
                energy_j,
                base_reference_mm,
                measured_reference_mm,
                climb_reference_mm,
            };
            groups.entry(GroupName::new(&bike_group).sound("bikes", "bike_group")?).or_default().push(sum);
        }
        Ok(groups)
    }

    /// Stores what was learned, in place of what had been learned before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_group_kilometres(&mut self, learned: &[GroupKilometres]) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        for GroupKilometres { group, km_per_reference_km, distance_mm, learned_at } in learned {
            execute!(self, INSERT, group.as_str(), *km_per_reference_km, *distance_mm, learned_at.micros())?;
        }
        Ok(())
    }

    /// Kilometres per reference kilometre of each of these groups; those that rode too little are left out.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn group_kilometres_of(
        &mut self,
        groups: BTreeSet<&GroupName>,
    ) -> Result<HashMap<GroupName, f64>, StoreError> {
        let mut known = HashMap::new();
        for group in groups {
            let ratio: Option<f64> = value_if_any!(self, OF_GROUP, group.as_str())?;
            if let Some(ratio) = ratio {
                known.insert(group.clone(), ratio);
            }
        }
        Ok(known)
    }
}
