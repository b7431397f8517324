//! Sums of exposures with their uncertainty.

use super::energy::EnergySource;
use super::{Context, DriverParts, RideExposure};

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
}

impl ExposureSum {
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
            + self.shared_gears.powi(2);
        (self.own_variance + shared) / (s * s)
    }
}
