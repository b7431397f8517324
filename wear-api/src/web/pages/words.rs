//! Every sentence of the pages that is put together by code.

use chrono::NaiveDate;

use crate::domain::{Advice, OutlookSummary, Remaining, UnitsShown};

/// Kilometres of a mile.
const KM_PER_MILE: f64 = 1.609_344;

pub(super) fn date(date: NaiveDate) -> String {
    date.format("%-d %B %Y").to_string()
}

/// What an advice is called where it stands alone.
pub(super) const fn advice(advice: Advice) -> &'static str {
    match advice {
        Advice::SwapNow => "swap before the next ride",
        Advice::Hold => "someone has to look",
        Advice::SwapBy => "swap by a date",
        Advice::MeasureBy => "measure by a date",
        Advice::RideOn => "ride on",
    }
}

/// What to do with one bike.
pub(super) fn to_do(outlook: &OutlookSummary) -> String {
    match (outlook.advice, outlook.swap_by, outlook.measure_by) {
        (Advice::SwapBy, Some(day), _) => format!("swap by {}", date(day)),
        (Advice::MeasureBy, _, Some(day)) => format!("measure by {}", date(day)),
        (other, ..) => advice(other).to_owned(),
    }
}

/// Why, in one sentence.
pub(super) fn why(outlook: &OutlookSummary, units: UnitsShown) -> String {
    match (outlook.advice, outlook.remaining, outlook.probability_over) {
        (Advice::Hold, ..) => "The readings contradict each other, or no chain is on record.".to_owned(),
        (Advice::SwapNow, _, Some(over)) => {
            format!("Over its limit with a probability of {:.0} %.", 100.0 * over.get())
        }
        (_, Some(Remaining { p10, .. }), _) if p10.get() >= 1.0 => {
            format!("One chance in ten that it is less than {}.", distance(p10.get(), units))
        }
        (_, _, Some(over)) => {
            format!("Over its limit already with a probability of {:.0} %.", 100.0 * over.get())
        }
        _ => String::new(),
    }
}

/// The most likely distance left.
pub(super) fn left(outlook: &OutlookSummary, units: UnitsShown) -> String {
    match outlook.remaining {
        Some(Remaining { p50, .. }) if p50.get() < 1.0 => "none".to_owned(),
        Some(Remaining { p50, .. }) => format!("about {}", distance(p50.get(), units)),
        None => "not known".to_owned(),
    }
}

/// A distance to two figures: nobody knows it better.
fn distance(km: f64, units: UnitsShown) -> String {
    let (value, unit) = match units {
        UnitsShown::Km => (km, "km"),
        UnitsShown::Miles => (km / KM_PER_MILE, "miles"),
    };
    let step = 10_f64.powf((value.max(10.0).log10().floor() - 1.0).max(0.0));
    let rounded = ((value / step).round() * step) as i64;
    let digits = rounded.to_string();
    let (head, tail) = digits.split_at(digits.len().saturating_sub(3));
    if head.is_empty() { format!("{tail} {unit}") } else { format!("{head},{tail} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_have_two_figures_and_a_unit() {
        let table = [
            (3.4, UnitsShown::Km, "3 km"),
            (64.0, UnitsShown::Km, "64 km"),
            (643.0, UnitsShown::Km, "640 km"),
            (12_345.0, UnitsShown::Km, "12,000 km"),
            (1_609.344, UnitsShown::Miles, "1,000 miles"),
        ];
        for (km, units, expected) in table {
            assert_eq!(distance(km, units), expected);
        }
    }
}
