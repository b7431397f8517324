//! Sessions of the pages.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{SystemTx, Tx, execute, on, statements};
use crate::domain::{NewSession, Session, SessionId, Timestamp, TokenHash, TokenId, WorkshopId};

const TABLE: &str = "page_sessions";

statements! {
    INSERT = "
        insert into page_sessions (workshop_id, session_id, hash, token_id, created_at, last_seen_at)
        values ($1, $2, $3, $4, $5, $5)";
    FIND = "
        select s.workshop_id, s.session_id, s.token_id, t.role, s.created_at, s.last_seen_at
        from page_sessions s join tokens t on t.workshop_id = s.workshop_id and t.token_id = s.token_id
        where s.hash = $1 and t.revoked_at is null and s.created_at > $2 and s.last_seen_at > $3
            and s.created_at <= $4 and s.last_seen_at <= $4";
    TOUCH = "
        update page_sessions set last_seen_at = $3
        where workshop_id = $1 and session_id = $2 and last_seen_at < $3";
    END = "delete from page_sessions where workshop_id = $1 and session_id = $2";
    CLEAR = "
        delete from page_sessions where workshop_id = $1 and (created_at <= $2 or last_seen_at <= $3)";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    session_id: Uuid,
    token_id: Uuid,
    role: String,
    created_at: i64,
    last_seen_at: i64,
}

impl TryFrom<Row> for Session {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id, session_id, token_id, role, created_at, last_seen_at } = row;
        Ok(Self {
            id: SessionId::from_uuid(session_id),
            workshop_id: WorkshopId::from_uuid(workshop_id),
            token_id: TokenId::from_uuid(token_id),
            role: role.parse().sound("tokens", "role")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            last_seen_at: instant(last_seen_at, TABLE, "last_seen_at")?,
        })
    }
}

impl SystemTx {
    /// The session with this hash, of whatever workshop; none when it began by `begun`, was last used by `seen`, either
    /// was later than `credible`, or its token was revoked.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_session(
        &mut self,
        hash: &TokenHash,
        begun: Timestamp,
        seen: Timestamp,
        credible: Timestamp,
    ) -> Result<Option<Session>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| sqlx::query_as(FIND)
            .bind(hash.as_bytes().as_slice())
            .bind(begun.micros())
            .bind(seen.micros())
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
        let NewSession { id, hash, token_id, created_at } = session;
        execute!(self, INSERT, id.uuid(), hash.as_bytes().as_slice(), token_id.uuid(), created_at.micros())?;
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

    /// Removes the sessions that are over.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn clear_sessions(&mut self, begun: Timestamp, seen: Timestamp) -> Result<(), StoreError> {
        execute!(self, CLEAR, begun.micros(), seen.micros())?;
        Ok(())
    }
}
