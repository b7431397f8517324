//! What was changed, in the order in which it was committed.
//!
//! Each write notes in its [`Tx`] what it changed, and the transaction writes that down as it commits: one statement,
//! however much it did. Places in the feed are given when somebody reads it, one reader at a time, to what was committed
//! by then; what is committed later comes later, also where it was begun before.

use std::collections::HashMap;
use std::sync::LazyLock;

use uuid::{NoContext, Uuid};

use super::error::{Sound, StoreError};
use super::many::Many;
use super::{Tx, execute, on, row, rows, statements, value, value_if_any};
use crate::domain::{BikeId, Changed, ChangedKind, FeedPage, FeedPlace, Timestamp};

const TABLE: &str = "changes";

/// Most ids of a row.
const IDS: usize = 500;

/// Looks for a page of what is wanted.
const LOOKS: usize = 20;

/// Most rows that get their places at once.
const AT_ONCE: usize = 2_000;

statements! {
    LOCK = "
        insert into change_feeds (workshop_id, last_number) values ($1, 0)
        on conflict (workshop_id) do update set last_number = change_feeds.last_number
        returning last_number";
    NUMBER = "
        update changes set number = cast($2 as bigint) + places.place
        from (select change_id, row_number() over (order by change_id) as place
            from (select change_id from changes where workshop_id = $1 and number is null
                order by change_id limit $3) as waiting) as places
        where changes.workshop_id = $1 and changes.change_id = places.change_id
        returning changes.change_id";
    SET_LAST = "update change_feeds set last_number = $2 where workshop_id = $1";
    PURGED = "select purged_number from change_feeds where workshop_id = $1";
    SET_PURGED = "update change_feeds set purged_number = $2 where workshop_id = $1";
    PAGE = "
        select number, kind, bike_id, gone, ids from changes
        where workshop_id = $1 and number is not null and number > $2 order by number limit $3";
    BEFORE = "
        select coalesce(max(number), 0) from (select number from changes
            where workshop_id = $1 and change_id < $2 order by change_id desc limit 1) as oldest";
    PURGE = "delete from changes where workshop_id = $1 and number is not null and number <= $2";
}

static INSERT: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into changes (workshop_id, change_id, kind, bike_id, gone, ids) values ",
        "($1, ?, ?, ?, ?, ?)",
        1,
        "",
    )
});

pub(super) fn insert_statements() -> &'static [&'static str] {
    INSERT.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    number: i64,
    kind: String,
    bike_id: Option<Uuid>,
    gone: bool,
    ids: String,
}

/// A row as it is written.
struct Noted {
    kind: ChangedKind,
    bike_id: Option<BikeId>,
    gone: bool,
    ids: String,
}

/// What a transaction changed.
#[derive(Debug, Default)]
pub(super) struct Changes(Vec<Changed>);

impl Changes {
    /// Rows for it: each thing once, as it was left.
    fn rows(self) -> Vec<Noted> {
        let mut last = HashMap::with_capacity(self.0.len());
        for (place, changed) in self.0.iter().enumerate() {
            last.insert((changed.kind, changed.id), place);
        }
        let as_left = self.0.iter().enumerate().filter(|(place, of)| last[&(of.kind, of.id)] == *place);
        // Each kind, bike and fate by its first row that has room.
        let mut open: HashMap<(ChangedKind, Option<BikeId>, bool), (usize, usize)> = HashMap::new();
        let mut rows: Vec<Noted> = Vec::new();
        for (_, Changed { kind, id, bike_id, gone }) in as_left {
            let place = open.entry((*kind, *bike_id, *gone)).or_insert((rows.len(), 0));
            if place.1 == IDS {
                *place = (rows.len(), 0);
            }
            place.1 += 1;
            match rows.get_mut(place.0) {
                Some(row) => {
                    row.ids.push(' ');
                    row.ids.push_str(&id.to_string());
                }
                None => rows.push(Noted { kind: *kind, bike_id: *bike_id, gone: *gone, ids: id.to_string() }),
            }
        }
        rows
    }
}

impl Tx {
    /// Notes that something was entered, corrected or restored.
    pub(super) fn note(&mut self, kind: ChangedKind, bike_id: Option<BikeId>, id: Uuid) {
        self.changes.0.push(Changed { kind, id, bike_id, gone: false });
    }

    /// Notes that something was voided or deleted.
    pub(super) fn note_gone(&mut self, kind: ChangedKind, bike_id: Option<BikeId>, id: Uuid) {
        self.changes.0.push(Changed { kind, id, bike_id, gone: true });
    }

    /// Writes down what was noted.
    pub(super) async fn write_changes(&mut self) -> Result<(), StoreError> {
        let noted = std::mem::take(&mut self.changes).rows();
        for (sql, batch) in INSERT.batches(self.engine(), &noted) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for Noted { kind, bike_id, gone, ids } in batch {
                    query = query
                        .bind(Uuid::now_v7())
                        .bind(kind.as_str())
                        .bind(bike_id.map(BikeId::uuid))
                        .bind(*gone)
                        .bind(ids);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// Gives places to changes that have none, to so many rows at once; whether there may be more. Waits for others that
    /// do the same.
    ///
    /// # Errors
    /// [`StoreError::Interrupted`], [`StoreError::Unavailable`].
    pub async fn number_changes(&mut self) -> Result<bool, StoreError> {
        let last: i64 = value!(self, LOCK)?;
        let numbered: Vec<(Uuid,)> = rows!(self, NUMBER, last, AT_ONCE as i64)?;
        if !numbered.is_empty() {
            execute!(self, SET_LAST, last + numbered.len() as i64)?;
        }
        Ok(numbered.len() == AT_ONCE)
    }

    /// Where the changes that have places end.
    ///
    /// # Errors
    /// [`StoreError::Interrupted`], [`StoreError::Unavailable`].
    pub async fn end_of_changes(&mut self) -> Result<FeedPlace, StoreError> {
        Ok(FeedPlace { number: value!(self, LOCK)?, taken: 0 })
    }

    /// The last change that is kept no longer.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn purged_changes(&mut self) -> Result<FeedPlace, StoreError> {
        let number: Option<i64> = value_if_any!(self, PURGED)?;
        Ok(FeedPlace { number: number.unwrap_or(0), taken: 0 })
    }

    /// At most so many changes after a place; those of kinds that aren't wanted are left out, and don't count.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn changes(
        &mut self,
        after: FeedPlace,
        most: usize,
        is_wanted: impl Fn(&Changed) -> bool,
    ) -> Result<FeedPage, StoreError> {
        let mut page = FeedPage { items: Vec::new(), next: after, more: false };
        // Where few are wanted, a page ends after so many that aren't.
        for _ in 0..LOOKS {
            let found: Vec<Row> = rows!(self, PAGE, page.next.number, (most + 1) as i64)?;
            let is_last = found.len() <= most;
            for row in found {
                let changed = things(&row)?;
                let before = if row.number == after.number + 1 { after.taken } else { 0 };
                for (told, changed) in changed.iter().enumerate().skip(before) {
                    if !is_wanted(changed) {
                        continue;
                    }
                    if page.items.len() == most {
                        page.next = FeedPlace { number: row.number - 1, taken: told };
                        page.more = true;
                        return Ok(page);
                    }
                    page.items.push(*changed);
                }
                page.next = FeedPlace { number: row.number, taken: 0 };
            }
            if is_last {
                return Ok(page);
            }
        }
        page.more = true;
        Ok(page)
    }

    /// Forgets changes that were made before an instant; all of them have to have places.
    ///
    /// # Errors
    /// [`StoreError::Interrupted`], [`StoreError::Unavailable`].
    pub async fn purge_changes(&mut self, made_before: Timestamp) -> Result<(), StoreError> {
        let micros = u64::try_from(made_before.micros()).unwrap_or(0);
        let at =
            uuid::Timestamp::from_unix(NoContext, micros / 1_000_000, (micros % 1_000_000) as u32 * 1_000);
        let (last,): (i64,) = row!(self, BEFORE, Uuid::new_v7(at))?;
        if last > 0 {
            execute!(self, PURGE, last)?;
            execute!(self, SET_PURGED, last)?;
        }
        Ok(())
    }
}

fn things(row: &Row) -> Result<Vec<Changed>, StoreError> {
    let kind = row.kind.parse().sound(TABLE, "kind")?;
    let bike_id = row.bike_id.map(BikeId::from_uuid);
    let thing = |id: &str| Ok(Changed { kind, id: id.parse().sound(TABLE, "ids")?, bike_id, gone: row.gone });
    row.ids.split(' ').map(thing).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_thing_is_told_once_as_it_was_left() {
        let bike = Some(BikeId::generate());
        let ids: Vec<Uuid> = (0..IDS as u128 + 2).map(Uuid::from_u128).collect();
        let changed = |id, gone| Changed { kind: ChangedKind::Ride, id, bike_id: bike, gone };
        let mut noted: Vec<Changed> = ids.iter().map(|id| changed(*id, false)).collect();
        noted.push(changed(ids[0], true));
        noted.push(changed(ids[1], false));
        let rows = Changes(noted).rows();
        let counted: Vec<(bool, usize)> =
            rows.iter().map(|row| (row.gone, row.ids.split(' ').count())).collect();
        assert_eq!(counted, [(false, IDS), (true, 1), (false, 1)]);
        assert!(rows[1].ids == ids[0].to_string() && !rows[0].ids.contains(&ids[0].to_string()));
    }
}
