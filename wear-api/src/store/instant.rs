//! Instants and dates as the tables hold them: microseconds and days since 1970-01-01.

use chrono::{Datelike, NaiveDate};

use super::error::{Sound, StoreError};
use crate::domain::{DateRange, Timestamp};

/// 1970-01-01 in days of the common era.
const EPOCH: i64 = 719_163;

pub(super) fn day_number(date: NaiveDate) -> i64 {
    i64::from(date.num_days_from_ce()) - EPOCH
}

/// The first and the last day; those that no date is before or after where a side is open.
pub(super) fn day_numbers(DateRange { from, to }: DateRange) -> (i64, i64) {
    (from.map_or(i64::MIN, day_number), to.map_or(i64::MAX, day_number))
}

pub(super) fn date(number: i64, table: &'static str, column: &'static str) -> Result<NaiveDate, StoreError> {
    i32::try_from(number.saturating_add(EPOCH))
        .ok()
        .and_then(NaiveDate::from_num_days_from_ce_opt)
        .ok_or("no date")
        .sound(table, column)
}

pub(super) fn instant(
    micros: i64,
    table: &'static str,
    column: &'static str,
) -> Result<Timestamp, StoreError> {
    Timestamp::from_micros(micros).sound(table, column)
}

pub(super) fn maybe_instant(
    micros: Option<i64>,
    table: &'static str,
    column: &'static str,
) -> Result<Option<Timestamp>, StoreError> {
    micros.map(|micros| instant(micros, table, column)).transpose()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_count_from_1970() {
        for (text, number) in [("1970-01-01", 0), ("2026-11-25", 20_782), ("9999-12-31", 2_932_896)] {
            let given: NaiveDate = text.parse().unwrap();
            assert_eq!(day_number(given), number);
            assert_eq!(date(number, "", "").unwrap(), given);
        }
        assert!(date(i64::MAX, "bike_days", "day").is_err());
    }
}
