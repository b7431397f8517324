//! How tools and people err, as far as a fleet's chains have told.

use std::collections::BTreeMap;

use super::joint::{self, Bias, JointFit};
use super::read_with::{ReadWith, Tool};
use crate::degradation::TimedReading;
use crate::reading::{Calibration, Instrument, InstrumentCalibrations};

/// How far a tool or a person reads high, percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedBias {
    /// Read minus true; of a gauge, by how much it drops in early.
    pub bias: f64,
    /// What is left of its uncertainty, as a standard deviation.
    pub sd: f64,
    /// Readings that told.
    pub readings: usize,
    /// What the spread of single readings is over the instrument's: 1 of a tool, a person's own of a person.
    pub spread: f64,
}

/// Tools and people of a fleet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LearnedTools {
    calibrations: InstrumentCalibrations,
    gauges_judged: bool,
    tools: BTreeMap<Tool, LearnedBias>,
    persons: BTreeMap<String, LearnedBias>,
    /// Covariance of the bias of a tool with that of a person.
    together: BTreeMap<(Tool, String), f64>,
}

impl LearnedTools {
    pub(super) fn new(found: &JointFit, calibrations: &InstrumentCalibrations) -> Self {
        let of_kind = |tool: &Tool| calibrations.of(tool.instrument).bias();
        let learned = |Bias { mean, sd, readings }: Bias, of_kind: f64, spread: f64| LearnedBias {
            bias: of_kind + mean,
            sd,
            readings,
            spread,
        };
        let tools = found
            .tools
            .iter()
            .map(|(tool, bias)| (tool.clone(), learned(*bias, of_kind(tool), 1.0)))
            .collect();
        let persons = found
            .persons
            .iter()
            .zip(&found.ln_wider)
            .map(|((name, bias), ln_wider)| (name.clone(), learned(*bias, 0.0, ln_wider.exp())))
            .collect();
        let together = found
            .tools
            .iter()
            .zip(&found.tool_with_person)
            .flat_map(|((tool, _), row)| {
                found
                    .persons
                    .iter()
                    .zip(row)
                    .map(|((name, _), covariance)| ((tool.clone(), name.clone()), *covariance))
            })
            .collect();
        Self { calibrations: *calibrations, gauges_judged: found.gauges_judged, tools, persons, together }
    }

    /// What was learned before, of a fleet whose instruments err so: [`LearnedTools::tools`], [`LearnedTools::persons`],
    /// [`LearnedTools::together`] and [`LearnedTools::gauges_judged`], as they were kept.
    #[must_use]
    pub fn kept(
        calibrations: &InstrumentCalibrations,
        gauges_judged: bool,
        tools: impl IntoIterator<Item = (Tool, LearnedBias)>,
        persons: impl IntoIterator<Item = (String, LearnedBias)>,
        together: impl IntoIterator<Item = ((Tool, String), f64)>,
    ) -> Self {
        Self {
            calibrations: *calibrations,
            gauges_judged,
            tools: tools.into_iter().collect(),
            persons: persons.into_iter().collect(),
            together: together.into_iter().collect(),
        }
    }

    /// Covariance of the bias of each tool with that of each person.
    pub fn together(&self) -> impl Iterator<Item = (&Tool, &str, f64)> {
        self.together.iter().map(|((tool, person), covariance)| (tool, person.as_str(), *covariance))
    }

    /// Each tool that was read with: its bias is over what is true, not over that of its kind.
    pub fn tools(&self) -> impl Iterator<Item = (&Tool, LearnedBias)> {
        self.tools.iter().map(|(tool, bias)| (tool, *bias))
    }

    /// Whether gauges could be judged: their yes and no alone can't tell an offset from the rate at which chains wear.
    /// Where they couldn't, what is assumed of their kind stands.
    #[must_use]
    pub const fn gauges_judged(&self) -> bool {
        self.gauges_judged
    }

    /// Each person who read, over what the tool reads.
    pub fn persons(&self) -> impl Iterator<Item = (&str, LearnedBias)> {
        self.persons.iter().map(|(name, bias)| (name.as_str(), *bias))
    }

    /// A chain's readings, each with the calibration of its tool and its person.
    #[must_use]
    pub fn calibrated(&self, readings: &[TimedReading], with: &[ReadWith]) -> Vec<TimedReading> {
        let nobody = ReadWith::default();
        let with = with.iter().chain(std::iter::repeat(&nobody));
        readings
            .iter()
            .zip(with)
            .map(|(reading, with)| match self.calibration(reading.measurement.instrument(), with) {
                Some(own) => reading.with_calibration(own),
                None => *reading,
            })
            .collect()
    }

    /// How a reading errs that was taken with these; `None` while nothing has been learned of such instruments, so that
    /// its kind's calibration stands. What isn't known of the biases widens it.
    #[must_use]
    pub fn calibration(&self, instrument: Instrument, with: &ReadWith) -> Option<Calibration> {
        if self.tools.is_empty() || instrument.is_gauge() && !self.gauges_judged {
            return None;
        }
        let kind = self.calibrations.of(instrument);
        let tool = Tool { instrument, name: with.tool.clone() };
        let of_tool = self.tools.get(&tool).copied().unwrap_or(LearnedBias {
            bias: kind.bias(),
            sd: joint::prior_sd(instrument, &self.calibrations),
            readings: 0,
            spread: 1.0,
        });
        let nobody = LearnedBias { bias: 0.0, sd: 0.0, readings: 0, spread: 1.0 };
        let stranger = LearnedBias { sd: joint::PERSON_SD, ..nobody };
        let person = match &with.person {
            None => nobody,
            Some(name) => self.persons.get(name).copied().unwrap_or(stranger),
        };
        let covariance =
            with.person.as_ref().and_then(|name| self.together.get(&(tool, name.clone())).copied());
        let variance = of_tool.sd.powi(2) + person.sd.powi(2) + 2.0 * covariance.unwrap_or(0.0);
        Calibration::clamped(of_tool.bias + person.bias, kind.sd() * person.spread)
            .with_unknown_bias(variance.max(0.0).sqrt().min(0.5))
            .ok()
    }
}
