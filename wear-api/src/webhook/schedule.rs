//! When a message is tried again.

use chrono::{DateTime, Duration, Utc};

/// Pauses after the first, second, … attempt that failed, seconds: about a day in all (A).
const PAUSES: [i64; 10] = [5, 30, 120, 600, 1_800, 3_600, 7_200, 14_400, 21_600, 36_000];

/// A pause is this share shorter or longer, by chance, so that messages that failed together don't come back
/// together (A).
const JITTER: f64 = 0.2;

/// The longest that a receiver may ask us to wait with `Retry-After` (A).
const LONGEST_WISH: Duration = Duration::hours(24);

/// Attempts in all.
pub const MOST_TRIES: i64 = PAUSES.len() as i64 + 1;

/// The pause after `tries` attempts; none when it was the last. `chance` is uniform from 0 to 1; `wish` is what the
/// receiver asked for: no shorter pause than that, up to a day.
#[must_use]
pub fn pause(tries: i64, chance: f64, wish: Option<Duration>) -> Option<Duration> {
    let seconds = *PAUSES.get(usize::try_from(tries.max(1) - 1).ok()?)?;
    let factor = 1.0 + JITTER * (2.0 * chance.clamp(0.0, 1.0) - 1.0);
    let own = Duration::milliseconds((seconds as f64 * 1e3 * factor).round() as i64);
    Some(wish.map_or(own, |wish| own.max(wish.min(LONGEST_WISH))))
}

/// What `Retry-After` asks for: seconds, or a date (RFC 9110, section 10.2.3). None when it is neither, or past.
#[must_use]
pub fn retry_after(header: &str, now: DateTime<Utc>) -> Option<Duration> {
    let header = header.trim();
    if header.bytes().all(|byte| byte.is_ascii_digit()) {
        return Duration::try_seconds(header.parse::<i64>().ok()?);
    }
    let at = DateTime::parse_from_rfc2822(header).ok()?;
    Some(at.to_utc() - now).filter(|wait| *wait > Duration::zero())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eleven_attempts_span_about_a_day() {
        for (chance, hours) in [(0.0, 19.0), (0.5, 23.7), (1.0, 28.5)] {
            let pauses: Vec<Duration> = (1..).map_while(|tries| pause(tries, chance, None)).collect();
            assert_eq!(pauses.len() as i64 + 1, MOST_TRIES);
            assert!(pauses.windows(2).all(|two| two[0] < two[1]), "{pauses:?}");
            let sum = pauses.iter().sum::<Duration>().num_seconds() as f64 / 3_600.0;
            assert!((sum - hours).abs() < 0.1, "{sum}");
        }
        assert_eq!(pause(MOST_TRIES, 0.5, Some(Duration::seconds(1))), None);
    }

    #[test]
    fn a_wish_makes_the_pause_longer_and_never_shorter() {
        assert_eq!(pause(1, 0.5, Some(Duration::seconds(90))), Some(Duration::seconds(90)));
        assert_eq!(pause(1, 0.5, Some(Duration::seconds(1))), Some(Duration::seconds(5)));
        assert_eq!(pause(1, 0.5, Some(Duration::days(400))), Some(Duration::days(1)));
    }

    #[test]
    fn a_wish_is_seconds_or_a_date() {
        let now = DateTime::parse_from_rfc3339("2026-11-25T12:00:00Z").expect("a time").to_utc();
        for (header, seconds) in [
            ("120", Some(120)),
            (" 0 ", Some(0)),
            ("Wed, 25 Nov 2026 12:01:30 GMT", Some(90)),
            ("Wed, 25 Nov 2026 11:00:00 GMT", None),
            ("soon", None),
            ("-5", None),
            ("99999999999999999999", None),
            ("9223372036854775807", None),
        ] {
            assert_eq!(retry_after(header, now).map(|wait| wait.num_seconds()), seconds, "{header}");
        }
    }
}
