//! The audit list.

use std::collections::HashMap;
use std::sync::LazyLock;

use sqlx::types::Json;
use uuid::Uuid;

use super::error::StoreError;
use super::instant::instant;
use super::many::Many;
use super::{Tx, execute, on, statements};
use crate::domain::{AuditEntry, AuditId, Page, PageRequest, TokenId};

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

static LABELS: LazyLock<Many> = LazyLock::new(|| {
    Many::join(
        "select b.bike_id, b.label
         from asked join bikes b on b.workshop_id = $1 and b.bike_id = asked.id
         union all select p.part_id, coalesce(p.label, m.name)
         from asked join parts p on p.workshop_id = $1 and p.part_id = asked.id
            left join part_models m on m.workshop_id = $1 and m.part_model_id = p.model_id
         where coalesce(p.label, m.name) is not null
         union all select m.part_model_id, m.name
         from asked join part_models m on m.workshop_id = $1 and m.part_model_id = asked.id
         union all select d.delivery_id, m.name
         from asked join deliveries d on d.workshop_id = $1 and d.delivery_id = asked.id
            join part_models m on m.workshop_id = $1 and m.part_model_id = d.part_model_id
         union all select k.booking_id, b.label
         from asked join bookings k on k.workshop_id = $1 and k.booking_id = asked.id
            join bikes b on b.workshop_id = $1 and b.bike_id = k.bike_id
         union all select h.hook_id, h.label
         from asked join hooks h on h.workshop_id = $1 and h.hook_id = asked.id
         union all select t.token_id, t.label
         from asked join tokens t on t.workshop_id = $1 and t.token_id = asked.id
         union all select a.app_id, a.name
         from asked join apps a on a.workshop_id = $1 and a.app_id = asked.id",
    )
});

pub(super) fn label_statements() -> &'static [&'static str] {
    LABELS.texts()
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
        execute!(
            self,
            APPEND,
            id.uuid(),
            at.micros(),
            token_id.map(TokenId::uuid),
            action,
            subject,
            Json(detail)
        )?;
        Ok(())
    }

    /// The audit list, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn audit(&mut self, page: &PageRequest) -> Result<Page<AuditEntry>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::max(), page, |entry: &AuditEntry| entry.id.uuid()).await
    }

    /// What people call these things: bikes, parts and their models, hooks and tokens by their own label or name,
    /// deliveries by their part model's, bookings by their bike's. What is gone or has no label is left out.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn labels(&mut self, ids: &[Uuid]) -> Result<HashMap<Uuid, String>, StoreError> {
        let mut labels = HashMap::new();
        for (sql, batch) in LABELS.batches(self.engine(), ids) {
            let found: Vec<(Uuid, String)> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for id in batch {
                    query = query.bind(*id);
                }
                query.fetch_all(conn).await
            })?;
            labels.extend(found);
        }
        Ok(labels)
    }
}
