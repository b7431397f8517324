//! The level of use and its wave, followed through time.
//!
//! `ln rate = m + x(t) + wave(t)`. m is the long run; x wanders and comes back to nothing (an Ornstein–Uhlenbeck process);
//! the wave's coefficients stand still. All are Gaussian, and each stretch of days is taken in by Laplace's approximation of
//! its quasi-Poisson likelihood: the variance of a sum is proportional to its mean, so days without a ride need no logarithm.

use super::wave::{COEFFICIENTS, Wave, basis};

/// Long run, wander and coefficients.
const STATES: usize = 2 + COEFFICIENTS;

/// Time in which the level comes back to its long run, days (A).
pub(super) const COMES_BACK: f64 = 365.0;

/// Share of what habits drift that is for good (A).
const FOR_GOOD: f64 = 0.4;

/// How far the level wanders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wander {
    /// Variance of ln rate round the long run.
    pub variance: f64,
    /// Variance that the long run gains a day.
    shifts: f64,
}

impl Wander {
    /// From the standard deviation of ln rate over twelve weeks: `Var = sd²·h/84` while h is short. A part of it is for good.
    pub fn over_twelve_weeks(sd: f64) -> Self {
        let a_day = sd * sd / 84.0;
        Self { variance: (1.0 - FOR_GOOD) * a_day * COMES_BACK / 2.0, shifts: FOR_GOOD * a_day }
    }

    /// Variance of the mean of what is new in it over the days ahead.
    pub fn mean_ahead(&self, days: f64) -> f64 {
        let h = days / COMES_BACK;
        if h < 0.05 {
            // Its series; the closed form loses its digits here.
            return self.shifts * days / 3.0 + self.variance * (2.0 * h / 3.0 - h * h / 2.0);
        }
        let mean = -(-h).exp_m1() / h;
        self.shifts * days / 3.0 + self.variance * (2.0 / h - 2.0 * mean / h - mean * mean)
    }
}

/// A stretch of days with its use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Its middle, days since the origin.
    pub middle: f64,
    /// Mean use a day.
    pub rate: f64,
    /// Variance of that mean over its expectation.
    pub dispersion: f64,
    /// Variance of what else makes its logarithm differ from level and wave.
    pub blur: f64,
}

/// What is known of level and wave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Level {
    mean: [f64; STATES],
    variance: [[f64; STATES]; STATES],
    wander: Wander,
    /// The time that it holds for, days since the origin.
    at: f64,
    ln_likelihood: f64,
}

/// What is known beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Before {
    pub long_run: f64,
    pub long_run_variance: f64,
    pub wave: Wave,
    pub wave_variance: [[f64; COEFFICIENTS]; COEFFICIENTS],
    pub wander: Wander,
}

impl Level {
    pub fn before(known: &Before, at: f64) -> Self {
        let mut mean = [0.0; STATES];
        let mut variance = [[0.0; STATES]; STATES];
        (mean[0], variance[0][0], variance[1][1]) =
            (known.long_run, known.long_run_variance, known.wander.variance);
        for i in 0..COEFFICIENTS {
            mean[2 + i] = known.wave.0[i];
            variance[2 + i][2..].copy_from_slice(&known.wave_variance[i]);
        }
        Self { mean, variance, wander: known.wander, at, ln_likelihood: 0.0 }
    }

    /// Lets time pass.
    pub fn advance(&mut self, to: f64) {
        let days = to - self.at;
        if days <= 0.0 {
            return;
        }
        let kept = (-days / COMES_BACK).exp();
        self.mean[1] *= kept;
        for i in 0..STATES {
            self.variance[1][i] *= kept;
            self.variance[i][1] *= kept;
        }
        self.variance[1][1] += self.wander.variance * (1.0 - kept * kept);
        self.variance[0][0] += self.wander.shifts * days;
        self.at = to;
    }

    /// Takes in what happened.
    pub fn observe(&mut self, seen: &Stretch) {
        self.advance(seen.middle);
        let by = Self::row(1.0, basis(seen.middle));
        let expected = dot(&by, &self.mean);
        let across = self.times(&by);
        let prior = dot(&by, &across);
        if !(prior > 0.0 && seen.dispersion > 0.0 && seen.blur >= 0.0) {
            return;
        }
        let blurred = prior + seen.blur;
        // The mode of (η − expected)²/(2·blurred) + (e^η − rate·η)/dispersion: convex, by Newton from above.
        let mut ln_rate = expected.max(seen.rate.max(1e-12 * expected.exp()).ln());
        for _ in 0..30 {
            let fitted = ln_rate.exp();
            let slope = (ln_rate - expected) / blurred + (fitted - seen.rate) / seen.dispersion;
            let step = slope / (1.0 / blurred + fitted / seen.dispersion);
            ln_rate -= step;
            if step.abs() < 1e-10 {
                break;
            }
        }
        let fitted = ln_rate.exp();
        let noise = seen.dispersion / fitted;
        let whole = blurred + noise;
        let surprise = ln_rate + (seen.rate - fitted) / fitted - expected;
        self.ln_likelihood -= 0.5 * (whole.ln() + surprise * surprise / whole);
        for i in 0..STATES {
            self.mean[i] += across[i] / whole * surprise;
            for j in 0..STATES {
                self.variance[i][j] -= across[i] * across[j] / whole;
            }
        }
    }

    fn row(wander: f64, wave: [f64; COEFFICIENTS]) -> [f64; STATES] {
        let [a, b, c, d] = wave;
        [1.0, wander, a, b, c, d]
    }

    fn times(&self, by: &[f64; STATES]) -> [f64; STATES] {
        std::array::from_fn(|i| dot(&self.variance[i], by))
    }

    pub const fn long_run(&self) -> f64 {
        self.mean[0]
    }

    /// Present distance of the level from its long run.
    pub const fn off(&self) -> f64 {
        self.mean[1]
    }

    pub fn wave(&self) -> Wave {
        Wave(std::array::from_fn(|i| self.mean[2 + i]))
    }

    pub fn wave_variance(&self) -> [[f64; COEFFICIENTS]; COEFFICIENTS] {
        std::array::from_fn(|i| std::array::from_fn(|j| self.variance[2 + i][2 + j]))
    }

    pub const fn ln_likelihood(&self) -> f64 {
        self.ln_likelihood
    }

    /// Variance of `m + wander·x + wave·basis` as it is known now.
    pub fn variance_of(&self, wander: f64, wave: [f64; COEFFICIENTS]) -> f64 {
        let by = Self::row(wander, wave);
        dot(&by, &self.times(&by)).max(0.0)
    }

    /// The part of that variance that what isn't known of the wave brings: what knowing it would take away.
    pub fn variance_by_wave(&self, wander: f64, wave: [f64; COEFFICIENTS]) -> f64 {
        let across = self.times(&Self::row(wander, wave));
        // cᵀ W⁻¹ c with W = L Lᵀ, the wave's own variance: the square of L⁻¹ c.
        let mut lower = [[0.0; COEFFICIENTS]; COEFFICIENTS];
        let mut solved = [0.0; COEFFICIENTS];
        let mut explained = 0.0;
        for i in 0..COEFFICIENTS {
            for j in 0..=i {
                let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
                let rest = self.variance[2 + i][2 + j] - known;
                lower[i][j] = if i == j { rest.max(1e-12).sqrt() } else { rest / lower[j][j] };
            }
            let known: f64 = (0..i).map(|k| lower[i][k] * solved[k]).sum();
            solved[i] = (across[2 + i] - known) / lower[i][i];
            explained += solved[i] * solved[i];
        }
        explained
    }
}

fn dot(a: &[f64; STATES], b: &[f64; STATES]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known() -> Before {
        let mut wave_variance = [[0.0; COEFFICIENTS]; COEFFICIENTS];
        (0..COEFFICIENTS).for_each(|i| wave_variance[i][i] = 0.18);
        Before {
            long_run: 2.0,
            long_run_variance: 1.0,
            wave: Wave::default(),
            wave_variance,
            wander: Wander::over_twelve_weeks(0.2),
        }
    }

    /// Against the double integral of its covariance.
    #[test]
    fn the_wander_ahead_has_the_variance_of_its_mean() {
        let wander = Wander::over_twelve_weeks(0.2);
        for days in [3.0, 18.0, 19.0, 84.0, 400.0, 2_000.0] {
            let steps = 600;
            let at = |i: u32| (f64::from(i) + 0.5) * days / f64::from(steps) / COMES_BACK;
            let (mut sum, mut shifted) = (0.0, 0.0);
            for i in 0..steps {
                for j in 0..steps {
                    let (u, v) = (at(i), at(j));
                    sum += (-(u - v).abs()).exp() - (-(u + v)).exp();
                    shifted += u.min(v) * COMES_BACK;
                }
            }
            let expected = (wander.variance * sum + wander.shifts * shifted) / f64::from(steps * steps);
            let found = wander.mean_ahead(days);
            assert!((found / expected - 1.0).abs() < 0.01, "{days}: {found} {expected}");
        }
        let early = wander.variance * (1.0 - (-2.0 * 8.4 / COMES_BACK).exp()) + wander.shifts * 8.4;
        assert!((early / (0.04 * 0.1) - 1.0).abs() < 0.03, "{early}");
    }

    #[test]
    fn half_a_year_on_record_leaves_the_other_half_open() {
        let mut level = Level::before(&known(), 0.0);
        for i in 0..6 {
            let middle = 14.0 + 28.0 * f64::from(i);
            level.observe(&Stretch { middle, rate: 9.0, dispersion: 0.1, blur: 0.0 });
        }
        level.advance(168.0);
        let (now, then) = (level.variance_of(1.0, basis(168.0)), level.variance_of(1.0, basis(290.0)));
        assert!(then > 5.0 * now, "{now} {then}");
        // That is the wave's doing, and what the whole year comes to is known better than any other half.
        let by_wave = level.variance_by_wave(1.0, basis(290.0));
        assert!(by_wave > 0.8 * then && by_wave <= then, "{by_wave} {then}");
        assert!(level.variance_of(1.0, [0.0; COEFFICIENTS]) < then);
    }

    /// What knowing the wave takes away, found by telling it.
    #[test]
    fn a_wave_brings_what_knowing_it_takes_away() {
        let mut level = Level::before(&known(), 0.0);
        for i in 0..5 {
            level.observe(&Stretch {
                middle: 14.0 + 28.0 * f64::from(i),
                rate: 9.0,
                dispersion: 2.0,
                blur: 0.01,
            });
        }
        let wave = basis(250.0);
        let (before, by_wave) = (level.variance_of(0.7, wave), level.variance_by_wave(0.7, wave));
        for coefficient in 2..STATES {
            let across: [f64; STATES] = std::array::from_fn(|i| level.variance[i][coefficient]);
            let own = across[coefficient];
            for i in 0..STATES {
                for j in 0..STATES {
                    level.variance[i][j] -= across[i] * across[j] / own;
                }
            }
        }
        assert!((level.variance_of(0.7, wave) / (before - by_wave) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn days_without_a_ride_lower_the_level_and_break_nothing() {
        let mut level = Level::before(&known(), 0.0);
        level.observe(&Stretch { middle: 14.0, rate: 0.0, dispersion: 0.5, blur: 0.0 });
        assert!(level.long_run() < 2.0 && level.long_run() > -6.0, "{level:?}");
        let variance = level.variance_of(0.0, [0.0; COEFFICIENTS]);
        assert!(variance < 1.0 && variance > 0.0);
    }
}
