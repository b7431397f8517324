//! Who did what, for the manager.

use std::collections::HashMap;

use actix_web::{get, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Frame, Viewer};
use super::words::Words;
use super::{Answer, html};
use crate::domain::{Cursor, PageSize, TokenId};
use crate::service::{Services, audit, tokens};
use crate::web::auth::Manager;

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
    let size = PageSize::new(50).map_err(|_| Failure::Internal)?;
    let page = audit::list(&services, &actor, after.as_ref(), size).await?;
    let most = PageSize::new(100).map_err(|_| Failure::Internal)?;
    let tokens: HashMap<TokenId, String> = tokens::list(&services, &actor, None, most)
        .await?
        .items
        .into_iter()
        .map(|token| (token.id, token.label.to_string()))
        .collect();
    let who = |id: Option<TokenId>| match id {
        None => f.audit_program(),
        Some(id) => {
            let start: String =
                id.to_string().chars().rev().take(6).collect::<Vec<_>>().into_iter().rev().collect();
            tokens.get(&id).cloned().unwrap_or_else(|| f.audit_gone(start))
        }
    };
    html(&AuditPage {
        entries: page
            .items
            .iter()
            .map(|entry| EntryShown {
                when: f.instant(entry.at),
                who: who(entry.token_id),
                what: f.acted(&entry.action),
                link: entry.subject.starts_with("bikes/").then(|| format!("/{}", entry.subject)),
                subject: entry.subject.clone(),
            })
            .collect(),
        next: page.next.map(|cursor| format!("/audit?after={cursor}")),
        f,
    })
}

impl Words {
    /// What was done, by the service's word for it.
    fn acted(&self, action: &str) -> String {
        let (thing, act) = action.split_once('.').unwrap_or((action, ""));
        let thing = match thing {
            "bench_day" => self.thing_bench_day(),
            "bench_plan" => self.thing_bench_plan(),
            "bench_settings" => self.thing_bench_settings(),
            "bike" => self.thing_bike(),
            "booking" => self.thing_booking(),
            "calibration" => self.thing_calibration(),
            "care" => self.thing_care(),
            "delivery" => self.thing_delivery(),
            "fitting" => self.thing_fitting(),
            "hook" => self.thing_hook(),
            "part" => self.thing_part(),
            "part_model" => self.thing_part_model(),
            "reading" => self.thing_reading(),
            "ride" => self.thing_ride(),
            "session" => self.thing_session(),
            "stock" => self.thing_stock(),
            "swap" => self.thing_swap(),
            "symptom" => self.thing_symptom(),
            "token" => self.thing_token(),
            "workshop" => self.thing_workshop(),
            other => other.replace('_', " "),
        };
        match act {
            "create" => self.audit_made(thing),
            "change" => self.audit_changed(thing),
            "remove" | "delete" | "retire" | "revoke" => self.audit_removed(thing),
            "void" => self.audit_voided(thing),
            "begin" => self.audit_began(thing),
            "end" => self.audit_ended(thing),
            other => self.audit_other(thing, other.replace('_', " ")),
        }
    }
}
