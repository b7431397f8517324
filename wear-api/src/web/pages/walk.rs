//! Walking the yard with a gauge: the bikes one below the other, one tap for each.

use actix_web::{HttpRequest, get, post, web};
use askama::Template;
use wear_core::units::GaugeMark;

use super::failure::Failure;
use super::frame::{Frame, Posted, Viewer};
use super::tool_choice::{self, Tools};
use super::which::Which;
use super::{Answer, html, see};
use crate::domain::{
    BikeId, Entry, FleetEntry, FleetSort, GroupName, Instrument, Measured, PageRequest, PageSize, ReadWith,
    Reading, Timestamp,
};
use crate::service::{Actor, ServiceError, Services, bikes, outlook, readings};
use crate::web::auth::Mechanic;

/// Marks of drop-in gauges, percent, with the decimals that are usual on each.
const MARKS: [(f64, usize); 3] = [(0.5, 1), (0.75, 2), (1.0, 1)];

/// Both kinds of drop-in gauge.
const GAUGES: [Instrument; 2] = [Instrument::DropIn, Instrument::DropInIsolating];

/// Bikes on a page.
const ON_A_PAGE: u32 = 50;

#[derive(Template)]
#[template(path = "walk.html")]
struct WalkPage {
    f: Frame,
    search: String,
    groups: Vec<(String, bool)>,
    gauges: Vec<(String, String, bool)>,
    tools: Vec<tool_choice::Choice>,
    gauge: String,
    mark: String,
    rows: Vec<Row>,
    now: String,
    /// How many of the page were measured today.
    done: usize,
    previous: Option<String>,
    next: Option<String>,
    here: String,
}

struct Row {
    id: String,
    label: String,
    group: String,
    /// What was measured today, and where to undo it.
    today: Option<(String, String)>,
    error: Option<String>,
}

/// A gauge with its mark, as addresses and forms name it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Gauge {
    mark: f64,
    instrument: Instrument,
}

impl Default for Gauge {
    fn default() -> Self {
        Self { mark: 0.75, instrument: Instrument::DropIn }
    }
}

impl Gauge {
    fn of(text: &str) -> Option<Self> {
        let (mark, instrument) = text.split_once(' ')?;
        let mark = MARKS.iter().map(|(mark, _)| *mark).find(|known| known.to_string() == mark)?;
        let instrument = instrument.parse().ok().filter(|it| GAUGES.contains(it))?;
        Some(Self { mark, instrument })
    }

    fn word(self) -> String {
        format!("{} {}", self.mark, self.instrument)
    }

    fn shown(self, f: &Frame) -> String {
        let decimals = MARKS.iter().find(|(mark, _)| *mark == self.mark).map_or(2, |(_, decimals)| *decimals);
        f.percent(self.mark, decimals)
    }
}

/// What the address says besides the bikes.
fn gauge_of(pairs: &[(String, String)]) -> Gauge {
    let named = pairs.iter().find(|(name, _)| name == "gauge");
    named.and_then(|(_, text)| Gauge::of(text)).unwrap_or_default()
}

fn address(which: &Which, gauge: Gauge) -> String {
    let list = which.address("/walk");
    if gauge == Gauge::default() {
        return list;
    }
    let more = if list.contains('?') { '&' } else { '?' };
    format!("{list}{more}gauge={}", super::encoded(&gauge.word()))
}

async fn measured_today(
    services: &Services,
    actor: &Actor,
    f: &Frame,
    bike: BikeId,
) -> Result<Option<Reading>, Failure> {
    let newest = PageRequest::first(PageSize::new(1).map_err(|_| Failure::Internal)?);
    let latest = readings::list(services, actor, bike, &newest).await?.items;
    Ok(latest.into_iter().find(|reading| reading.voided.is_none() && f.day_of(reading.taken_at) == f.today))
}

async fn shown(
    request: &HttpRequest,
    services: &Services,
    actor: &Actor,
    f: Frame,
    pairs: &[(String, String)],
    error: Option<(BikeId, String)>,
) -> Result<WalkPage, Failure> {
    let groups: Vec<GroupName> = bikes::group_names(services, actor).await?;
    let mut which = Which { chosen: Vec::new(), sort: Some(FleetSort::Label), ..Which::of(pairs) };
    which.group = which.group.filter(|group| groups.contains(group));
    let gauge = gauge_of(pairs);
    let after = u64::from(which.page) * u64::from(ON_A_PAGE);
    let mut entries: Vec<FleetEntry> = outlook::fleet_page(
        services,
        actor,
        &which.filter(f.today),
        FleetSort::Label,
        (ON_A_PAGE + 1, after),
    )
    .await?;
    let more = entries.len() > ON_A_PAGE as usize;
    entries.truncate(ON_A_PAGE as usize);
    let mut rows = Vec::with_capacity(entries.len());
    for entry in &entries {
        let bike = entry.outlook.bike_id;
        let today = measured_today(services, actor, &f, bike).await?;
        rows.push(Row {
            id: bike.to_string(),
            label: entry.label.to_string(),
            group: entry.group.to_string(),
            today: today.map(|it| {
                let saved = it.taken_at.micros();
                (f.measured(&it.measured), format!("/bikes/{bike}/readings/{}?saved={saved}", it.id))
            }),
            error: error.as_ref().filter(|(of, _)| *of == bike).map(|(_, text)| text.clone()),
        });
    }
    which.sort = None;
    let tools = Tools::of(services, actor, request).await?;
    let turned = |to: u32| address(&Which { page: to, ..which.clone() }, gauge);
    Ok(WalkPage {
        search: which.search.clone().unwrap_or_default(),
        groups: groups.iter().map(|name| (name.to_string(), which.group.as_ref() == Some(name))).collect(),
        gauges: GAUGES
            .into_iter()
            .flat_map(|instrument| MARKS.map(|(mark, _)| Gauge { mark, instrument }))
            .map(|it| {
                (
                    it.word(),
                    f.walk_gauge(f.word("walk-gauge-kind", it.instrument.as_str()), it.shown(&f)),
                    it == gauge,
                )
            })
            .collect(),
        tools: tools.choices(gauge.instrument, None),
        gauge: gauge.word(),
        mark: gauge.shown(&f),
        done: rows.iter().filter(|row| row.today.is_some()).count(),
        rows,
        now: services.now().to_string(),
        previous: which.page.checked_sub(1).map(turned),
        next: more.then(|| turned(which.page + 1)),
        here: address(&which, gauge),
        f,
    })
}

#[get("/walk")]
pub(super) async fn page(
    request: HttpRequest,
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Vec<(String, String)>>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&shown(&request, &services, &actor, frame, &query, None).await?)
}

/// One tap: the gauge dropped into this bike's chain, or stayed out.
#[post("/walk/{bike_id}")]
pub(super) async fn tap(
    request: HttpRequest,
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike = *bike_id;
    let gauge = Gauge::of(fields.get("gauge")).ok_or(Failure::Garbled)?;
    let drops_in = match fields.get("answer") {
        "in" => true,
        "out" => false,
        _ => return Err(Failure::Garbled),
    };
    let mark = GaugeMark::new(gauge.mark).map_err(|_| Failure::Garbled)?;
    let entry = Entry::Gauge { instrument: gauge.instrument, mark, drops_in };
    let measured = Measured::new(entry).map_err(|_| Failure::Garbled)?;
    let tools = Tools::of(&services, &actor, &request).await?;
    let tool_id = tool_choice::chosen(fields.filled("tool")).map_err(|_| Failure::Garbled)?;
    let now = services.now();
    // The script says when, so that what is sent late, or twice, is the same reading. Without one, two taps are one within the
    // minute.
    let said: Option<Timestamp> = fields.filled("taken_at").and_then(|at| at.parse().ok());
    let taken_at = said.filter(|at| at.not_after(now).is_ok()).unwrap_or_else(|| now.minute());
    let with = ReadWith { tool_id, read_by: None };
    let stored = services
        .change(&actor, async |work| {
            readings::post(&services, work, bike, taken_at, (measured.clone(), with.clone()), None).await
        })
        .await;
    let back = fields.get("back");
    let back = if back == "/walk" || back.starts_with("/walk?") { back } else { "/walk" };
    match stored {
        Ok(_) => {
            let mut answer = see(format!("{back}#bike-{bike}"));
            let kept = tools.kept(&request, gauge.instrument, tool_id);
            answer.add_cookie(&kept).map_err(|_| Failure::Internal)?;
            Ok(answer)
        }
        Err(ServiceError::Invalid(errors)) => {
            let text = frame.wrongs(&errors).join(" ");
            let pairs = vec![("gauge".to_owned(), gauge.word())];
            super::again(&shown(&request, &services, &actor, frame, &pairs, Some((bike, text))).await?)
        }
        Err(other) => Err(other.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gauge_is_named_by_its_mark_and_kind() {
        for (mark, _) in MARKS {
            for instrument in GAUGES {
                let gauge = Gauge { mark, instrument };
                assert_eq!(Gauge::of(&gauge.word()), Some(gauge));
            }
        }
        for unknown in ["0.75", "0.75 rule", "0.6 drop_in", "", " "] {
            assert_eq!(Gauge::of(unknown), None, "{unknown}");
        }
    }
}
