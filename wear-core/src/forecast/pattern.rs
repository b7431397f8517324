//! Weekdays, trend and season of use, each shrunk by how far it stands out of the noise.

use std::f64::consts::TAU;

use num_complex::Complex64;

/// Days in a year.
const YEAR: f64 = 365.25;

/// Time in which a trend dies down, days (A): few habits grow for longer than some weeks.
const TREND_FADES: f64 = 28.0;

/// Largest change that a trend may still bring, as a share of the present use (A).
const MOST_TREND: f64 = 0.4;

/// Largest swing of a season round its mean (A).
const MOST_SEASON: f64 = 0.8;

/// Weeks needed for a trend.
const WEEKS_FOR_TREND: usize = 6;

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

    pub(super) fn factor_at_age(&self, age: usize) -> f64 {
        self.factors[6 - age % 7]
    }

    /// How many usual days there are in the next `days`.
    pub(super) fn usual_days(&self, days: f64) -> f64 {
        let whole = (days / 7.0).floor();
        let rest = days - 7.0 * whole;
        let partly = |(day, factor): (usize, &f64)| factor * (rest - day as f64).clamp(0.0, 1.0);
        7.0 * whole + self.factors.iter().enumerate().map(partly).sum::<f64>()
    }
}

/// Use that grows or falls: `1 + B(1 − e^{−t/28 d})` of the present use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trend {
    /// B.
    total: f64,
    /// Standard deviation of ln use now that comes from the slope's error.
    sd: f64,
}

impl Trend {
    /// From use by age in days, yesterday first: the least-squares slope over whole weeks.
    pub(super) fn of(recent: &[f64], mean: f64) -> Self {
        let none = Self { total: 0.0, sd: 0.0 };
        let weeks: Vec<f64> =
            recent.chunks_exact(7).map(|week| week.iter().sum::<f64>() / (7.0 * mean)).collect();
        let n = weeks.len();
        if n < WEEKS_FOR_TREND {
            return none;
        }
        let middle = (n as f64 - 1.0) / 2.0;
        let mean_week = weeks.iter().sum::<f64>() / n as f64;
        // Time runs against age.
        let sxx: f64 = (0..n).map(|i| (middle - i as f64).powi(2)).sum();
        let slope = weeks.iter().enumerate().map(|(i, week)| (middle - i as f64) * week).sum::<f64>() / sxx;
        let residual: f64 = weeks
            .iter()
            .enumerate()
            .map(|(i, week)| (week - mean_week - slope * (middle - i as f64)).powi(2))
            .sum::<f64>()
            / (n as f64 - 2.0);
        let variance = residual / sxx;
        let kept = kept(slope * slope, variance, 2.0) * slope;
        if kept == 0.0 {
            return none;
        }
        let total = (kept * TREND_FADES / 7.0).clamp(-MOST_TREND, MOST_TREND);
        Self { total, sd: variance.sqrt() * TREND_FADES / 7.0 }
    }

    /// Share per week now.
    pub(super) fn per_week(&self) -> f64 {
        self.total * 7.0 / TREND_FADES
    }

    /// Use now over use `age` days ago.
    pub(super) fn since(&self, age: f64) -> f64 {
        (1.0 + self.total * age / TREND_FADES).clamp(0.5, 1.5)
    }

    pub(super) const fn sd(&self) -> f64 {
        self.sd
    }
}

/// One wave a year: `1 + Re(A e^{iωt})`, t days from today.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Season {
    amplitude: Complex64,
}

impl Season {
    /// From days of use, oldest first; none with less than a year of them.
    pub(super) fn of(days: &[super::DailyUse]) -> Self {
        let none = Self { amplitude: Complex64::ZERO };
        if (days.len() as f64) < YEAR {
            return none;
        }
        // Whole weeks, by their middle's distance from today; a constant and a wave, least squares.
        let weeks: Vec<(f64, f64)> = days
            .rchunks_exact(7)
            .enumerate()
            .map(|(i, week)| {
                (-(7.0 * i as f64 + 3.5), week.iter().map(|day| day.reference_km).sum::<f64>() / 7.0)
            })
            .collect();
        let row = |t: f64| {
            let angle = TAU * t / YEAR;
            [1.0, angle.cos(), angle.sin()]
        };
        let mut normal = [[0.0; 4]; 3];
        for (t, used) in &weeks {
            let row = row(*t);
            for i in 0..3 {
                for j in 0..3 {
                    normal[i][j] += row[i] * row[j];
                }
                normal[i][3] += row[i] * used;
            }
        }
        let Some([mean, cos, sin]) = solve(normal) else { return none };
        if !(mean > 0.0 && mean.is_finite()) {
            return none;
        }
        let residual = weeks
            .iter()
            .map(|(t, used)| {
                let [one, c, s] = row(*t);
                (used - mean * one - cos * c - sin * s).powi(2)
            })
            .sum::<f64>()
            / (weeks.len() as f64 - 3.0).max(1.0);
        // Neighbouring weeks resemble each other: four count as one (A).
        let variance = 4.0 * 2.0 * residual / weeks.len() as f64;
        let wave = Complex64::new(cos, -sin) / mean;
        let kept = kept(wave.norm_sqr(), variance / (mean * mean), 2.0);
        let amplitude = wave * kept;
        let size = amplitude.norm();
        Self { amplitude: if size > MOST_SEASON { amplitude * (MOST_SEASON / size) } else { amplitude } }
    }

    pub(super) fn is_seen(&self) -> bool {
        self.amplitude != Complex64::ZERO
    }

    /// Use at t days from today over the year's mean.
    pub(super) fn at(&self, t: f64) -> f64 {
        1.0 + (self.amplitude * Complex64::cis(TAU * t / YEAR)).re
    }

    /// `∫₀ᵗ (1 + B(1 − e^{−u/τ})) (1 + Re(A e^{iωu})) du / (1 + Re A)`.
    pub(super) fn integral(&self, trend: &Trend, t: f64) -> f64 {
        let omega = TAU / YEAR;
        let faded = TREND_FADES * -(-t / TREND_FADES).exp_m1();
        let flat = (1.0 + trend.total) * t - trend.total * faded;
        if !self.is_seen() {
            return flat;
        }
        let turning = Complex64::new(0.0, omega);
        let wave = (Complex64::cis(omega * t) - 1.0) / turning;
        let fading = turning - 1.0 / TREND_FADES;
        let faded_wave = ((fading * t).exp() - 1.0) / fading;
        let swung = (self.amplitude * ((1.0 + trend.total) * wave - trend.total * faded_wave)).re;
        (flat + swung) / self.at(0.0)
    }
}

/// Gaussian elimination with pivoting; `None` when singular.
fn solve(mut rows: [[f64; 4]; 3]) -> Option<[f64; 3]> {
    for i in 0..3 {
        let best = (i..3).max_by(|a, b| rows[*a][i].abs().total_cmp(&rows[*b][i].abs()))?;
        rows.swap(i, best);
        let pivot = rows[i];
        if pivot[i].abs() < 1e-12 {
            return None;
        }
        for row in rows.iter_mut().skip(i + 1) {
            let factor = row[i] / pivot[i];
            for (value, of) in row.iter_mut().zip(pivot) {
                *value -= factor * of;
            }
        }
    }
    let mut solved = [0.0; 3];
    for i in (0..3).rev() {
        let known: f64 = (i + 1..3).map(|j| rows[i][j] * solved[j]).sum();
        solved[i] = (rows[i][3] - known) / rows[i][i];
    }
    Some(solved)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_integral_is_that_of_the_rate() {
        let season = Season { amplitude: Complex64::new(0.3, -0.5) };
        let trend = Trend { total: 0.3, sd: 0.0 };
        let rate = |u: f64| (1.0 + 0.3 * (1.0 - (-u / TREND_FADES).exp())) * season.at(u) / season.at(0.0);
        for t in [0.5, 20.0, 200.0, 900.0] {
            let steps = 20_000;
            let width = t / f64::from(steps);
            let sum: f64 = (0..steps).map(|i| rate((f64::from(i) + 0.5) * width) * width).sum();
            assert!((season.integral(&trend, t) - sum).abs() < 1e-5 * sum, "{t}");
        }
    }

    #[test]
    fn weekdays_of_a_week_are_seven_usual_days() {
        let weekdays = Weekdays { factors: [0.0, 0.0, 1.4, 1.4, 1.4, 1.4, 1.4] };
        assert_eq!(weekdays.usual_days(2.0), 0.0);
        assert!((weekdays.usual_days(2.5) - 0.7).abs() < 1e-12);
        assert!((weekdays.usual_days(14.0) - 14.0).abs() < 1e-12);
        assert_eq!((weekdays.factor_at_age(0), weekdays.factor_at_age(6)), (1.4, 0.0));
    }

    #[test]
    fn three_equations() {
        let solved = solve([[0.0, 2.0, 1.0, 7.0], [1.0, 1.0, 1.0, 6.0], [2.0, 1.0, -1.0, 1.0]]).unwrap();
        for (value, expected) in solved.into_iter().zip([1.0, 2.0, 3.0]) {
            assert!((value - expected).abs() < 1e-12);
        }
        assert_eq!(solve([[1.0; 4]; 3]), None);
    }
}
