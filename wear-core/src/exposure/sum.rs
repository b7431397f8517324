//! Sums of exposures with their uncertainty.

use super::energy::EnergySource;
use super::reference_km::USUAL_GEARS_LN_SD;
use super::{Context, ContextMultipliers, DriverParts, RideExposure};
use crate::bounds;
use crate::units::LogSd;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What was assumed because nobody recorded it: each a source of error that all exposure assumed so shares.
    Assumption, "assumption" {
        /// Care: [`super::care_habit::UnrecordedCare`].
        UnrecordedCare = "unrecorded_care",
        /// The gears: [`crate::drivetrain::Drivetrain::typical`].
        TypicalDrivetrain = "typical_drivetrain",
        /// Distance of a counter that no ride accounts for: [`super::odometer`].
        UnloggedDistance = "unlogged_distance",
        /// Declared use: [`super::odometer`].
        DeclaredUse = "declared_use",
    }
}

const ASSUMPTIONS: usize = Assumption::ALL.len();

/// Sources of error: contexts, energy, gears, care, assumptions.
const SOURCES: usize = Context::COUNT + EnergySource::COUNT + 2 + ASSUMPTIONS;

/// Standard deviation of what the care multiplier's logarithm may be off by, as a share of that logarithm (A).
const CARE_SHARE_SD: f64 = 0.5;

/// By how much ln exposure grows with ln work: the tight strand's share of the wear in the reference (C).
const USUAL_LOAD_SENSITIVITY: f64 = 0.75;

/// Rides in one context with one energy source, as a daily rollup keeps them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RolledUp {
    /// Surface and weather.
    pub context: Context,
    /// Where the work comes from.
    pub source: EnergySource,
    /// Number of rides; less than one counts as one.
    pub rides: f64,
    /// Exposure with its context's multiplier and with care, reference kilometres.
    pub reference_km: f64,
    /// What care multiplied it by: 1 when lubricated of late.
    pub care_factor: f64,
}

/// A running sum over rides of one bike: what a daily rollup holds. Sums of sums are sums.
///
/// Errors that rides share add up in full; errors of single rides average out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct ExposureSum {
    /// Distance, km.
    pub distance_km: f64,
    /// Work at the chain, kJ.
    pub energy_kj: f64,
    /// Reference kilometres before care by [`Context`], in the order of [`Context::ALL`].
    pub by_context: [f64; Context::COUNT],
    /// Reference kilometres before care by [`EnergySource`], in the order of [`EnergySource::ALL`].
    pub by_energy_source: [f64; EnergySource::COUNT],
    /// What the exposure is made of.
    pub parts: DriverParts,
    own_variance: f64,
    shared_context: [f64; Context::COUNT],
    shared_energy: [f64; EnergySource::COUNT],
    shared_gears: f64,
    #[cfg_attr(feature = "serde", serde(default))]
    shared_care: f64,
    #[cfg_attr(feature = "serde", serde(default))]
    shared_assumed: [f64; ASSUMPTIONS],
}

impl ExposureSum {
    /// Adds rides that were summed already, on gears that nobody recorded. Distance, work and parts aren't in it.
    pub fn add_rolled_up(&mut self, rides: &RolledUp, multipliers: &ContextMultipliers) {
        let s = rides.reference_km;
        let (context, source) = (rides.context.index(), rides.source.index());
        let (own, shared) = rides.source.ln_sd();
        self.by_context[context] += s;
        self.by_energy_source[source] += s;
        self.own_variance += (s * USUAL_LOAD_SENSITIVITY * own).powi(2) / rides.rides.max(1.0);
        self.shared_context[context] += s * multipliers.get(rides.context).ln_sd;
        self.shared_energy[source] += s * USUAL_LOAD_SENSITIVITY * shared;
        self.shared_gears += s * USUAL_GEARS_LN_SD;
        self.shared_care += s * CARE_SHARE_SD * rides.care_factor.max(1.0).ln();
    }

    /// Tells of exposure added already, reference kilometres as it was added, that it rests on an assumption known to
    /// `ln_sd`. All that rests on one assumption is off together.
    pub fn add_assumed(&mut self, assumption: Assumption, reference_km: f64, ln_sd: LogSd) {
        self.shared_assumed[assumption as usize] += reference_km * ln_sd.get();
    }

    /// Whether any of it rests on an assumption.
    #[must_use]
    pub fn rests_on(&self, assumption: Assumption) -> bool {
        self.shared_assumed[assumption as usize] > 0.0
    }

    /// Leaves out the errors of single rides, which say nothing of rides to come.
    pub fn forget_single_rides(&mut self) {
        self.own_variance = 0.0;
    }

    /// What was added since an earlier state of the same sum.
    #[must_use]
    pub fn since(&self, earlier: &Self) -> Self {
        fn less<const N: usize>(from: &[f64; N], take: &[f64; N]) -> [f64; N] {
            std::array::from_fn(|i| (from[i] - take[i]).max(0.0))
        }
        Self {
            distance_km: (self.distance_km - earlier.distance_km).max(0.0),
            energy_kj: (self.energy_kj - earlier.energy_kj).max(0.0),
            by_context: less(&self.by_context, &earlier.by_context),
            by_energy_source: less(&self.by_energy_source, &earlier.by_energy_source),
            parts: self.parts.less(earlier.parts),
            own_variance: (self.own_variance - earlier.own_variance).max(0.0),
            shared_context: less(&self.shared_context, &earlier.shared_context),
            shared_energy: less(&self.shared_energy, &earlier.shared_energy),
            shared_gears: (self.shared_gears - earlier.shared_gears).max(0.0),
            shared_care: (self.shared_care - earlier.shared_care).max(0.0),
            shared_assumed: less(&self.shared_assumed, &earlier.shared_assumed),
        }
    }

    /// Standard deviation of the logarithm of the factor by which the whole sum may be off, single rides' own errors
    /// left out: what all the kilometres of a chain share.
    #[must_use]
    pub fn shared_ln_sd(&self) -> LogSd {
        log_sd(self.loadings().into_iter().map(|loading| loading * loading).sum())
    }

    /// Standard deviation of ln(this sum's factor / another's), with this one's single rides' own errors: what is left
    /// when an error common to both cancels. 0 while there is no exposure.
    ///
    /// Each source of error k (a context's multiplier, an energy source, gears, care) enters either sum by its share
    /// in it, so the variance is `Σ_k (w_k − w'_k)² σ_k²`.
    #[must_use]
    pub fn ln_sd_apart_from(&self, other: &Self) -> LogSd {
        let s = self.reference_km_before_care();
        if s <= 0.0 || other.reference_km_before_care() <= 0.0 {
            return LogSd::ZERO;
        }
        let apart = self.loadings().into_iter().zip(other.loadings()).map(|(a, b)| (a - b) * (a - b));
        log_sd(apart.sum::<f64>() + self.own_variance / (s * s))
    }

    /// `w_k σ_k` of each source of error.
    fn loadings(&self) -> [f64; SOURCES] {
        let s = self.reference_km_before_care();
        let mut loadings = [0.0; SOURCES];
        if s > 0.0 {
            let shared = self.shared_context.iter().chain(&self.shared_energy);
            let shared = shared.chain([&self.shared_gears, &self.shared_care]).chain(&self.shared_assumed);
            for (loading, sum) in loadings.iter_mut().zip(shared) {
                *loading = sum / s;
            }
        }
        loadings
    }

    /// Adds one ride.
    pub fn add(&mut self, ride: &RideExposure) {
        let s = ride.reference_km_before_care;
        let (context, source) = (ride.context.index(), ride.energy.source.index());
        self.distance_km += ride.distance_km;
        self.energy_kj += ride.energy.kj;
        self.by_context[context] += s;
        self.by_energy_source[source] += s;
        self.parts += ride.parts;
        self.own_variance += (s * ride.ln_sd.own).powi(2);
        self.shared_context[context] += s * ride.ln_sd.context;
        self.shared_energy[source] += s * ride.ln_sd.energy;
        self.shared_gears += s * ride.ln_sd.gears;
    }

    /// Adds another sum of the same bike.
    pub fn merge(&mut self, other: &Self) {
        fn add<const N: usize>(to: &mut [f64; N], from: &[f64; N]) {
            for (to, from) in to.iter_mut().zip(from) {
                *to += from;
            }
        }
        self.distance_km += other.distance_km;
        self.energy_kj += other.energy_kj;
        add(&mut self.by_context, &other.by_context);
        add(&mut self.by_energy_source, &other.by_energy_source);
        self.parts += other.parts;
        self.own_variance += other.own_variance;
        add(&mut self.shared_context, &other.shared_context);
        add(&mut self.shared_energy, &other.shared_energy);
        self.shared_gears += other.shared_gears;
        self.shared_care += other.shared_care;
        add(&mut self.shared_assumed, &other.shared_assumed);
    }

    /// Exposure before care, reference kilometres.
    #[must_use]
    pub fn reference_km_before_care(&self) -> f64 {
        self.by_context.iter().sum()
    }

    /// Exposure ridden wet, reference kilometres before care.
    #[must_use]
    pub fn wet_reference_km(&self) -> f64 {
        Context::ALL
            .iter()
            .filter(|context| context.is_wet())
            .map(|context| self.by_context[context.index()])
            .sum()
    }

    /// Exposure ridden dry, reference kilometres before care.
    #[must_use]
    pub fn dry_reference_km(&self) -> f64 {
        Context::ALL
            .iter()
            .filter(|context| !context.is_wet())
            .map(|context| self.by_context[context.index()])
            .sum()
    }

    /// Variance of the logarithm of the summed exposure; 0 while there is none.
    #[must_use]
    pub fn ln_variance(&self) -> f64 {
        let s = self.reference_km_before_care();
        if s <= 0.0 {
            return 0.0;
        }
        let shared = self.shared_context.iter().chain(&self.shared_energy).map(|sd| sd * sd).sum::<f64>()
            + self.shared_gears.powi(2)
            + self.shared_care.powi(2)
            + self.shared_assumed.iter().map(|sd| sd * sd).sum::<f64>();
        (self.own_variance + shared) / (s * s)
    }
}

fn log_sd(variance: f64) -> LogSd {
    LogSd::new(variance.max(0.0).sqrt().min(bounds::LN_SD.maximum)).unwrap_or(LogSd::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rides(context: Context, source: EnergySource, reference_km: f64) -> ExposureSum {
        let mut sum = ExposureSum::default();
        let rides = RolledUp { context, source, rides: reference_km / 10.0, reference_km, care_factor: 1.0 };
        sum.add_rolled_up(&rides, &ContextMultipliers::default());
        sum
    }

    #[test]
    fn what_two_sums_share_cancels_and_what_they_do_not_stays() {
        let dry = rides(Context::PavedDry, EnergySource::Distance, 1_000.0);
        let mud = rides(Context::MudDry, EnergySource::Distance, 1_000.0);
        let measured = rides(Context::PavedDry, EnergySource::Measured, 1_000.0);
        // Gears 0.10, work 0.75 · 0.25.
        assert!((dry.shared_ln_sd().get() - 0.10_f64.hypot(0.1875)).abs() < 1e-12);
        // A hundred rides' own errors: 0.75 · 0.3/10.
        assert!((dry.ln_sd_apart_from(&dry).get() - 0.0225).abs() < 1e-12);
        assert!((mud.ln_sd_apart_from(&dry).get() - 0.6_f64.hypot(0.0225)).abs() < 1e-12);
        assert!(measured.ln_sd_apart_from(&dry).get() > 0.18);
        assert_eq!(ExposureSum::default().ln_sd_apart_from(&dry), LogSd::ZERO);
    }

    #[test]
    fn what_was_assumed_of_both_cancels() {
        let dry = rides(Context::PavedDry, EnergySource::Distance, 1_000.0);
        let mut assumed = dry;
        assumed.add_assumed(Assumption::TypicalDrivetrain, 1_000.0, LogSd::constant(0.15));
        assert!((assumed.shared_ln_sd().get() - dry.shared_ln_sd().get().hypot(0.15)).abs() < 1e-12);
        assert!((assumed.ln_sd_apart_from(&dry).get() - 0.15_f64.hypot(0.0225)).abs() < 1e-12);
        assert_eq!(assumed.ln_sd_apart_from(&assumed), dry.ln_sd_apart_from(&dry));
        let mut twice = assumed;
        twice.merge(&assumed);
        assert!((twice.shared_ln_sd().get() - assumed.shared_ln_sd().get()).abs() < 1e-12);
    }

    #[test]
    fn a_sum_less_its_beginning_is_what_came_after() {
        let (mut sum, later) = (
            rides(Context::PavedDry, EnergySource::Distance, 300.0),
            rides(Context::GravelWet, EnergySource::Measured, 200.0),
        );
        let before = sum;
        sum.merge(&later);
        let since = sum.since(&before);
        assert!((since.ln_variance() - later.ln_variance()).abs() < 1e-12);
        assert!((since.ln_sd_apart_from(&later).get() - later.ln_sd_apart_from(&later).get()).abs() < 1e-12);
    }
}
