//! How urgent the advice on a part was when hooks were last told of it.

use super::error::StoreError;
use super::instant::instant;
use super::{Tx, on, statements};
use crate::domain::{Crossing, PartId};

const TABLE: &str = "crossings";

statements! {
    GET = "
        select level, evidence, crossed_at from crossings where workshop_id = $1 and part_id = $2";
    SAVE = "
        insert into crossings (workshop_id, part_id, level, evidence, crossed_at)
        values ($1, $2, $3, $4, $5)
        on conflict (workshop_id, part_id) do update set
            level = excluded.level, evidence = excluded.evidence, crossed_at = excluded.crossed_at";
}

impl Tx {
    /// Where hooks were last told that a part stands; none while they never were.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn crossing(&mut self, part: PartId) -> Result<Option<Crossing>, StoreError> {
        let row: Option<(i64, String, i64)> = on!(self.connection, |conn| sqlx::query_as(GET)
            .bind(self.workshop.uuid())
            .bind(part.uuid())
            .fetch_optional(conn)
            .await)?;
        row.map(|(level, evidence, at)| {
            Ok(Crossing { level, evidence, at: instant(at, TABLE, "crossed_at")? })
        })
        .transpose()
    }

    /// Writes down where a part stands, in place of what was known.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such part.
    pub async fn save_crossing(&mut self, part: PartId, crossing: &Crossing) -> Result<(), StoreError> {
        let Crossing { level, evidence, at } = crossing;
        on!(self.connection, |conn| sqlx::query(SAVE)
            .bind(self.workshop.uuid())
            .bind(part.uuid())
            .bind(*level)
            .bind(evidence)
            .bind(at.micros())
            .execute(conn)
            .await
            .map(|_| ()))?;
        Ok(())
    }
}
