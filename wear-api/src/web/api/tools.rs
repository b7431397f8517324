//! The tools that a workshop measures with.

use actix_web::{HttpResponse, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{FieldErrors, Instrument, Label, Timestamp, Tool, ToolId};
use crate::input::parse;
use crate::service::Services;
use crate::service::tools::{self, ToolPatch};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::PageQuery;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_tool).service(list_tools).service(get_tool).service(change_tool);
}

/// A tool that the workshop measures with.
#[derive(Serialize, ToSchema)]
#[schema(as = Tool)]
struct ToolDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    name: String,
    /// What it is.
    #[schema(value_type = schema::Instrument)]
    instrument: &'static str,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Since when it is out of use; null while it is in use.
    retired_at: Option<DateTime<Utc>>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Tool> for ToolDocument {
    fn from(Tool { id, name, instrument, created_at, retired_at, revision }: Tool) -> Self {
        Self {
            id: id.uuid(),
            name: name.to_string(),
            instrument: instrument.as_str(),
            created_at: created_at.datetime(),
            retired_at: retired_at.map(Timestamp::datetime),
            revision,
        }
    }
}

/// A tool to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewTool {
    /// What people call it; no other tool in use has the name.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// What it is.
    #[schema(value_type = schema::Instrument)]
    instrument: String,
}

impl NewTool {
    fn parse(self) -> Result<(Label, Instrument), FieldErrors> {
        let Self { name, instrument } = self;
        let mut errors = FieldErrors::new();
        let name = errors.keep("/name", Label::new(&name));
        let instrument = errors.keep("/instrument", parse::text::<Instrument>(&instrument));
        name.zip(instrument).ok_or(errors)
    }
}

/// A page of tools.
#[derive(ToSchema)]
#[allow(dead_code)]
struct ToolList {
    /// Tools of this page, retired ones too, in the order they were entered.
    items: Vec<ToolDocument>,
}

/// What to change of a tool; what is left out stays, and so does what it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ToolChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// Since when it is out of use; null takes it into use again. Readings taken with it before stay.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = DateTime)]
    retired_at: Option<Option<String>>,
}

impl ToolChange {
    fn parse(self) -> Result<ToolPatch, FieldErrors> {
        let Self { name, retired_at } = self;
        let mut errors = FieldErrors::new();
        let name = name.and_then(|name| errors.keep("/name", Label::new(&name)));
        let retired_at =
            retired_at.map(|at| at.and_then(|at| errors.keep("/retired_at", parse::text::<Timestamp>(&at))));
        if errors.is_empty() { Ok(ToolPatch { name, retired_at }) } else { Err(errors) }
    }
}

/// Enter a tool
///
/// Readings that name it tell how far it reads high or low. Each night the fleet learns it, and outlooks allow for it.
#[utoipa::path(
    operation_id = "create_tool",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewTool, example = json!({"name": "bench rule", "instrument": "rule"})),
    responses((status = 201, description = "The tool", body = ToolDocument,
        headers(("Location" = String, description = "Address of the tool"))))
)]
#[post("/v1/tools")]
async fn create_tool(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewTool>,
) -> Result<HttpResponse, Problem> {
    let (name, instrument) = body.0.parse()?;
    let tool = tools::create(&services, &mut change, name, instrument).await?;
    Ok(answer::created(format!("/v1/tools/{}", tool.id), tool.revision, ToolDocument::from(tool)))
}

/// List tools
#[utoipa::path(
    operation_id = "list_tools",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    params(PageQuery),
    responses((status = 200, description = "A page of tools", body = ToolList))
)]
#[get("/v1/tools")]
async fn list_tools(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = tools::list(&services, &actor, &listing.page).await?;
    Ok(listing.answer(page, ToolDocument::from))
}

/// Get a tool
#[utoipa::path(
    operation_id = "get_tool",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    params(("tool_id" = Uuid, Path, description = "The tool")),
    responses((status = 200, description = "The tool", body = ToolDocument))
)]
#[get("/v1/tools/{tool_id}")]
async fn get_tool(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    tool_id: web::Path<ToolId>,
) -> Result<HttpResponse, Problem> {
    let tool = tools::get(&services, &actor, *tool_id).await?;
    Ok(answer::current(tool.revision, ToolDocument::from(tool)))
}

/// Change a tool
///
/// Another name, out of use or in use again.
#[utoipa::path(
    operation_id = "change_tool",
    tag = "readings",
    security(("bearer" = ["mechanic", "manager"])),
    params(("tool_id" = Uuid, Path, description = "The tool"),
        ("If-Match" = String, Header, description = "`ETag` of the tool as you read it", example = "\"1\"")),
    request_body(content = ToolChange, example = json!({"name": "old bench rule"})),
    responses((status = 200, description = "The tool after the change", body = ToolDocument))
)]
#[patch("/v1/tools/{tool_id}")]
async fn change_tool(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    tool_id: web::Path<ToolId>,
    seen: IfMatch,
    body: Json<ToolChange>,
) -> Result<HttpResponse, Problem> {
    let patch = body.0.parse()?;
    let revision =
        seen.revision(async || Ok(tools::get(&services, change.actor(), *tool_id).await?.revision)).await?;
    let tool = tools::change(&services, &mut change, *tool_id, revision, patch).await?;
    Ok(answer::current(tool.revision, ToolDocument::from(tool)))
}
