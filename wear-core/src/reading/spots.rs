//! Readings at several places on one chain.

use crate::numeric::normal;
use crate::units::ElongationReading;

/// Spread between the highest and the lowest spot, percent, above which a stretch of the chain is
/// suspect: stiff, damaged or of another age (A).
pub const SPREAD_THAT_WARNS: f64 = 0.15;

/// What several spots on one chain say: the chain as a whole by their mean, its worst stretch by
/// their maximum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spots {
    count: u32,
    mean: f64,
    lowest: f64,
    highest: f64,
}

impl Spots {
    /// `None` when there is no spot.
    pub(super) fn of(readings: &[ElongationReading]) -> Option<Self> {
        let mut sorted: Vec<f64> = readings.iter().map(|reading| reading.get()).collect();
        sorted.sort_by(f64::total_cmp);
        let (&lowest, &highest) = (sorted.first()?, sorted.last()?);
        Some(Self {
            count: u32::try_from(sorted.len()).ok()?,
            mean: sorted.iter().sum::<f64>() / sorted.len() as f64,
            lowest,
            highest,
        })
    }

    /// Mean, lowest and highest, to be written down.
    pub(crate) const fn parts(&self) -> [f64; 3] {
        [self.mean, self.lowest, self.highest]
    }

    /// From what was written down; `None` when the numbers can't be those of spots.
    pub(crate) fn from_parts(count: usize, [mean, lowest, highest]: [f64; 3]) -> Option<Self> {
        let count = u32::try_from(count).ok().filter(|count| *count > 0)?;
        // The mean is a rounded sum.
        let slack = 1e-12;
        let sound = lowest <= mean + slack && mean <= highest + slack && (count > 1 || lowest == highest);
        sound.then_some(Self { count, mean, lowest, highest })
    }

    /// Number of spots.
    #[must_use]
    pub const fn count(&self) -> u32 {
        self.count
    }

    /// Mean over the spots, percent.
    #[must_use]
    pub const fn mean(&self) -> f64 {
        self.mean
    }

    /// The highest spot, percent.
    #[must_use]
    pub const fn worst(&self) -> f64 {
        self.highest
    }

    /// Highest minus lowest, percent.
    #[must_use]
    pub fn spread(&self) -> f64 {
        self.highest - self.lowest
    }

    /// Whether the spread exceeds [`SPREAD_THAT_WARNS`].
    #[must_use]
    pub fn is_uneven(&self) -> bool {
        self.spread() > SPREAD_THAT_WARNS
    }

    /// By how much the worst spot is longer than the mean, percent, beyond what readings with
    /// standard deviation `sd` show on an even chain:
    /// `(worst − mean − sd·m_n)₊`, `m_n` the median of the largest of n standard normals,
    /// `m_n = Φ⁻¹(0.5^(1/n))`.
    #[must_use]
    pub fn excess(&self, sd: f64) -> f64 {
        let largest = normal::quantile(0.5_f64.powf(1.0 / f64::from(self.count)));
        (self.highest - self.mean - sd * largest.max(0.0)).max(0.0)
    }
}
