//! Weekdays, shrunk by how far they stand out of the noise.

/// Share of an estimate that is kept, given its square and the variance of its error: `(1 − d·v/x²)₊` (James and Stein
/// 1961, positive part, d directions; M).
fn kept(square: f64, variance: f64, directions: f64) -> f64 {
    if square > 0.0 { (1.0 - directions * variance / square).max(0.0) } else { 0.0 }
}

/// Use by day of the week over the mean day's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Weekdays {
    /// Today first.
    factors: [f64; 7],
}

impl Weekdays {
    /// From use by age in days, yesterday first.
    pub(super) fn of(recent: &[f64]) -> Self {
        let weeks = recent.len() / 7;
        if weeks < 2 {
            return Self { factors: [1.0; 7] };
        }
        let recent = &recent[..7 * weeks];
        let mean = recent.iter().sum::<f64>() / recent.len() as f64;
        if !(mean > 0.0 && mean.is_finite()) {
            return Self { factors: [1.0; 7] };
        }
        let on = |weekday: usize| recent.iter().skip(6 - weekday).step_by(7).map(|used| used / mean);
        let raw: [f64; 7] = std::array::from_fn(|weekday| on(weekday).sum::<f64>() / weeks as f64);
        let within: f64 = (0..7)
            .map(|weekday| on(weekday).map(|used| (used - raw[weekday]).powi(2)).sum::<f64>())
            .sum::<f64>()
            / (7 * (weeks - 1)) as f64;
        let square: f64 = raw.iter().map(|factor| (factor - 1.0).powi(2)).sum();
        // Six directions; twice, so that noise seldom looks like a pattern.
        let kept = kept(square, within / weeks as f64, 2.0 * 6.0);
        Self { factors: raw.map(|factor| 1.0 + kept * (factor - 1.0)) }
    }

    pub(super) const fn ahead(&self) -> [f64; 7] {
        self.factors
    }

    /// How many usual days there are in the next `days`.
    pub(super) fn usual_days(&self, days: f64) -> f64 {
        let whole = (days / 7.0).floor();
        let rest = days - 7.0 * whole;
        let partly = |(day, factor): (usize, &f64)| factor * (rest - day as f64).clamp(0.0, 1.0);
        7.0 * whole + self.factors.iter().enumerate().map(partly).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weekdays_of_a_week_are_seven_usual_days() {
        let weekdays = Weekdays { factors: [0.0, 0.0, 1.4, 1.4, 1.4, 1.4, 1.4] };
        assert_eq!(weekdays.usual_days(2.0), 0.0);
        assert!((weekdays.usual_days(2.5) - 0.7).abs() < 1e-12);
        assert!((weekdays.usual_days(14.0) - 14.0).abs() < 1e-12);
    }
}
