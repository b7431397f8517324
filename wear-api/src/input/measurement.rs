//! What was read from a chain, as requests and case files write it.

use wear_core::bounds;
use wear_core::units::{ElongationReading, GaugeMark};

use super::parse;
use crate::domain::{Entry, Field, FieldErrors, Form, Instrument, Invalid, Measured};

/// Pitches that a length is measured over when none are given: twelve inches.
const DEFAULT_PITCHES: i64 = 24;

/// The fields of a measurement, raw. Which of them are there depends on the instrument.
#[derive(Debug, Clone, Default)]
pub struct RawMeasurement {
    /// `rule`, `caliper`, `dial`, `drop_in` or `drop_in_isolating`.
    pub instrument: String,
    /// Elongation at one place, percent.
    pub percent: Option<f64>,
    /// Elongation at several places, percent.
    pub spots: Option<Vec<f64>>,
    /// Pitches that a length was measured over.
    pub pitches: Option<i64>,
    /// Length over these pitches, mm.
    pub length_mm: Option<f64>,
    /// Nominal mark of a drop-in gauge, percent.
    pub mark_percent: Option<f64>,
    /// Whether the gauge dropped in.
    pub drops_in: Option<bool>,
}

impl RawMeasurement {
    /// Checks every field.
    ///
    /// # Errors
    /// Everything that is wrong, by pointers relative to the object that holds the fields.
    pub fn parse(self) -> Result<Measured, FieldErrors> {
        let mut errors = FieldErrors::new();
        let Some(instrument) = errors.keep("/instrument", parse::text::<Instrument>(&self.instrument)) else {
            return Err(errors);
        };
        let entry = if instrument.is_gauge() {
            self.gauge(instrument, &mut errors)
        } else {
            self.number(instrument, &mut errors)
        };
        let measured =
            entry.filter(|_| errors.is_empty()).and_then(|entry| errors.keep("", Measured::new(entry)));
        match measured {
            Some(measured) => Ok(measured),
            None => Err(errors),
        }
    }

    fn gauge(self, instrument: Instrument, errors: &mut FieldErrors) -> Option<Entry> {
        const ALLOWED: Form = Form::MarkWithGauge;
        for (there, pointer) in [
            (self.percent.is_some(), "/percent"),
            (self.spots.is_some(), "/spots"),
            (self.pitches.is_some(), "/pitches"),
            (self.length_mm.is_some(), "/length_mm"),
        ] {
            if there {
                let what = Field::NumberOnGauge;
                errors.push(Invalid::Together { what, allowed: ALLOWED }.at(pointer));
            }
        }
        let mark = match self.mark_percent {
            Some(mark) => errors.keep("/mark_percent", GaugeMark::new(mark)),
            None => missing(errors, "/mark_percent", Field::MarkPercent, Form::NominalMark),
        };
        let drops_in = match self.drops_in {
            Some(drops_in) => Some(drops_in),
            None => missing(errors, "/drops_in", Field::DropsIn, Form::Flag),
        };
        Some(Entry::Gauge { instrument, mark: mark?, drops_in: drops_in? })
    }

    fn number(self, instrument: Instrument, errors: &mut FieldErrors) -> Option<Entry> {
        const ALLOWED: Form = Form::PercentSpotsOrLength;
        for (there, pointer) in
            [(self.mark_percent.is_some(), "/mark_percent"), (self.drops_in.is_some(), "/drops_in")]
        {
            if there {
                let what = Field::MarkOnScale;
                errors.push(Invalid::Together { what, allowed: ALLOWED }.at(pointer));
            }
        }
        match (self.percent, self.spots, self.length_mm) {
            (Some(percent), None, None) => {
                if self.pitches.is_some() {
                    needs_length(errors);
                }
                let percent = errors.keep("/percent", ElongationReading::new(percent))?;
                Some(Entry::Percent { instrument, percent })
            }
            (None, Some(spots), None) => {
                if self.pitches.is_some() {
                    needs_length(errors);
                }
                spots_entry(instrument, &spots, errors)
            }
            (None, None, Some(length_mm)) => {
                if instrument != Instrument::Rule {
                    let what = Field::LengthWithoutRule;
                    errors.push(Invalid::Together { what, allowed: ALLOWED }.at("/length_mm"));
                    return None;
                }
                let pitches =
                    parse::whole::<u32>(self.pitches.unwrap_or(DEFAULT_PITCHES), &bounds::MEASURED_PITCHES);
                let pitches = errors.keep("/pitches", pitches)?;
                let over_24 = length_mm * 24.0 / f64::from(pitches);
                errors.keep("/length_mm", bounds::LENGTH_PER_24_PITCHES.check(over_24))?;
                Some(Entry::Length { instrument, pitches, length_mm })
            }
            (None, None, None) => {
                let pointer = if self.pitches.is_some() { "/length_mm" } else { "/percent" };
                missing(errors, pointer, Field::WhatWasRead, ALLOWED)
            }
            _ => {
                let what = Field::SeveralReadings;
                errors.push(Invalid::Together { what, allowed: ALLOWED }.at(""));
                None
            }
        }
    }
}

fn needs_length(errors: &mut FieldErrors) {
    missing::<()>(errors, "/length_mm", Field::LengthMm, Form::LengthWithPitches);
}

fn missing<T>(errors: &mut FieldErrors, pointer: &str, what: Field, allowed: Form) -> Option<T> {
    errors.push(Invalid::Missing { what, allowed }.at(pointer));
    None
}

fn spots_entry(instrument: Instrument, spots: &[f64], errors: &mut FieldErrors) -> Option<Entry> {
    let count = Invalid::Count {
        what: Field::Spots,
        found: spots.len(),
        minimum: bounds::SPOTS.minimum as usize,
        maximum: bounds::SPOTS.maximum as usize,
    };
    errors.keep("/spots", bounds::SPOTS.check(spots.len() as f64).map_err(|_| count))?;
    let spots: Vec<_> = spots
        .iter()
        .enumerate()
        .map(|(index, &spot)| errors.keep(format!("/spots/{index}"), ElongationReading::new(spot)))
        .collect();
    Some(Entry::Spots { instrument, spots: spots.into_iter().collect::<Option<_>>()? })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule() -> RawMeasurement {
        RawMeasurement { instrument: "rule".into(), ..RawMeasurement::default() }
    }

    fn pointers(raw: RawMeasurement) -> Vec<String> {
        let errors = raw.parse().expect_err("a mistake");
        errors.as_slice().iter().map(|error| error.pointer.clone()).collect()
    }

    #[test]
    fn a_length_is_a_percentage() {
        let raw = RawMeasurement { pitches: Some(24), length_mm: Some(305.7), ..rule() };
        let measured = raw.parse().expect("a legal length");
        assert_eq!(
            measured.entry(),
            &Entry::Length { instrument: Instrument::Rule, pitches: 24, length_mm: 305.7 }
        );
    }

    #[test]
    fn each_mistake_is_placed() {
        let table = [
            (RawMeasurement { instrument: "ruler".into(), ..rule() }, vec!["/instrument"]),
            (rule(), vec!["/percent"]),
            (RawMeasurement { percent: Some(3.1), ..rule() }, vec!["/percent"]),
            (RawMeasurement { percent: Some(f64::NAN), ..rule() }, vec!["/percent"]),
            (RawMeasurement { percent: Some(0.3), mark_percent: Some(0.5), ..rule() }, vec!["/mark_percent"]),
            (RawMeasurement { length_mm: Some(12.03), ..rule() }, vec!["/length_mm"]),
            (RawMeasurement { length_mm: Some(305.0), pitches: Some(2), ..rule() }, vec!["/pitches"]),
            (RawMeasurement { pitches: Some(24), ..rule() }, vec!["/length_mm"]),
            (RawMeasurement { percent: Some(0.1), length_mm: Some(305.0), ..rule() }, vec![""]),
            (RawMeasurement { spots: Some(vec![]), ..rule() }, vec!["/spots"]),
            (RawMeasurement { spots: Some(vec![0.1, 9.0, -9.0]), ..rule() }, vec!["/spots/1", "/spots/2"]),
            (
                RawMeasurement {
                    instrument: "drop_in".into(),
                    percent: Some(0.2),
                    ..RawMeasurement::default()
                },
                vec!["/percent", "/mark_percent", "/drops_in"],
            ),
            (
                RawMeasurement {
                    instrument: "dial".into(),
                    length_mm: Some(305.0),
                    ..RawMeasurement::default()
                },
                vec!["/length_mm"],
            ),
        ];
        for (raw, expected) in table {
            assert_eq!(pointers(raw.clone()), expected, "{raw:?}");
        }
    }
}
