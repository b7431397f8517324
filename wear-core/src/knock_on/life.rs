//! What one cassette went through, as a fleet learns from it.

use super::skip::{Evidence, REPORT, SEEN, SkipOutcome, Thresholds, Together};
use super::threshold::SkipThreshold;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Why a cassette or rings came off.
    SwapReason, "reason" {
        /// Worn out.
        Worn = "worn",
        /// It skipped under load.
        Skips = "skips",
        /// Damaged: a crash, a bent or broken tooth.
        Damaged = "damaged",
        /// For another one.
        Upgrade = "upgrade",
        /// Anything else.
        Other = "other",
    }
}

impl SwapReason {
    /// How much less likely a swap for this reason is while a new chain would hold on all sprockets; nil where the reason
    /// says nothing of wear. Whoever saw it skip errs once in twenty, whoever judges wear as often as with a report (A).
    const fn weight(self) -> f64 {
        match self {
            Self::Skips => SEEN,
            Self::Worn => REPORT,
            Self::Damaged | Self::Upgrade | Self::Other => 0.0,
        }
    }

    /// Whether it is the end of a life, rather than a life cut short.
    #[must_use]
    pub fn is_end_of_life(self) -> bool {
        self.weight() > 0.0
    }
}

/// What happened on a cassette at some damage.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Damage of each sprocket, in cassettes.
    pub damage: Vec<f64>,
    /// The sprocket that it is of; `None` where it is of all of them, or nobody said which one skipped.
    pub sprocket: Option<usize>,
    /// Whether a new chain met it, within [`super::TRIAL_KM`].
    pub new_chain: bool,
    /// What happened.
    pub outcome: SkipOutcome,
}

impl Trial {
    /// Whether a skip was reported.
    const fn is_skip(&self) -> bool {
        matches!(self.outcome, SkipOutcome::Skips | SkipOutcome::Reported | SkipOutcome::ReportedNew)
    }
}

/// That it came off.
#[derive(Debug, Clone, PartialEq)]
pub struct Removal {
    /// Damage of each sprocket by then, in cassettes.
    pub damage: Vec<f64>,
    /// Why; `None` where nobody said, which counts as cut short.
    pub reason: Option<SwapReason>,
}

/// One cassette's life, from new to its removal or to now.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CassetteLife {
    /// What chains did on it, in order of time.
    pub trials: Vec<Trial>,
    /// Damage when the present chain was put on, while it has neither held nor skipped.
    pub undecided: Option<Vec<f64>>,
    /// That it came off.
    pub removal: Option<Removal>,
}

/// What was to be expected of one new chain on a cassette, and what came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToldSkip {
    /// Probability, by all that was known before it went on, that it would skip.
    pub probability: f64,
    /// Whether it did.
    pub skipped: bool,
}

impl CassetteLife {
    fn sprockets(&self) -> usize {
        let removed = self.removal.as_ref().map(|removal| removal.damage.len());
        self.trials.first().map(|trial| trial.damage.len()).or(removed).unwrap_or(0)
    }

    /// New chains that held on it with some wear behind it.
    #[must_use]
    pub fn held(&self) -> usize {
        self.count(|trial| matches!(trial.outcome, SkipOutcome::Holds | SkipOutcome::Unreported))
    }

    /// Skips that were reported of it.
    #[must_use]
    pub fn skipped(&self) -> usize {
        self.count(Trial::is_skip)
    }

    fn count(&self, of: impl Fn(&Trial) -> bool) -> usize {
        let worn = |trial: &&Trial| trial.damage.iter().any(|damage| *damage > 0.0);
        self.trials.iter().filter(worn).filter(|trial| of(trial)).count()
    }

    /// Whether it came off at the end of its life.
    #[must_use]
    pub fn was_used_up(&self) -> bool {
        self.removal.as_ref().and_then(|removal| removal.reason).is_some_and(SwapReason::is_end_of_life)
    }

    /// Whether it says anything of thresholds.
    #[must_use]
    pub fn tells(&self) -> bool {
        self.held() + self.skipped() > 0 || self.was_used_up()
    }

    fn evidence(&self, trials: &[Trial], removal: Option<&Removal>) -> Evidence {
        let mut evidence = Evidence::nothing(self.sprockets());
        // A cassette that goes as its chain was reported to skip tells of one skip and not of two.
        let is_end_of_life =
            removal.and_then(|removal| removal.reason).is_some_and(SwapReason::is_end_of_life);
        let last_skip = trials.last().filter(|trial| is_end_of_life && trial.is_skip());
        let trials = match last_skip {
            Some(Trial { sprocket: None, .. }) => &trials[..trials.len() - 1],
            _ => trials,
        };
        for Trial { damage, sprocket, new_chain: _, outcome } in trials {
            match sprocket {
                Some(sprocket) => {
                    if let (Some(said), Some(damage)) =
                        (evidence.said.get_mut(*sprocket), damage.get(*sprocket))
                    {
                        said.hear(*damage, *outcome);
                    }
                }
                None => evidence.hear_together(damage, *outcome),
            }
        }
        if let Some(Removal { damage, reason: Some(reason) }) = removal
            && is_end_of_life
            && last_skip.is_none_or(|trial| trial.sprocket.is_none())
        {
            evidence.together.push(Together::skips(damage, reason.weight()));
        }
        evidence
    }

    /// What it says, in numbers that are equal where lives say the same.
    pub(crate) fn fingerprint(&self) -> Vec<u64> {
        let mut numbers = Vec::new();
        for Trial { damage, sprocket, new_chain, outcome } in &self.trials {
            let sprocket = sprocket.map_or(u64::MAX, |sprocket| sprocket as u64);
            numbers.extend([damage.len() as u64, sprocket, u64::from(*new_chain), *outcome as u64]);
            numbers.extend(damage.iter().map(|damage| damage.to_bits()));
        }
        if let Some(Removal { damage, reason }) = &self.removal {
            numbers.push(reason.map_or(u64::MAX, |reason| reason as u64));
            numbers.extend(damage.iter().map(|damage| damage.to_bits()));
        }
        numbers
    }

    /// All that it says, for a fit. Which cog a rider names depends on how many of them skip; taken as a word on that cog
    /// alone it would pull towards cogs that wear out together, so that a report counts as one of some cog.
    pub(crate) fn all_evidence(&self) -> Evidence {
        let by_rider =
            |trial: &Trial| matches!(trial.outcome, SkipOutcome::Reported | SkipOutcome::ReportedNew);
        let of_some_cog = |trial: &Trial| match by_rider(trial) {
            true => Trial { sprocket: None, ..trial.clone() },
            false => trial.clone(),
        };
        let trials: Vec<Trial> = self.trials.iter().map(of_some_cog).collect();
        self.evidence(&trials, self.removal.as_ref())
    }

    /// What was to be expected of each new chain on the worn cassette, by what had happened on it before, and what came;
    /// chains that have done neither are left out.
    #[must_use]
    pub fn told(&self, threshold: &SkipThreshold) -> Vec<ToldSkip> {
        let expected = |damage: &[f64], before: &[Trial]| {
            let known = Thresholds::new(threshold, &self.evidence(before, None))?.0;
            Some(known.skips_on_any(&known.beyond(damage)))
        };
        let worn = |damage: &[f64]| damage.iter().any(|damage| *damage > 0.0);
        let mut told = Vec::new();
        let mut place = 0;
        while let Some(trial) = self.trials.get(place) {
            // What one new chain did may be told of several sprockets.
            let same = self.trials[place..]
                .iter()
                .take_while(|other| other.new_chain == trial.new_chain && other.damage == trial.damage);
            let same: Vec<&Trial> = same.collect();
            if trial.new_chain
                && worn(&trial.damage)
                && let Some(probability) = expected(&trial.damage, &self.trials[..place])
            {
                told.push(ToldSkip { probability, skipped: same.iter().any(|trial| trial.is_skip()) });
            }
            place += same.len().max(1);
        }
        if let Some(damage) = self.undecided.as_deref().filter(|damage| worn(damage))
            && self.removal.as_ref().and_then(|removal| removal.reason) == Some(SwapReason::Skips)
            && let Some(probability) = expected(damage, &self.trials)
        {
            told.push(ToldSkip { probability, skipped: true });
        }
        told
    }
}
