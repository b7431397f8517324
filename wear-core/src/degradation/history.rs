//! A chain's readings with checkpoints between them, for events that are reported late.

use super::{OpenExposure, Posterior, TimedReading, WearParameters};
use crate::reading::InstrumentCalibrations;
use crate::units::ReferenceKilometres;

/// Most checkpoints kept; the further back, the sparser.
const MOST_CHECKPOINTS: usize = 12;

/// Readings in order of exposure, the posterior after all of them, and posteriors along the way.
///
/// The usual reading is the newest: one step of the filter. One from the past recomputes what came after it, from the
/// checkpoint before it. Either way the posterior is, bit for bit, the one that [`Posterior::of`] makes of all readings.
#[derive(Debug, Clone, PartialEq)]
pub struct PosteriorHistory {
    start: Posterior,
    readings: Vec<TimedReading>,
    /// How many readings each has taken in, and it; in ascending order.
    checkpoints: Vec<(usize, Posterior)>,
    last: Posterior,
}

impl PosteriorHistory {
    /// A chain without readings.
    #[must_use]
    pub fn new(parameters: &WearParameters, calibrations: &InstrumentCalibrations) -> Self {
        let start = Posterior::new(parameters, calibrations);
        Self { last: start.clone(), start, readings: Vec::new(), checkpoints: Vec::new() }
    }

    /// The posterior after all readings.
    #[must_use]
    pub const fn posterior(&self) -> &Posterior {
        &self.last
    }

    /// The readings, in order of exposure.
    #[must_use]
    pub fn readings(&self) -> &[TimedReading] {
        &self.readings
    }

    /// Sets how far exposures that no reading has closed may be off.
    pub const fn set_open_exposure(&mut self, open: OpenExposure) {
        self.last.set_open_exposure(open);
    }

    /// Takes in a reading, late or not; returns how many steps of the filter that took.
    pub fn insert(&mut self, reading: TimedReading) -> usize {
        let mut sorted = self.readings.clone();
        sorted.push(reading);
        self.replace(sorted)
    }

    /// Takes out one reading of this measurement at this exposure; `None` when there is none, else the steps of the
    /// filter taken.
    pub fn remove(&mut self, reading: &TimedReading) -> Option<usize> {
        let same = |one: &TimedReading| one.at == reading.at && one.measurement == reading.measurement;
        let place = self.readings.iter().position(same)?;
        let mut left = self.readings.clone();
        left.remove(place);
        Some(self.replace(left))
    }

    /// Replaces the readings from exposure `from` on: what a late ride does, as it moves all that came after it.
    /// Returns the steps of the filter taken.
    pub fn replace_from(&mut self, from: ReferenceKilometres, later: &[TimedReading]) -> usize {
        let mut readings: Vec<TimedReading> =
            self.readings.iter().filter(|one| one.at < from).copied().collect();
        readings.extend_from_slice(later);
        self.replace(readings)
    }

    /// Makes `readings` the readings, and computes on from the last checkpoint that they agree with.
    fn replace(&mut self, mut readings: Vec<TimedReading>) -> usize {
        Posterior::put_in_order(&mut readings);
        let same = self.readings.iter().zip(&readings).take_while(|(a, b)| a == b).count();
        self.checkpoints.retain(|(taken, _)| *taken <= same);
        let open = self.last.open;
        let (taken, mut posterior) = if self.readings.len() == same {
            (same, self.last.clone())
        } else {
            self.checkpoints.last().cloned().unwrap_or_else(|| (0, self.start.clone()))
        };
        if taken > 0 && self.checkpoints.last().is_none_or(|(last, _)| *last < taken) {
            self.checkpoints.push((taken, posterior.clone()));
        }
        for (i, reading) in readings.iter().enumerate().skip(taken) {
            posterior.update(*reading);
            if i + 1 < readings.len() {
                self.checkpoints.push((i + 1, posterior.clone()));
            }
        }
        self.thin(readings.len());
        let steps = readings.len() - taken;
        if steps == 0 {
            posterior.set_open_exposure(open);
        } else {
            posterior.set_open_exposure(OpenExposure { ahead: open.ahead, ..OpenExposure::EXACT });
        }
        self.last = posterior;
        self.readings = readings;
        steps
    }

    /// Keeps checkpoints 1, 2, 4, 8 … readings back and some between, so that going back n readings costs at most
    /// about 2n steps.
    fn thin(&mut self, count: usize) {
        while self.checkpoints.len() > MOST_CHECKPOINTS {
            // The one whose absence leaves the smallest gap for its age goes.
            let worth = |i: usize| {
                let before = if i == 0 { 0 } else { self.checkpoints[i - 1].0 };
                let after = self.checkpoints.get(i + 1).map_or(count, |(taken, _)| *taken);
                (after - before) as f64 / (count - before) as f64
            };
            let least = (0..self.checkpoints.len()).min_by(|a, b| worth(*a).total_cmp(&worth(*b)));
            match least {
                Some(place) => self.checkpoints.remove(place),
                None => return,
            };
        }
    }
}
