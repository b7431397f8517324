//! How numbers, dates and money are written for the people of a workshop.

mod names;
mod negotiation;
mod reasons;
pub(crate) mod texts;

pub(crate) use names::LEAST;
pub(crate) use negotiation::preferred;

use chrono::{Datelike as _, NaiveDate, NaiveDateTime};
use chrono_tz::Tz;

use wear_core::Reason;
use wear_core::bike::KilometresFrom;
use wear_core::degradation::Quantiles;

use crate::domain::{Advice, Currency, Language, Outlook, Place, Timestamp, UnitsShown, Workshop};
use texts::tongue;

/// Kilometres of a mile (the international mile of 1959).
const KM_PER_MILE: f64 = 1.609_344;

/// Writes for the people of one workshop: language, units, time zone, currency.
#[derive(Debug, Clone, Copy)]
pub struct Words {
    /// Language.
    pub language: Language,
    /// Unit of distances.
    pub units: UnitsShown,
    /// Time zone of dates.
    pub zone: Tz,
    /// Currency of amounts.
    pub currency: Option<Currency>,
}

impl Words {
    /// For people of whom only the language is known.
    pub const fn of(language: Language) -> Self {
        Self { language, units: UnitsShown::Km, zone: Tz::UTC, currency: None }
    }

    /// For the people of a workshop; `chosen` goes before the workshop's own language.
    pub fn for_workshop(workshop: &Workshop, chosen: Option<Language>) -> Self {
        let settings = &workshop.settings;
        Self {
            language: chosen.unwrap_or(settings.language),
            units: settings.units_shown,
            zone: settings.time_zone,
            currency: Some(settings.currency),
        }
    }

    /// The language's tag, for the `lang` attribute.
    pub const fn tag(&self) -> &'static str {
        self.language.as_str()
    }

    /// `12 December 2026`.
    pub fn date(&self, date: NaiveDate) -> String {
        self.dated(date, &self.date_long())
    }

    /// `12 Dec`.
    pub fn short_date(&self, date: NaiveDate) -> String {
        self.dated(date, &self.date_short())
    }

    /// `12 Dec 2026`.
    pub fn medium_date(&self, date: NaiveDate) -> String {
        self.dated(date, &self.date_medium())
    }

    /// `Dec 2026`.
    pub fn month(&self, date: NaiveDate) -> String {
        self.dated(date, &self.date_month())
    }

    /// The name of a month, 1 to 12.
    pub fn month_name(&self, month: u32) -> String {
        self.dated(NaiveDate::from_ymd_opt(2026, month, 1).unwrap_or_default(), "%B")
    }

    /// The short name of a month, 1 to 12.
    pub fn short_month(&self, month: u32) -> String {
        self.dated(NaiveDate::from_ymd_opt(2026, month, 1).unwrap_or_default(), "%b")
    }

    /// The day of the week.
    pub fn weekday(&self, date: NaiveDate) -> String {
        self.dated(date, "%A")
    }

    /// A date by a pattern of the texts, with the calendar's own names.
    fn dated(&self, date: NaiveDate, pattern: &str) -> String {
        date.format_localized(pattern, tongue(self.language).calendar).to_string()
    }

    /// The date of an instant where the workshop is.
    pub fn day_of(&self, at: Timestamp) -> NaiveDate {
        at.date_in(self.zone)
    }

    /// `12 Dec 2026, 14:05` where the workshop is.
    pub fn instant(&self, at: Timestamp) -> String {
        let local = at.datetime().with_timezone(&self.zone);
        format!("{}, {}", self.medium_date(local.date_naive()), local.format("%H:%M"))
    }

    /// The instant of a local time as a form has it, `2026-12-01T14:05`.
    pub fn parse_local(&self, text: &str) -> Option<Timestamp> {
        let local = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M")
            .or_else(|_| NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S"))
            .ok()?;
        Timestamp::new(local.and_local_timezone(self.zone).earliest()?.to_utc()).ok()
    }

    /// What is known of a bike's chain, in one sentence.
    pub fn sentence(&self, outlook: &Outlook) -> String {
        match outlook.reason {
            // Each explanation has its own numbers.
            Reason::RecordInDoubt { .. } => return self.why_doubt(),
            Reason::Contradiction if !outlook.explanations.is_empty() => return self.why_doubt(),
            Reason::Contradiction => return self.why_hold(),
            Reason::CassetteUntried { probability } => {
                return self.why_cassette_untried(self.chance(probability));
            }
            Reason::CassetteSkips { probability } => {
                return self.why_cassette_skips(self.chance(probability));
            }
            Reason::AgeUnknown => return self.why_age_unknown(),
            Reason::RidingUnknown { days } => return self.why_riding_unknown(days),
            Reason::ReadAtLimit { read_percent, likely_percent } => {
                return self
                    .why_read_at_limit(self.percent(read_percent, 2), self.percent(likely_percent, 2));
            }
            _ => {}
        }
        let over = outlook.probability_over_limit.unwrap_or_default();
        match (outlook.remaining_km, outlook.limit_on()) {
            (Some(Quantiles { p10, p50, .. }), on) if p50 >= 1.0 => {
                let (left, least) = (self.about(p50), self.about(p10.max(0.0)));
                match on.map(|on| on.p50) {
                    Some(Some(day)) if p10 < 1.0 => {
                        self.bike_sentence_soon(left, self.date(day), self.chance(over))
                    }
                    Some(Some(day)) => self.bike_sentence(left, self.date(day), least),
                    Some(None) => self.bike_sentence_far(left, least),
                    None if is_riding_unknown(outlook) => match outlook.basis.kilometres_from {
                        Some(KilometresFrom::Group) => self.bike_sentence_by_group(left, least),
                        _ => self.bike_sentence_by_use(left, least),
                    },
                    None => self.bike_sentence_no_date(left, least),
                }
            }
            (Some(_), _) => {
                self.bike_sentence_over(self.chance(over), self.percent(outlook.limit_percent, 2))
            }
            (None, _) if outlook.part_id.is_none() => self.bike_sentence_none(),
            (None, _) => self.bike_sentence_unridden(self.chance(over)),
        }
    }

    /// Whether the sentence says how likely the chain is worn out already, so that nothing else has to.
    pub fn says_over(outlook: &Outlook) -> bool {
        match (outlook.reason, outlook.remaining_km) {
            (
                Reason::RecordInDoubt { .. }
                | Reason::Contradiction
                | Reason::CassetteUntried { .. }
                | Reason::CassetteSkips { .. }
                | Reason::AgeUnknown
                | Reason::RidingUnknown { .. }
                | Reason::ReadAtLimit { .. },
                _,
            ) => false,
            (_, Some(Quantiles { p10, p50, .. })) if p50 >= 1.0 => {
                p10 < 1.0 && outlook.limit_on().is_some_and(|on| on.p50.is_some())
            }
            (_, Some(_)) => true,
            (_, None) => outlook.part_id.is_some(),
        }
    }

    /// A number with so many decimals, `1,234.5` or `1.234,5`.
    pub fn number(&self, value: f64, decimals: usize) -> String {
        let plain = format!("{:.decimals$}", value.abs());
        let is_zero = plain.chars().all(|c| !c.is_ascii_digit() || c == '0');
        let grouped = tongue(self.language).grouped(&plain);
        if value < 0.0 && !is_zero { format!("\u{2212}{grouped}") } else { grouped }
    }

    /// A number as it would be typed, without thousands.
    pub fn typed(&self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        text.replace('.', &self.decimal_mark())
    }

    /// `0.31 %`.
    pub fn percent(&self, value: f64, decimals: usize) -> String {
        format!("{}\u{a0}%", self.number(value, decimals))
    }

    /// The unit of distances.
    pub fn unit(&self) -> String {
        match self.units {
            UnitsShown::Km => self.unit_km(),
            UnitsShown::Miles => self.unit_miles(),
        }
    }

    /// A thousand of the unit of distances.
    pub fn thousand(&self) -> String {
        format!("{}\u{a0}{}", self.number(1_000.0, 0), self.unit())
    }

    /// A distance in the workshop's unit.
    pub fn in_units(&self, km: f64) -> f64 {
        match self.units {
            UnitsShown::Km => km,
            UnitsShown::Miles => km / KM_PER_MILE,
        }
    }

    /// Kilometres of a distance in the workshop's unit.
    pub fn km_of(&self, distance: f64) -> f64 {
        distance / self.in_units(1.0)
    }

    /// A forecast distance to two figures: nobody knows it better.
    pub fn about(&self, km: f64) -> String {
        let value = self.in_units(km);
        let step = 10_f64.powf((value.max(10.0).log10().floor() - 1.0).max(0.0));
        format!("{}\u{a0}{}", self.number((value / step).round() * step, 0), self.unit())
    }

    /// A distance that was ridden, to the whole unit.
    pub fn ridden(&self, km: f64) -> String {
        format!("{}\u{a0}{}", self.number(self.in_units(km), 0), self.unit())
    }

    /// An amount in minor units of the workshop's currency: two decimals, none for the currencies without.
    pub fn money(&self, minor: i64) -> String {
        let code = self.currency.map(|currency| currency.to_string()).unwrap_or_default();
        let decimals = self.decimals_of_money();
        let amount = self.number(minor as f64 / 10_f64.powi(decimals as i32), decimals);
        self.amount_of_money(amount, code)
    }

    /// Decimals of the workshop's currency (ISO 4217: none for yen, won and the like; M).
    pub fn decimals_of_money(&self) -> usize {
        const WHOLE: [&str; 8] = ["JPY", "KRW", "VND", "CLP", "ISK", "PYG", "UGX", "XAF"];
        let code = self.currency.map(|currency| currency.to_string()).unwrap_or_default();
        if WHOLE.contains(&code.as_str()) { 0 } else { 2 }
    }

    /// A probability as a natural frequency.
    pub fn chance(&self, probability: f64) -> String {
        let p = probability.clamp(0.0, 1.0);
        if p < 0.005 {
            self.chance_none()
        } else if p > 0.995 {
            self.chance_sure()
        } else if (0.095..0.905).contains(&p) {
            self.chance_of_ten((p * 10.0).round())
        } else {
            self.chance_of_hundred((p * 100.0).round())
        }
    }

    /// What an advice is called where it stands alone.
    pub fn advice(&self, advice: Advice) -> String {
        match advice {
            Advice::SwapNow => self.advice_swap_now(),
            Advice::Hold => self.advice_hold(),
            Advice::SwapBy => self.advice_swap_by_some_day(),
            Advice::MeasureBy => self.advice_measure_by_some_day(),
            Advice::RideOn => self.advice_ride_on(),
        }
    }

    /// What to do, with its date.
    pub fn what_to_do(
        &self,
        advice: Advice,
        swap_by: Option<NaiveDate>,
        measure_by: Option<NaiveDate>,
        today: NaiveDate,
    ) -> String {
        match (advice, swap_by, measure_by) {
            (Advice::SwapBy, Some(day), _) => self.advice_swap_by(self.near_date(day, today)),
            (Advice::MeasureBy, _, Some(day)) if day <= today => self.advice_measure_now(),
            (Advice::MeasureBy, _, Some(day)) => self.advice_measure_by(self.near_date(day, today)),
            (other, ..) => self.advice(other),
        }
    }

    /// What to do, with what goes on together with the chain where it comes off.
    pub fn with_chain(&self, to_do: String, advice: Advice, with: &[Place]) -> String {
        if with.is_empty() || !matches!(advice, Advice::SwapNow | Advice::SwapBy) {
            return to_do;
        }
        let mut parts: Vec<String> = std::iter::once(Place::Chain)
            .chain(with.iter().copied())
            .map(|place| self.place(place))
            .collect();
        let last = parts.pop().unwrap_or_default();
        self.advice_with(to_do, self.list_and(parts.join(", "), last))
    }

    /// A date without its year when the year is this one.
    pub fn near_date(&self, day: NaiveDate, today: NaiveDate) -> String {
        if day.year() == today.year() { self.short_date(day) } else { self.medium_date(day) }
    }

    /// Why, in one sentence.
    pub fn why(
        &self,
        advice: Advice,
        reason: Option<Reason>,
        remaining: Option<Quantiles>,
        over: Option<f64>,
    ) -> String {
        match reason {
            Some(Reason::AgeUnknown) => return self.why_never_measured(),
            Some(Reason::RidingUnknown { .. }) => return self.why_no_riding(),
            Some(Reason::CassetteUntried { probability }) => {
                return self.why_cassette_untried(self.chance(probability));
            }
            Some(Reason::CassetteSkips { probability }) => {
                return self.why_cassette_skips(self.chance(probability));
            }
            _ => {}
        }
        match (advice, remaining, over) {
            (Advice::Hold, ..) => self.why_hold(),
            (Advice::SwapNow, _, Some(over)) => self.why_over(self.chance(over)),
            (_, Some(Quantiles { p10, .. }), _) if p10 >= 1.0 => self.why_less(self.about(p10)),
            (_, _, Some(over)) => self.why_over(self.chance(over)),
            _ => String::new(),
        }
    }

    /// The most likely distance left; unknown where nobody can tell it.
    pub fn left(&self, advice: Advice, reason: Option<Reason>, remaining: Option<Quantiles>) -> String {
        match remaining {
            _ if reason.is_some_and(|reason| is_unknown(advice, reason)) => self.left_unknown(),
            Some(Quantiles { p50, .. }) if p50 < 1.0 => self.left_none(),
            Some(Quantiles { p50, .. }) => self.left_about(self.about(p50)),
            None => self.left_unknown(),
        }
    }
}

/// Whether nobody can say how worn the chain is: a single number would be false confidence.
pub const fn is_unknown(advice: Advice, reason: Reason) -> bool {
    match reason {
        // It is the cassette that somebody has to look at.
        Reason::CassetteUntried { .. } | Reason::CassetteSkips { .. } => false,
        Reason::AgeUnknown | Reason::RidingUnknown { .. } => true,
        _ => matches!(advice, Advice::Hold),
    }
}

/// Whether nobody ever said how far the bike goes, by rides, odometer or declared use: what there is of the chain's life has
/// no date then.
pub fn is_riding_unknown(outlook: &Outlook) -> bool {
    let is_known = !is_unknown(outlook.advice, outlook.reason);
    is_known && outlook.part_id.is_some() && outlook.limit_on().is_none() && outlook.basis.distance_km <= 0.0
}

/// A number as people type it: decimal comma or point, a sign, or a fraction as in `12 1/16`.
pub fn parse_number(text: &str) -> Option<f64> {
    const GLYPHS: [(char, &str); 7] = [
        ('½', " 1/2"),
        ('¼', " 1/4"),
        ('¾', " 3/4"),
        ('⅛', " 1/8"),
        ('⅜', " 3/8"),
        ('⅝', " 5/8"),
        ('⅞', " 7/8"),
    ];
    let mut plain = text.trim().replace(',', ".").replace('\u{2212}', "-");
    for (glyph, spelled) in GLYPHS {
        plain = plain.replace(glyph, spelled);
    }
    for unit in ["\"", "″", "in", "mm", "%", "km"] {
        plain = plain.trim_end_matches(unit).trim().to_owned();
    }
    if let Some((before, bottom)) = plain.split_once('/') {
        let (whole, top) = match before.trim().rsplit_once([' ', '-', '+']) {
            Some((whole, top)) => (whole.trim().trim_end_matches(['-', '+']).parse::<f64>().ok()?, top),
            None => (0.0, before.trim()),
        };
        let (top, bottom): (f64, f64) = (top.trim().parse().ok()?, bottom.trim().parse().ok()?);
        return (bottom > 0.0).then_some(whole + top / bottom).filter(|value| value.is_finite());
    }
    plain.parse::<f64>().ok().filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(language: Language, units: UnitsShown) -> Words {
        Words { units, currency: "EUR".parse().ok(), ..Words::of(language) }
    }

    #[test]
    fn forecast_distances_have_two_figures_and_a_unit() {
        let table = [
            (3.4, UnitsShown::Km, "3\u{a0}km"),
            (64.0, UnitsShown::Km, "64\u{a0}km"),
            (643.0, UnitsShown::Km, "640\u{a0}km"),
            (12_345.0, UnitsShown::Km, "12,000\u{a0}km"),
            (1_609.344, UnitsShown::Miles, "1,000\u{a0}miles"),
        ];
        for (km, units, expected) in table {
            assert_eq!(words(Language::En, units).about(km), expected);
        }
        assert_eq!(words(Language::De, UnitsShown::Miles).about(1_609.344), "1.000\u{a0}Meilen");
    }

    #[test]
    fn numbers_and_dates_follow_the_language() {
        let (en, de) = (words(Language::En, UnitsShown::Km), words(Language::De, UnitsShown::Km));
        let day = NaiveDate::from_ymd_opt(2026, 3, 9).unwrap();
        for (value, decimals, english, german) in [
            (1_234.5, 1, "1,234.5", "1.234,5"),
            (-0.31, 2, "\u{2212}0.31", "\u{2212}0,31"),
            (-0.001, 2, "0.00", "0,00"),
            (999.0, 0, "999", "999"),
            (1e6, 0, "1,000,000", "1.000.000"),
        ] {
            assert_eq!(
                (en.number(value, decimals), de.number(value, decimals)),
                (english.into(), german.into())
            );
        }
        assert_eq!((en.date(day), de.date(day)), ("9 March 2026".into(), "9. März 2026".into()));
        assert_eq!(
            (en.money(123_456), de.money(123_456)),
            ("EUR\u{a0}1,234.56".into(), "1.234,56\u{a0}EUR".into())
        );
    }

    #[test]
    fn a_typed_number_may_have_a_comma_or_a_fraction() {
        let table = [
            ("0,31", Some(0.31)),
            (" 0.31 % ", Some(0.31)),
            ("12 1/16", Some(12.0625)),
            ("12-1/16\"", Some(12.0625)),
            ("12⅛", Some(12.125)),
            ("1/16", Some(0.0625)),
            ("-0,1", Some(-0.1)),
            ("305,7 mm", Some(305.7)),
            ("", None),
            ("twelve", None),
            ("1/0", None),
            ("inf", None),
        ];
        for (text, expected) in table {
            assert_eq!(parse_number(text), expected, "{text}");
        }
    }

    #[test]
    fn a_chance_is_a_natural_frequency() {
        let en = words(Language::En, UnitsShown::Km);
        for (p, expected) in [
            (0.001, "less than 1 chance in 100"),
            (0.03, "about 3 chances in 100"),
            (0.2, "about 2 chances in 10"),
            (0.734, "about 7 chances in 10"),
            (0.97, "about 97 chances in 100"),
            (1.0, "more than 99 chances in 100"),
        ] {
            assert_eq!(en.chance(p), expected, "{p}");
        }
    }
}
