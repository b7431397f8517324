//! Calendars: the hash of each workshop's secret, and what stands in them.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{date, day_number, instant};
use super::{SystemTx, Tx, execute, on, rows, statements, value, value_if_any};
use crate::domain::{BikeId, GroupName, Label, PartId, PlannedSwap, Timestamp, WorkshopId};
use chrono::NaiveDate;

const TABLE: &str = "calendars";

statements! {
    SAVE = "
        insert into calendars (workshop_id, hash, created_at) values ($1, $2, $3)
        on conflict (workshop_id) do update set hash = excluded.hash, created_at = excluded.created_at";
    GET = "select created_at from calendars where workshop_id = $1";
    DELETE = "delete from calendars where workshop_id = $1 returning workshop_id";
    FIND = "select workshop_id from calendars where hash = $1";
    SWAPS = "
        select o.bike_id, o.part_id, o.swap_by, o.computed_at, b.label, b.bike_group
        from outlooks o join bikes b on b.workshop_id = o.workshop_id and b.bike_id = o.bike_id
        where o.workshop_id = $1 and o.attention_on < $2 and o.swap_by < $2 and o.part_id is not null
        order by o.attention_on, o.bike_id limit $3";
}

#[derive(sqlx::FromRow)]
struct SwapRow {
    bike_id: Uuid,
    part_id: Uuid,
    swap_by: i64,
    computed_at: i64,
    label: String,
    bike_group: String,
}

impl TryFrom<SwapRow> for PlannedSwap {
    type Error = StoreError;

    fn try_from(row: SwapRow) -> Result<Self, StoreError> {
        let SwapRow { bike_id, part_id, swap_by, computed_at, label, bike_group } = row;
        Ok(Self {
            bike_id: BikeId::from_uuid(bike_id),
            label: Label::new(&label).sound("bikes", "label")?,
            group: GroupName::new(&bike_group).sound("bikes", "bike_group")?,
            part_id: PartId::from_uuid(part_id),
            swap_by: date(swap_by, "outlooks", "swap_by")?,
            computed_at: instant(computed_at, "outlooks", "computed_at")?,
        })
    }
}

impl Tx {
    /// Gives the workshop's calendar a secret, in place of the one it had.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn save_calendar(&mut self, hash: &[u8; 32], at: Timestamp) -> Result<(), StoreError> {
        execute!(self, SAVE, hash.as_slice(), at.micros())?;
        Ok(())
    }

    /// Since when the workshop's calendar has the address that it has.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when it has none.
    pub async fn calendar(&mut self) -> Result<Timestamp, StoreError> {
        let created_at: i64 = value!(self, GET)?;
        instant(created_at, TABLE, "created_at")
    }

    /// Takes the calendar's address away.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when it has none.
    pub async fn delete_calendar(&mut self) -> Result<(), StoreError> {
        let deleted: Option<Uuid> = value_if_any!(self, DELETE)?;
        deleted.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Swaps that are due before a date, the most pressing first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn planned_swaps(
        &mut self,
        before: NaiveDate,
        most: i64,
    ) -> Result<Vec<PlannedSwap>, StoreError> {
        let rows: Vec<SwapRow> = rows!(self, SWAPS, day_number(before), most)?;
        rows.into_iter().map(PlannedSwap::try_from).collect()
    }
}

impl SystemTx {
    /// The workshop whose calendar has the secret of this hash.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn find_calendar(&mut self, hash: &[u8; 32]) -> Result<Option<WorkshopId>, StoreError> {
        let found: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(FIND)
            .bind(hash.as_slice())
            .fetch_optional(conn)
            .await)?;
        Ok(found.map(WorkshopId::from_uuid))
    }
}
