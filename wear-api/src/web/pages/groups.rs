//! Groups: how many bikes each has, and how far its bikes are said to go.

use actix_web::{get, post, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Frame, Posted, Typed, Viewer};
use super::riding::{self, DeclareShown};
use super::{Answer, again, html, see};
use crate::domain::{DeclaredUse, DeclaredUseId, GroupName, PageRequest, PageSize, UseOf};
use crate::service::{Actor, ServiceError, Services, bikes, declared_use};
use crate::web::auth::Mechanic;

/// The form of this page.
const USE: &str = "use";

#[derive(Template)]
#[template(path = "groups.html")]
struct GroupsPage {
    f: Frame,
    rows: Vec<Row>,
    declare: DeclareShown,
    errors: Vec<String>,
}

struct Row {
    name: String,
    bikes: String,
    declared: Vec<(String, String)>,
    chosen: bool,
}

#[derive(Deserialize)]
struct Query {
    group: Option<String>,
}

/// Everything that is declared of groups.
async fn all_declared(services: &Services, actor: &Actor) -> Result<Vec<DeclaredUse>, ServiceError> {
    let mut request = PageRequest::first(PageSize::LARGEST);
    let mut all = Vec::new();
    loop {
        let next = declared_use::list_of_groups(services, actor, None, &request).await?;
        all.extend(next.items);
        let Some(cursor) = next.next else { return Ok(all) };
        request.after = Some(cursor);
    }
}

async fn shown(
    services: &Services,
    actor: &Actor,
    f: Frame,
    chosen: &str,
    (typed, errors): (Typed, Vec<String>),
) -> Result<GroupsPage, Failure> {
    let mut groups = bikes::groups(services, actor).await?;
    let declared = all_declared(services, actor).await?;
    // What was declared of a group stays when its last bike goes.
    for one in &declared {
        if let UseOf::Group(group) = &one.of
            && !groups.iter().any(|(name, _)| name == group)
        {
            groups.push((group.clone(), 0));
        }
    }
    let rows = groups.iter().map(|(name, bikes)| Row {
        name: name.to_string(),
        bikes: f.kinds_bikes(*bikes),
        declared: declared
            .iter()
            .filter(|one| one.of == UseOf::Group(name.clone()))
            .map(|one| (one.id.to_string(), riding::in_words(&f, one)))
            .collect(),
        chosen: name.as_str() == chosen,
    });
    Ok(GroupsPage { rows: rows.collect(), declare: DeclareShown::typed(&typed, USE), errors, f })
}

#[get("/groups")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let chosen = query.group.as_deref().unwrap_or_default();
    html(&shown(&services, &actor, frame, chosen, (Typed::default(), Vec::new())).await?)
}

#[post("/groups/declared-use")]
pub(super) async fn declare(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let group = GroupName::new(fields.get("group"));
    let errors = match (group, riding::declare_of(&frame, &fields)) {
        (Ok(group), Ok(declare)) => match services
            .change(&actor, async |work| {
                declared_use::post_of_group(&services, work, group.clone(), declare).await
            })
            .await
        {
            Ok(_) => return Ok(see("/groups")),
            Err(error) => frame.refused(error)?,
        },
        (Err(cause), Ok(_)) => vec![frame.wrong(&cause)],
        (_, Err(errors)) => errors,
    };
    let chosen = fields.get("group").to_owned();
    again(&shown(&services, &actor, frame, &chosen, (Typed::into(USE, fields), errors)).await?)
}

#[post("/groups/declared-use/{declared_use_id}/remove")]
pub(super) async fn take_back(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<DeclaredUseId>,
) -> Answer {
    let id = *id;
    let removed = services
        .change(&posted.viewer.actor, async |work| declared_use::remove_of_group(&services, work, id).await)
        .await;
    match removed {
        // Whoever removes it twice has what they want.
        Ok(()) | Err(ServiceError::NotFound { .. }) => Ok(see("/groups")),
        Err(other) => Err(other.into()),
    }
}
