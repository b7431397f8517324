//! Raw values into domain types, one function for each form that several requests share.

use std::str::FromStr;

use chrono::NaiveDate;
use wear_core::bounds::Bound;

use crate::domain::{Field, Form, Invalid, Timestamp};

/// Parses a text; when it hasn't the form, the error repeats it.
///
/// # Errors
/// Those of the type.
pub fn text<T: FromStr<Err: Into<Invalid>>>(given: &str) -> Result<T, Invalid> {
    given.parse().map_err(|error: T::Err| match error.into() {
        Invalid::Malformed { what, allowed } => Invalid::unparsed(what, given, allowed),
        other => other,
    })
}

/// Parses a date.
///
/// # Errors
/// [`Invalid::Unparsed`].
pub fn date(given: &str) -> Result<NaiveDate, Invalid> {
    let date = NaiveDate::parse_from_str(given, "%Y-%m-%d").ok().filter(|_| given.len() == 10);
    date.filter(|date| Timestamp::new(date.and_time(chrono::NaiveTime::MIN).and_utc()).is_ok())
        .ok_or_else(|| Invalid::unparsed(Field::Date, given, Form::Date))
}

/// A whole number inside `bound`.
///
/// # Errors
/// [`Invalid::WholeNumber`].
pub fn whole<T: TryFrom<i64>>(given: i64, bound: &'static Bound) -> Result<T, Invalid> {
    let (minimum, maximum) = (bound.minimum as i64, bound.maximum as i64);
    let wrong = || Invalid::WholeNumber { what: Field::Quantity { bound }, given, minimum, maximum };
    if !(minimum..=maximum).contains(&given) {
        return Err(wrong());
    }
    T::try_from(given).map_err(|_| wrong())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_has_one_form() {
        assert_eq!(date("2026-02-28").expect("a date").to_string(), "2026-02-28");
        for wrong in
            ["2026-02-30", "2026-2-3", "26-02-03", "0001-01-01", "+12026-01-01", "2026-01-01T00:00:00Z", ""]
        {
            let error = date(wrong).expect_err(wrong);
            assert!(error.to_string().contains(&format!("{wrong:?}")), "{error}");
        }
    }

    #[test]
    fn an_error_repeats_what_was_given() {
        let error = text::<Timestamp>("yesterday").expect_err("no time");
        assert_eq!(error.to_string(), "time is \"yesterday\"");
    }
}
