//! Jobs of the worker.

use serde::Serialize;
use sqlx::types::Json;
use uuid::Uuid;

use super::connection::Connection;
use super::error::{Sound, StoreError};
use super::turns::{Turn, Waiting};
use super::{SystemTx, Tx, execute, on, statements, value, value_if_any};
use crate::domain::{Backlog, Claim, ClaimedJob, Finished, JobId, JobKind, NewJob, Timestamp, WorkshopId};

const TABLE: &str = "jobs";

statements! {
    BACKLOG = "
        select
            (select count(*) from outlook_marks) as bikes,
            (select min(marked_at) from outlook_marks) as bike_since,
            (select count(*) from jobs where due_at <= $1 and kind <> 'send_digest') as jobs,
            (select min(due_at) from jobs where due_at <= $1 and kind <> 'send_digest') as job_since,
            (select count(*) from jobs where attempts > 0 and kind <> 'deliver_hook') as begun";
    ENQUEUE = "
        insert into jobs (workshop_id, job_id, kind, job_key, payload, sequence, due_at, attempts, created_at)
        values ($1, $2, $3, $4, $5, $6, $7, 0, $6)
        on conflict (workshop_id, kind, job_key) do update set
            sequence = jobs.sequence + 1, payload = excluded.payload
        returning job_id";
    CLEAR = "
        delete from jobs where workshop_id = $1 and job_id = $2 and sequence = $3 and attempts = $4
        returning job_id";
    RELEASE = "
        update jobs set due_at = $4, attempts = 0, last_error = null
        where workshop_id = $1 and job_id = $2 and attempts = $3
        returning job_id";
    WAITING = "
        with recursive turns (workshop_id, place) as (
            select workshop_id, place from (
                select workshop_id, 1 as place from jobs
                where kind = $4 and workshop_id > $1 and due_at <= $2 order by workshop_id limit 1) begun
            union all
            select (select j.workshop_id from jobs j
                where j.kind = $4 and j.workshop_id > turns.workshop_id and j.due_at <= $2
                order by j.workshop_id limit 1), place + 1
            from turns where turns.workshop_id is not null and place < $3)
        select workshop_id from turns where workshop_id is not null";
    PULL = "update jobs set due_at = $2 where kind = $1 and due_at > $3";
    PAUSE = "
        update jobs set due_at = $4, last_error = $5
        where workshop_id = $1 and job_id = $2 and attempts = $3";
}

/// See `marks`: the one thing that differs by engine.
pub(super) const CLAIM_POSTGRES: &str = "
    with due as (
        select workshop_id, job_id from jobs
        where kind = $1 and workshop_id = $5 and due_at <= $2 order by due_at limit $3 for update skip locked)
    update jobs j set due_at = $4, attempts = j.attempts + 1
    from due where j.workshop_id = due.workshop_id and j.job_id = due.job_id
    returning j.workshop_id, j.job_id, j.kind, j.job_key, j.payload, j.attempts, j.sequence";

pub(super) const CLAIM_SQLITE: &str = "
    update jobs set due_at = $4, attempts = attempts + 1
    where (workshop_id, job_id) in (
        select workshop_id, job_id from jobs
        where kind = $1 and workshop_id = $5 and due_at <= $2 order by due_at limit $3)
    returning workshop_id, job_id, kind, job_key, payload, attempts, sequence";

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    job_id: Uuid,
    kind: String,
    job_key: String,
    payload: Json<serde_json::Value>,
    attempts: i64,
    sequence: i64,
}

impl TryFrom<Row> for ClaimedJob {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id, job_id, kind, job_key, payload: Json(payload), attempts, sequence } = row;
        Ok(Self {
            id: JobId::from_uuid(job_id),
            workshop_id: WorkshopId::from_uuid(workshop_id),
            kind: kind.parse().sound(TABLE, "kind")?,
            key: job_key,
            payload,
            attempts,
            sequence,
        })
    }
}

impl Tx {
    /// Asks for a job; one that waits or runs already with the same kind and key takes on the payload, and
    /// one that runs will run again.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn enqueue<P: Serialize + Sync>(&mut self, job: &NewJob<P>) -> Result<JobId, StoreError> {
        let NewJob { kind, key, payload, due_at, created_at } = job;
        let id: Uuid = value!(
            self,
            ENQUEUE,
            JobId::generate().uuid(),
            kind.as_str(),
            key,
            Json(payload),
            created_at.micros(),
            due_at.micros()
        )?;
        Ok(JobId::from_uuid(id))
    }

    /// Ends a claim, before the job's results are stored and in the same transaction: when it answers
    /// [`Finished::Lost`] they are not to be stored.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn finish_job(&mut self, claimed: &ClaimedJob, now: Timestamp) -> Result<Finished, StoreError> {
        let cleared: Option<Uuid> =
            value_if_any!(self, CLEAR, claimed.id.uuid(), claimed.sequence, claimed.attempts)?;
        if cleared.is_some() {
            return Ok(Finished::Cleared);
        }
        let released: Option<Uuid> =
            value_if_any!(self, RELEASE, claimed.id.uuid(), claimed.attempts, now.micros())?;
        Ok(if released.is_some() { Finished::Again } else { Finished::Lost })
    }

    /// Lets a claimed job wait until `due_at` after it failed.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn pause_job(
        &mut self,
        claimed: &ClaimedJob,
        due_at: Timestamp,
        error: &str,
    ) -> Result<(), StoreError> {
        execute!(self, PAUSE, claimed.id.uuid(), claimed.attempts, due_at.micros(), error)?;
        Ok(())
    }
}

impl SystemTx {
    /// What waits for the worker, over all workshops.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn backlog(&mut self, now: Timestamp) -> Result<Backlog, StoreError> {
        let (bikes, bike_since, jobs, job_since, begun): (i64, Option<i64>, i64, Option<i64>, i64) =
            on!(self.connection, |conn| sqlx::query_as(BACKLOG).bind(now.micros()).fetch_one(conn).await)?;
        let seconds =
            |since: Option<i64>| since.map_or(0.0, |since| (now.micros() - since).max(0) as f64 / 1e6);
        Ok(Backlog {
            bikes,
            oldest_bike_seconds: seconds(bike_since),
            jobs,
            oldest_job_seconds: seconds(job_since),
            begun,
        })
    }

    /// Makes jobs of a kind due at `now` that are due later than `furthest`; how many.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`], [`StoreError::Interrupted`].
    pub async fn pull_jobs(
        &mut self,
        kind: JobKind,
        now: Timestamp,
        furthest: Timestamp,
    ) -> Result<u64, StoreError> {
        Ok(on!(self.connection, |conn| sqlx::query(PULL)
            .bind(kind.as_str())
            .bind(now.micros())
            .bind(furthest.micros())
            .execute(conn)
            .await
            .map(|done| done.rows_affected()))?)
    }

    /// Claims jobs of one kind that are due: workshops take turns, beginning after the one whose turn was last. Commit before
    /// working on them.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn claim_jobs(
        &mut self,
        kind: JobKind,
        claim: &Claim,
        turn: &mut Turn,
    ) -> Result<Vec<ClaimedJob>, StoreError> {
        let sql = match &self.connection {
            Connection::Postgres(..) => CLAIM_POSTGRES,
            Connection::Sqlite(..) => CLAIM_SQLITE,
        };
        let most = usize::try_from(claim.most).unwrap_or(0);
        let mut claimed: Vec<ClaimedJob> = Vec::new();
        let mut waiting = self.waiting_jobs(kind, turn, claim).await?;
        while let Some(workshop) = waiting.next() {
            if claimed.len() >= most {
                break;
            }
            let rows: Vec<Row> = on!(self.connection, |conn| sqlx::query_as(sql)
                .bind(kind.as_str())
                .bind(claim.now.micros())
                .bind(waiting.share(claim.most, claimed.len()))
                .bind(claim.now.plus(claim.lease).micros())
                .bind(workshop)
                .fetch_all(conn)
                .await)?;
            *turn = Turn::of(workshop);
            for row in rows {
                claimed.push(row.try_into()?);
            }
        }
        Ok(claimed)
    }

    /// Workshops with jobs of a kind that are due, from the turn on and, where it was the last one's, from the beginning.
    async fn waiting_jobs(
        &mut self,
        kind: JobKind,
        turn: &mut Turn,
        claim: &Claim,
    ) -> Result<Waiting, StoreError> {
        loop {
            let found: Vec<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(WAITING)
                .bind(turn.after())
                .bind(claim.now.micros())
                .bind(Turn::AT_ONCE)
                .bind(kind.as_str())
                .fetch_all(conn)
                .await)?;
            if let Some(waiting) = turn.taken_by(found) {
                return Ok(waiting);
            }
        }
    }
}
