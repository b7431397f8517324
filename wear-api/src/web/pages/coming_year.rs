//! The coming year by month, as a table.

use chrono::{Datelike as _, NaiveDate};
use wear_core::fleet::coming_year::{Needs, Range};

use super::frame::Frame;
use crate::domain::Month;
use crate::service::coming_year::YearAhead;

/// The table.
pub(super) struct ComingYearShown {
    pub title: String,
    pub lines: Vec<String>,
    pub rows: Vec<RowShown>,
    pub year: RowShown,
    pub notes: Vec<String>,
}

/// One month.
pub(super) struct RowShown {
    pub name: String,
    pub chains: String,
    pub cassettes: String,
    pub rings: String,
    pub hours: String,
    pub cost: String,
}

/// None where no bike is counted.
pub(super) fn shown(f: &Frame, ahead: &YearAhead) -> Option<ComingYearShown> {
    if ahead.bikes_counted == 0 {
        return None;
    }
    let present = f.month(ahead.as_of.with_day(1)?);
    let months = ahead.months.iter().filter_map(|month| Some(f.month(first_of(*month)?)));
    let names = std::iter::once(f.coming_rest(present)).chain(months);
    let mut notes = vec![f.coming_together()];
    if !ahead.assumed.is_empty() {
        let list: Vec<String> = ahead.assumed.iter().map(|it| f.said(it)).collect();
        notes.push(f.policy_assumed(list.join(", ")));
    }
    if ahead.bikes_waiting > 0 {
        notes.push(f.coming_waiting(ahead.bikes_waiting));
    }
    Some(ComingYearShown {
        title: match &ahead.group {
            Some(group) => f.coming_of_group(group),
            None => f.coming_of_all(),
        },
        lines: vec![f.coming_text()],
        rows: names.zip(&ahead.known.periods).map(|(name, needs)| row(f, name, needs)).collect(),
        year: row(f, f.coming_twelve(), &ahead.known.year),
        notes,
    })
}

fn first_of(month: Month) -> Option<NaiveDate> {
    let number = month.number();
    NaiveDate::from_ymd_opt(number.div_euclid(12).try_into().ok()?, number.rem_euclid(12) as u32 + 1, 1)
}

fn row(f: &Frame, name: String, needs: &Needs) -> RowShown {
    let Needs { chains, cassettes, rings, minutes, cost } = needs;
    let cell = |range: &Range, text: &dyn Fn(f64) -> String| {
        let [low, likely, high] = [range.p10, range.p50, range.p90].map(text);
        if low == high { likely } else { f.coming_cell(likely, low, high) }
    };
    let count = |number: f64| f.number(number, 0);
    RowShown {
        name,
        chains: cell(chains, &count),
        cassettes: cell(cassettes, &count),
        rings: cell(rings, &count),
        hours: cell(minutes, &|minutes| f.number(minutes / 60.0, 0)),
        cost: cell(cost, &|minor| f.number(minor / 10_f64.powi(f.decimals_of_money() as i32), 0)),
    }
}
