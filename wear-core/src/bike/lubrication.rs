//! How well lubricated a chain is, by what is known of its care.

use super::Moment;
use crate::exposure::Conditions;
use crate::exposure::care::{CareKind, CareModel, CareState, Segment};
use crate::exposure::care_habit::{CareHabit, RoutineWalk, UnrecordedCare};
use crate::units::{Kilometres, LogSd};

/// A chain's lubrication on its way through rides and care.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Lubrication {
    /// As entered.
    Recorded(CareState),
    /// By a routine, and what was entered besides.
    Routine(RoutineWalk),
    /// Nobody says: the mean over what is usual.
    Unrecorded(UnrecordedCare),
    /// Nobody says, until the first entry at a time, days.
    UnrecordedUntil(f64, UnrecordedCare),
}

/// A stretch of riding with care counted.
pub(super) struct WithCare {
    /// Exposure, reference km.
    pub reference_km: f64,
    /// How far an assumed care may be off; none where care is known.
    pub assumed: Option<LogSd>,
}

impl Default for Lubrication {
    fn default() -> Self {
        Self::Recorded(CareState::fresh())
    }
}

impl Lubrication {
    /// A chain that was fitted clean.
    pub fn at_the_start(habit: CareHabit, from: Moment, conditions: &Conditions) -> Self {
        match habit {
            CareHabit::Recorded => Self::default(),
            CareHabit::Routine(routine) => Self::Routine(RoutineWalk::from_day(routine, from.days())),
            CareHabit::Unrecorded => Self::Unrecorded(conditions.unrecorded()),
            CareHabit::RecordedSince(since) if since <= from.days() => Self::default(),
            CareHabit::RecordedSince(since) => Self::UnrecordedUntil(since, conditions.unrecorded()),
        }
    }

    /// Whether silence counts as neglect.
    pub const fn counts_as_recorded(&self) -> bool {
        matches!(self, Self::Recorded(_))
    }

    /// It was looked after.
    pub fn meet(&mut self, at: Moment, kind: CareKind) {
        match self {
            Self::Recorded(state) => *state = state.after(kind),
            Self::Routine(walk) => walk.care(at.days(), kind),
            Self::Unrecorded(_) => {}
            Self::UnrecordedUntil(since, _) => {
                if at.days() >= *since {
                    *self = Self::Recorded(CareState::fresh().after(kind));
                }
            }
        }
    }

    /// It was ridden, wet and dry spread evenly over so many kilometres.
    pub fn ride(&mut self, at: Moment, km: f64, segment: Segment, model: &CareModel) -> WithCare {
        match self {
            Self::Recorded(state) => {
                let (reference_km, after) = model.accrue(*state, segment);
                *state = after;
                WithCare { reference_km, assumed: None }
            }
            Self::Routine(walk) => {
                let distance = Kilometres::new(km).unwrap_or(Kilometres::ZERO);
                WithCare { reference_km: walk.ride(model, at.days(), distance, segment), assumed: None }
            }
            Self::Unrecorded(usual) | Self::UnrecordedUntil(_, usual) => {
                let (reference_km, ln_sd) = usual.exposure(segment);
                WithCare { reference_km, assumed: Some(ln_sd) }
            }
        }
    }
}
