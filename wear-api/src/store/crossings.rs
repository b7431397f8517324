//! How urgent the advice on a part was when hooks were last told of it.

use std::collections::HashMap;
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::StoreError;
use super::instant::instant;
use super::many::Many;
use super::{Tx, on, statements};
use crate::domain::{Crossing, PartId};

const TABLE: &str = "crossings";

statements! {
    SAVE = "
        insert into crossings (workshop_id, part_id, level, evidence, crossed_at)
        values ($1, $2, $3, $4, $5)
        on conflict (workshop_id, part_id) do update set
            level = excluded.level, evidence = excluded.evidence, crossed_at = excluded.crossed_at";
}

static THESE: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select part_id, level, evidence, crossed_at from crossings where workshop_id = $1 and part_id = ?",
    )
});

pub(super) fn these() -> &'static [&'static str] {
    THESE.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    part_id: Uuid,
    level: i64,
    evidence: String,
    crossed_at: i64,
}

struct OfPart(PartId, Crossing);

impl TryFrom<Row> for OfPart {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { part_id, level, evidence, crossed_at } = row;
        let at = instant(crossed_at, TABLE, "crossed_at")?;
        Ok(Self(PartId::from_uuid(part_id), Crossing { level, evidence, at }))
    }
}

impl Tx {
    /// Where hooks were last told that these parts stand; a part of which they never were is missing.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn crossings(&mut self, parts: &[PartId]) -> Result<HashMap<PartId, Crossing>, StoreError> {
        let ids: Vec<Uuid> = parts.iter().map(|part| part.uuid()).collect();
        let found: Vec<OfPart> = self.rows_of::<Row, _>(&THESE, &ids).await?;
        Ok(found.into_iter().map(|OfPart(part, crossing)| (part, crossing)).collect())
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
