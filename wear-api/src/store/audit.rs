//! The audit list.

use sqlx::types::Json;
use uuid::Uuid;

use super::error::StoreError;
use super::instant::instant;
use super::{Tx, on, statements};
use crate::domain::{AuditEntry, AuditId, Cursor, Page, PageSize, TokenId};

const TABLE: &str = "audit";

statements! {
    APPEND = "
        insert into audit (workshop_id, audit_id, done_at, token_id, action, subject, detail)
        values ($1, $2, $3, $4, $5, $6, $7)";
    LIST = "
        select audit_id, done_at, token_id, action, subject, detail
        from audit where workshop_id = $1 and audit_id < $2
        order by audit_id desc limit $3";
}

#[derive(sqlx::FromRow)]
struct Row {
    audit_id: Uuid,
    done_at: i64,
    token_id: Option<Uuid>,
    action: String,
    subject: String,
    detail: Json<serde_json::Value>,
}

impl TryFrom<Row> for AuditEntry {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { audit_id, done_at, token_id, action, subject, detail: Json(detail) } = row;
        Ok(Self {
            id: AuditId::from_uuid(audit_id),
            at: instant(done_at, TABLE, "done_at")?,
            token_id: token_id.map(TokenId::from_uuid),
            action,
            subject,
            detail,
        })
    }
}

impl Tx {
    /// Adds an entry, in the transaction of what it tells.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such token.
    pub async fn append_audit(&mut self, entry: &AuditEntry) -> Result<(), StoreError> {
        let AuditEntry { id, at, token_id, action, subject, detail } = entry;
        on!(self.connection, |conn| sqlx::query(APPEND)
            .bind(self.workshop.uuid())
            .bind(id.uuid())
            .bind(at.micros())
            .bind(token_id.map(TokenId::uuid))
            .bind(action)
            .bind(subject)
            .bind(Json(detail))
            .execute(conn)
            .await
            .map(|_| ()))?;
        Ok(())
    }

    /// The audit list, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn audit(
        &mut self,
        after: Option<&Cursor>,
        size: PageSize,
    ) -> Result<Page<AuditEntry>, StoreError> {
        let after = after.map(Cursor::id).transpose()?.unwrap_or(Uuid::max());
        let rows: Vec<Row> = on!(self.connection, |conn| sqlx::query_as(LIST)
            .bind(self.workshop.uuid())
            .bind(after)
            .bind(size.get() as i64 + 1)
            .fetch_all(conn)
            .await)?;
        let entries = rows.into_iter().map(AuditEntry::try_from).collect::<Result<_, _>>()?;
        Ok(Page::cut(entries, size, |entry: &AuditEntry| Cursor::Id(entry.id.uuid())))
    }
}
