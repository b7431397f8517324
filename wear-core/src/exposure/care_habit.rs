//! Care of which nobody keeps a record, or only that it is a habit.

use super::care::{CareKind, CareModel, CareState, Segment};
use crate::numeric::normal;
use crate::units::{Kilometres, LogSd};

/// Median reference kilometres between two cleanings that nobody writes down, and the spread of their logarithm (A).
pub const USUAL_CARE_INTERVAL: f64 = 350.0;
/// See [`USUAL_CARE_INTERVAL`].
pub const USUAL_CARE_LN_SD: f64 = 0.7;

/// Points of the integral over ln K, at the middles of equal probabilities.
const POINTS: u32 = 400;

/// What is known of a chain's care.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CareHabit {
    /// Every care is entered: silence is neglect.
    Recorded,
    /// The same from a time on, days after the origin of [`crate::Moment`]: the first entry of a bike whose owner said
    /// nothing. What lies before is unrecorded.
    RecordedSince(f64),
    /// Cleaned and lubricated every so often, whether entered or not.
    Routine(CareRoutine),
    /// Nobody says: see [`CareModel::unrecorded`].
    Unrecorded,
}

/// A chain that is cleaned and lubricated again and again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CareRoutine {
    /// Every so many kilometres.
    Distance(Kilometres),
    /// Every so many weeks.
    Weeks(u16),
}

/// The multiplier of care that nobody records: constant, so that it asks nothing of the order of rides.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct UnrecordedCare {
    /// Multiplies reference kilometres ridden dry.
    pub dry: f64,
    /// Multiplies reference kilometres ridden wet.
    pub wet: f64,
    /// Spread of the logarithm of [`UnrecordedCare::dry`], one source of error for all of a chain's riding.
    pub dry_ln_sd: LogSd,
    /// The same of [`UnrecordedCare::wet`], of the same source.
    pub wet_ln_sd: LogSd,
}

impl UnrecordedCare {
    /// Exposure with care, reference kilometres, and the spread of its logarithm.
    #[must_use]
    pub fn exposure(&self, segment: Segment) -> (f64, LogSd) {
        let (dry, wet) = (segment.dry * self.dry, segment.wet * self.wet);
        let all = dry + wet;
        let ln_sd =
            if all > 0.0 { (dry * self.dry_ln_sd.get() + wet * self.wet_ln_sd.get()) / all } else { 0.0 };
        (all, LogSd::new(ln_sd).unwrap_or(self.wet_ln_sd))
    }
}

impl CareModel {
    /// The mean over care every K reference kilometres, `ln K ~ N(ln 350, 0.7²)`, and how far it may be off.
    ///
    /// Care every K kilometres, all dry, has the mean multiplier m(K) of [`CareModel::mean_multiplier`]; all wet, where
    /// a kilometre counts three times, m(3K). Either is averaged over K. What is ridden partly wet is taken to be the two in
    /// proportion: exact at both ends, below the curve by 0.03 at most in between (C), and a sum that doesn't ask for
    /// the order of rides. It is one K for all of a chain's riding, so both are off together.
    #[must_use]
    pub fn unrecorded(&self) -> UnrecordedCare {
        let over_intervals = |wet_share: f64| {
            let (mut mean, mut log, mut square) = (0.0, 0.0, 0.0);
            for point in 0..POINTS {
                let z = normal::quantile((f64::from(point) + 0.5) / f64::from(POINTS));
                let interval = USUAL_CARE_INTERVAL * (USUAL_CARE_LN_SD * z).exp();
                let multiplier = self.mean_multiplier(interval, wet_share);
                let part = 1.0 / f64::from(POINTS);
                mean += part * multiplier;
                log += part * multiplier.ln();
                square += part * multiplier.ln().powi(2);
            }
            let variance: f64 = square - log * log;
            (mean, LogSd::new(variance.max(0.0).sqrt()).unwrap_or(LogSd::ZERO))
        };
        let ((dry, dry_ln_sd), (wet, wet_ln_sd)) = (over_intervals(0.0), over_intervals(1.0));
        UnrecordedCare { dry, wet, dry_ln_sd, wet_ln_sd }
    }
}

/// A chain on its way under a routine, and with what is entered besides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoutineWalk {
    routine: CareRoutine,
    state: CareState,
    /// Kilometres since the routine's last care, or the day of it.
    since_km: f64,
    last_day: f64,
}

impl RoutineWalk {
    /// A chain that was fitted, or whose record begins, on `day`, clean.
    #[must_use]
    pub const fn from_day(routine: CareRoutine, day: f64) -> Self {
        Self { routine, state: CareState::fresh(), since_km: 0.0, last_day: day }
    }

    /// The state of lubrication.
    #[must_use]
    pub const fn state(&self) -> CareState {
        self.state
    }

    /// Exposure with care of a ride on `day` (fractions count) of so many kilometres, wet and dry spread evenly over it,
    /// reference kilometres. Rides come in order of time; cutting one in two changes nothing.
    pub fn ride(&mut self, model: &CareModel, day: f64, distance: Kilometres, segment: Segment) -> f64 {
        match self.routine {
            CareRoutine::Weeks(weeks) => {
                let every = 7.0 * f64::from(weeks.max(1));
                let times = ((day - self.last_day) / every).floor();
                if times >= 1.0 {
                    self.last_day += times * every;
                    self.state = CareState::fresh();
                }
                self.accrue(model, segment, 1.0)
            }
            CareRoutine::Distance(every) => {
                let (every, whole) = (every.get().max(1.0), distance.get());
                if whole <= 0.0 {
                    return self.accrue(model, segment, 1.0);
                }
                let (mut left, mut exposure) = (whole, 0.0);
                while left > 0.0 {
                    if self.since_km >= every {
                        self.state = CareState::fresh();
                        self.since_km = 0.0;
                    }
                    let part = left.min(every - self.since_km);
                    exposure += self.accrue(model, segment, part / whole);
                    self.since_km += part;
                    left -= part;
                }
                exposure
            }
        }
    }

    /// Takes care into account that was entered besides the routine; cleaning and lubricating begins its count anew.
    pub fn care(&mut self, day: f64, care: CareKind) {
        self.state = self.state.after(care);
        if care == CareKind::CleanedAndLubricated {
            self.since_km = 0.0;
            self.last_day = day;
        }
    }

    fn accrue(&mut self, model: &CareModel, segment: Segment, share: f64) -> f64 {
        let part = Segment { dry: segment.dry * share, wet: segment.wet * share };
        let (exposure, after) = model.accrue(self.state, part);
        self.state = after;
        exposure
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unrecorded_care_is_near_a_sixth_more_and_known_to_a_fifth() {
        let model = CareModel::default();
        let unrecorded = model.unrecorded();
        println!("{unrecorded:?}");
        assert!((1.1..1.2).contains(&unrecorded.dry), "{unrecorded:?}");
        assert!((0.1..0.25).contains(&unrecorded.dry_ln_sd.get()), "{unrecorded:?}");
        assert!(unrecorded.wet > unrecorded.dry && unrecorded.wet < model.neglected());
        // The chord against the curve.
        for wet in [0.1, 0.3, 0.5, 0.8] {
            let chord = unrecorded.exposure(Segment { dry: 1.0 - wet, wet }).0;
            let mean = (0..2_000)
                .map(|i| normal::quantile((f64::from(i) + 0.5) / 2_000.0))
                .map(|z| model.mean_multiplier(350.0 * (0.7 * z).exp(), wet))
                .sum::<f64>()
                / 2_000.0;
            println!("{wet}: {chord:.4} {mean:.4}");
            assert!((chord - mean).abs() < CHORD, "{wet}: {chord} {mean}");
        }
    }

    /// Largest difference that the documentation states.
    const CHORD: f64 = 0.03;

    #[test]
    fn a_routine_is_walked_as_if_it_were_entered() {
        let model = CareModel::default();
        let km = |value| Kilometres::new(value).unwrap();
        let mut walk = RoutineWalk::from_day(CareRoutine::Distance(km(300.0)), 0.0);
        let segment = Segment { dry: 900.0, wet: 100.0 };
        let once = walk.ride(&model, 3.0, km(1_000.0), segment);
        let mut entered = 0.0;
        for part in [0.3, 0.3, 0.3, 0.1] {
            entered += model.accrue(CareState::fresh(), Segment { dry: 900.0 * part, wet: 100.0 * part }).0;
        }
        assert!((once - entered).abs() < 1e-9, "{once} {entered}");
        let mut in_parts = RoutineWalk::from_day(CareRoutine::Distance(km(300.0)), 0.0);
        let sum: f64 = (0..10)
            .map(|i| in_parts.ride(&model, f64::from(i), km(100.0), Segment { dry: 90.0, wet: 10.0 }))
            .sum();
        assert!((sum - once).abs() < 1e-9);

        let mut weekly = RoutineWalk::from_day(CareRoutine::Weeks(2), 0.0);
        let day = |weekly: &mut RoutineWalk, day| {
            weekly.ride(&model, day, km(400.0), Segment { dry: 400.0, wet: 0.0 })
        };
        let (first, neglected) = (day(&mut weekly, 1.0), day(&mut weekly, 13.0));
        assert!(neglected > first);
        assert_eq!(day(&mut weekly, 14.5), first);
        assert_eq!(day(&mut weekly, 70.0), first);
        weekly.care(71.0, CareKind::CleanedAndLubricated);
        day(&mut weekly, 72.0);
        assert!(day(&mut weekly, 84.0) > first);
        assert_eq!(day(&mut weekly, 85.0), first);
    }
}
