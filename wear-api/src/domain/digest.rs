//! Digests: e-mails with what is due, one a period.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike as _, Days, Duration, NaiveDate, NaiveTime, TimeZone as _};
use chrono_tz::Tz;
use rand::TryRng;
use rand::rngs::SysRng;

use super::{DigestId, Field, Form, GroupName, Invalid, Language, NoRandomness, Timestamp};

/// An e-mail address, `NAME@HOST` without a display name.
///
/// `Debug` hides the name.
#[derive(Clone, PartialEq, Eq)]
pub struct EmailAddress(lettre::Address);

impl EmailAddress {
    /// Most characters (RFC 5321, section 4.5.3.1.3).
    pub const MAXIMUM: usize = 254;

    /// Parses an address.
    ///
    /// # Errors
    /// [`Invalid::TextLength`], [`Invalid::Unparsed`].
    pub fn new(given: &str) -> Result<Self, Invalid> {
        let length = given.chars().count();
        if length > Self::MAXIMUM {
            let what = Field::EmailAddress;
            return Err(Invalid::TextLength { what, length, minimum: 3, maximum: Self::MAXIMUM });
        }
        // Quoted names and bracketed hosts are legal, but nobody means them, and each program reads them in its own way.
        let plain = given.is_ascii()
            && given.bytes().all(|byte| byte.is_ascii_graphic() && !b"\"<>()[],;:\\".contains(&byte))
            && given.rsplit_once('@').is_some_and(|(_, host)| host.contains('.') || host == "localhost");
        let parsed = given.parse::<lettre::Address>().ok().filter(|_| plain);
        parsed.map(Self).ok_or_else(|| Invalid::unparsed(Field::EmailAddress, given, Form::EmailAddress))
    }

    /// The address.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_ref()
    }

    /// As messages are addressed.
    #[must_use]
    pub const fn address(&self) -> &lettre::Address {
        &self.0
    }
}

impl fmt::Debug for EmailAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "…@{}", self.0.domain())
    }
}

wear_core::vocabulary! {
    /// A day of the week.
    Weekday, "weekday" {
        /// Monday.
        Monday = "monday",
        /// Tuesday.
        Tuesday = "tuesday",
        /// Wednesday.
        Wednesday = "wednesday",
        /// Thursday.
        Thursday = "thursday",
        /// Friday.
        Friday = "friday",
        /// Saturday.
        Saturday = "saturday",
        /// Sunday.
        Sunday = "sunday",
    }
}

wear_core::vocabulary! {
    /// How often a digest comes.
    DigestPeriod, "period" {
        /// Each day.
        Daily = "daily",
        /// Each week, on one day of it.
        Weekly = "weekly",
    }
}

wear_core::vocabulary! {
    /// What became of a digest's message.
    DigestOutcome, "outcome" {
        /// The mail server took it.
        Sent = "sent",
        /// Nothing was due, so none was sent.
        NothingDue = "nothing_due",
        /// The mail server refused it for good, or didn't take it until the next one came.
        GivenUp = "given_up",
    }
}

/// On which days a digest comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DigestDays {
    /// On each.
    Daily,
    /// On one day of the week.
    Weekly(Weekday),
}

impl DigestDays {
    /// From a period and a day of the week, which goes with a weekly one alone.
    ///
    /// # Errors
    /// [`Invalid::Together`].
    pub const fn new(period: DigestPeriod, weekday: Option<Weekday>) -> Result<Self, Invalid> {
        match (period, weekday) {
            (DigestPeriod::Daily, None) => Ok(Self::Daily),
            (DigestPeriod::Weekly, Some(weekday)) => Ok(Self::Weekly(weekday)),
            _ => Err(Invalid::Together { what: Field::PeriodAndWeekday, allowed: Form::WeekdayWithWeekly }),
        }
    }

    /// How often that is.
    #[must_use]
    pub const fn period(self) -> DigestPeriod {
        match self {
            Self::Daily => DigestPeriod::Daily,
            Self::Weekly(_) => DigestPeriod::Weekly,
        }
    }

    /// The day of the week of a weekly one.
    #[must_use]
    pub const fn weekday(self) -> Option<Weekday> {
        match self {
            Self::Daily => None,
            Self::Weekly(weekday) => Some(weekday),
        }
    }

    /// Days from one to the next.
    #[must_use]
    pub const fn apart(self) -> u32 {
        match self {
            Self::Daily => 1,
            Self::Weekly(_) => 7,
        }
    }

    fn holds(self, day: NaiveDate) -> bool {
        match self {
            Self::Daily => true,
            Self::Weekly(weekday) => day.weekday().num_days_from_monday() == weekday as u32,
        }
    }
}

/// An hour of the day, 0 to 23.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DigestHour(u32);

impl DigestHour {
    /// Seven in the morning, before the yard opens, until someone says otherwise (A).
    pub const SEVEN: Self = Self(7);

    /// Checks an hour.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`].
    pub fn new(given: i64) -> Result<Self, Invalid> {
        u32::try_from(given).ok().filter(|hour| *hour < 24).map(Self).ok_or(Invalid::WholeNumber {
            what: Field::Hour,
            given,
            minimum: 0,
            maximum: 23,
        })
    }

    /// The hour.
    #[must_use]
    pub const fn get(self) -> u32 {
        self.0
    }
}

/// What a manager says of a digest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DigestFacts {
    /// Who gets it.
    pub address: EmailAddress,
    /// On which days.
    pub days: DigestDays,
    /// At which hour where the workshop is.
    pub hour: DigestHour,
    /// In which language.
    pub language: Language,
    /// Bikes of these groups alone, each once; all of them when empty.
    pub groups: Vec<GroupName>,
    /// Whether it comes when nothing is due as well.
    pub when_nothing_due: bool,
}

/// A message of a digest: the date that it is for, and when it goes out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DigestDue {
    /// The date where the workshop is: no two messages of a digest are for the same.
    pub on: NaiveDate,
    /// When it goes out, or is tried next.
    pub at: Timestamp,
}

impl DigestFacts {
    /// Most groups that one digest names.
    pub const MOST_GROUPS: usize = 20;

    /// The first message after an instant.
    #[must_use]
    pub fn next(&self, after: Timestamp, zone: Tz) -> Option<DigestDue> {
        let today = after.date_in(zone);
        let days = (0..=8).filter_map(|days| today.checked_add_days(Days::new(days)));
        self.due_on(days, zone).find(|due| due.at > after)
    }

    /// The last message that was due by an instant.
    #[must_use]
    pub fn latest(&self, by: Timestamp, zone: Tz) -> Option<DigestDue> {
        let today = by.date_in(zone);
        let days = (0..=8).filter_map(|days| today.checked_sub_days(Days::new(days)));
        self.due_on(days, zone).find(|due| due.at <= by)
    }

    fn due_on(&self, days: impl Iterator<Item = NaiveDate>, zone: Tz) -> impl Iterator<Item = DigestDue> {
        let (hour, on_days) = (self.hour, self.days);
        days.filter(move |day| on_days.holds(*day)).filter_map(move |on| {
            let time = NaiveTime::from_hms_opt(hour.get(), 0, 0)?;
            let local = zone.from_local_datetime(&on.and_time(time)).earliest();
            // An hour that the clock skips comes when it would have.
            let local = local
                .or_else(|| zone.from_local_datetime(&(on.and_time(time) + Duration::hours(1))).earliest());
            Some(DigestDue { on, at: Timestamp::new(local?.to_utc()).ok()? })
        })
    }
}

const SECRET_BYTES: usize = 32;

/// The secret in the link that stops a digest: 256 random bits in hexadecimal.
///
/// `Debug` doesn't show it.
#[derive(Clone, PartialEq, Eq)]
pub struct DigestSecret([u8; SECRET_BYTES]);

impl DigestSecret {
    /// A new secret from the operating system's randomness.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn generate() -> Result<Self, NoRandomness> {
        let mut bytes = [0; SECRET_BYTES];
        SysRng.try_fill_bytes(&mut bytes).map_err(|_| NoRandomness)?;
        Ok(Self(bytes))
    }

    /// Wraps a secret that was kept; none when it has another length.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }

    /// The bytes, for the store.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8] {
        &self.0
    }

    /// The secret as it stands in the link.
    #[must_use]
    pub fn reveal(&self) -> String {
        self.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

impl fmt::Debug for DigestSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("DigestSecret(..)")
    }
}

impl FromStr for DigestSecret {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let malformed = || Invalid::Malformed { what: Field::Secret, allowed: Form::AddressAsShown };
        if given.len() != 2 * SECRET_BYTES
            || !given.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        {
            return Err(malformed());
        }
        let pairs = (0..SECRET_BYTES).map(|at| given.get(2 * at..2 * at + 2));
        let bytes: Option<Vec<u8>> = pairs.map(|pair| u8::from_str_radix(pair?, 16).ok()).collect();
        bytes.and_then(|bytes| Self::from_bytes(&bytes)).ok_or_else(malformed)
    }
}

/// What became of a digest's latest message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DigestDone {
    /// The date that it was for.
    pub on: NaiveDate,
    /// When that was clear.
    pub at: Timestamp,
    /// What became of it.
    pub outcome: DigestOutcome,
}

/// A digest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Digest {
    /// Its id.
    pub id: DigestId,
    /// What a manager said of it.
    pub facts: DigestFacts,
    /// What stops it.
    pub secret: DigestSecret,
    /// The message that comes next; none once its recipient stopped it.
    pub next: Option<DigestDue>,
    /// Attempts at that message so far.
    pub tries: i64,
    /// The latest message that is done with.
    pub last: Option<DigestDone>,
    /// Why the last attempt failed; none after one that didn't.
    pub last_error: Option<String>,
    /// When its recipient stopped it.
    pub unsubscribed_at: Option<Timestamp>,
    /// When it was made.
    pub created_at: Timestamp,
    /// Counts its changes.
    pub revision: i64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_plain() {
        for good in ["yard@bikes.example", "a.b+c@x.example", "root@localhost"] {
            assert_eq!(EmailAddress::new(good).expect(good).as_str(), good);
        }
        for wrong in [
            "",
            "yard",
            "yard@",
            "@bikes.example",
            "yard@bikes",
            "Yard <yard@bikes.example>",
            "yard@bikes.example, b@bikes.example",
            "yard@bikes.example\r\nBcc: b@bikes.example",
            "\"a b\"@bikes.example",
            "yard@[127.0.0.1]",
            "yard @bikes.example",
        ] {
            assert!(EmailAddress::new(wrong).is_err(), "{wrong}");
        }
        assert!(EmailAddress::new(&format!("{}@bikes.example", "x".repeat(250))).is_err());
        let address = EmailAddress::new("yard@bikes.example").expect("an address");
        assert_eq!(format!("{address:?}"), "…@bikes.example");
    }

    fn facts(days: DigestDays, hour: i64) -> DigestFacts {
        DigestFacts {
            address: EmailAddress::new("yard@bikes.example").expect("an address"),
            days,
            hour: DigestHour::new(hour).expect("an hour"),
            language: Language::En,
            groups: Vec::new(),
            when_nothing_due: false,
        }
    }

    #[test]
    fn messages_come_at_their_hour_where_the_workshop_is() {
        let at = |text: &str| -> Timestamp { text.parse().expect("a time") };
        let dublin = Tz::Europe__Dublin;
        let daily = facts(DigestDays::Daily, 7);
        let weekly = facts(DigestDays::Weekly(Weekday::Monday), 7);
        for (facts, after, expected) in [
            (&daily, "2026-11-25T06:59:00Z", "2026-11-25T07:00:00Z"),
            (&daily, "2026-11-25T07:00:00Z", "2026-11-26T07:00:00Z"),
            (&daily, "2026-07-01T05:59:00Z", "2026-07-01T06:00:00Z"),
            (&weekly, "2026-11-25T12:00:00Z", "2026-11-30T07:00:00Z"),
            (&weekly, "2026-11-30T07:00:00Z", "2026-12-07T07:00:00Z"),
        ] {
            let next = facts.next(at(after), dublin).expect("a next one");
            assert_eq!(next.at, at(expected), "{after}");
            assert_eq!(facts.latest(next.at, dublin), Some(next));
        }
        // The clocks go forward at one in the morning: that hour comes an hour later.
        let early = facts(DigestDays::Daily, 1);
        let spring = early.next(at("2026-03-28T12:00:00Z"), dublin).expect("a next one");
        assert_eq!((spring.on.to_string().as_str(), spring.at), ("2026-03-29", at("2026-03-29T01:00:00Z")));
    }

    #[test]
    fn a_weekday_goes_with_a_weekly_digest() {
        assert!(DigestDays::new(DigestPeriod::Daily, Some(Weekday::Monday)).is_err());
        assert!(DigestDays::new(DigestPeriod::Weekly, None).is_err());
        assert!(DigestHour::new(24).is_err() && DigestHour::new(-1).is_err());
    }

    #[test]
    fn a_secret_reads_back_and_is_not_shown() {
        let secret = DigestSecret::generate().expect("randomness");
        let shown = secret.reveal();
        assert_eq!(shown.parse::<DigestSecret>(), Ok(secret.clone()));
        assert!(!format!("{secret:?}").contains(&shown[..8]));
        assert!(shown.to_uppercase().parse::<DigestSecret>().is_err() && "".parse::<DigestSecret>().is_err());
    }
}
