//! A workshop's tools.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::{instant, maybe_instant};
use super::{Tx, row, rows, statements, value_if_any};
use crate::domain::{ChangedKind, Label, Page, PageRequest, Timestamp, TokenId, Tool, ToolId};

const TABLE: &str = "tools";

statements! {
    INSERT = "
        insert into tools (workshop_id, tool_id, name, name_key, instrument, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, 1)
        on conflict do nothing
        returning tool_id";
    GET = "
        select tool_id, name, instrument, created_at, retired_at, revision
        from tools where workshop_id = $1 and tool_id = $2";
    NAMED = "
        select tool_id, name, instrument, created_at, retired_at, revision
        from tools where workshop_id = $1 and name_key = $2
        order by retired_at is not null, retired_at desc limit 1";
    LIST = "
        select tool_id, name, instrument, created_at, retired_at, revision
        from tools where workshop_id = $1 and tool_id > $2
        order by tool_id limit $3";
    OTHER_OF_NAME = "
        select tool_id from tools where workshop_id = $1 and name_key = $2 and tool_id <> $3 and retired_at is null";
    UPDATE = "
        update tools set name = $4, name_key = $5, retired_at = $6, revision = revision + 1
        where workshop_id = $1 and tool_id = $2 and revision = $3
        returning revision";
    PERSON = "select label from tokens where workshop_id = $1 and token_id = $2";
}

#[derive(sqlx::FromRow)]
struct Row {
    tool_id: Uuid,
    name: String,
    instrument: String,
    created_at: i64,
    retired_at: Option<i64>,
    revision: i64,
}

impl TryFrom<Row> for Tool {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { tool_id, name, instrument, created_at, retired_at, revision } = row;
        Ok(Self {
            id: ToolId::from_uuid(tool_id),
            name: Label::new(&name).sound(TABLE, "name")?,
            instrument: instrument.parse().sound(TABLE, "instrument")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            retired_at: maybe_instant(retired_at, TABLE, "retired_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a new tool in use, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when a tool in use has its name.
    pub async fn insert_tool(&mut self, tool: &Tool) -> Result<(), StoreError> {
        self.note(ChangedKind::Tool, None, tool.id.uuid());
        let Tool { id, name, instrument, created_at, retired_at: _, revision: _ } = tool;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            id.uuid(),
            name.as_str(),
            name.folded(),
            instrument.as_str(),
            created_at.micros()
        )?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// A tool, retired or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn tool(&mut self, id: ToolId) -> Result<Tool, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The tool of that name, in any case: the one in use, else the one that was retired last.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn tool_named(&mut self, name: &Label) -> Result<Tool, StoreError> {
        let row: Row = row!(self, NAMED, name.folded())?;
        row.try_into()
    }

    /// The workshop's tools, retired ones too, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn tools(&mut self, page: &PageRequest) -> Result<Page<Tool>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |tool: &Tool| tool.id.uuid()).await
    }

    /// Every tool of the workshop, retired ones too, in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn all_tools(&mut self) -> Result<Vec<Tool>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST, Uuid::nil(), i64::MAX)?;
        rows.into_iter().map(Tool::try_from).collect()
    }

    /// Whether another tool in use has the name.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn is_tool_name_taken(
        &mut self,
        name: &Label,
        by_other_than: ToolId,
    ) -> Result<bool, StoreError> {
        let other: Option<Uuid> = value_if_any!(self, OTHER_OF_NAME, name.folded(), by_other_than.uuid())?;
        Ok(other.is_some())
    }

    /// Changes a tool's name and whether it is retired.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_tool(
        &mut self,
        id: ToolId,
        revision: i64,
        name: &Label,
        retired_at: Option<Timestamp>,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::Tool, None, id.uuid());
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            name.as_str(),
            name.folded(),
            retired_at.map(Timestamp::micros)
        )?;
        guarded(updated, self.tool(id)).await.map(|_| ())
    }

    /// What a token is called: who reads, where nobody says otherwise.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn label_of_token(&mut self, id: TokenId) -> Result<Option<Label>, StoreError> {
        let label: Option<String> = value_if_any!(self, PERSON, id.uuid())?;
        label.map(|label| Label::new(&label)).transpose().sound("tokens", "label")
    }
}
