//! The tools of the workshop: what there is, one to be named, one to get another name or to be retired.

use actix_web::{get, post, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::{Answer, again, html, see};
use crate::domain::{FieldErrors, Instrument, Label, Tool, ToolId};
use crate::input::parse;
use crate::service::tools::{self, ToolPatch};
use crate::service::{Actor, ServiceError, Services, calibration};
use crate::web::auth::Mechanic;

#[derive(Template)]
#[template(path = "tools.html")]
struct ToolsPage {
    f: Frame,
    rows: Vec<Row>,
    name: String,
    instruments: Vec<Choice>,
    open: bool,
    errors: Vec<String>,
    done: Option<String>,
}

#[derive(Template)]
#[template(path = "tool.html")]
struct ToolPage {
    f: Frame,
    id: String,
    /// What it is called, and what it is.
    title: String,
    is: String,
    name: String,
    revision: i64,
    retired: Option<String>,
    errors: Vec<String>,
}

/// A tool in the list.
struct Row {
    id: String,
    name: String,
    is: String,
    reads: String,
    state: String,
}

struct Choice {
    value: &'static str,
    text: String,
    chosen: bool,
}

#[derive(Deserialize)]
struct Query {
    done: Option<String>,
}

fn state(f: &Frame, tool: &Tool) -> String {
    match tool.retired_at {
        Some(at) => f.tools_retired_on(f.medium_date(f.day_of(at))),
        None => f.tools_in_use(),
    }
}

async fn list(
    services: &Services,
    actor: &Actor,
    f: Frame,
    refused: Option<(&Fields, Vec<String>)>,
) -> Result<ToolsPage, Failure> {
    let mut all = tools::all(services, actor).await?;
    all.sort_by_key(|tool| tool.retired_at.is_some());
    let learned = calibration::get(services, actor).await?.tools;
    let row = |tool: &Tool| {
        let known = learned.iter().find(|it| it.tool.as_ref().is_some_and(|(id, _)| *id == tool.id));
        Row {
            id: tool.id.to_string(),
            name: tool.name.to_string(),
            is: f.instrument(tool.instrument),
            reads: known.map_or_else(|| f.calibration_untold(), |known| f.said(&known.said())),
            state: state(&f, tool),
        }
    };
    let typed = |name: &str| refused.as_ref().map(|(fields, _)| fields.get(name)).unwrap_or_default();
    let chosen = typed("instrument");
    let instruments = Instrument::ALL.iter().map(|&it| Choice {
        value: it.as_str(),
        text: f.instrument(it),
        chosen: it.as_str() == chosen,
    });
    Ok(ToolsPage {
        rows: all.iter().map(row).collect(),
        name: typed("name").to_owned(),
        instruments: instruments.collect(),
        open: all.is_empty() || refused.is_some(),
        errors: refused.map(|(_, errors)| errors).unwrap_or_default(),
        done: None,
        f,
    })
}

#[get("/tools")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let done = match query.done.as_deref() {
        Some("named") => Some(frame.tools_named()),
        Some("changed") => Some(frame.tools_changed()),
        Some("retired") => Some(frame.tools_retired()),
        Some("back") => Some(frame.tools_back()),
        _ => None,
    };
    html(&ToolsPage { done, ..list(&services, &actor, frame, None).await? })
}

fn entered(fields: &Fields) -> Result<(Label, Instrument), FieldErrors> {
    let mut errors = FieldErrors::new();
    let name = errors.keep("/name", Label::new(fields.get("name")));
    let instrument = errors.keep("/instrument", parse::text::<Instrument>(fields.get("instrument")));
    name.zip(instrument).ok_or(errors)
}

#[post("/tools")]
pub(super) async fn make(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let made = match entered(&fields) {
        Ok((name, instrument)) => {
            services.change(&actor, async |work| tools::create(&services, work, name, instrument).await).await
        }
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    match made {
        Ok(_) => Ok(see("/tools?done=named")),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&list(&services, &actor, frame, Some((&fields, errors))).await?)
        }
    }
}

async fn one(
    services: &Services,
    actor: &Actor,
    f: Frame,
    id: ToolId,
    refused: Option<(&Fields, Vec<String>)>,
) -> Result<ToolPage, Failure> {
    let tool = tools::get(services, actor, id).await?;
    let typed = refused.as_ref().and_then(|(fields, _)| fields.filled("name"));
    Ok(ToolPage {
        id: id.to_string(),
        title: f.tools_change_title(&tool.name),
        is: f.instrument(tool.instrument),
        name: typed.map_or_else(|| tool.name.to_string(), str::to_owned),
        revision: tool.revision,
        retired: tool.retired_at.map(|_| state(&f, &tool)),
        errors: refused.map(|(_, errors)| errors).unwrap_or_default(),
        f,
    })
}

#[get("/tools/{tool_id}")]
pub(super) async fn edit(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<ToolId>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&one(&services, &actor, frame, *id, None).await?)
}

/// The button that was pressed says what is to change.
#[post("/tools/{tool_id}")]
pub(super) async fn change(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<ToolId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let id = *id;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let (patch, done) = match fields.get("act") {
        "retire" => (Ok(ToolPatch { name: None, retired_at: Some(Some(services.now())) }), "retired"),
        act => {
            let retired_at = (act == "back").then_some(None);
            let done = if retired_at.is_some() { "back" } else { "changed" };
            let name = Label::new(fields.get("name"));
            (name.map(|name| ToolPatch { name: Some(name), retired_at }), done)
        }
    };
    let changed = match patch {
        Ok(patch) => {
            services
                .change(&actor, async |work| tools::change(&services, work, id, revision, patch).await)
                .await
        }
        Err(cause) => Err(ServiceError::field("/name", cause)),
    };
    match changed {
        Ok(_) => Ok(see(format!("/tools?done={done}"))),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&one(&services, &actor, frame, id, Some((&fields, errors))).await?)
        }
    }
}
