//! A ride as people log it, and sums of rides.

use crate::bounds::OutOfRange;
use crate::drivetrain::Drivetrain;
use crate::exposure::{Context, ExposureModel, RideExposure, RideFacts, Surface, Use};
use crate::units::{RideAscent, RideDistance, RideEnergy};

/// A ride, kept in whole millimetres and joules, so that sums of rides are exact in any order.
///
/// ```
/// use wear_core::{Ride, Surface};
///
/// let ride = Ride::km(18.4)?.climb_m(120.0)?.surface(Surface::Gravel).wet(true);
/// # Ok::<(), wear_core::bounds::OutOfRange>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ride {
    distance_mm: i64,
    climb_mm: Option<i64>,
    energy_j: Option<i64>,
    surface: Surface,
    wet: bool,
}

impl Ride {
    /// A dry ride on pavement of which nothing else is known.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`crate::bounds::RIDE_DISTANCE`], km.
    pub fn km(distance: f64) -> Result<Self, OutOfRange> {
        RideDistance::new(distance).map(Self::of)
    }

    /// The same of a distance that was checked already.
    #[must_use]
    pub fn of(distance: RideDistance) -> Self {
        let distance_mm = (distance.get() * 1e6).round() as i64;
        Self { distance_mm, climb_mm: None, energy_j: None, surface: Surface::Paved, wet: false }
    }

    /// The same with its ascent, m.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`crate::bounds::RIDE_ASCENT`].
    pub fn climb_m(self, ascent: f64) -> Result<Self, OutOfRange> {
        RideAscent::new(ascent).map(|ascent| self.with_ascent(Some(ascent)))
    }

    /// The same with the rider's measured work at the pedals, kJ.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`crate::bounds::RIDE_ENERGY`].
    pub fn energy_kj(self, work: f64) -> Result<Self, OutOfRange> {
        RideEnergy::new(work).map(|work| self.with_energy(Some(work)))
    }

    /// The same with an ascent that was checked already, or none.
    #[must_use]
    pub fn with_ascent(self, ascent: Option<RideAscent>) -> Self {
        Self { climb_mm: ascent.map(|ascent| (ascent.get() * 1e3).round() as i64), ..self }
    }

    /// The same with measured work that was checked already, or none.
    #[must_use]
    pub fn with_energy(self, work: Option<RideEnergy>) -> Self {
        Self { energy_j: work.map(|work| (work.get() * 1e3).round() as i64), ..self }
    }

    /// The same on another surface.
    #[must_use]
    pub const fn surface(self, surface: Surface) -> Self {
        Self { surface, ..self }
    }

    /// The same in the wet, or not.
    #[must_use]
    pub const fn wet(self, wet: bool) -> Self {
        Self { wet, ..self }
    }

    /// What it adds to the exposure of a bike's parts.
    #[must_use]
    pub fn totals(&self, drivetrain: &Drivetrain, usage: Use, model: &ExposureModel) -> RideTotals {
        let Self { distance_mm, climb_mm, energy_j, surface, wet } = *self;
        // Whole millimetres and joules of a legal ride are legal again, up to rounding at the very ends.
        let distance = RideDistance::new(distance_mm as f64 / 1e6).unwrap_or(RideDistance::ZERO);
        let mut facts = RideFacts::new(distance, usage, surface);
        facts.wet = wet;
        facts.climb = climb_mm.and_then(|mm| RideAscent::new(mm as f64 / 1e3).ok());
        facts.rider_energy = energy_j.and_then(|joules| RideEnergy::new(joules as f64 / 1e3).ok());
        let exposure = RideExposure::of(&facts, drivetrain, model);
        let base = (exposure.reference_km_before_context * 1e6).round() as i64;
        RideTotals {
            surface,
            wet,
            rides: 1,
            distance_mm,
            energy_j: (exposure.energy.kj * 1e3).round() as i64,
            base_reference_mm: base,
            measured_reference_mm: if energy_j.is_some() { base } else { 0 },
            climb_reference_mm: if energy_j.is_none() && climb_mm.is_some() { base } else { 0 },
        }
    }
}

/// Sums over rides of one day in one context, exact: what a daily rollup keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct RideTotals {
    /// What the rides were on.
    pub surface: Surface,
    /// Whether it was wet.
    pub wet: bool,
    /// Number of rides.
    pub rides: i64,
    /// Distance, mm.
    pub distance_mm: i64,
    /// Work through the chain, measured or estimated, J.
    pub energy_j: i64,
    /// Reference distance before surface, wet and care are counted, mm.
    pub base_reference_mm: i64,
    /// The part of it whose work was measured, mm.
    pub measured_reference_mm: i64,
    /// The part of it whose work was estimated from distance and ascent, mm. What is left was estimated from
    /// distance alone.
    pub climb_reference_mm: i64,
}

impl RideTotals {
    /// Surface and weather.
    #[must_use]
    pub const fn context(&self) -> Context {
        Context::of(self.surface, self.wet)
    }

    /// Whether another's rides were in the same context.
    pub(super) fn is_alike(&self, other: &Self) -> bool {
        (self.surface, self.wet) == (other.surface, other.wet)
    }

    /// Adds the rides of another in the same context.
    pub(super) const fn add(&mut self, other: &Self) {
        self.rides += other.rides;
        self.distance_mm += other.distance_mm;
        self.energy_j += other.energy_j;
        self.base_reference_mm += other.base_reference_mm;
        self.measured_reference_mm += other.measured_reference_mm;
        self.climb_reference_mm += other.climb_reference_mm;
    }
}
