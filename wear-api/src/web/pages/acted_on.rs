//! How forecasts did that people act on, in words.

use wear_core::fleet::passage_record::PassageTally;

use super::frame::Frame;
use crate::domain::{GroupName, Meaning};
use crate::service::track_record::{ActedOn, TrackRecord};

/// Forecasts of one kind: shown, or made later.
pub(super) struct Part {
    /// For the heading's anchor.
    pub anchor: &'static str,
    pub title: String,
    pub text: String,
    pub rows: Vec<Row>,
    pub groups: Vec<Row>,
}

/// What came of one thing that is forecast.
pub(super) struct Row {
    pub about: String,
    pub came: Vec<String>,
    pub meaning: String,
}

/// Both kinds, those without anything left out.
pub(super) fn parts(f: &Frame, record: &TrackRecord) -> Vec<Part> {
    let groups = |of: fn(&TrackRecord, &GroupName) -> Option<ActedOn>| -> Vec<Row> {
        let known = record.acted_on_in.keys().filter_map(|group| Some((group, of(record, group)?)));
        known.filter_map(|(group, acted_on)| dates(f, group.to_string(), &acted_on.dates)).collect()
    };
    let shown = Part {
        anchor: "shown",
        title: f.track_shown(),
        text: f.track_shown_text(),
        rows: rows(f, &record.acted_on.shown),
        groups: groups(|record, group| Some(record.acted_on_in.get(group)?.shown.clone())),
    };
    let made_later = Part {
        anchor: "made-later",
        title: f.track_made_later(),
        text: f.track_made_later_text(),
        rows: rows(f, &record.acted_on.made_later),
        groups: groups(|record, group| Some(record.acted_on_in.get(group)?.made_later.clone())),
    };
    [shown, made_later].into_iter().filter(|part| !part.rows.is_empty()).collect()
}

fn rows(f: &Frame, acted_on: &ActedOn) -> Vec<Row> {
    if acted_on.is_empty() {
        return Vec::new();
    }
    let [winter, spring, summer, autumn] = &acted_on.seasons;
    let seasons = [
        (f.track_dates_from_december(), winter),
        (f.track_dates_from_march(), spring),
        (f.track_dates_from_june(), summer),
        (f.track_dates_from_september(), autumn),
    ];
    let mut rows = Vec::new();
    rows.extend(kilometres(f, &acted_on.kilometres));
    rows.extend(dates(f, f.track_dates(), &acted_on.dates));
    rows.extend(seasons.into_iter().filter_map(|(about, tally)| dates(f, about, tally)));
    rows.extend(swap_by(f, acted_on));
    rows.extend(demand(f, acted_on));
    rows.extend(skips(f, acted_on));
    rows
}

fn passages(f: &Frame, tally: &PassageTally) -> Option<String> {
    let record = tally.record()?;
    let percent = |share: f64| f.percent(100.0 * share, 0);
    Some(f.track_passages(
        record.chains.round().max(1.0),
        percent(record.covered.share),
        percent(record.before_p10.share),
        percent(record.beyond_p90.share),
    ))
}

fn kilometres(f: &Frame, tally: &PassageTally) -> Option<Row> {
    let meaning = f.said(&Meaning::of_kilometres(tally.record().as_ref()));
    Some(Row { about: f.track_kilometres(), came: vec![passages(f, tally)?], meaning })
}

fn dates(f: &Frame, about: String, tally: &PassageTally) -> Option<Row> {
    let meaning = f.said(&Meaning::of_dates(tally.record().as_ref()));
    Some(Row { about, came: vec![passages(f, tally)?], meaning })
}

fn swap_by(f: &Frame, acted_on: &ActedOn) -> Option<Row> {
    let record = acted_on.swap_by.record()?;
    let mut came = Vec::new();
    if let Some((over, accepted)) = record.over.zip(record.accepted) {
        let judged = record.judged as f64;
        let over = f.number((over.share * judged).round(), 0);
        came.push(f.track_swap_by_judged(judged, over, f.number(10.0 * accepted, 0)));
    } else if record.ridden > 0 {
        came.push(f.track_swap_by_unread(record.ridden));
    }
    if let Some(days) = record.early_days {
        came.push(f.track_swap_by_early(record.early, f.number(days, 0)));
    }
    let meaning = f.said(&Meaning::of_swap_by(Some(&record)));
    Some(Row { about: f.track_swap_by(), came, meaning })
}

fn demand(f: &Frame, acted_on: &ActedOn) -> Option<Row> {
    let record = acted_on.demand();
    let came = f.track_demand_quarters(
        f.number(record.covered as f64, 0),
        record.quarters,
        f.number(record.came as f64, 0),
        f.number(record.expected, 0),
    );
    let meaning = f.said(&Meaning::of_demand(&record));
    (record.quarters > 0).then(|| Row { about: f.track_demand(), came: vec![came], meaning })
}

fn skips(f: &Frame, acted_on: &ActedOn) -> Option<Row> {
    let told = &acted_on.skips;
    let all = told.all();
    let record = all.record()?;
    let expected = f.number((record.told * all.chains as f64).round(), 0);
    let came = f.track_skips_tried(f.number(all.skipped as f64, 0), all.chains, expected);
    Some(Row { about: f.track_skips(), came: vec![came], meaning: f.said(&Meaning::of_skips(told)) })
}
