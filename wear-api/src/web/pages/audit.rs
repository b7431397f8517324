//! Who did what, for the manager.

use actix_web::{get, web};
use askama::Template;
use serde::Deserialize;

use super::frame::{Frame, Viewer};
use super::{Answer, html};
use crate::domain::{Cursor, NamedEntry, PageRequest};
use crate::service::{Services, audit};
use crate::web::auth::Manager;
use crate::words::Words;

#[derive(Template)]
#[template(path = "audit.html")]
struct AuditPage {
    f: Frame,
    entries: Vec<EntryShown>,
    next: Option<String>,
}

struct EntryShown {
    when: String,
    who: String,
    what: String,
    label: Option<String>,
    subject: String,
    link: Option<String>,
}

#[derive(Deserialize)]
struct Query {
    after: Option<String>,
}

#[get("/audit")]
pub(super) async fn page(
    viewer: Viewer<Manager>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let after: Option<Cursor> = query.after.as_deref().and_then(|cursor| cursor.parse().ok());
    let page = audit::list(&services, &actor, &PageRequest { after, ..PageRequest::default() }).await?;
    let who = |entry: &NamedEntry| match (&entry.token_label, entry.entry.token_id) {
        (Some(label), _) => label.clone(),
        (None, None) => f.audit_program(),
        (None, Some(id)) => {
            let id = id.to_string();
            f.audit_gone(id.get(id.len().saturating_sub(6)..).unwrap_or_default())
        }
    };
    html(&AuditPage {
        entries: page
            .items
            .iter()
            .map(|named| EntryShown {
                when: f.instant(named.entry.at),
                who: who(named),
                what: f.acted(&named.entry.action),
                link: bike_of(&named.entry.subject).map(|bike| format!("/bikes/{bike}")),
                label: named.label.clone(),
                subject: named.entry.subject.clone(),
            })
            .collect(),
        next: page.next.map(|cursor| format!("/audit?after={cursor}")),
        f,
    })
}

/// The bike that an address below `/v1/` is or belongs to.
fn bike_of(subject: &str) -> Option<&str> {
    subject.strip_prefix("bikes/")?.split('/').next()
}

impl Words {
    /// What was done, by the service's word for it.
    fn acted(&self, action: &str) -> String {
        let (thing, act) = action.split_once('.').unwrap_or(("table", action));
        let thing = self.word("thing", thing);
        self.act(act, &thing).unwrap_or_else(|| self.audit_other(thing, act.replace('_', " ")))
    }
}
