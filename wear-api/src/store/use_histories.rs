//! Daily use of bikes as their last outlooks saw it.

use std::sync::LazyLock;

use uuid::Uuid;
use wear_core::forecast::UseHistory;

use super::error::{Sound, StoreError};
use super::many::Many;
use super::{Tx, on, rows, statements};
use crate::domain::{BikeId, GroupName, UsedBike};

const TABLE: &str = "use_histories";

statements! {
    ALL = "
        select u.bike_id, b.bike_group, u.history
        from use_histories u join bikes b on b.workshop_id = u.workshop_id and b.bike_id = u.bike_id
        where u.workshop_id = $1 order by u.bike_id";
}

static SAVE: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into use_histories (workshop_id, bike_id, history) values ",
        "($1, ?, ?)",
        1,
        " on conflict (workshop_id, bike_id) do update set history = excluded.history
          where use_histories.history <> excluded.history",
    )
});

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select u.bike_id, b.bike_group, u.history
         from use_histories u join bikes b on b.workshop_id = u.workshop_id and b.bike_id = u.bike_id
         where u.workshop_id = $1 and u.bike_id = ?",
    )
});

pub(super) fn save_statements() -> &'static [&'static str] {
    SAVE.texts()
}

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    bike_group: String,
    history: String,
}

impl TryFrom<Row> for UsedBike {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bike_id, bike_group, history } = row;
        Ok(Self {
            bike_id: BikeId::from_uuid(bike_id),
            group: GroupName::new(&bike_group).sound("bikes", "bike_group")?,
            history: serde_json::from_str(&history).sound(TABLE, "history")?,
        })
    }
}

impl Tx {
    /// Stores how bikes were used, each of them once, in place of what outlooks saw before.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn save_use_histories(&mut self, used: &[(BikeId, UseHistory)]) -> Result<(), StoreError> {
        for (sql, batch) in SAVE.batches(self.engine(), used) {
            let batch = batch
                .iter()
                .map(|(bike, history)| Ok((bike.uuid(), serde_json::to_string(history)?)))
                .collect::<Result<Vec<(Uuid, String)>, serde_json::Error>>()
                .sound(TABLE, "history")?;
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for (bike, history) in &batch {
                    query = query.bind(*bike).bind(history);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// How these bikes were used, in no order; those that were never ridden are left out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn use_histories_of(&mut self, bikes: &[BikeId]) -> Result<Vec<UsedBike>, StoreError> {
        self.rows_of::<Row, _>(&OF_THESE_BIKES, bikes.iter().map(|bike| bike.uuid())).await
    }

    /// How all bikes of the workshop were used, those that were retired included, in the order of their ids.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn use_histories(&mut self) -> Result<Vec<UsedBike>, StoreError> {
        let rows: Vec<Row> = rows!(self, ALL)?;
        rows.into_iter().map(UsedBike::try_from).collect()
    }
}
