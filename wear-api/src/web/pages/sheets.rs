//! What is made to be printed: labels, the card of one job, the week's list.

use actix_web::{HttpRequest, get, web};
use askama::Template;
use wear_core::drivetrain::procedure::SwapOf;

use super::bench;
use super::failure::Failure;
use super::frame::{Frame, Viewer};
use super::plan_shown::{PlanShown, plan_shown};
use super::steps::{Procedure, procedure_of};
use super::which::Which;
use super::{Answer, html, qr};
use crate::domain::{
    self, BikeFilter, BikeId, BikeSort, Cursor, GroupName, PageRequest, PageSize, Place, PlanState,
};
use crate::service::{Services, bikes, fittings, outlook};
use crate::web::auth::{App, Mechanic};

/// Probability of a new chain skipping from which the card says to lay out a cassette (A).
const CASSETTE_LIKELY: f64 = 0.5;

#[derive(Template)]
#[template(path = "labels.html")]
struct Labels {
    f: Frame,
    labels: Vec<Label>,
    groups: Vec<(String, bool)>,
    next: Option<String>,
}

struct Label {
    label: String,
    group: String,
    code: String,
}

#[derive(Template)]
#[template(path = "card.html")]
struct Card {
    f: Frame,
    label: String,
    group: String,
    word: &'static str,
    to_do: String,
    sentence: String,
    parts: Vec<String>,
    procedure: Procedure,
    code: Option<String>,
    overdue: bool,
}

#[derive(Template)]
#[template(path = "bench_list.html")]
struct List {
    f: Frame,
    title: String,
    plan: Option<PlanShown>,
}

/// A label for each bike that was chosen in the fleet's list, or that a filter lets through; else for a page of all.
#[get("/labels")]
pub(super) async fn labels(
    request: HttpRequest,
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let which = Which::of(&query);
    let groups = bikes::group_names(&services, &actor).await?;
    let beyond_group = Which { group: None, ..which.clone() };
    let (named, next): (Vec<(BikeId, domain::Label, GroupName)>, _) =
        if !which.chosen.is_empty() || beyond_group.is_narrowed() {
            let entries = which.entries(&services, &actor, f.today).await?;
            (entries.into_iter().map(|it| (it.outlook.bike_id, it.label, it.group)).collect(), None)
        } else {
            let filter = BikeFilter { group: which.group.clone(), ..BikeFilter::default() };
            let after: Option<Cursor> =
                query.iter().find(|(name, _)| name == "after").and_then(|(_, cursor)| cursor.parse().ok());
            // Four columns of six on a sheet.
            let size = PageSize::new(24).map_err(|_| Failure::Internal)?;
            let page = bikes::list(&services, &actor, &filter, BikeSort::Label, &PageRequest { after, size })
                .await?;
            let named = page.items.into_iter().map(|bike| (bike.id, bike.facts.label, bike.facts.group));
            (named.collect(), page.next)
        };
    let labels = named
        .iter()
        .filter_map(|(id, label, group)| {
            let address = qr::address(&request, &format!("/bikes/{id}/measure"));
            let code = qr::code(&address, &f.qr_title(label.as_str()))?;
            Some(Label { label: label.to_string(), group: group.to_string(), code })
        })
        .collect();
    let chosen = which.group.as_ref();
    html(&Labels {
        labels,
        groups: groups.iter().map(|name| (name.to_string(), chosen == Some(name))).collect(),
        next: next.map(|cursor| {
            let group = chosen.map(|group| format!("&group={}", super::encoded(group.as_str())));
            format!("/labels?after={cursor}{}", group.unwrap_or_default())
        }),
        f,
    })
}

#[get("/bikes/{bike_id}/card")]
pub(super) async fn card(
    request: HttpRequest,
    viewer: Viewer<App>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let bike_id = *bike_id;
    let bike = bikes::get(&services, &actor, bike_id).await?;
    let outlook = outlook::of_bike(&services, &actor, bike_id).await?;
    let links = bike.facts.drivetrain.links().get();
    let mut parts = vec![f.card_part_chain(links)];
    let has_cassette = fittings::list(&services, &actor, bike_id)
        .await?
        .iter()
        .any(|fitting| fitting.removed_at.is_none() && fitting.place == Place::Cassette);
    let skips = outlook.cassette.as_ref().map_or(0.0, |cassette| cassette.probability_skips);
    if has_cassette && skips >= CASSETTE_LIKELY {
        parts.push(f.card_part_cassette());
    }
    let label = bike.facts.label.as_str().to_owned();
    let address = qr::address(&request, &format!("/bikes/{bike_id}/measure"));
    html(&Card {
        group: bike.facts.group.as_str().to_owned(),
        word: outlook.advice.as_str(),
        to_do: f.what_to_do(outlook.advice, outlook.swap_by(), outlook.measure_by(), f.today),
        sentence: f.sentence(&outlook),
        parts,
        procedure: procedure_of(&services, &actor, f.words(), &bike, SwapOf::Chain).await?,
        code: qr::code(&address, &f.qr_title(&label)),
        overdue: outlook.advice == crate::domain::Advice::SwapNow,
        label,
        f,
    })
}

#[get("/bench/list")]
pub(super) async fn list(viewer: Viewer<Mechanic>, services: web::Data<Services>) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let accepted = bench::plan_in(&services, &actor, PlanState::Accepted).await?;
    let plan = match accepted {
        Some(plan) => Some(plan),
        None => bench::plan_in(&services, &actor, PlanState::Proposed).await?,
    };
    let title = match &plan {
        Some(plan) => f.list_title(f.date(plan.window.from), f.date(plan.window.to)),
        None => f.bench_none(),
    };
    html(&List { title, plan: plan.map(|plan| plan_shown(&f, &plan, plan.accepted_at.is_none(), None)), f })
}
