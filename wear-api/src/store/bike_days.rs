//! The rollup: sums over a bike's rides of one UTC date in one context.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use chrono::NaiveDate;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{date, day_number};
use super::many::Many;
use super::{Tx, execute, on, rows, statements, value_if_any};
use crate::domain::{BikeDay, BikeDayKey, BikeId};

const TABLE: &str = "bike_days";

statements! {
    CHANGE = "
        update bike_days set rides = rides + $6, distance_mm = distance_mm + $7, climb_mm = climb_mm + $8,
            energy_j = energy_j + $9, base_reference_mm = base_reference_mm + $10,
            measured_reference_mm = measured_reference_mm + $11,
            climb_reference_mm = climb_reference_mm + $12
        where workshop_id = $1 and bike_id = $2 and day = $3 and surface = $4 and wet = $5
        returning rides";
    REMOVE_EMPTY = "
        delete from bike_days
        where workshop_id = $1 and bike_id = $2 and day = $3 and surface = $4 and wet = $5 and rides = 0";
    REMOVE_ALL = "delete from bike_days where workshop_id = $1 and bike_id = $2";
    RANGE = "
        select bike_id, day, surface, wet, rides, distance_mm, climb_mm, energy_j, base_reference_mm,
            measured_reference_mm, climb_reference_mm
        from bike_days where workshop_id = $1 and bike_id = $2 and day >= $3 and day <= $4
        order by day, surface, wet";
}

static ADD: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into bike_days (workshop_id, bike_id, day, surface, wet, rides, distance_mm, climb_mm, energy_j,
            base_reference_mm, measured_reference_mm, climb_reference_mm)
        values ",
        "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        1,
        " on conflict (workshop_id, bike_id, day, surface, wet) do update set
            rides = bike_days.rides + excluded.rides,
            distance_mm = bike_days.distance_mm + excluded.distance_mm,
            climb_mm = bike_days.climb_mm + excluded.climb_mm,
            energy_j = bike_days.energy_j + excluded.energy_j,
            base_reference_mm = bike_days.base_reference_mm + excluded.base_reference_mm,
            measured_reference_mm = bike_days.measured_reference_mm + excluded.measured_reference_mm,
            climb_reference_mm = bike_days.climb_reference_mm + excluded.climb_reference_mm",
    )
});

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select bike_id, day, surface, wet, rides, distance_mm, climb_mm, energy_j, base_reference_mm,
            measured_reference_mm, climb_reference_mm
         from bike_days where workshop_id = $1 and bike_id = ? and day >= ? and day <= ?",
    )
});

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

pub(super) fn add_statements() -> &'static [&'static str] {
    ADD.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    day: i64,
    surface: String,
    wet: bool,
    rides: i64,
    distance_mm: i64,
    climb_mm: i64,
    energy_j: i64,
    base_reference_mm: i64,
    measured_reference_mm: i64,
    climb_reference_mm: i64,
}

impl TryFrom<Row> for BikeDay {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_id,
            day,
            surface,
            wet,
            rides,
            distance_mm,
            climb_mm,
            energy_j,
            base_reference_mm,
            measured_reference_mm,
            climb_reference_mm,
        } = row;
        let key = BikeDayKey {
            bike_id: BikeId::from_uuid(bike_id),
            day: date(day, TABLE, "day")?,
            surface: surface.parse().sound(TABLE, "surface")?,
            wet,
        };
        Ok(Self {
            key,
            rides,
            distance_mm,
            climb_mm,
            energy_j,
            base_reference_mm,
            measured_reference_mm,
            climb_reference_mm,
        })
    }
}

/// Whether a sum may only be a change of a row that is there: something is taken away from it.
fn takes_away(sum: &BikeDay) -> bool {
    let BikeDay {
        key: _,
        rides,
        distance_mm,
        climb_mm,
        energy_j,
        base_reference_mm,
        measured_reference_mm,
        climb_reference_mm,
    } = sum;
    *rides <= 0
        || [distance_mm, climb_mm, energy_j, base_reference_mm, measured_reference_mm, climb_reference_mm]
            .into_iter()
            .any(|part| *part < 0)
}

impl Tx {
    /// Adds changes to the rollup; those of one row are summed first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] when something is taken away that was never added;
    /// [`StoreError::NotFound`] when a bike isn't the workshop's.
    pub async fn add_to_bike_days(
        &mut self,
        changes: impl IntoIterator<Item = BikeDay>,
    ) -> Result<(), StoreError> {
        let mut sums: BTreeMap<BikeDayKey, BikeDay> = BTreeMap::new();
        for change in changes {
            sums.entry(change.key).or_insert_with(|| BikeDay::empty(change.key)).add(&change);
        }
        let (changed, added): (Vec<BikeDay>, Vec<BikeDay>) =
            sums.into_values().filter(|sum| *sum != BikeDay::empty(sum.key)).partition(takes_away);
        self.insert_bike_days(&added).await?;
        for sum in &changed {
            self.change_bike_day(sum).await?;
        }
        Ok(())
    }

    async fn insert_bike_days(&mut self, sums: &[BikeDay]) -> Result<(), StoreError> {
        for (sql, batch) in ADD.batches(self.engine(), sums) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for sum in batch {
                    query = query
                        .bind(sum.key.bike_id.uuid())
                        .bind(day_number(sum.key.day))
                        .bind(sum.key.surface.as_str())
                        .bind(sum.key.wet)
                        .bind(sum.rides)
                        .bind(sum.distance_mm)
                        .bind(sum.climb_mm)
                        .bind(sum.energy_j)
                        .bind(sum.base_reference_mm)
                        .bind(sum.measured_reference_mm)
                        .bind(sum.climb_reference_mm);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    async fn change_bike_day(&mut self, sum: &BikeDay) -> Result<(), StoreError> {
        let BikeDayKey { bike_id, day, surface, wet } = sum.key;
        let left: Option<i64> = value_if_any!(
            self,
            CHANGE,
            bike_id.uuid(),
            day_number(day),
            surface.as_str(),
            wet,
            sum.rides,
            sum.distance_mm,
            sum.climb_mm,
            sum.energy_j,
            sum.base_reference_mm,
            sum.measured_reference_mm,
            sum.climb_reference_mm
        )?;
        match left {
            Some(0) => execute!(self, REMOVE_EMPTY, bike_id.uuid(), day_number(day), surface.as_str(), wet)?,
            Some(_) => {}
            None => Err("a ride that it never held is taken away").sound(TABLE, "rides")?,
        }
        Ok(())
    }

    /// A bike's sums from one UTC date to another, both included, in order of date.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bike_days(
        &mut self,
        bike: BikeId,
        from: NaiveDate,
        to: NaiveDate,
    ) -> Result<Vec<BikeDay>, StoreError> {
        let rows: Vec<Row> = rows!(self, RANGE, bike.uuid(), day_number(from), day_number(to))?;
        rows.into_iter().map(BikeDay::try_from).collect()
    }

    /// The sums of bikes from one UTC date to another each, both included, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bike_days_of(
        &mut self,
        spans: &[(BikeId, NaiveDate, NaiveDate)],
    ) -> Result<Vec<BikeDay>, StoreError> {
        let spans: Vec<(BikeId, i64, i64)> =
            spans.iter().map(|(bike, from, to)| (*bike, day_number(*from), day_number(*to))).collect();
        self.rows_between::<Row, _>(&OF_THESE_BIKES, &spans).await
    }

    /// Puts these sums in place of all that a bike has.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_bike_days(
        &mut self,
        bike: BikeId,
        sums: impl IntoIterator<Item = BikeDay>,
    ) -> Result<(), StoreError> {
        execute!(self, REMOVE_ALL, bike.uuid())?;
        self.add_to_bike_days(sums).await
    }
}
