//! The methods of measuring, as the measuring page offers them, and what was typed made a measurement.

use wear_core::bounds;
use wear_core::units::{ElongationReading, GaugeMark};

use super::frame::Fields;
use crate::domain::{Entry, Instrument, Measured};
use crate::words::{Words, parse_number};

/// Millimetres of an inch.
const INCH: f64 = 25.4;

/// Pitches that a rule is laid along: twelve inches of a new chain.
const PITCHES: u32 = 24;

wear_core::vocabulary! {
    /// A method of measuring.
    Method, "way" {
        /// A rule read in inches.
        RuleInches = "rule_inches",
        /// A rule read in millimetres.
        RuleMm = "rule_mm",
        /// A rule read in percent.
        RulePercent = "rule_percent",
        /// A caliper.
        Caliper = "caliper",
        /// A dial gauge.
        Dial = "dial",
        /// A drop-in gauge of the usual kind.
        DropIn = "drop_in",
        /// A drop-in gauge that pushes both rollers the same way.
        DropInIsolating = "drop_in_isolating",
    }
}

/// Why what was typed is no measurement.
#[derive(Debug, Clone, PartialEq)]
pub enum Typo {
    /// Nothing was typed.
    Missing,
    /// It is no number.
    NotANumber(String),
    /// Too many numbers, or out of range for a percentage.
    PercentRange,
    /// Out of range for a length.
    LengthRange,
}

impl Typo {
    /// In words.
    pub fn text(&self, words: &Words) -> String {
        match self {
            Self::Missing => words.measure_missing(),
            Self::NotANumber(text) => words.measure_not_a_number(text),
            Self::PercentRange => words.measure_percent_range(),
            Self::LengthRange => words.measure_length_range(),
        }
    }
}

impl Method {
    /// What it is called.
    pub fn name(self, words: &Words) -> String {
        match self {
            Self::RuleInches => words.way_rule_inches(),
            Self::RuleMm => words.way_rule_mm(),
            Self::RulePercent => words.way_rule_percent(),
            Self::Caliper => words.way_caliper(),
            Self::Dial => words.way_dial(),
            Self::DropIn => words.way_drop_in(),
            Self::DropInIsolating => words.way_drop_in_isolating(),
        }
    }

    /// How to do it.
    pub fn how(self, words: &Words) -> String {
        match self {
            Self::RuleInches | Self::RuleMm => words.way_rule_how(),
            Self::RulePercent | Self::Caliper | Self::Dial => words.way_percent_how(),
            Self::DropIn => words.way_drop_in_how(),
            Self::DropInIsolating => words.way_isolating_how(),
        }
    }

    /// Whether it answers yes or no.
    pub const fn is_gauge(self) -> bool {
        matches!(self, Self::DropIn | Self::DropInIsolating)
    }

    /// What is typed, where a number is.
    pub fn asks(self, words: &Words) -> String {
        match self {
            Self::RuleInches => words.measure_length_inches(),
            Self::RuleMm => words.measure_length_mm(),
            _ => words.measure_percent(),
        }
    }

    /// Which number pad suits it; the script draws it.
    pub const fn pad(self) -> &'static str {
        match self {
            Self::RuleMm => "mm",
            Self::RulePercent | Self::Caliper | Self::Dial => "percent",
            _ => "",
        }
    }

    /// Values that one tap is enough for: what is shown, and what is sent.
    pub const fn quick(self) -> &'static [&'static str] {
        match self {
            Self::RuleInches => &["12", "12 1/32", "12 1/16", "12 3/32", "12 1/8"],
            _ => &[],
        }
    }

    /// What it measures with.
    pub const fn instrument(self) -> Instrument {
        match self {
            Self::RuleInches | Self::RuleMm | Self::RulePercent => Instrument::Rule,
            Self::Caliper => Instrument::Caliper,
            Self::Dial => Instrument::Dial,
            Self::DropIn => Instrument::DropIn,
            Self::DropInIsolating => Instrument::DropInIsolating,
        }
    }

    /// Makes a measurement of what was typed or tapped.
    ///
    /// # Errors
    /// [`Typo`].
    pub fn measured(self, fields: &Fields) -> Result<Measured, Typo> {
        let entry = match self {
            Self::DropIn | Self::DropInIsolating => {
                let (mark, answer) = fields.get("gauge").split_once(' ').ok_or(Typo::Missing)?;
                let mark = parse_number(mark).ok_or(Typo::Missing)?;
                let mark = GaugeMark::new(mark).map_err(|_| Typo::PercentRange)?;
                Entry::Gauge { instrument: self.instrument(), mark, drops_in: answer == "in" }
            }
            Self::RuleInches | Self::RuleMm => {
                let typed = fields.filled("quick").or(fields.filled("value")).ok_or(Typo::Missing)?;
                let value = parse_number(typed).ok_or_else(|| Typo::NotANumber(shortened(typed)))?;
                let length_mm = if self == Self::RuleInches { value * INCH } else { value };
                bounds::LENGTH_PER_24_PITCHES.check(length_mm).map_err(|_| Typo::LengthRange)?;
                Entry::Length { instrument: Instrument::Rule, pitches: PITCHES, length_mm }
            }
            Self::RulePercent | Self::Caliper | Self::Dial => {
                percents(self.instrument(), fields.get("value"))?
            }
        };
        Measured::new(entry).map_err(|_| Typo::PercentRange)
    }
}

fn percents(instrument: Instrument, typed: &str) -> Result<Entry, Typo> {
    let parts: Vec<&str> = typed.split([' ', ';']).filter(|part| !part.is_empty() && *part != "%").collect();
    let spots = parts
        .iter()
        .map(|part| {
            let value = parse_number(part).ok_or_else(|| Typo::NotANumber(shortened(part)))?;
            ElongationReading::new(value).map_err(|_| Typo::PercentRange)
        })
        .collect::<Result<Vec<_>, Typo>>()?;
    match spots.as_slice() {
        [] => Err(Typo::Missing),
        [percent] => Ok(Entry::Percent { instrument, percent: *percent }),
        _ => Ok(Entry::Spots { instrument, spots }),
    }
}

fn shortened(text: &str) -> String {
    text.chars().take(24).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(value: &str) -> Fields {
        Fields::default().with("value", value)
    }

    fn mean(method: Method, value: &str) -> f64 {
        let measured = method.measured(&fields(value)).unwrap();
        measured.measurement().as_spots().unwrap().mean()
    }

    #[test]
    fn inches_millimetres_and_percent_come_to_the_same() {
        assert!((mean(Method::RuleInches, "12 1/16") - 0.520_83).abs() < 1e-5);
        assert!((mean(Method::RuleInches, "12,0625") - 0.520_83).abs() < 1e-5);
        assert!((mean(Method::RuleMm, "306,3875") - 0.520_83).abs() < 1e-5);
        assert_eq!(mean(Method::Dial, "0,52"), 0.52);
        assert!((mean(Method::Dial, "0,30 0,33; 0.31") - 0.313_333).abs() < 1e-5);
    }

    #[test]
    fn what_cannot_be_is_told_apart() {
        for (method, typed, expected) in [
            (Method::RuleInches, "", Typo::Missing),
            (Method::RuleInches, "306.4", Typo::LengthRange),
            (Method::RuleMm, "12 1/16", Typo::LengthRange),
            (Method::Dial, "31", Typo::PercentRange),
            (Method::Dial, "a bit", Typo::NotANumber("a".into())),
            (Method::DropIn, "0.5", Typo::Missing),
        ] {
            assert_eq!(method.measured(&fields(typed)), Err(expected), "{typed}");
        }
    }

    #[test]
    fn a_gauge_answers_yes_or_no() {
        let fields = Fields::default().with("gauge", "0.75 out");
        let measured = Method::DropIn.measured(&fields).unwrap();
        assert!(matches!(measured.entry(), Entry::Gauge { drops_in: false, .. }));
    }
}
