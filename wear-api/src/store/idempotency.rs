//! Requests that may be sent twice and count once.

use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::{SystemTx, Tx, on, statements};
use crate::domain::{IdempotentRequest, Reservation, StoredAnswer, Timestamp};

const TABLE: &str = "idempotency_keys";

statements! {
    RESERVE = "
        insert into idempotency_keys (workshop_id, token_id, request_key, fingerprint, reserved_at)
        values ($1, $2, $3, $4, $5)
        on conflict (workshop_id, token_id, request_key) do update set
            fingerprint = excluded.fingerprint, reserved_at = excluded.reserved_at,
            status = null, headers = null, body = null
        where idempotency_keys.reserved_at < $6
        returning token_id";
    GET = "
        select fingerprint, status, headers, body
        from idempotency_keys where workshop_id = $1 and token_id = $2 and request_key = $3";
    ANSWER = "
        update idempotency_keys set status = $4, headers = $5, body = $6
        where workshop_id = $1 and token_id = $2 and request_key = $3 and status is null
        returning token_id";
    PURGE = "delete from idempotency_keys where reserved_at < $1";
}

#[derive(sqlx::FromRow)]
struct Row {
    fingerprint: Vec<u8>,
    status: Option<i64>,
    headers: Option<Json<Vec<(String, String)>>>,
    body: Option<Vec<u8>>,
}

impl Tx {
    /// Reserves a request's key, and says what to do with it. A key reserved before `expired_before` counts
    /// as new. Another transaction with the same key waits for this one to end.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such token.
    pub async fn reserve_key(
        &mut self,
        request: &IdempotentRequest,
        expired_before: Timestamp,
    ) -> Result<Reservation, StoreError> {
        let IdempotentRequest { token_id, key, fingerprint, at } = request;
        let fresh: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(RESERVE)
            .bind(self.workshop.uuid())
            .bind(token_id.uuid())
            .bind(key.as_str())
            .bind(fingerprint.as_slice())
            .bind(at.micros())
            .bind(expired_before.micros())
            .fetch_optional(conn)
            .await)?;
        if fresh.is_some() {
            return Ok(Reservation::Fresh);
        }
        let row: Row = on!(self.connection, |conn| sqlx::query_as(GET)
            .bind(self.workshop.uuid())
            .bind(token_id.uuid())
            .bind(key.as_str())
            .fetch_one(conn)
            .await)?;
        if row.fingerprint != fingerprint {
            return Ok(Reservation::Mismatch);
        }
        match (row.status, row.headers, row.body) {
            (Some(status), Some(Json(headers)), Some(body)) => {
                let status = u16::try_from(status).sound(TABLE, "status")?;
                Ok(Reservation::Answered(StoredAnswer { status, headers, body }))
            }
            _ => Ok(Reservation::InFlight),
        }
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
        let StoredAnswer { status, headers, body } = answer;
        let stored: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(ANSWER)
            .bind(self.workshop.uuid())
            .bind(request.token_id.uuid())
            .bind(request.key.as_str())
            .bind(i64::from(*status))
            .bind(Json(headers))
            .bind(body.as_slice())
            .fetch_optional(conn)
            .await)?;
        stored.map(|_| ()).ok_or(StoreError::Conflict)
    }
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
