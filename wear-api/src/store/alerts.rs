//! How urgent the advice on a part was when hooks were last told of it.

use std::collections::HashMap;
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::StoreError;
use super::instant::instant;
use super::many::Many;
use super::{Tx, execute, statements};
use crate::domain::{Alert, PartId};

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

struct OfPart(PartId, Alert);

impl TryFrom<Row> for OfPart {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { part_id, level, evidence, crossed_at } = row;
        let at = instant(crossed_at, TABLE, "crossed_at")?;
        Ok(Self(PartId::from_uuid(part_id), Alert { level, evidence, at }))
    }
}

impl Tx {
    /// Where hooks were last told that these parts stand; a part of which they never were is missing.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn alerts(&mut self, parts: &[PartId]) -> Result<HashMap<PartId, Alert>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        let found: Vec<OfPart> = self.rows_of::<Row, _>(&THESE, ids).await?;
        Ok(found.into_iter().map(|OfPart(part, alert)| (part, alert)).collect())
    }

    /// Writes down where a part stands, in place of what was known.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such part.
    pub async fn save_alert(&mut self, part: PartId, alert: &Alert) -> Result<(), StoreError> {
        let Alert { level, evidence, at } = alert;
        execute!(self, SAVE, part.uuid(), *level, evidence, at.micros())?;
        Ok(())
    }
}
