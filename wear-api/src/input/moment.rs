//! Times as people write them in tables: on the clock of the workshop, or only the day.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use chrono_tz::Tz;

use super::parse;
use crate::domain::{Field, Form, Invalid, Timestamp};

/// Days as tables have them. Days and months with slashes are left out: which comes first differs by country.
const DAYS: [&str; 2] = ["%Y-%m-%d", "%d.%m.%Y"];

/// Times of day after the day.
const CLOCKS: [&str; 4] = [" %H:%M", " %H:%M:%S", "T%H:%M", "T%H:%M:%S"];

/// A day, `2026-03-01` or `1.3.2026`.
///
/// # Errors
/// [`Invalid::Unparsed`].
pub fn day(given: &str) -> Result<NaiveDate, Invalid> {
    let dotted = || NaiveDate::parse_from_str(given, DAYS[1]).ok().map(|day| day.to_string());
    match parse::date(given) {
        Err(wrong) => dotted().map_or(Err(wrong), |day| parse::date(&day)),
        found => found,
    }
}

/// An instant with its zone, else a time on the workshop's clock.
///
/// # Errors
/// [`Invalid::Unparsed`].
pub fn clock(given: &str, zone: Tz) -> Result<Timestamp, Invalid> {
    match parse::text::<Timestamp>(given) {
        Ok(at) => Ok(at),
        Err(wrong) => local(given, zone).ok_or(wrong),
    }
}

/// The same, or a day alone: its noon, but never a time that is still to come.
///
/// # Errors
/// [`Invalid::Unparsed`].
pub fn moment(given: &str, zone: Tz, now: Timestamp) -> Result<Timestamp, Invalid> {
    let of_clock = clock(given, zone);
    match (&of_clock, day(given)) {
        (Err(_), Ok(day)) if day <= now.date_in(zone) => {
            let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
            let noon = at(day.and_time(noon), zone)
                .ok_or_else(|| Invalid::unparsed(Field::Time, given, Form::Time))?;
            Ok(noon.min(now))
        }
        _ => of_clock,
    }
}

fn local(given: &str, zone: Tz) -> Option<Timestamp> {
    let forms = DAYS.iter().flat_map(|day| CLOCKS.iter().map(move |clock| format!("{day}{clock}")));
    forms
        .filter_map(|form| NaiveDateTime::parse_from_str(given, &form).ok())
        .find_map(|local| at(local, zone))
}

fn at(local: NaiveDateTime, zone: Tz) -> Option<Timestamp> {
    Timestamp::new(local.and_local_timezone(zone).earliest()?.to_utc()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ZONE: Tz = Tz::Europe__Berlin;

    fn now() -> Timestamp {
        "2026-03-02T09:30:00Z".parse().unwrap()
    }

    #[test]
    fn a_day_alone_is_its_noon_where_the_workshop_is() {
        for (given, expected) in [
            ("2026-03-01T08:00:00+01:00", "2026-03-01T07:00:00Z"),
            ("2026-03-01 08:00", "2026-03-01T07:00:00Z"),
            ("1.3.2026 08:00:30", "2026-03-01T07:00:30Z"),
            ("2026-07-01", "2026-03-02T09:30:00Z"),
            ("2026-03-01", "2026-03-01T11:00:00Z"),
            ("01.03.2026", "2026-03-01T11:00:00Z"),
            // Noon is still to come.
            ("2026-03-02", "2026-03-02T09:30:00Z"),
        ] {
            let expected: Timestamp = expected.parse().unwrap();
            match moment(given, ZONE, now()) {
                Ok(at) => assert_eq!(at, expected, "{given}"),
                Err(_) => assert_eq!(given, "2026-07-01"),
            }
        }
    }

    #[test]
    fn what_could_be_read_in_two_ways_is_refused() {
        for given in ["3/4/2026", "03-04-2026", "2026-3", "yesterday", "2026-02-30", "8:00", ""] {
            assert!(moment(given, ZONE, now()).is_err(), "{given}");
            assert!(day(given).is_err(), "{given}");
        }
        assert!(clock("2026-03-01", ZONE).is_err(), "a ride needs its time");
        // The hour that the clock leaves out in spring.
        assert!(clock("2026-03-29 02:30", ZONE).is_err());
    }
}
