//! Damage and thresholds of any set of sprockets: a cassette's or the rings.

use super::cassette::{ChainWear, CountQuantiles, KnockOnError, SprocketOutlook};
use super::hazard;
use super::skip::{Beyond, ChainTest, Evidence, Said, SkipOutcome, SkipTest, Thresholds};
use super::threshold::SkipThreshold;
use crate::drivetrain::Teeth;
use crate::units::Limit;

/// Chains to come are counted no further than this.
const MOST_CHAINS: u32 = 200;

/// Largest legal number in a chain's history: sums of such numbers stay finite.
const LARGEST: f64 = 1e15;

/// Shares of a used-up part that sprockets may have had when their record began: middles of five equal parts of 0 to 1.2,
/// each as likely as the others before anything was tried (A). Beyond that they would skip with the chain that is on.
const SHARES_FOUND: [f64; 5] = [0.12, 0.36, 0.6, 0.84, 1.08];

/// What is known of a set of sprockets.
pub(super) struct SprocketFacts<'a> {
    pub sprockets: &'a [Teeth],
    pub past: &'a [ChainWear],
    pub present: &'a ChainWear,
    pub chains_before_sprocket: &'a [usize],
    pub tests: &'a [SkipTest],
    pub chain_tests: &'a [ChainTest],
    pub found: Option<&'a [f64]>,
    pub threshold: SkipThreshold,
    pub limit: Limit,
}

/// What they may have gone through, each history with its probability: one where they were new.
pub(super) struct Sprockets {
    histories: Vec<(f64, History)>,
    /// Further damage that the present chain does to the busiest sprocket until the limit, and a new one.
    rest: f64,
    per_chain: f64,
    pub(super) contradictory_tests: bool,
}

/// One history.
struct History {
    /// By sprocket, now.
    damage: Vec<f64>,
    work_share: Vec<f64>,
    per_accrued: Vec<f64>,
    thresholds: Thresholds,
    /// Thresholds above what was done when the present chain was put on, now, and once it has reached the limit.
    when_fitted: Beyond,
    now: Beyond,
    at_limit: Beyond,
}

/// Damage of each sprocket per unit that the busiest one takes: work over teeth, the largest as 1.
///
/// Common practice counts chains until a cassette skips, which is when its busiest sprocket does.
pub(super) fn weights(sprockets: &[Teeth], work: &[f64]) -> Vec<f64> {
    let raw: Vec<f64> = sprockets.iter().zip(work).map(|(teeth, work)| work / teeth.as_f64()).collect();
    let largest = raw.iter().copied().fold(0.0, f64::max);
    if largest > 0.0 {
        raw.into_iter().map(|weight| weight / largest).collect()
    } else {
        // Nothing known of the work: every sprocket is taken to be the busiest.
        vec![1.0; sprockets.len()]
    }
}

/// Damage of each sprocket of a new cassette when each chain was put on, and after the last.
pub(crate) fn damage_by_chain(sprockets: &[Teeth], chains: &[ChainWear]) -> Vec<Vec<f64>> {
    let mut rows = vec![vec![0.0; sprockets.len()]];
    for (chain, wear) in chains.iter().enumerate() {
        let mut damage = rows[chain].clone();
        wear_down(&mut damage, sprockets, wear, |_| true);
        rows.push(damage);
    }
    rows
}

/// Adds what a chain did to the sprockets that were there.
fn wear_down(damage: &mut [f64], sprockets: &[Teeth], wear: &ChainWear, was_there: impl Fn(usize) -> bool) {
    let weights = weights(sprockets, &wear.work).into_iter().enumerate();
    for (j, weight) in weights.filter(|(j, _)| was_there(*j)) {
        damage[j] += weight * wear.expected_accrued;
    }
}

impl Sprockets {
    pub(super) fn of(facts: &SprocketFacts<'_>) -> Result<Self, KnockOnError> {
        facts.check()?;
        let per_chain = hazard::accrued(facts.limit.get());
        let rest = (per_chain - facts.present.expected_accrued).max(0.0);
        let before: Vec<f64> = match facts.found {
            Some(_) => SHARES_FOUND.map(|share| share * facts.threshold.median()).to_vec(),
            None => vec![0.0],
        };
        let with_tests = |tests: bool| -> Vec<(f64, History)> {
            let all = before.iter().filter_map(|&share| facts.history(share, rest, tests));
            let all: Vec<(f64, History)> = all.collect();
            let sum: f64 = all.iter().map(|(evidence, _)| evidence).sum();
            all.into_iter().map(|(evidence, history)| (evidence / sum, history)).collect()
        };
        let mut histories = with_tests(true);
        let contradictory_tests = histories.is_empty();
        if contradictory_tests {
            histories = with_tests(false);
        }
        Ok(Self { histories, rest, per_chain, contradictory_tests })
    }

    fn mean(&self, of: impl Fn(&History) -> f64) -> f64 {
        self.histories.iter().map(|(weight, history)| weight * of(history)).sum()
    }

    pub(super) fn outlooks(&self, sprockets: &[Teeth]) -> Vec<SprocketOutlook> {
        let outlook = |(j, teeth): (usize, &Teeth)| SprocketOutlook {
            teeth: teeth.get(),
            damage: self.mean(|history| history.damage[j]),
            work_share: self.mean(|history| history.work_share[j]),
            skips_with_new_chain: self.mean(|history| history.thresholds.skips(j, &history.now)),
            skips_after_present_chain: self.mean(|history| history.thresholds.skips(j, &history.at_limit)),
        };
        sprockets.iter().enumerate().map(outlook).collect()
    }

    /// Probability that a new chain skips somewhere now.
    pub(super) fn any_skips(&self) -> f64 {
        self.mean(|history| history.thresholds.skips_on_any(&history.now))
    }

    /// The same once the present chain has been run to the limit.
    pub(super) fn any_skips_at_limit(&self) -> f64 {
        self.mean(|history| history.thresholds.skips_on_any(&history.at_limit))
    }

    /// The same of the present chain when it was put on.
    pub(super) fn any_skipped_when_fitted(&self) -> f64 {
        self.mean(|history| history.thresholds.skips_on_any(&history.when_fitted))
    }

    /// The same once so many more chains were run to the limit after the present one.
    fn any_skips_after(&self, chains: u32) -> f64 {
        if chains == 0 {
            return self.any_skips_at_limit();
        }
        let further = self.rest + f64::from(chains) * self.per_chain;
        self.mean(|History { damage, per_accrued, thresholds, .. }| {
            thresholds.skips_on_any(&thresholds.beyond(&after(damage, per_accrued, further)))
        })
    }

    /// New chains that hold: the present chain is run to the limit first, then each new one.
    pub(super) fn chains_to_come(&self) -> CountQuantiles {
        let mut quantiles = [None; 3];
        for count in 0..MOST_CHAINS {
            // P(no more than `count` new chains hold) = P(the one after them skips).
            let at_most = self.any_skips_after(count);
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

/// Damage of each sprocket once so much more was done to the busiest one.
fn after(damage: &[f64], per_accrued: &[f64], further: f64) -> Vec<f64> {
    damage.iter().zip(per_accrued).map(|(damage, per_accrued)| damage + per_accrued * further).collect()
}

impl SprocketFacts<'_> {
    fn check(&self) -> Result<(), KnockOnError> {
        let count = self.sprockets.len();
        if count == 0 {
            return Err(KnockOnError::NoSprockets);
        }
        let replaced = self.chains_before_sprocket;
        if !replaced.is_empty() && replaced.len() != count {
            return Err(KnockOnError::WrongReplacements { given: replaced.len(), sprockets: count });
        }
        let legal = |value: f64| (0.0..=LARGEST).contains(&value);
        for (chain, wear) in self.past.iter().chain([self.present]).enumerate() {
            if wear.work.len() != count {
                return Err(KnockOnError::WrongCount { chain, given: wear.work.len(), sprockets: count });
            }
            if !legal(wear.expected_accrued) || !wear.work.iter().copied().all(legal) {
                return Err(KnockOnError::NotANumber { chain });
            }
        }
        if let Some(work) = self.found
            && (work.len() != count || !work.iter().copied().all(legal))
        {
            return Err(KnockOnError::WrongProfile { given: work.len(), sprockets: count });
        }
        let is_known = |chains_before: usize| chains_before <= self.past.len() + 1;
        let is_wrong = |test: &SkipTest| test.sprocket >= count || !is_known(test.chains_before);
        if let Some(test) = self.tests.iter().position(is_wrong) {
            return Err(KnockOnError::NoSuchTest { test });
        }
        match self.chain_tests.iter().position(|test| !is_known(test.chains_before)) {
            Some(test) => Err(KnockOnError::NoSuchTest { test: self.tests.len() + test }),
            None => Ok(()),
        }
    }

    /// Damage of each sprocket when each chain was new, and now; `share` had been done to the busiest one before.
    fn damage(&self, share: f64) -> Vec<Vec<f64>> {
        let count = self.sprockets.len();
        let first = match self.found {
            Some(work) => weights(self.sprockets, work).into_iter().map(|weight| weight * share).collect(),
            None => vec![0.0; count],
        };
        let mut rows = vec![first];
        for (chain, wear) in self.past.iter().chain([self.present]).enumerate() {
            let mut damage = rows[chain].clone();
            for (j, fitted_before) in self.chains_before_sprocket.iter().enumerate() {
                if chain == *fitted_before && chain > 0 {
                    damage[j] = 0.0;
                }
            }
            let fitted_before = |j: usize| self.chains_before_sprocket.get(j).copied().unwrap_or(0);
            wear_down(&mut damage, self.sprockets, wear, |j| chain >= fitted_before(j));
            rows.push(damage);
        }
        rows
    }

    /// What was said, given the damage at each time.
    fn evidence(&self, rows: &[Vec<f64>]) -> Evidence {
        let mut evidence = Evidence::nothing(self.sprockets.len());
        for test in self.tests {
            // A test before the sprocket was fitted was of the one it replaced.
            let fitted_before = self.chains_before_sprocket.get(test.sprocket).copied().unwrap_or(0);
            if test.chains_before < fitted_before {
                continue;
            }
            let row = match test.outcome {
                // What is reported of a chain is at most of its own wear as well.
                SkipOutcome::Reported => (test.chains_before + 1).min(rows.len() - 1),
                SkipOutcome::Skips
                | SkipOutcome::Holds
                | SkipOutcome::ReportedNew
                | SkipOutcome::Unreported => test.chains_before,
            };
            evidence.said[test.sprocket].hear(rows[row][test.sprocket], test.outcome);
        }
        let mut of_chains = self.chain_tests.to_vec();
        of_chains.sort_by_key(|test| test.chains_before);
        for ChainTest { chains_before, outcome } in of_chains {
            // Nothing is said of a sprocket that was fitted later.
            let was_on = |j: usize| chains_before >= self.chains_before_sprocket.get(j).copied().unwrap_or(0);
            let damage = rows[chains_before].iter().enumerate();
            let damage: Vec<f64> = damage.map(|(j, damage)| if was_on(j) { *damage } else { 0.0 }).collect();
            evidence.hear_together(&damage, outcome);
        }
        evidence
    }

    /// One history with its evidence; `None` when tests leave nothing of it.
    fn history(&self, share: f64, rest: f64, with_tests: bool) -> Option<(f64, History)> {
        let count = self.sprockets.len();
        let mut rows = self.damage(share);
        let evidence = if with_tests { self.evidence(&rows) } else { Evidence::nothing(count) };
        if evidence.said.iter().any(Said::is_contradictory) {
            return None;
        }
        let (thresholds, likelihood) = Thresholds::new(&self.threshold, &evidence)?;
        let mut all_work = vec![0.0; count];
        for wear in self.past.iter().chain([self.present]) {
            all_work.iter_mut().zip(&wear.work).for_each(|(all, work)| *all += work);
        }
        let sum: f64 = all_work.iter().sum();
        if sum <= 0.0
            && let Some(work) = self.found
        {
            all_work = work.to_vec();
        }
        let sum = if sum > 0.0 { sum } else { all_work.iter().sum() };
        let per_accrued = weights(self.sprockets, &all_work);
        let work_share = if sum > 0.0 && sum.is_finite() {
            all_work.iter().map(|work| work / sum).collect()
        } else {
            vec![1.0 / count as f64; count]
        };
        let damage = rows.pop()?;
        let when_fitted = thresholds.beyond(&rows.pop()?);
        let now = thresholds.beyond(&damage);
        let at_limit = thresholds.beyond(&after(&damage, &per_accrued, rest));
        Some((
            likelihood,
            History { damage, work_share, per_accrued, thresholds, when_fitted, now, at_limit },
        ))
    }
}
