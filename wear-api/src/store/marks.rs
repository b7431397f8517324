//! Marks of bikes whose outlook doesn't know all events yet. The row is also the bike's lock.

use std::sync::LazyLock;

use uuid::Uuid;

use super::connection::Connection;
use super::error::StoreError;
use super::instant::instant;
use super::many::Many;
use super::turns::{Turn, Waiting};
use super::{SystemTx, Tx, execute, on, statements, value, value_if_any};
use crate::domain::{BikeId, Claim, ClaimedBike, Finished, GroupName, Timestamp, WorkshopId};

const TABLE: &str = "outlook_marks";

statements! {
    CLEAR = "
        delete from outlook_marks
        where workshop_id = $1 and bike_id = $2 and sequence = $3 and attempts = $4
        returning bike_id";
    RELEASE = "
        update outlook_marks set due_at = $4, marked_at = $4, attempts = 0
        where workshop_id = $1 and bike_id = $2 and attempts = $3 and sequence > $5 and marked_at = $6
        returning bike_id";
    PAUSE = "
        update outlook_marks set due_at = $5
        where workshop_id = $1 and bike_id = $2 and attempts = $3 and marked_at = $4";
    HOLD = "update outlook_marks set sequence = sequence where workshop_id = $1 and bike_id = $2";
    MARK_ALL = "
        insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts, rank)
        select workshop_id, bike_id, cast($2 as bigint), cast($2 as bigint), cast($2 as bigint), 0, 1
        from bikes where workshop_id = $1 and retired_at is null order by bike_id
        on conflict (workshop_id, bike_id) do update set sequence = outlook_marks.sequence + 1";
    MARK_GROUP = "
        insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts, rank)
        select workshop_id, bike_id, cast($2 as bigint), cast($2 as bigint), cast($2 as bigint), 0, 1
        from bikes where workshop_id = $1 and bike_group = $3 and retired_at is null order by bike_id
        on conflict (workshop_id, bike_id) do update set sequence = outlook_marks.sequence + 1";
    CLEAR_ANY = "delete from outlook_marks where workshop_id = $1 and bike_id = $2";
    IS_MARKED = "
        select cast(count(*) as bigint) from outlook_marks where workshop_id = $1 and bike_id = $2";
    PULL = "
        update outlook_marks set
            due_at = $1, marked_at = case when marked_at > $2 then cast($1 as bigint) else marked_at end
        where due_at > $2 and (attempts = 0 or due_at > $3)";
    BACKLOG = "select cast(count(*) as bigint), min(marked_at) from outlook_marks";
    WAITING = "
        with recursive turns (workshop_id, place) as (
            select workshop_id, place from (
                select workshop_id, 1 as place from outlook_marks
                where workshop_id > $1 and due_at <= $2 order by workshop_id limit 1) begun
            union all
            select (select m.workshop_id from outlook_marks m
                where m.workshop_id > turns.workshop_id and m.due_at <= $2 order by m.workshop_id limit 1), place + 1
            from turns where turns.workshop_id is not null and place < $3)
        select workshop_id from turns where workshop_id is not null";
}

/// The sequence begins at the present in microseconds, so that a mark made after another was cleared is
/// never taken for it. A bike that is leased or paused stays so.
static MARK: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into outlook_marks (workshop_id, bike_id, sequence, marked_at, due_at, attempts) values ",
        "($1, ?, ?, ?, ?, ?)",
        1,
        " on conflict (workshop_id, bike_id) do update set sequence = outlook_marks.sequence + 1, rank = 0",
    )
});

/// The one statement that differs by engine: workers on Postgres pass by what another one is just taking.
/// SQLite has one writer, which is never beaten to it.
pub(super) const CLAIM_POSTGRES: &str = "
    with due as (
        select workshop_id, bike_id from outlook_marks
        where workshop_id = $4 and due_at <= $1 order by rank, due_at limit $2 for update skip locked)
    update outlook_marks m set due_at = $3, attempts = m.attempts + 1
    from due where m.workshop_id = due.workshop_id and m.bike_id = due.bike_id
    returning m.workshop_id, m.bike_id, m.sequence, m.attempts, m.marked_at";

pub(super) const CLAIM_SQLITE: &str = "
    update outlook_marks set due_at = $3, attempts = attempts + 1
    where (workshop_id, bike_id) in (
        select workshop_id, bike_id from outlook_marks
        where workshop_id = $4 and due_at <= $1 order by rank, due_at limit $2)
    returning workshop_id, bike_id, sequence, attempts, marked_at";

pub(super) fn mark_statements() -> &'static [&'static str] {
    MARK.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    bike_id: Uuid,
    sequence: i64,
    attempts: i64,
    marked_at: i64,
}

impl TryFrom<Row> for ClaimedBike {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id, bike_id, sequence, attempts, marked_at } = row;
        Ok(Self {
            workshop_id: WorkshopId::from_uuid(workshop_id),
            bike_id: BikeId::from_uuid(bike_id),
            sequence,
            attempts,
            marked_at: instant(marked_at, TABLE, "marked_at")?,
        })
    }
}

impl Tx {
    /// Asks for new outlooks of these bikes and locks them until the transaction ends: other transactions
    /// that mark one of them wait. Call it before anything of the bikes is read or changed, and once for
    /// all bikes of a transaction.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when a bike isn't the workshop's.
    pub async fn mark_bikes(&mut self, bikes: &[BikeId], now: Timestamp) -> Result<(), StoreError> {
        // In order, so that two transactions wait for each other in one direction; once each, as a row
        // can't be changed twice by one statement.
        let mut bikes = bikes.to_vec();
        bikes.sort_unstable();
        bikes.dedup();
        for (sql, batch) in MARK.batches(self.engine(), &bikes) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for bike in batch {
                    query = query
                        .bind(bike.uuid())
                        .bind(now.micros())
                        .bind(now.micros())
                        .bind(now.micros())
                        .bind(0_i64);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// The same for every bike of the workshop that is in the fleet. Those of which something was told go first.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn mark_all_bikes(&mut self, now: Timestamp) -> Result<(), StoreError> {
        execute!(self, MARK_ALL, now.micros())?;
        Ok(())
    }

    /// The same for every bike of a group that is in the fleet.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn mark_group(&mut self, group: &GroupName, now: Timestamp) -> Result<(), StoreError> {
        execute!(self, MARK_GROUP, now.micros(), group.as_str())?;
        Ok(())
    }

    /// Locks a bike that is marked, as events on it do, without being one.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn hold_bike(&mut self, bike: BikeId) -> Result<(), StoreError> {
        execute!(self, HOLD, bike.uuid())?;
        Ok(())
    }

    /// Takes a bike's mark away: the caller marked it in this transaction, and stores an outlook that knows
    /// all events.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn clear_mark(&mut self, bike: BikeId) -> Result<(), StoreError> {
        execute!(self, CLEAR_ANY, bike.uuid())?;
        Ok(())
    }

    /// Whether a bike waits for a new outlook.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn is_marked(&mut self, bike: BikeId) -> Result<bool, StoreError> {
        let count: i64 = value!(self, IS_MARKED, bike.uuid())?;
        Ok(count > 0)
    }

    /// Ends a claim, before the outlook is stored and in the same transaction: when it answers
    /// [`Finished::Lost`] the outlook is not to be stored.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn finish_bike(
        &mut self,
        claimed: &ClaimedBike,
        now: Timestamp,
    ) -> Result<Finished, StoreError> {
        let ClaimedBike { workshop_id: _, bike_id, sequence, attempts, marked_at } = claimed;
        let cleared: Option<Uuid> = value_if_any!(self, CLEAR, bike_id.uuid(), *sequence, *attempts)?;
        if cleared.is_some() {
            return Ok(Finished::Cleared);
        }
        let released: Option<Uuid> = value_if_any!(
            self,
            RELEASE,
            bike_id.uuid(),
            *attempts,
            now.micros(),
            *sequence,
            marked_at.micros()
        )?;
        Ok(if released.is_some() { Finished::Again } else { Finished::Lost })
    }

    /// Lets a claimed bike wait until `due_at`, after its outlook couldn't be computed.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn pause_bike(&mut self, claimed: &ClaimedBike, due_at: Timestamp) -> Result<(), StoreError> {
        execute!(
            self,
            PAUSE,
            claimed.bike_id.uuid(),
            claimed.attempts,
            claimed.marked_at.micros(),
            due_at.micros()
        )?;
        Ok(())
    }
}

impl SystemTx {
    /// Claims bikes that wait: workshops take turns, beginning after the one whose turn was last, and of each those go first of
    /// which something was told. Commit before computing.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn claim_bikes(
        &mut self,
        claim: &Claim,
        turn: &mut Turn,
    ) -> Result<Vec<ClaimedBike>, StoreError> {
        let sql = match &self.connection {
            Connection::Postgres(..) => CLAIM_POSTGRES,
            Connection::Sqlite(..) => CLAIM_SQLITE,
        };
        let mut claimed = Vec::new();
        let mut waiting = self.waiting_bikes(turn, claim).await?;
        while let Some(workshop) = waiting.next() {
            let rows: Vec<Row> = on!(self.connection, |conn| sqlx::query_as(sql)
                .bind(claim.now.micros())
                .bind(waiting.share(claim.most, claimed.len()))
                .bind(claim.now.plus(claim.lease).micros())
                .bind(workshop)
                .fetch_all(conn)
                .await)?;
            for row in rows {
                claimed.push(row.try_into()?);
            }
        }
        Ok(claimed)
    }

    /// Workshops with bikes that wait, from the turn on and, where it was the last one's, from the beginning.
    async fn waiting_bikes(&mut self, turn: &mut Turn, claim: &Claim) -> Result<Waiting, StoreError> {
        loop {
            let found: Vec<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(WAITING)
                .bind(turn.after())
                .bind(claim.now.micros())
                .bind(Turn::AT_ONCE)
                .fetch_all(conn)
                .await)?;
            if let Some(waiting) = turn.taken_by(found) {
                return Ok(waiting);
            }
        }
    }

    /// Makes bikes due at `now` that were marked later than `credible`, or are to be tried again later than `furthest`; how
    /// many.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn pull_marks(
        &mut self,
        now: Timestamp,
        credible: Timestamp,
        furthest: Timestamp,
    ) -> Result<u64, StoreError> {
        Ok(on!(self.connection, |conn| sqlx::query(PULL)
            .bind(now.micros())
            .bind(credible.micros())
            .bind(furthest.micros())
            .execute(conn)
            .await
            .map(|done| done.rows_affected()))?)
    }

    /// How many bikes wait, and since when the first of them does.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn outlook_backlog(&mut self) -> Result<(i64, Option<Timestamp>), StoreError> {
        let (count, since): (i64, Option<i64>) =
            on!(self.connection, |conn| sqlx::query_as(BACKLOG).fetch_one(conn).await)?;
        Ok((count, since.map(|since| instant(since, TABLE, "marked_at")).transpose()?))
    }
}
