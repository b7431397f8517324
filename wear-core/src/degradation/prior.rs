//! What is assumed of a chain before it is measured.

use super::FastPhase;
use super::process::RunningIn;
use super::start::{FoundDensity, Start};
use crate::bounds::{self, OutOfRange};
use crate::units::{Limit, LogSd};

/// The numbers of the wear process for one group of chains.
///
/// `ε(s) = ε0 + a(1 − exp(−s/s_r)) + G(s)`, G a gamma process whose increments over Δs are
/// Gamma(shape θΔs/φ, scale φ), with `ε0 ~ N(mean, sd²)` and `ln θ ~ N(µ, τ²)`. That is a new chain; [`Start`] says what
/// holds of one that was on already.
#[derive(Debug, Clone, Copy)]
pub struct WearParameters {
    mean_log_rate: f64,
    sd_log_rate: f64,
    scale: f64,
    initial_mean: f64,
    initial_sd: f64,
    running_in: f64,
    running_in_distance: f64,
    fast_phase: FastPhase,
    start: Start,
    /// The part of τ² that isn't a difference among chains.
    common_variance: f64,
}

impl PartialEq for WearParameters {
    /// How τ² is made up makes a difference to chains as found only.
    fn eq(&self, other: &Self) -> bool {
        let numbers = |p: &Self| {
            let common = if p.start == Start::New { 0.0 } else { p.common_variance };
            let rate = [p.mean_log_rate, p.sd_log_rate, p.scale, common];
            (rate, [p.initial_mean, p.initial_sd, p.running_in, p.running_in_distance], p.fast_phase, p.start)
        };
        numbers(self) == numbers(other)
    }
}

impl Default for WearParameters {
    /// A fleet that nobody has measured: µ = ln(0.125/1000) (A; gives 0.5 % near 3,500 km, inside an
    /// encyclopaedia's 3,000–5,000 km for a maintained chain, S), τ = 0.35, φ = 0.01 %, ε0 ~ N(0.04, 0.03²),
    /// a = 0.03 %, s_r = 150 reference km (all A).
    fn default() -> Self {
        Self {
            mean_log_rate: (0.125e-3_f64).ln(),
            sd_log_rate: 0.35,
            scale: 0.01,
            initial_mean: 0.04,
            initial_sd: 0.03,
            running_in: 0.03,
            running_in_distance: 150.0,
            fast_phase: FastPhase::NONE,
            start: Start::New,
            common_variance: 0.0,
        }
    }
}

impl WearParameters {
    /// The same parameters with another distribution of the wear rate θ, percent per reference km:
    /// `ln θ ~ N(mean_log, sd_log²)`.
    ///
    /// # Errors
    /// [`OutOfRange`] for [`bounds::MEAN_LOG_RATE`] or [`bounds::SD_LOG_RATE`].
    pub fn with_log_rate(self, mean_log: f64, sd_log: f64) -> Result<Self, OutOfRange> {
        Ok(Self {
            mean_log_rate: bounds::MEAN_LOG_RATE.check(mean_log)?,
            sd_log_rate: bounds::SD_LOG_RATE.check(sd_log)?,
            common_variance: 0.0,
            ..self
        })
    }

    /// The same parameters of chains that wear `e^by` times as fast: µ + by, as far as µ may go.
    #[must_use]
    pub fn with_faster(self, by: f64) -> Self {
        let bound = bounds::MEAN_LOG_RATE;
        Self { mean_log_rate: (self.mean_log_rate + by).clamp(bound.minimum, bound.maximum), ..self }
    }

    /// The same parameters with another scale φ of the gamma process, percent: `Var G = φ·E G`.
    ///
    /// # Errors
    /// [`OutOfRange`] for [`bounds::WEAR_SCALE`].
    pub fn with_scale(self, scale: f64) -> Result<Self, OutOfRange> {
        Ok(Self { scale: bounds::WEAR_SCALE.check(scale)?, ..self })
    }

    /// The same parameters with another distribution of a new chain's elongation, percent.
    ///
    /// # Errors
    /// [`OutOfRange`] for [`bounds::INITIAL_MEAN`] or [`bounds::INITIAL_SD`].
    pub fn with_initial(self, mean: f64, sd: f64) -> Result<Self, OutOfRange> {
        Ok(Self {
            initial_mean: bounds::INITIAL_MEAN.check(mean)?,
            initial_sd: bounds::INITIAL_SD.check(sd)?,
            ..self
        })
    }

    /// The same parameters with another running-in: `amount` percent, fading over `distance`
    /// reference km.
    ///
    /// # Errors
    /// [`OutOfRange`] for [`bounds::RUNNING_IN`] or [`bounds::RUNNING_IN_DISTANCE`].
    pub fn with_running_in(self, amount: f64, distance: f64) -> Result<Self, OutOfRange> {
        Ok(Self {
            running_in: bounds::RUNNING_IN.check(amount)?,
            running_in_distance: bounds::RUNNING_IN_DISTANCE.check(distance)?,
            ..self
        })
    }

    /// The same parameters with a fast phase; without one by default.
    #[must_use]
    pub const fn with_fast_phase(self, fast_phase: FastPhase) -> Self {
        Self { fast_phase, ..self }
    }

    /// The same parameters for a chain whose record begins so; new unless said otherwise.
    #[must_use]
    pub const fn with_start(self, start: Start) -> Self {
        Self { start, ..self }
    }

    /// The same parameters told how much of the spread τ of ln θ is common to all chains they are for, as a standard
    /// deviation: what isn't known of their mean. Only differences among chains make one be met more often than another,
    /// so a chain as found takes `τ² − σ²` for its length bias.
    #[must_use]
    pub fn with_common_spread(self, ln_sd: LogSd) -> Self {
        Self { common_variance: ln_sd.get() * ln_sd.get(), ..self }
    }

    /// The same parameters for exposures with an error that all of one chain's kilometres share: `τ² + σ²`.
    ///
    /// Kilometres counted wrong by one factor are, to the chain, a wear rate that is off by that factor, so the
    /// chain's own readings learn it together with θ. Not for parameters that were learned on kilometres counted the
    /// same way: their τ has it already.
    #[must_use]
    pub fn with_shared_exposure_error(self, ln_sd: LogSd) -> Self {
        let sd_log_rate = self.sd_log_rate.hypot(ln_sd.get()).min(bounds::SD_LOG_RATE.maximum);
        let common_variance = self.common_variance + ln_sd.get() * ln_sd.get();
        Self { sd_log_rate, common_variance, ..self }
    }

    /// µ, mean of `ln θ`, θ in percent per reference km.
    #[must_use]
    pub const fn mean_log_rate(&self) -> f64 {
        self.mean_log_rate
    }

    /// τ, standard deviation of `ln θ`.
    #[must_use]
    pub const fn sd_log_rate(&self) -> f64 {
        self.sd_log_rate
    }

    /// φ, percent.
    #[must_use]
    pub const fn scale(&self) -> f64 {
        self.scale
    }

    /// Mean of ε0, percent.
    #[must_use]
    pub const fn initial_mean(&self) -> f64 {
        self.initial_mean
    }

    /// Standard deviation of ε0, percent.
    #[must_use]
    pub const fn initial_sd(&self) -> f64 {
        self.initial_sd
    }

    /// a, percent.
    #[must_use]
    pub const fn running_in(&self) -> f64 {
        self.running_in
    }

    /// s_r, reference km.
    #[must_use]
    pub const fn running_in_distance(&self) -> f64 {
        self.running_in_distance
    }

    /// Mean of θ, percent per reference km: `exp(µ + τ²/2)`.
    #[must_use]
    pub fn mean_rate(&self) -> f64 {
        (self.mean_log_rate + 0.5 * self.sd_log_rate * self.sd_log_rate).exp()
    }

    /// Its fast phase.
    #[must_use]
    pub const fn fast_phase(&self) -> FastPhase {
        self.fast_phase
    }

    /// How the chain's record begins.
    #[must_use]
    pub const fn start(&self) -> Start {
        self.start
    }

    pub(super) const fn common_variance(&self) -> f64 {
        self.common_variance
    }

    /// What is still to come of running-in: nothing on a chain as found.
    pub(super) const fn running_in_curve(&self) -> RunningIn {
        let amount = match self.start {
            Start::New => self.running_in,
            Start::AsFound(_) => 0.0,
        };
        RunningIn { amount, distance: self.running_in_distance }
    }

    /// Running-in after so many reference km, percent: none on a chain as found.
    pub(crate) fn run_in_by(&self, s: f64) -> f64 {
        self.running_in_curve().at(s)
    }

    /// Mean of ln θ before any reading: µ, or `µ − τ²` of a chain as found.
    pub(super) fn prior_mean_log_rate(&self) -> f64 {
        self.mean_log_rate - self.length_bias()
    }

    /// Variance of ln θ among the chains that one as found is one of; 0 for a new one.
    fn length_bias(&self) -> f64 {
        match self.start {
            Start::New => 0.0,
            Start::AsFound(_) => (self.sd_log_rate * self.sd_log_rate - self.common_variance).max(0.0),
        }
    }

    /// Elongation of a chain as found on a bike with this limit.
    pub(super) fn found_density(&self, limit: Limit) -> FoundDensity {
        FoundDensity::new(self.initial_mean + self.running_in, limit, self.initial_sd, self.fast_phase)
    }

    /// `ln p(ln θ)`.
    pub(super) fn log_density(&self, log_rate: f64) -> f64 {
        let deviation = (log_rate - self.prior_mean_log_rate()) / self.sd_log_rate;
        -0.5 * deviation * deviation - (self.sd_log_rate * std::f64::consts::TAU.sqrt()).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn default_parameters_are_legal_and_give_half_a_percent_near_3500_km() {
        let d = WearParameters::default();
        let again = d
            .with_log_rate(d.mean_log_rate(), d.sd_log_rate())
            .and_then(|p| p.with_scale(d.scale()))
            .and_then(|p| p.with_initial(d.initial_mean(), d.initial_sd()))
            .and_then(|p| p.with_running_in(d.running_in(), d.running_in_distance()));
        assert_eq!(again, Ok(d));
        let median_rate = d.mean_log_rate().exp();
        let life = (0.5 - d.initial_mean() - d.running_in()) / median_rate;
        assert!((3_400.0..3_500.0).contains(&life), "{life}");
    }

    #[test]
    fn numbers_that_make_no_process_are_refused() {
        let d = WearParameters::default();
        assert!(d.with_log_rate(-9.0, 0.0).is_err());
        assert!(d.with_log_rate(f64::NAN, 0.3).is_err());
        assert!(d.with_scale(0.0).is_err());
        assert!(d.with_initial(0.04, -0.1).is_err());
        assert!(d.with_running_in(0.03, 0.0).is_err());
    }
}
