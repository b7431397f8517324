//! How far a cassette is used up, sprocket by sprocket, and how many more chains it takes.

use thiserror::Error;

use super::hazard::{self, BASIS, Basis};
use super::skip::{Left, SkipOutcome, SkipTest, Thresholds};
use crate::drivetrain::Teeth;
use crate::units::Limit;

/// Chains to come are counted no further than this.
const MOST_CHAINS: u32 = 200;

/// Largest legal number in a chain's history: sums of such numbers stay finite.
const LARGEST: f64 = 1e15;

/// What one chain has done to the sprockets so far.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainWear {
    /// Expectation of [`hazard::accrued`] over what is known of the chain's elongation, at its removal or now.
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
    /// A skip test names a sprocket or a chain that is not in the history.
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
    /// Accumulated damage as a share of what makes the median sprocket skip.
    pub damage: f64,
    /// Share of the work that goes through it.
    pub work_share: f64,
    /// Probability that a new chain would skip on it now.
    pub skips_with_new_chain: f64,
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

/// Damage and thresholds of any set of sprockets: a cassette's or the rings.
pub(super) struct SprocketSet {
    pub(super) damage: Vec<f64>,
    pub(super) work_share: Vec<f64>,
    per_accrued: Vec<f64>,
    thresholds: Thresholds,
    pub(super) contradictory_tests: bool,
}

/// Damage of each sprocket per unit that the busiest one takes: work over teeth, the largest as 1.
///
/// Common practice counts chains until a cassette skips, which is when its busiest sprocket does.
fn weights(sprockets: &[Teeth], work: &[f64]) -> Vec<f64> {
    let raw: Vec<f64> = sprockets.iter().zip(work).map(|(teeth, work)| work / teeth.as_f64()).collect();
    let largest = raw.iter().copied().fold(0.0, f64::max);
    if largest > 0.0 {
        raw.into_iter().map(|weight| weight / largest).collect()
    } else {
        // Nothing known of the work: every sprocket is taken to be the busiest.
        vec![1.0; sprockets.len()]
    }
}

impl SprocketSet {
    pub(super) fn new(
        sprockets: &[Teeth],
        past: &[ChainWear],
        present: &ChainWear,
        chains_before_sprocket: &[usize],
        tests: &[SkipTest],
        median_threshold: f64,
    ) -> Result<Self, KnockOnError> {
        let count = sprockets.len();
        if count == 0 {
            return Err(KnockOnError::NoSprockets);
        }
        if !chains_before_sprocket.is_empty() && chains_before_sprocket.len() != count {
            return Err(KnockOnError::WrongReplacements {
                given: chains_before_sprocket.len(),
                sprockets: count,
            });
        }
        let mut all_work = vec![0.0; count];
        // damage_before[i][j]: on sprocket j when chain i was new; one more row for now.
        let mut damage_before = vec![vec![0.0; count]];
        for (chain, wear) in past.iter().chain([present]).enumerate() {
            if wear.work.len() != count {
                return Err(KnockOnError::WrongCount { chain, given: wear.work.len(), sprockets: count });
            }
            let legal = |value: f64| (0.0..=LARGEST).contains(&value);
            if !legal(wear.expected_accrued) || !wear.work.iter().copied().all(legal) {
                return Err(KnockOnError::NotANumber { chain });
            }
            let mut damage = damage_before[chain].clone();
            for (j, weight) in weights(sprockets, &wear.work).into_iter().enumerate() {
                all_work[j] += wear.work[j];
                if chain >= chains_before_sprocket.get(j).copied().unwrap_or(0) {
                    damage[j] += weight * wear.expected_accrued;
                }
            }
            damage_before.push(damage);
        }

        let mut left = vec![Left::ALL; count];
        for (index, test) in tests.iter().enumerate() {
            if test.sprocket >= count || test.chains_before > past.len() + 1 {
                return Err(KnockOnError::NoSuchTest { test: index });
            }
            // A test before the sprocket was fitted was of the one it replaced.
            if test.chains_before >= chains_before_sprocket.get(test.sprocket).copied().unwrap_or(0) {
                // A new chain meets the damage of those before it; what is reported of a chain, at most its own as well.
                let chains = match test.outcome {
                    SkipOutcome::Skips | SkipOutcome::Holds => test.chains_before,
                    SkipOutcome::Reported => (test.chains_before + 1).min(past.len() + 1),
                };
                left[test.sprocket].narrow(damage_before[chains][test.sprocket], test.outcome);
            }
        }
        let consistent = if left.iter().any(Left::is_contradictory) {
            None
        } else {
            Thresholds::new(median_threshold, left)
        };
        let contradictory_tests = consistent.is_none();
        let thresholds =
            match consistent.or_else(|| Thresholds::new(median_threshold, vec![Left::ALL; count])) {
                Some(thresholds) => thresholds,
                None => return Err(KnockOnError::NoSprockets),
            };

        let sum: f64 = all_work.iter().sum();
        let per_accrued = weights(sprockets, &all_work);
        let work_share = if sum > 0.0 && sum.is_finite() {
            all_work.iter().map(|work| work / sum).collect()
        } else {
            vec![1.0 / count as f64; count]
        };
        Ok(Self {
            damage: damage_before.pop().unwrap_or_default(),
            work_share,
            per_accrued,
            thresholds,
            contradictory_tests,
        })
    }

    pub(super) fn outlooks(&self, sprockets: &[Teeth]) -> Vec<SprocketOutlook> {
        sprockets
            .iter()
            .enumerate()
            .map(|(j, teeth)| SprocketOutlook {
                teeth: teeth.get(),
                damage: self.damage[j],
                work_share: self.work_share[j],
                skips_with_new_chain: self.thresholds.skips(j, self.damage[j]),
            })
            .collect()
    }

    pub(super) fn any_skips(&self) -> f64 {
        self.thresholds.skips_on_any(&self.damage)
    }

    /// New chains that hold: the present chain is run to the limit first, then each new one.
    pub(super) fn chains_to_come(&self, present_accrued: f64, limit: Limit) -> CountQuantiles {
        let per_chain = hazard::accrued(limit.get());
        let rest = (per_chain - present_accrued).max(0.0);
        let mut quantiles = [None; 3];
        for count in 0..MOST_CHAINS {
            // P(no more than `count` new chains hold) = P(the one after them skips).
            let accrued = rest + f64::from(count) * per_chain;
            let damage: Vec<f64> = self
                .damage
                .iter()
                .zip(&self.per_accrued)
                .map(|(damage, weight)| damage + weight * accrued)
                .collect();
            let at_most = self.thresholds.skips_on_any(&damage);
            for (quantile, level) in quantiles.iter_mut().zip([0.1, 0.5, 0.9]) {
                if quantile.is_none() && at_most >= level {
                    *quantile = Some(count);
                }
            }
            if quantiles[2].is_some() {
                break;
            }
        }
        let [p10, p50, p90] = quantiles.map(|quantile| quantile.unwrap_or(MOST_CHAINS));
        CountQuantiles { p10, p50, p90 }
    }
}

impl CassetteOutlook {
    /// The outlook of one cassette.
    ///
    /// # Errors
    /// [`KnockOnError`] when the numbers do not belong together.
    pub fn of(facts: &CassetteFacts<'_>) -> Result<Self, KnockOnError> {
        let set = SprocketSet::new(
            facts.cogs,
            facts.past,
            facts.present,
            facts.chains_before_cog,
            facts.skip_tests,
            1.0,
        )?;
        Ok(Self {
            sprockets: set.outlooks(facts.cogs),
            skips_with_new_chain: set.any_skips(),
            chains_to_come: set.chains_to_come(facts.present.expected_accrued, facts.limit),
            mended_cog_by_cog: facts.build == CassetteBuild::SeparateCogs,
            contradictory_tests: set.contradictory_tests,
            basis: BASIS,
        })
    }
}

#[cfg(test)]
mod tests {
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
        assert!(used.sprockets[0].skips_with_new_chain < 0.01);
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
        assert!(outlook(3, 0.0, &[]).skips_with_new_chain > 0.9);
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
            limit: Limit::new(0.75).unwrap(),
        };
        let outlook = CassetteOutlook::of(&facts).unwrap();
        assert!((outlook.sprockets[2].damage - 0.1).abs() < 1e-12);
        assert!(outlook.sprockets[2].skips_with_new_chain < 1e-9);
        assert!(!outlook.contradictory_tests);
        assert_eq!(
            CassetteOutlook::of(&CassetteFacts { chains_before_cog: &[0], ..facts }),
            Err(KnockOnError::WrongReplacements { given: 1, sprockets: 4 })
        );
    }
}
