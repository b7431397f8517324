//! How far the rings are used up.

use super::cassette::{ChainWear, CountQuantiles, KnockOnError, SprocketOutlook};
use super::hazard::{BASIS, Basis};
use super::skip::ChainTest;
use super::sprockets::{SprocketFacts, Sprockets};
use super::threshold::SkipThreshold;
use crate::drivetrain::Teeth;
use crate::units::Limit;

/// Median threshold of a ring, in cassettes (T: two to three cassettes per ring).
pub const RING_THRESHOLD: f64 = 2.5;

/// What is known of the rings.
#[derive(Debug, Clone, PartialEq)]
pub struct RingFacts<'a> {
    /// Rings, fewest teeth first.
    pub rings: &'a [Teeth],
    /// Chains that ran on them and came off, oldest first.
    pub past: &'a [ChainWear],
    /// The chain on them now.
    pub present: &'a ChainWear,
    /// For each ring, how many chains of `past` came off before it was fitted; empty when none was replaced.
    pub chains_before_ring: &'a [usize],
    /// What chains did on them when they were new.
    pub chain_tests: &'a [ChainTest],
    /// Work by ring as the bike's use has it, where the rings had run before their record begins and nobody knows how far;
    /// `None` when they were new.
    pub found: Option<&'a [f64]>,
    /// Elongation at which this chain and those to come are taken off.
    pub limit: Limit,
}

/// The rings' outlook.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct RingOutlook {
    /// Each ring, fewest teeth first. `damage` is in cassettes: a median ring takes [`RING_THRESHOLD`].
    pub rings: Vec<SprocketOutlook>,
    /// Probability that a new chain would not run well on at least one of them now.
    pub skips_with_new_chain: f64,
    /// New chains that the rings still take, each run to the limit.
    pub chains_to_come: CountQuantiles,
    /// What the numbers rest on.
    pub basis: &'static [Basis],
}

impl RingOutlook {
    /// The outlook of a bike's rings.
    ///
    /// # Errors
    /// [`KnockOnError`] when the numbers do not belong together.
    pub fn of(facts: &RingFacts<'_>) -> Result<Self, KnockOnError> {
        let set = Sprockets::of(&SprocketFacts {
            sprockets: facts.rings,
            past: facts.past,
            present: facts.present,
            chains_before_sprocket: facts.chains_before_ring,
            tests: &[],
            chain_tests: facts.chain_tests,
            found: facts.found,
            threshold: SkipThreshold::ASSUMED.times(RING_THRESHOLD),
            limit: facts.limit,
        })?;
        Ok(Self {
            rings: set.outlooks(facts.rings),
            skips_with_new_chain: set.any_skips(),
            chains_to_come: set.chains_to_come(),
            basis: BASIS,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knock_on::accrued;

    #[test]
    fn a_ring_outlasts_two_and_a_half_cassettes() {
        let rings = [Teeth::new(42).unwrap()];
        let chain = ChainWear { expected_accrued: accrued(0.75), work: vec![1.0] };
        let facts = RingFacts {
            rings: &rings,
            past: &vec![chain.clone(); 5],
            present: &ChainWear { expected_accrued: 0.0, ..chain },
            chains_before_ring: &[],
            chain_tests: &[],
            found: None,
            limit: Limit::new(0.75).unwrap(),
        };
        let outlook = RingOutlook::of(&facts).unwrap();
        assert!((outlook.rings[0].damage - RING_THRESHOLD).abs() < 3e-3);
        assert!((outlook.skips_with_new_chain - 0.5).abs() < 5e-3);
    }
}
