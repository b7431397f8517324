//! Requests that may be sent twice and count once.

use sha2::{Digest as _, Sha256};
use sqlx::types::Json;
use uuid::Uuid;

use super::connection::Connection;
use super::error::{Sound, StoreError};
use super::{SystemTx, Tx, on, statements};
use crate::domain::{IdempotentRequest, Reservation, StoredAnswer, Timestamp};

const TABLE: &str = "idempotency_keys";

statements! {
    RESERVE = "
        insert into idempotency_keys (workshop_id, token_id, operation, request_key, reserved_at)
        values ($1, $2, $3, $4, $5)
        on conflict (workshop_id, token_id, operation, request_key) do update set
            reserved_at = excluded.reserved_at, fingerprint = null, status = null, headers = null, body = null
        where idempotency_keys.reserved_at < $6
        returning token_id";
    GET = "
        select fingerprint, status, headers, body
        from idempotency_keys
        where workshop_id = $1 and token_id = $2 and operation = $3 and request_key = $4
            and reserved_at >= $5";
    ANSWER = "
        update idempotency_keys set fingerprint = $5, status = $6, headers = $7, body = $8
        where workshop_id = $1 and token_id = $2 and operation = $3 and request_key = $4 and status is null
        returning token_id";
    PURGE = "delete from idempotency_keys where reserved_at < $1";
}

/// On Postgres, where transactions run side by side: whether no other one is at work on the request. SQLite
/// has one writer, so the question doesn't arise.
pub(super) const TRY_LOCK: &str = "select pg_try_advisory_xact_lock($1)";

#[derive(sqlx::FromRow)]
struct Row {
    fingerprint: Option<Vec<u8>>,
    status: Option<i64>,
    headers: Option<Json<Vec<(String, String)>>>,
    body: Option<Vec<u8>>,
}

impl Row {
    fn answer(self) -> Result<Option<StoredAnswer>, StoreError> {
        let Self { fingerprint, status, headers, body } = self;
        let (Some(fingerprint), Some(status), Some(Json(headers)), Some(body)) =
            (fingerprint, status, headers, body)
        else {
            return Ok(None);
        };
        let fingerprint = fingerprint.try_into().map_err(|_| "not 32 bytes").sound(TABLE, "fingerprint")?;
        let status = u16::try_from(status).sound(TABLE, "status")?;
        Ok(Some(StoredAnswer { fingerprint, status, headers, body }))
    }
}

impl Tx {
    /// The answer that a request got, if it was not reserved before `expired_before`.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn stored_answer(
        &mut self,
        request: &IdempotentRequest,
        expired_before: Timestamp,
    ) -> Result<Option<StoredAnswer>, StoreError> {
        let IdempotentRequest { token_id, operation, key, at: _ } = request;
        let row: Option<Row> = on!(self.connection, |conn| sqlx::query_as(GET)
            .bind(self.workshop.uuid())
            .bind(token_id.uuid())
            .bind(operation)
            .bind(key.as_str())
            .bind(expired_before.micros())
            .fetch_optional(conn)
            .await)?;
        Ok(row.map(Row::answer).transpose()?.flatten())
    }

    /// Reserves a request's key, and says what to do with it. A key reserved before `expired_before` counts
    /// as new.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such token.
    pub async fn reserve_key(
        &mut self,
        request: &IdempotentRequest,
        expired_before: Timestamp,
    ) -> Result<Reservation, StoreError> {
        let IdempotentRequest { token_id, operation, key, at } = request;
        if let Connection::Postgres(transaction, limit) = &mut self.connection {
            let asked = sqlx::query_scalar(TRY_LOCK).bind(lock(request));
            let free: bool = limit.on(asked.fetch_one(&mut **transaction)).await?;
            if !free {
                return Ok(Reservation::InFlight);
            }
        }
        let fresh: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(RESERVE)
            .bind(self.workshop.uuid())
            .bind(token_id.uuid())
            .bind(operation)
            .bind(key.as_str())
            .bind(at.micros())
            .bind(expired_before.micros())
            .fetch_optional(conn)
            .await)?;
        if fresh.is_some() {
            return Ok(Reservation::Fresh);
        }
        let answered = self.stored_answer(request, expired_before).await?;
        Ok(answered.map_or(Reservation::InFlight, Reservation::Answered))
    }

    /// Stores the answer to a request whose key this transaction reserved.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when it isn't reserved, or has an answer.
    pub async fn store_answer(
        &mut self,
        request: &IdempotentRequest,
        answer: &StoredAnswer,
    ) -> Result<(), StoreError> {
        let StoredAnswer { fingerprint, status, headers, body } = answer;
        let stored: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(ANSWER)
            .bind(self.workshop.uuid())
            .bind(request.token_id.uuid())
            .bind(request.operation.as_str())
            .bind(request.key.as_str())
            .bind(fingerprint.as_slice())
            .bind(i64::from(*status))
            .bind(Json(headers))
            .bind(body.as_slice())
            .fetch_optional(conn)
            .await)?;
        stored.map(|_| ()).ok_or(StoreError::Conflict)
    }
}

/// Number of the request's lock. Two requests that share one by chance only see each other as in flight.
fn lock(request: &IdempotentRequest) -> i64 {
    let IdempotentRequest { token_id, operation, key, at: _ } = request;
    let digest = Sha256::new()
        .chain_update(token_id.uuid().as_bytes())
        .chain_update(operation)
        .chain_update([0])
        .chain_update(key.as_str())
        .finalize();
    digest.iter().take(8).fold(0, |number, byte| number << 8 | i64::from(*byte))
}

impl SystemTx {
    /// Deletes keys reserved before an instant, and returns how many.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn purge_keys(&mut self, before: Timestamp) -> Result<u64, StoreError> {
        let purged = on!(self.connection, |conn| sqlx::query(PURGE)
            .bind(before.micros())
            .execute(conn)
            .await
            .map(|done| done.rows_affected()))?;
        Ok(purged)
    }
}
