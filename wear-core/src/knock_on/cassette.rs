//! How far a cassette is used up, sprocket by sprocket, and how many more chains it takes.

use thiserror::Error;

use super::hazard::{BASIS, Basis};
use super::skip::{ChainTest, SkipTest};
use super::sprockets::{SprocketFacts, Sprockets};
use super::threshold::SkipThreshold;
use crate::drivetrain::Teeth;
use crate::units::Limit;

/// What one chain has done to the sprockets so far.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainWear {
    /// Expectation of [`accrued`](super::accrued) over what is known of the chain's elongation, at its removal or now.
    pub expected_accrued: f64,
    /// Work by sprocket over the chain's life, in any unit, one number for each sprocket.
    pub work: Vec<f64>,
}

/// Whether worn cogs can be replaced one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum CassetteBuild {
    /// One cog skips: the whole cassette goes.
    OnePiece,
    /// Separate cogs: mended cog by cog.
    SeparateCogs,
}

/// What is known of one cassette.
#[derive(Debug, Clone, PartialEq)]
pub struct CassetteFacts<'a> {
    /// Cogs, fewest teeth first.
    pub cogs: &'a [Teeth],
    /// Whether cogs come off one by one.
    pub build: CassetteBuild,
    /// Chains that ran on it and came off, oldest first.
    pub past: &'a [ChainWear],
    /// The chain on it now.
    pub present: &'a ChainWear,
    /// For each cog, how many chains of `past` came off before it was fitted; empty when none was replaced.
    pub chains_before_cog: &'a [usize],
    /// Skip tests with a new chain.
    pub skip_tests: &'a [SkipTest],
    /// What new chains did on the whole of it, and reports of a skip that name no cog.
    pub chain_tests: &'a [ChainTest],
    /// Work by cog as the bike's use has it, where the cassette had run before its record begins and nobody knows how far;
    /// `None` when it was new.
    pub found: Option<&'a [f64]>,
    /// How much damage cogs bear.
    pub threshold: SkipThreshold,
    /// Elongation at which this chain and those to come are taken off.
    pub limit: Limit,
}

/// Numbers that do not belong together.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum KnockOnError {
    /// No sprockets at all.
    #[error("sprockets: at least one")]
    NoSprockets,
    /// A chain's work is not one number for each sprocket.
    #[error("work of chain {chain}: {given} numbers for {sprockets} sprockets")]
    WrongCount {
        /// Index of the chain; the present one comes last.
        chain: usize,
        /// Numbers given.
        given: usize,
        /// Sprockets.
        sprockets: usize,
    },
    /// A chain's number is negative, NaN or beyond reason.
    #[error("chain {chain}: expected_accrued and work are numbers from 0 to 1e15")]
    NotANumber {
        /// Index of the chain; the present one comes last.
        chain: usize,
    },
    /// `chains_before_cog` is neither empty nor one number for each sprocket.
    #[error("chains_before_cog: {given} numbers for {sprockets} sprockets")]
    WrongReplacements {
        /// Numbers given.
        given: usize,
        /// Sprockets.
        sprockets: usize,
    },
    /// `found` is not one number from 0 to 1e15 for each sprocket.
    #[error("found: {given} numbers for {sprockets} sprockets, each from 0 to 1e15")]
    WrongProfile {
        /// Numbers given.
        given: usize,
        /// Sprockets.
        sprockets: usize,
    },
    /// A skip test names a sprocket or a chain that is not in the history; tests of chains are counted after those of sprockets.
    #[error("skip test {test}: no such sprocket or chain")]
    NoSuchTest {
        /// Index of the test.
        test: usize,
    },
}

/// One sprocket's outlook.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SprocketOutlook {
    /// Teeth.
    pub teeth: u16,
    /// Accumulated damage as a share of what makes the median sprocket skip where nothing was learned.
    pub damage: f64,
    /// Share of the work that goes through it.
    pub work_share: f64,
    /// Probability that a new chain would skip on it now.
    pub skips_with_new_chain: f64,
    /// The same once the present chain has been run to the limit.
    pub skips_after_present_chain: f64,
}

/// Quantiles of a count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct CountQuantiles {
    /// One in ten gets no more than this.
    pub p10: u32,
    /// Half get no more than this.
    pub p50: u32,
    /// Nine in ten get no more than this.
    pub p90: u32,
}

/// A cassette's outlook.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct CassetteOutlook {
    /// Each sprocket, fewest teeth first.
    pub sprockets: Vec<SprocketOutlook>,
    /// Probability that a new chain would skip on at least one of them now.
    pub skips_with_new_chain: f64,
    /// The same once the present chain has been run to the limit.
    pub skips_after_present_chain: f64,
    /// Probability that the present chain, when it was put on, met a cassette on which a new chain skips, by all that is
    /// known now.
    pub skipped_when_fitted: f64,
    /// New chains that the cassette still takes, each run to the limit, before one skips. With separate cogs: before the
    /// first cog has to be replaced.
    pub chains_to_come: CountQuantiles,
    /// Whether worn cogs can be replaced one by one.
    pub mended_cog_by_cog: bool,
    /// Whether skip tests contradict each other; they are left out then.
    pub contradictory_tests: bool,
    /// What the numbers rest on.
    pub basis: &'static [Basis],
}

impl CassetteOutlook {
    /// The outlook of one cassette.
    ///
    /// # Errors
    /// [`KnockOnError`] when the numbers do not belong together.
    pub fn of(facts: &CassetteFacts<'_>) -> Result<Self, KnockOnError> {
        let set = Sprockets::of(&SprocketFacts {
            sprockets: facts.cogs,
            past: facts.past,
            present: facts.present,
            chains_before_sprocket: facts.chains_before_cog,
            tests: facts.skip_tests,
            chain_tests: facts.chain_tests,
            found: facts.found,
            threshold: facts.threshold,
            limit: facts.limit,
        })?;
        Ok(Self {
            sprockets: set.outlooks(facts.cogs),
            skips_with_new_chain: set.any_skips(),
            skips_after_present_chain: set.any_skips_at_limit(),
            skipped_when_fitted: set.any_skipped_when_fitted(),
            chains_to_come: set.chains_to_come(),
            mended_cog_by_cog: facts.build == CassetteBuild::SeparateCogs,
            contradictory_tests: set.contradictory_tests,
            basis: BASIS,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::hazard;
    use super::super::skip::SkipOutcome;
    use super::*;

    const COGS: [u32; 4] = [11, 14, 17, 21];

    fn outlook(past: usize, accrued: f64, tests: &[SkipTest]) -> CassetteOutlook {
        let cogs: Vec<Teeth> = COGS.iter().map(|&teeth| Teeth::new(teeth).unwrap()).collect();
        let chain = |expected_accrued| ChainWear { expected_accrued, work: vec![10.0, 25.0, 40.0, 25.0] };
        CassetteOutlook::of(&CassetteFacts {
            cogs: &cogs,
            build: CassetteBuild::SeparateCogs,
            past: &vec![chain(hazard::accrued(0.75)); past],
            present: &chain(accrued),
            chains_before_cog: &[],
            skip_tests: tests,
            chain_tests: &[],
            found: None,
            threshold: SkipThreshold::ASSUMED,
            limit: Limit::new(0.75).unwrap(),
        })
        .unwrap()
    }

    #[test]
    fn the_busiest_sprocket_is_used_up_by_two_chains_at_three_quarters_of_a_percent() {
        let new = outlook(0, 0.0, &[]);
        assert!(new.sprockets.iter().all(|sprocket| sprocket.damage == 0.0));
        assert_eq!(new.skips_with_new_chain, 0.0);
        let used = outlook(2, 0.0, &[]);
        assert!((used.sprockets[2].damage - 1.0).abs() < 1e-3);
        assert!((used.sprockets[2].skips_with_new_chain - 0.5).abs() < 5e-3);
        assert!(used.sprockets[0].skips_with_new_chain < 0.1);
        assert!(used.skips_with_new_chain > 0.5);
        assert!((used.sprockets.iter().map(|s| s.work_share).sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn chains_to_come_fall_with_damage_and_rise_with_a_test_that_holds() {
        let mut last = CountQuantiles { p10: 99, p50: 99, p90: 99 };
        for past in 0..5 {
            let next = outlook(past, 0.1, &[]).chains_to_come;
            assert!(next.p10 <= next.p50 && next.p50 <= next.p90);
            assert!(next.p10 <= last.p10 && next.p50 <= last.p50 && next.p90 <= last.p90);
            last = next;
        }
        let tests: Vec<SkipTest> = (0..4)
            .map(|sprocket| SkipTest { sprocket, chains_before: 3, outcome: SkipOutcome::Holds })
            .collect();
        assert_eq!(outlook(3, 0.0, &tests).skips_with_new_chain, 0.0);
        assert!(outlook(3, 0.0, &[]).skips_with_new_chain > 0.75);
    }

    #[test]
    fn contradictory_tests_are_left_out_and_said() {
        let test = |chains_before, outcome| SkipTest { sprocket: 2, chains_before, outcome };
        let said = outlook(2, 0.0, &[test(1, SkipOutcome::Skips), test(2, SkipOutcome::Holds)]);
        assert!(said.contradictory_tests);
        assert_eq!(said.sprockets, outlook(2, 0.0, &[]).sprockets);
    }

    #[test]
    fn a_reported_skip_brings_the_end_nearer() {
        let report = |sprocket| SkipTest { sprocket, chains_before: 1, outcome: SkipOutcome::Reported };
        let (before, after) = (outlook(1, 0.3, &[]), outlook(1, 0.3, &[report(2)]));
        assert!(after.skips_with_new_chain > before.skips_with_new_chain + 0.1);
        assert!(after.chains_to_come.p50 <= before.chains_to_come.p50 && !after.contradictory_tests);
        assert!(after.sprockets[2].skips_with_new_chain < 1.0, "other causes stay possible");
        let held = SkipTest { sprocket: 2, chains_before: 1, outcome: SkipOutcome::Holds };
        assert!(!outlook(1, 0.3, &[report(2), held]).contradictory_tests);
    }

    #[test]
    fn a_replaced_cog_starts_again() {
        let cogs: Vec<Teeth> = COGS.iter().map(|&teeth| Teeth::new(teeth).unwrap()).collect();
        let chain = ChainWear { expected_accrued: 0.5, work: vec![10.0, 25.0, 40.0, 25.0] };
        let past = [chain.clone(), chain.clone()];
        let facts = CassetteFacts {
            cogs: &cogs,
            build: CassetteBuild::SeparateCogs,
            past: &past,
            present: &ChainWear { expected_accrued: 0.1, ..chain },
            chains_before_cog: &[0, 0, 2, 0],
            skip_tests: &[SkipTest { sprocket: 2, chains_before: 1, outcome: SkipOutcome::Skips }],
            chain_tests: &[],
            found: None,
            threshold: SkipThreshold::ASSUMED,
            limit: Limit::new(0.75).unwrap(),
        };
        let outlook = CassetteOutlook::of(&facts).unwrap();
        assert!((outlook.sprockets[2].damage - 0.1).abs() < 1e-12);
        assert!(outlook.sprockets[2].skips_with_new_chain < 1e-3);
        assert!(!outlook.contradictory_tests);
        assert_eq!(
            CassetteOutlook::of(&CassetteFacts { chains_before_cog: &[0], ..facts }),
            Err(KnockOnError::WrongReplacements { given: 1, sprockets: 4 })
        );
    }
}
