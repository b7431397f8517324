//! Calendars as text (RFC 5545): escaped, folded, with ids that stay.

use chrono::{Days, NaiveDate};
use std::fmt::Write as _;

use crate::service::calendar::Entries;

/// Media type of a calendar (RFC 5545, section 8.1).
pub const MEDIA_TYPE: &str = "text/calendar; charset=utf-8";

/// Most octets of a line, its end not counted (RFC 5545, section 3.1).
const LINE: usize = 75;

/// The calendar as text.
#[must_use]
pub fn text(entries: &Entries) -> String {
    let Entries { workshop, swaps, bench_days, today } = entries;
    let mut calendar = Calendar::default();
    calendar.line("BEGIN", "VCALENDAR");
    calendar.line("VERSION", "2.0");
    calendar.line("PRODID", "-//Wear//Calendar//EN");
    calendar.line("CALSCALE", "GREGORIAN");
    calendar.line("METHOD", "PUBLISH");
    // RFC 7986, sections 5.1 and 5.7; the second is what older programs read for the first.
    calendar.line("NAME", &escape(workshop));
    calendar.line("X-WR-CALNAME", &escape(workshop));
    calendar.line("REFRESH-INTERVAL;VALUE=DURATION", "PT1H");
    for swap in swaps {
        let overdue = swap.swap_by < *today;
        let day = swap.swap_by.max(*today);
        let mut description =
            format!("Group {}. The accepted risk is reached on {}.", swap.group, swap.swap_by);
        if overdue {
            description.push_str(" Overdue.");
        }
        calendar.event(&Event {
            uid: &format!("swap-{}@wear", swap.part_id),
            stamp: swap.computed_at.datetime(),
            day,
            summary: &format!("Swap the chain of {}", swap.label),
            description: &description,
            category: "SWAP",
        });
    }
    for day in bench_days {
        let minutes = day.facts.minutes.get();
        let summary =
            if minutes == 0 { "Bench closed".to_owned() } else { format!("Bench, {minutes} minutes") };
        let note = day.facts.note.as_ref().map(ToString::to_string).unwrap_or_default();
        calendar.event(&Event {
            uid: &format!("bench-{}@wear", day.id),
            stamp: day.created_at.datetime(),
            day: day.facts.date,
            summary: &summary,
            description: &note,
            category: "BENCH",
        });
    }
    calendar.line("END", "VCALENDAR");
    calendar.0
}

/// One entry of a whole day.
struct Event<'a> {
    uid: &'a str,
    stamp: chrono::DateTime<chrono::Utc>,
    day: NaiveDate,
    summary: &'a str,
    description: &'a str,
    category: &'a str,
}

#[derive(Default)]
struct Calendar(String);

impl Calendar {
    fn event(&mut self, event: &Event<'_>) {
        let Event { uid, stamp, day, summary, description, category } = event;
        let date = |day: NaiveDate| day.format("%Y%m%d").to_string();
        self.line("BEGIN", "VEVENT");
        self.line("UID", uid);
        self.line("DTSTAMP", &stamp.format("%Y%m%dT%H%M%SZ").to_string());
        self.line("DTSTART;VALUE=DATE", &date(*day));
        // The end is the day after, which isn't part of it (section 3.6.1).
        self.line("DTEND;VALUE=DATE", &date(day.checked_add_days(Days::new(1)).unwrap_or(*day)));
        self.line("SUMMARY", &escape(summary));
        if !description.is_empty() {
            self.line("DESCRIPTION", &escape(description));
        }
        self.line("CATEGORIES", category);
        self.line("TRANSP", "TRANSPARENT");
        self.line("END", "VEVENT");
    }

    /// Writes a line, folded so that no part is longer than 75 octets and no character is cut.
    fn line(&mut self, name: &str, value: &str) {
        let mut line = String::new();
        // Writing to a string doesn't fail.
        let _ = write!(line, "{name}:{value}");
        let mut used = 0;
        for c in line.chars() {
            if used + c.len_utf8() > LINE {
                self.0.push_str("\r\n ");
                used = 1;
            }
            self.0.push(c);
            used += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

/// A text (section 3.3.11): backslash, semicolon, comma and line end are escaped; other control characters have no
/// form.
fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => {
                escaped.push('\\');
                escaped.push(c);
            }
            '\n' => escaped.push_str("\\n"),
            c if c.is_control() => {}
            c => escaped.push(c),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_escaped() {
        assert_eq!(escape("a\\b;c,d\ne\r\u{7}: \"f\""), "a\\\\b\\;c\\,d\\ne: \"f\"");
    }

    #[test]
    fn lines_are_folded_between_characters() {
        for value in ["x".repeat(300), "ß".repeat(300), "🚲".repeat(100), String::new(), "x".repeat(70)] {
            let mut calendar = Calendar::default();
            calendar.line("NAME", &value);
            let text = calendar.0;
            assert!(text.ends_with("\r\n"));
            assert!(text.split("\r\n").all(|line| line.len() <= 75), "{text}");
            assert_eq!(text.replace("\r\n ", ""), format!("NAME:{value}\r\n"));
        }
    }
}
