//! What is made to be printed: labels, the card of one job, the week's list.

use actix_web::{HttpRequest, get, web};
use askama::Template;
use wear_core::drivetrain::procedure::SwapOf;

use super::bench;
use super::failure::Failure;
use super::frame::{Frame, Viewer};
use super::plan_shown::{PlanShown, on_weekday, plan_shown, stays};
use super::steps::{Procedure, procedure_together, swap_of};
use super::which::Which;
use super::{Answer, html, qr};
use crate::domain::{
    self, BikeFilter, BikeId, BikeSort, Cursor, GroupName, PageRequest, PageSize, Place, PlanState,
};
use crate::service::bench_plan::standing;
use crate::service::swap_choices::{self, SwapPlace};
use crate::service::{Actor, Services, bikes, fittings};
use crate::web::auth::{App, Mechanic};

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
    /// When the bench has it.
    planned: Option<String>,
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
    let choices = swap_choices::of_bike(&services, &actor, bike_id).await?;
    let (bike, outlook) = (&choices.bike, &choices.outlook);
    let links = bike.facts.drivetrain.links().get();
    let model = |place: &SwapPlace| place.on.as_ref().map(|(_, name)| name.as_str().to_owned());
    let chain = choices.places.iter().find(|it| it.place == Place::Chain).and_then(model);
    let mut parts = vec![match chain {
        Some(name) => format!("{} ({name})", f.card_part_chain(links)),
        None => f.card_part_chain(links),
    }];
    // The same parts as the bench plan lays out.
    let worn: Vec<&SwapPlace> = choices.places.iter().filter(|it| it.goes_with_chain()).collect();
    for place in &worn {
        let name = f.place_with_teeth(place.place, place.teeth);
        let name = model(place).map_or_else(|| name.clone(), |model| format!("{name}: {model}"));
        parts.push(f.card_part_worn(name, f.chance(place.worn_out.unwrap_or_default())));
    }
    let kinds = [SwapOf::Cassette, SwapOf::Ring];
    let goes = |kind: &SwapOf| worn.iter().any(|it| swap_of(it.place) == Some(*kind));
    let swaps: Vec<SwapOf> = std::iter::once(SwapOf::Chain).chain(kinds.into_iter().filter(goes)).collect();
    let procedure = procedure_together(&services, &actor, f.words(), (bike, &swaps)).await?;
    let label = bike.facts.label.as_str().to_owned();
    let address = qr::address(&request, &format!("/bikes/{bike_id}/measure"));
    html(&Card {
        group: bike.facts.group.as_str().to_owned(),
        word: outlook.advice.as_str(),
        to_do: f.what_to_do(outlook.advice, outlook.swap_by(), outlook.measure_by(), f.today),
        sentence: f.sentence(outlook),
        planned: planned(&services, &actor, &f, bike_id).await?,
        parts,
        procedure,
        code: qr::code(&address, &f.qr_title(&label)),
        overdue: outlook.advice == crate::domain::Advice::SwapNow,
        label,
        f,
    })
}

/// When the confirmed plan has the bike on the bench, and what it leaves on; nothing once it is done.
async fn planned(
    services: &Services,
    actor: &Actor,
    f: &Frame,
    bike_id: BikeId,
) -> Result<Option<String>, Failure> {
    if !f.may_work() {
        return Ok(None);
    }
    let Some(plan) = bench::plan_in(services, actor, PlanState::Accepted).await? else { return Ok(None) };
    let visits = plan.result.days.iter().flat_map(|day| &day.visits);
    let Some(visit) = visits.into_iter().find(|visit| visit.bike_id == bike_id) else { return Ok(None) };
    let open = fittings::list(services, actor, bike_id).await?;
    let chain = visit.tasks.first().map(|task| task.part_id);
    let is_on = open.iter().any(|fitting| Some(fitting.part_id) == chain && fitting.removed_at.is_none());
    let Some(date) = visit.date.filter(|_| is_on) else { return Ok(None) };
    let mut said = f.card_planned(on_weekday(f, date));
    for waiting in &visit.waiting {
        said = format!("{said} {}", stays(f, waiting));
    }
    Ok(Some(said))
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
    let plan = match &plan {
        Some(plan) => {
            let standing = standing::of_plan(&services, &actor, plan).await?;
            Some(plan_shown(&f, plan, plan.accepted_at.is_none(), None, &standing))
        }
        None => None,
    };
    html(&List { title, plan, f })
}
