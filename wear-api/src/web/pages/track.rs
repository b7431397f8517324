//! How the forecasts did, good news and bad.

use actix_web::{get, web};
use askama::Template;

use super::acted_on::{self, Part};
use super::frame::{Frame, Viewer};
use super::plot::{self, Covered};
use super::{Answer, html};
use crate::domain::Month;
use crate::service::Services;
use crate::service::track_record::{self, Held, MONTHS};
use crate::web::auth::Mechanic;

/// Percent of elongation that no instrument tells apart (A).
const UNBIASED: f64 = 0.01;

#[derive(Template)]
#[template(path = "track.html")]
struct TrackPage {
    f: Frame,
    lines: Vec<String>,
    plot: Option<String>,
    groups: Vec<GroupShown>,
    parts: Vec<Part>,
}

struct GroupShown {
    group: String,
    readings: u64,
    share: String,
    verdict: String,
}

#[get("/track-record")]
pub(super) async fn page(viewer: Viewer<Mechanic>, services: web::Data<Services>) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let to = Month::of(f.today);
    let from = Month::from_number(to.number() - MONTHS + 1);
    let record = track_record::get(&services, &actor, None, (from, to)).await?;
    let months: Vec<Covered> = record
        .months
        .iter()
        .filter_map(|(month, held)| {
            let record = held.tally.record()?;
            Some(Covered {
                month: f.month(month.begins()),
                readings: held.tally.readings,
                share: record.coverage,
                band: record.coverage_band,
            })
        })
        .collect();
    let groups = record
        .groups
        .iter()
        .filter_map(|(group, held)| {
            let record = held.tally.record()?;
            Some(GroupShown {
                group: group.as_str().to_owned(),
                readings: held.tally.readings,
                share: f.percent(100.0 * record.coverage, 0),
                verdict: if record.has_drifted() {
                    f.track_outside_chance()
                } else {
                    f.track_inside_chance()
                },
            })
        })
        .collect();
    html(&TrackPage {
        lines: lines(&f, &record.overall),
        plot: plot::coverage(f.words(), &months),
        groups,
        parts: acted_on::parts(&f, &record),
        f,
    })
}

fn lines(f: &Frame, held: &Held) -> Vec<String> {
    let Some(record) = held.tally.record() else { return Vec::new() };
    let tally = &held.tally;
    let share = |value: f64| f.percent(100.0 * value, 0);
    let (low, high) = record.coverage_band;
    let mut lines = vec![
        f.track_sentence(tally.covered, tally.readings, share(record.coverage)),
        f.track_chance(tally.readings, share(low), share(high)),
        if record.coverage < low {
            f.track_too_sure()
        } else if record.coverage > high {
            f.track_too_vague()
        } else {
            f.track_held()
        },
    ];
    let bias = f.percent(record.bias.abs(), 3);
    lines.push(if record.bias.abs() < UNBIASED {
        f.track_bias_none(f.percent(UNBIASED, 2))
    } else if record.bias > 0.0 {
        f.track_bias_faster(bias)
    } else {
        f.track_bias_slower(bias)
    });
    let loss = |value: f64| f.percent(value, 3);
    let losses = &record.loss;
    let (ours, fixed, line) =
        (loss(losses.forecast), loss(losses.fixed_distance), loss(losses.straight_line));
    lines.push(if losses.forecast <= losses.fixed_distance.min(losses.straight_line) {
        f.track_better(ours, fixed, line)
    } else {
        f.track_worse(ours, fixed, line)
    });
    lines.push(f.track_kept(held.kept, tally.readings + tally.gauges));
    lines
}
