//! Which tool a reading was taken with: the ones in use to choose from, and the ones used last on this device.

use actix_web::HttpRequest;
use actix_web::cookie::Cookie;

use super::frame::Fields;
use super::session;
use crate::domain::{Field, Instrument, Invalid, Tool, ToolId};
use crate::service::{Actor, ServiceError, Services, tools};

/// Tools in use, and which of each kind this device measured with last.
pub(super) struct Tools {
    in_use: Vec<Tool>,
    last: Vec<ToolId>,
}

/// A tool to choose.
pub(super) struct Choice {
    pub value: String,
    pub text: String,
    pub chosen: bool,
}

impl Tools {
    /// What there is to choose from.
    pub async fn of(services: &Services, actor: &Actor, request: &HttpRequest) -> Result<Self, ServiceError> {
        let last = request.cookie(session::TOOLS_COOKIE);
        let last = last.iter().flat_map(|cookie| cookie.value().split('.')).filter_map(|id| id.parse().ok());
        Ok(Self { last: last.collect(), in_use: tools::in_use(services, actor).await? })
    }

    /// The tools of an instrument; the one that was `typed` is chosen, else the last one.
    pub fn choices(&self, instrument: Instrument, typed: Option<&Fields>) -> Vec<Choice> {
        let is_chosen = |tool: &Tool| match typed {
            Some(fields) => fields.get("tool") == tool.id.to_string(),
            None => self.last.contains(&tool.id),
        };
        let of_instrument = self.in_use.iter().filter(|tool| tool.instrument == instrument);
        of_instrument
            .map(|tool| Choice {
                value: tool.id.to_string(),
                text: tool.name.to_string(),
                chosen: is_chosen(tool),
            })
            .collect()
    }

    /// The cookie that keeps the tool of an instrument, or that none was named, beside those of the other instruments.
    pub fn kept(
        &self,
        request: &HttpRequest,
        instrument: Instrument,
        chosen: Option<ToolId>,
    ) -> Cookie<'static> {
        let others = self.in_use.iter().filter(|tool| tool.instrument != instrument);
        let others = others.map(|tool| tool.id).filter(|id| self.last.contains(id));
        let all: Vec<String> = others.chain(chosen).map(|id| id.to_string()).collect();
        session::choice(request, session::TOOLS_COOKIE, all.join("."))
    }
}

/// The tool that was chosen; none where none was named.
///
/// # Errors
/// What was sent is no tool.
pub(super) fn chosen(sent: Option<&str>) -> Result<Option<ToolId>, Invalid> {
    let tool = |id: &str| id.parse().map_err(|_| Invalid::NoSuch { what: Field::Tool });
    sent.map(tool).transpose()
}
