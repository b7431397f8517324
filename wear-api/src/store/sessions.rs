//! Sessions of the pages.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{SystemTx, Tx, execute, on, rows, statements};
use crate::domain::{
    Device, Label, NewSession, Session, SessionId, Timestamp, TokenHash, TokenId, WorkshopId,
};

const TABLE: &str = "page_sessions";

statements! {
    INSERT = "
        insert into page_sessions (workshop_id, session_id, hash, token_id, own_device, created_at, last_seen_at)
        values ($1, $2, $3, $4, $5, $6, $6)";
    FIND = "
        select s.workshop_id, s.session_id, s.token_id, t.role, t.label, s.created_at, s.last_seen_at
        from page_sessions s join tokens t on t.workshop_id = s.workshop_id and t.token_id = s.token_id
        where s.hash = $1 and t.revoked_at is null and s.created_at <= $6 and s.last_seen_at <= $6 and (
            (s.own_device = 0 and s.created_at > $2 and s.last_seen_at > $3)
            or (s.own_device = 1 and s.created_at > $4 and s.last_seen_at > $5))";
    TOUCH = "
        update page_sessions set last_seen_at = $3
        where workshop_id = $1 and session_id = $2 and last_seen_at < $3";
    END = "delete from page_sessions where workshop_id = $1 and session_id = $2";
    CLEAR = "
        delete from page_sessions where workshop_id = $1 and (
            (own_device = 0 and (created_at <= $2 or last_seen_at <= $3))
            or (own_device = 1 and (created_at <= $4 or last_seen_at <= $5)))";
    END_OF_TOKEN = "delete from page_sessions where workshop_id = $1 and token_id = $2";
    COUNTS = "
        select token_id, cast(count(*) as bigint) from page_sessions
        where workshop_id = $1 and (
            (own_device = 0 and created_at > $2 and last_seen_at > $3)
            or (own_device = 1 and created_at > $4 and last_seen_at > $5))
        group by token_id";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    session_id: Uuid,
    token_id: Uuid,
    role: String,
    label: String,
    created_at: i64,
    last_seen_at: i64,
}

impl TryFrom<Row> for Session {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id, session_id, token_id, role, label, created_at, last_seen_at } = row;
        Ok(Self {
            id: SessionId::from_uuid(session_id),
            workshop_id: WorkshopId::from_uuid(workshop_id),
            token_id: TokenId::from_uuid(token_id),
            role: role.parse().sound("tokens", "role")?,
            label: Label::new(&label).sound("tokens", "label")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            last_seen_at: instant(last_seen_at, TABLE, "last_seen_at")?,
        })
    }
}

/// Sessions that began or were last used by then are over.
#[derive(Debug, Clone, Copy)]
pub struct Over {
    /// Begun by then, on a device that others use as well.
    pub shared_begun: Timestamp,
    /// Last used by then, on such a device.
    pub shared_seen: Timestamp,
    /// Begun by then, on somebody's own.
    pub own_begun: Timestamp,
    /// Last used by then, on somebody's own.
    pub own_seen: Timestamp,
}

impl SystemTx {
    /// The session with this hash, of whatever workshop; none when it is over, began or was used later than `credible`, or
    /// its token was revoked.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_session(
        &mut self,
        hash: &TokenHash,
        over: Over,
        credible: Timestamp,
    ) -> Result<Option<Session>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| sqlx::query_as(FIND)
            .bind(hash.as_bytes().as_slice())
            .bind(over.shared_begun.micros())
            .bind(over.shared_seen.micros())
            .bind(over.own_begun.micros())
            .bind(over.own_seen.micros())
            .bind(credible.micros())
            .fetch_optional(conn)
            .await)?;
        row.map(Session::try_from).transpose()
    }
}

impl Tx {
    /// Stores a new session.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such token.
    pub async fn insert_session(&mut self, session: &NewSession) -> Result<(), StoreError> {
        let NewSession { id, hash, token_id, device, created_at } = session;
        execute!(
            self,
            INSERT,
            id.uuid(),
            hash.as_bytes().as_slice(),
            token_id.uuid(),
            i64::from(*device == Device::Own),
            created_at.micros()
        )?;
        Ok(())
    }

    /// Notes that a session is in use.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn touch_session(&mut self, id: SessionId, now: Timestamp) -> Result<(), StoreError> {
        execute!(self, TOUCH, id.uuid(), now.micros())?;
        Ok(())
    }

    /// Ends a session; ending it again changes nothing.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn end_session(&mut self, id: SessionId) -> Result<(), StoreError> {
        execute!(self, END, id.uuid())?;
        Ok(())
    }

    /// Ends every session of a token's holder.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn end_sessions_of(&mut self, token_id: TokenId) -> Result<(), StoreError> {
        execute!(self, END_OF_TOKEN, token_id.uuid())?;
        Ok(())
    }

    /// How many sessions each token's holder has.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn session_counts(&mut self, over: Over) -> Result<Vec<(TokenId, i64)>, StoreError> {
        let rows: Vec<(Uuid, i64)> = rows!(
            self,
            COUNTS,
            over.shared_begun.micros(),
            over.shared_seen.micros(),
            over.own_begun.micros(),
            over.own_seen.micros()
        )?;
        Ok(rows.into_iter().map(|(token, count)| (TokenId::from_uuid(token), count)).collect())
    }

    /// Removes the sessions that are over.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn clear_sessions(&mut self, over: Over) -> Result<(), StoreError> {
        execute!(
            self,
            CLEAR,
            over.shared_begun.micros(),
            over.shared_seen.micros(),
            over.own_begun.micros(),
            over.own_seen.micros()
        )?;
        Ok(())
    }
}
