//! Readings that cannot all be true.

use super::TimedReading;
use super::step::Trial;
use crate::reading::Likelihood;

/// Combined standard deviations by which a later reading may fall short of an earlier one before the
/// pair is named (A).
const DEVIATIONS_THAT_WARN: f64 = 4.0;

/// A reading that the history before it speaks against.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Contradiction {
    /// The earlier reading of the pair; `None` when the first reading is at odds with the exposure alone.
    pub earlier: Option<TimedReading>,
    /// The reading at odds with what came before.
    pub later: TimedReading,
    /// By how many combined standard deviations the later reading says less than the earlier one, or,
    /// when it doesn't, how many it is from what was predicted, at least.
    pub deviations: f64,
    /// True when the process cannot explain the later reading, so that it was set aside: a person has to look.
    /// Otherwise it is a warning. Either way another chain was measured, or the chain was changed and nobody wrote it
    /// down, or the number is wrong.
    pub likelihood_lost: bool,
}

/// The earlier readings that can still be contradicted: none of them is both lower and less certain than
/// another.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct HighMarks {
    pub(super) marks: Vec<HighMark>,
    pub(super) last: Option<TimedReading>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct HighMark {
    pub(super) at_least: f64,
    pub(super) sd: f64,
    pub(super) reading: TimedReading,
}

impl HighMarks {
    /// Judges the next reading and remembers it.
    pub(super) fn judge(
        &mut self,
        reading: TimedReading,
        likelihood: &Likelihood,
        trial: &Trial,
    ) -> Option<Contradiction> {
        let worst = likelihood.at_most().and_then(|at_most| {
            self.marks
                .iter()
                .map(|mark| ((mark.at_least - at_most) / mark.sd.hypot(likelihood.sd()), mark.reading))
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .filter(|(deviations, _)| *deviations > DEVIATIONS_THAT_WARN)
        });
        let likelihood_lost = trial.set_aside;
        let found = match worst {
            Some((deviations, earlier)) => {
                Some(Contradiction { earlier: Some(earlier), later: reading, deviations, likelihood_lost })
            }
            None => likelihood_lost.then(|| Contradiction {
                earlier: self.last,
                later: reading,
                deviations: (-2.0 * trial.relative_evidence.ln()).sqrt(),
                likelihood_lost,
            }),
        };
        if let Some(at_least) = likelihood.at_least().filter(|_| !likelihood_lost) {
            let sd = likelihood.sd();
            if !self.marks.iter().any(|mark| mark.at_least >= at_least && mark.sd <= sd) {
                self.marks.retain(|mark| mark.at_least > at_least || mark.sd < sd);
                self.marks.push(HighMark { at_least, sd, reading });
            }
        }
        self.last = Some(reading);
        found
    }
}
