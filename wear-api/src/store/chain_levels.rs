//! What chains say of how fast their bikes wear them.

use std::sync::LazyLock;

use uuid::Uuid;
use wear_core::fleet;

use super::error::StoreError;
use super::many::Many;
use super::{Tx, execute, on, statements};
use crate::domain::{BikeId, ChainLevel, PartId};

statements! {
    CLEAR = "delete from chain_levels where workshop_id = $1";
}

static INSERT: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into chain_levels (workshop_id, bike_id, part_id, away, precision_of, as_found) values ",
        "($1, ?, ?, ?, ?, ?)",
        1,
        "",
    )
});

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select part_id, bike_id, away, precision_of, as_found
         from chain_levels where workshop_id = $1 and bike_id = ?",
    )
});

pub(super) fn insert_statements() -> &'static [&'static str] {
    INSERT.texts()
}

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    part_id: Uuid,
    bike_id: Uuid,
    away: f64,
    precision_of: f64,
    as_found: bool,
}

impl TryFrom<Row> for ChainLevel {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { part_id, bike_id, away, precision_of: precision, as_found: is_found } = row;
        Ok(Self {
            part_id: PartId::from_uuid(part_id),
            bike_id: BikeId::from_uuid(bike_id),
            level: fleet::ChainLevel { away, precision, is_found },
        })
    }
}

impl Tx {
    /// Stores what chains say, each of them once, in place of what had been learned before.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such chain or bike.
    pub async fn replace_chain_levels(&mut self, levels: &[ChainLevel]) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        for (sql, batch) in INSERT.batches(self.engine(), levels) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for ChainLevel { part_id, bike_id, level } in batch {
                    let fleet::ChainLevel { away, precision, is_found } = level;
                    query = query
                        .bind(bike_id.uuid())
                        .bind(part_id.uuid())
                        .bind(*away)
                        .bind(*precision)
                        .bind(*is_found);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// What the chains of these bikes say, by bike and chain.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn chain_levels_of_bikes(&mut self, bikes: &[BikeId]) -> Result<Vec<ChainLevel>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_BIKES, ids, |it: &ChainLevel| (it.bike_id, it.part_id))
            .await
    }
}
