//! A workshop's tools, and who read with them.

use super::{Actor, BikeChange, Conflict, ServiceError, Services, UnitOfWork, WorkshopChange};
use crate::domain::{
    Field, Form, Instrument, Invalid, Label, Page, PageRequest, ReadWith, Timestamp, Tool, ToolId,
};
use crate::store::Tx;

/// A change of a tool: what is `None` stays.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ToolPatch {
    /// New name.
    pub name: Option<Label>,
    /// Since when it is out of use; `Some(None)` takes it into use again.
    pub retired_at: Option<Option<Timestamp>>,
}

/// Enters a tool.
///
/// # Errors
/// [`ServiceError::Conflict`] when a tool in use has the name.
pub async fn create(
    services: &Services,
    work: &mut UnitOfWork,
    name: Label,
    instrument: Instrument,
) -> Result<Tool, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let tool = Tool {
        id: ToolId::generate(),
        name,
        instrument,
        created_at: change.now,
        retired_at: None,
        revision: 1,
    };
    change.tx.insert_tool(&tool).await.map_err(ServiceError::or_conflict(Conflict::ToolNamed))?;
    change.record("tool.create", format!("tools/{}", tool.id)).await?;
    Ok(tool)
}

/// One tool.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(services: &Services, actor: &Actor, id: ToolId) -> Result<Tool, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.tool(id).await.map_err(ServiceError::or_not_found("tool"))
}

/// A page of tools, retired ones too, in the order they were entered.
///
/// # Errors
/// [`ServiceError::Invalid`] for another list's cursor.
pub async fn list(
    services: &Services,
    actor: &Actor,
    page: &PageRequest,
) -> Result<Page<Tool>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.tools(page).await?)
}

/// Every tool, retired ones too, in the order they were entered.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn all(services: &Services, actor: &Actor) -> Result<Vec<Tool>, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    Ok(tx.all_tools().await?)
}

/// Every tool in use.
///
/// # Errors
/// [`ServiceError::Unavailable`].
pub async fn in_use(services: &Services, actor: &Actor) -> Result<Vec<Tool>, ServiceError> {
    Ok(all(services, actor).await?.into_iter().filter(|tool| tool.retired_at.is_none()).collect())
}

/// Gives a tool another name, retires it or takes it into use again.
///
/// # Errors
/// [`ServiceError::NotFound`], [`ServiceError::Stale`]; [`ServiceError::Conflict`] when another tool in use has the name;
/// [`ServiceError::Invalid`] for a time in the future.
pub async fn change(
    services: &Services,
    work: &mut UnitOfWork,
    id: ToolId,
    revision: i64,
    patch: ToolPatch,
) -> Result<Tool, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let before = change.tx.tool(id).await.map_err(ServiceError::or_not_found("tool"))?;
    let ToolPatch { name, retired_at } = patch;
    let name = name.unwrap_or(before.name);
    let retired_at = retired_at.unwrap_or(before.retired_at);
    if let Some(at) = retired_at {
        at.not_after(change.now).map_err(|cause| ServiceError::field("/retired_at", cause))?;
    } else if change.tx.is_tool_name_taken(&name, id).await? {
        return Err(ServiceError::Conflict(Conflict::ToolNamed));
    }
    change.tx.update_tool(id, revision, &name, retired_at).await.map_err(ServiceError::or_stale("tool"))?;
    let tool = change.tx.tool(id).await?;
    change.record("tool.change", format!("tools/{id}")).await?;
    Ok(tool)
}

/// Whether a reading with an instrument may have been taken with a tool then.
///
/// # Errors
/// Why not.
pub(super) fn fits(tool: &Tool, instrument: Instrument, taken_at: Timestamp) -> Result<(), Invalid> {
    if tool.instrument != instrument {
        return Err(Invalid::Together { what: Field::ToolAndInstrument, allowed: Form::ToolOfInstrument });
    }
    match tool.retired_at {
        Some(retired_at) if retired_at <= taken_at => {
            Err(Invalid::ToolRetired { given: taken_at, retired_at })
        }
        _ => Ok(()),
    }
}

/// Refuses a reading's tool that isn't the workshop's, or can't have been used. `pointer` is that of the tool.
async fn check(
    tx: &mut Tx,
    id: ToolId,
    (instrument, taken_at): (Instrument, Timestamp),
    pointer: &str,
) -> Result<(), ServiceError> {
    let tool = tx.tool(id).await.map_err(ServiceError::or_no_such(pointer, Field::Tool))?;
    fits(&tool, instrument, taken_at).map_err(|cause| ServiceError::field(pointer, cause))
}

impl BikeChange<'_> {
    /// What a reading was taken with and by whom, once the tool is known to be right: by whoever enters it, where nobody
    /// else is named. `pointer` is that of the tool.
    pub(super) async fn read_with(
        &mut self,
        read: (Instrument, Timestamp),
        with: ReadWith,
        pointer: &str,
    ) -> Result<ReadWith, ServiceError> {
        let ReadWith { tool_id, read_by } = with;
        if let Some(id) = tool_id {
            check(self.tx, id, read, pointer).await?;
        }
        let read_by = match (read_by, self.token_id()) {
            (None, Some(token)) => self.tx.label_of_token(token).await?,
            (named, _) => named,
        };
        Ok(ReadWith { tool_id, read_by })
    }
}
