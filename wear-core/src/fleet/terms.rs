//! What the model of a chain, and the lubricant it is ridden with, do to its wear.
//!
//! `ln θ = µ_group + a_model + Σ_l share_l·b_l + …`, a ~ N(0, 0.25²), b ~ N(0, 0.25²) (A), each relative to the fleet's mean;
//! share_l is the share of the chain's exposure ridden under lubricant l, and what was ridden under none that is known has no
//! share. The posterior is a bell in all of them together, so that a difference of two is known better than either where
//! they came from the same chains.

use std::collections::BTreeMap;

use super::calibration::ChainHistory;
use crate::units::Probability;

/// Spread of models and of lubricants in ln θ (A).
pub(super) const MODEL_SD: f64 = 0.25;
pub(super) const LUBRICANT_SD: f64 = 0.25;

/// The share of a chain's exposure that was ridden under one lubricant.
#[derive(Debug, Clone, PartialEq)]
pub struct LubricantShare {
    /// The lubricant, by a name of the caller's choice.
    pub lubricant: String,
    /// Its share of the reference km.
    pub share: Probability,
}

/// What an effect is of.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Term {
    /// A model of chain.
    Model(String),
    /// A lubricant.
    Lubricant(String),
}

/// What was learned of one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedEffect {
    /// The change of ln θ against the fleet's mean: 0.1 wears about a tenth faster.
    pub ln_mean: f64,
    /// Standard deviation of what is known of it.
    pub ln_sd: f64,
    /// Chains with a reading that told: of a model, those of it; of a lubricant, those with a share of it.
    pub chains: usize,
}

/// Models and lubricants of a fleet; empty where fewer than two of either occur.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LearnedTerms {
    terms: Vec<Term>,
    means: Vec<f64>,
    covariance: Vec<Vec<f64>>,
    chains: Vec<usize>,
}

/// A chain's shares of the terms that are learned: places and shares.
pub(super) type Design = Vec<(usize, f64)>;

/// The terms that a fleet's chains can tell of: all models where there are two, all lubricants where there are two.
pub(super) fn told_by(chains: &[ChainHistory<'_>]) -> Vec<Term> {
    let read = || chains.iter().filter(|chain| !chain.readings.is_empty());
    let models = read().filter_map(|chain| chain.model).map(|name| Term::Model(name.to_owned()));
    let lubricants = read()
        .flat_map(|chain| chain.lubricants)
        .filter(|one| one.share.get() > 0.0)
        .map(|one| Term::Lubricant(one.lubricant.clone()));
    let distinct = |all: Vec<Term>| {
        let mut all = all;
        all.sort_unstable();
        all.dedup();
        if all.len() < 2 { Vec::new() } else { all }
    };
    let mut terms = distinct(models.collect());
    terms.extend(distinct(lubricants.collect()));
    terms
}

/// Prior spread of each.
pub(super) const fn prior_sd(term: &Term) -> f64 {
    match term {
        Term::Model(_) => MODEL_SD,
        Term::Lubricant(_) => LUBRICANT_SD,
    }
}

/// Where each stands among these.
pub(super) fn design(terms: &[Term], model: Option<&str>, lubricants: &[LubricantShare]) -> Design {
    let mut design: BTreeMap<usize, f64> = BTreeMap::new();
    let model = model.map(|name| (Term::Model(name.to_owned()), 1.0));
    let lubricants = lubricants.iter().map(|one| (Term::Lubricant(one.lubricant.clone()), one.share.get()));
    for (term, share) in model.into_iter().chain(lubricants) {
        if let Ok(place) = terms.binary_search(&term) {
            *design.entry(place).or_default() += share;
        }
    }
    design.into_iter().collect()
}

impl LearnedTerms {
    /// What was learned before, as it was kept: each term with its effect, and the covariance of each with each, row by row in
    /// the order of the terms.
    #[must_use]
    pub fn kept(effects: impl IntoIterator<Item = (Term, LearnedEffect)>, covariance: &[Vec<f64>]) -> Self {
        let mut all: Vec<(usize, Term, LearnedEffect)> =
            effects.into_iter().enumerate().map(|(place, (term, effect))| (place, term, effect)).collect();
        all.sort_by(|(_, a, _), (_, b, _)| a.cmp(b));
        let of = |row: usize, column: usize| covariance.get(row).and_then(|row| row.get(column)).copied();
        let row = |(place, _, effect): &(usize, Term, LearnedEffect)| {
            let own = effect.ln_sd * effect.ln_sd;
            all.iter()
                .map(|(other, ..)| of(*place, *other).unwrap_or(if place == other { own } else { 0.0 }))
                .collect()
        };
        Self {
            covariance: all.iter().map(row).collect(),
            means: all.iter().map(|(.., effect)| effect.ln_mean).collect(),
            chains: all.iter().map(|(.., effect)| effect.chains).collect(),
            terms: all.into_iter().map(|(_, term, _)| term).collect(),
        }
    }

    /// In the order of `terms`, which is ascending.
    pub(super) fn new(
        terms: Vec<Term>,
        means: Vec<f64>,
        covariance: Vec<Vec<f64>>,
        designs: &[&Design],
    ) -> Self {
        let told = |place: usize| {
            designs
                .iter()
                .filter(|design| design.iter().any(|(term, share)| *term == place && *share > 0.0))
                .count()
        };
        Self { chains: (0..terms.len()).map(told).collect(), terms, means, covariance }
    }

    /// Whether there is nothing to be told: fewer than two models and fewer than two lubricants.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.terms.is_empty()
    }

    /// Everything, in ascending order.
    pub fn effects(&self) -> impl Iterator<Item = (&Term, LearnedEffect)> {
        self.terms.iter().enumerate().map(|(place, term)| (term, self.effect_at(place)))
    }

    /// Each model by name.
    pub fn models(&self) -> impl Iterator<Item = (&str, LearnedEffect)> {
        self.effects().filter_map(|(term, effect)| match term {
            Term::Model(name) => Some((name.as_str(), effect)),
            Term::Lubricant(_) => None,
        })
    }

    /// Each lubricant by name.
    pub fn lubricants(&self) -> impl Iterator<Item = (&str, LearnedEffect)> {
        self.effects().filter_map(|(term, effect)| match term {
            Term::Lubricant(name) => Some((name.as_str(), effect)),
            Term::Model(_) => None,
        })
    }

    /// Covariance of each with each, row by row in the order of [`LearnedTerms::effects`].
    #[must_use]
    pub fn covariance(&self) -> &[Vec<f64>] {
        &self.covariance
    }

    /// Mean and variance of `ln θ` of a chain of this model, ridden under these lubricants, over the fleet's mean.
    #[must_use]
    pub fn shift(&self, model: Option<&str>, lubricants: &[LubricantShare]) -> (f64, f64) {
        let shares = self.dense(&design(&self.terms, model, lubricants));
        (self.mean(&shares), self.variance(&shares))
    }

    /// Mean and covariance of how much faster chains wear with each of `choices` in place of the mix that is `usual`, which has
    /// shares by term. One of which nothing was learned is as any other might be: its prior.
    #[must_use]
    pub fn instead(&self, choices: &[Term], usual: &[(Term, f64)]) -> (Vec<f64>, Vec<Vec<f64>>) {
        let mut all: Vec<&Term> = choices.iter().chain(usual.iter().map(|(term, _)| term)).collect();
        all.sort_unstable();
        all.dedup();
        let place = |term: &Term| self.terms.binary_search(term).ok();
        let mean = |term: &Term| place(term).map_or(0.0, |place| self.means[place]);
        let covariance = |a: &Term, b: &Term| match (place(a), place(b)) {
            (Some(a), Some(b)) => self.covariance[a][b],
            (None, None) if a == b => prior_sd(a).powi(2),
            _ => 0.0,
        };
        let share = |choice: &Term, term: &Term| {
            // A model takes the place of models, a lubricant of lubricants.
            let in_place = matches!(choice, Term::Model(_)) == matches!(term, Term::Model(_));
            let before: f64 =
                usual.iter().filter(|(one, _)| in_place && one == term).map(|(_, share)| share).sum();
            f64::from(u8::from(choice == term)) - before
        };
        let means = choices
            .iter()
            .map(|choice| all.iter().map(|term| share(choice, term) * mean(term)).sum())
            .collect();
        let between = |a: &Term, b: &Term| -> f64 {
            let row =
                |one: &Term| -> f64 { all.iter().map(|two| share(b, two) * covariance(one, two)).sum() };
            all.iter().map(|one| share(a, one) * row(one)).sum()
        };
        let rows = choices.iter().map(|a| choices.iter().map(|b| between(a, b)).collect()).collect();
        (means, rows)
    }

    /// Mean and variance of what ln θ of a chain of this model, ridden under these lubricants, is over that of chains of the mix
    /// that is `usual`. One of which nothing was learned, and what isn't named, is as usual.
    #[must_use]
    pub fn over_usual(
        &self,
        model: Option<&str>,
        lubricants: &[LubricantShare],
        usual: &[(Term, f64)],
    ) -> (f64, f64) {
        let mut shares = vec![0.0; self.terms.len()];
        let own = self.dense(&design(&self.terms, model, lubricants));
        let is_named = |of_model: bool| {
            let named =
                |(term, share): (&Term, &f64)| *share != 0.0 && matches!(term, Term::Model(_)) == of_model;
            self.terms.iter().zip(&own).any(named)
        };
        let (models, lubricants) = (is_named(true), is_named(false));
        for (place, term) in self.terms.iter().enumerate() {
            let before: f64 = usual.iter().filter(|(one, _)| one == term).map(|(_, share)| share).sum();
            if if matches!(term, Term::Model(_)) { models } else { lubricants } {
                shares[place] = own[place] - before;
            }
        }
        (self.mean(&shares), self.variance(&shares))
    }

    fn effect_at(&self, place: usize) -> LearnedEffect {
        let ln_sd = self.covariance[place][place].max(0.0).sqrt();
        LearnedEffect { ln_mean: self.means[place], ln_sd, chains: self.chains[place] }
    }

    pub(super) fn terms(&self) -> &[Term] {
        &self.terms
    }

    pub(super) fn dense(&self, design: &Design) -> Vec<f64> {
        let mut shares = vec![0.0; self.terms.len()];
        for (place, share) in design {
            shares[*place] = *share;
        }
        shares
    }

    pub(super) fn mean(&self, shares: &[f64]) -> f64 {
        self.means.iter().zip(shares).map(|(mean, share)| mean * share).sum()
    }

    pub(super) fn variance(&self, shares: &[f64]) -> f64 {
        let row =
            |row: &Vec<f64>| -> f64 { row.iter().zip(shares).map(|(value, share)| value * share).sum() };
        self.covariance.iter().zip(shares).map(|(values, share)| share * row(values)).sum::<f64>().max(0.0)
    }
}

/// The mean of a group or of the fleet with all terms at nought, and what its chains are like on average.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Level {
    /// Mean of µ and its variance, the terms being known.
    mean: f64,
    variance: f64,
    /// Mean shares of its chains, each by what its readings say.
    usual: Vec<f64>,
    /// How far µ falls when each term rises: −∂µ/∂β.
    pull: Vec<f64>,
}

impl Level {
    /// Over chains with what each says of the mean (`information`) and its shares; `prior` is the precision of the mean
    /// without them.
    pub(super) fn new(
        (mean, variance): (f64, f64),
        terms: usize,
        chains: &[(f64, &Design)],
        prior: f64,
    ) -> Self {
        let whole: f64 = chains.iter().map(|(information, _)| information).sum();
        let weight = |information: f64| {
            if whole > 0.0 { information / whole } else { 1.0 / chains.len().max(1) as f64 }
        };
        let mut usual = vec![0.0; terms];
        for (information, design) in chains {
            for (place, share) in *design {
                usual[*place] += weight(*information) * share;
            }
        }
        let pulled = if whole > 0.0 { whole / (whole + prior) } else { 0.0 };
        let pull = usual.iter().map(|share| share * pulled).collect();
        Self { mean, variance, usual, pull }
    }

    pub(super) fn usual(&self) -> &[f64] {
        &self.usual
    }

    /// Mean of ln θ and the variance of what isn't known of it, for chains of such shares; of the usual ones without any.
    pub(super) fn of_chains(&self, terms: &LearnedTerms, shares: Option<&[f64]>) -> (f64, f64) {
        let shares = shares.unwrap_or(&self.usual);
        let apart: Vec<f64> = shares.iter().zip(&self.pull).map(|(share, pull)| share - pull).collect();
        (self.mean + terms.mean(shares), self.variance + terms.variance(&apart))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn terms() -> LearnedTerms {
        let effect = |ln_mean: f64, ln_sd: f64| LearnedEffect { ln_mean, ln_sd, chains: 3 };
        LearnedTerms::kept(
            [
                (Term::Model("b".into()), effect(-0.1, 0.1)),
                (Term::Model("a".into()), effect(0.1, 0.2)),
                (Term::Lubricant("wax".into()), effect(-0.2, 0.1)),
            ],
            &[vec![0.01, 0.005, 0.0], vec![0.005, 0.04, 0.0], vec![0.0, 0.0, 0.01]],
        )
    }

    #[test]
    fn what_was_kept_comes_back_in_order() {
        let kept = terms();
        assert_eq!(kept.models().map(|(name, _)| name).collect::<Vec<_>>(), ["a", "b"]);
        assert_eq!(kept.covariance()[0], [0.04, 0.005, 0.0]);
        let again: Vec<(Term, LearnedEffect)> =
            kept.effects().map(|(term, effect)| (term.clone(), effect)).collect();
        assert_eq!(LearnedTerms::kept(again, kept.covariance()), kept);
    }

    #[test]
    fn a_choice_is_held_against_what_is_usual() {
        let model = |name: &str| Term::Model(name.into());
        let (means, rows) = terms().instead(&[model("a"), model("b"), model("new")], &[(model("a"), 1.0)]);
        assert!((means[0], rows[0][0]) == (0.0, 0.0) && (means[1] + 0.2).abs() < 1e-12);
        assert!((rows[1][1] - (0.04 + 0.01 - 0.01)).abs() < 1e-12);
        // Of one that nobody has tried its own prior, and what is unknown of the usual one.
        assert!((rows[2][2] - (0.0625 + 0.04)).abs() < 1e-12 && (means[2] + 0.1).abs() < 1e-12);
    }

    #[test]
    fn a_shift_is_the_sum_of_its_terms() {
        let half = [LubricantShare { lubricant: "wax".into(), share: Probability::new(0.5).unwrap() }];
        let (mean, variance) = terms().shift(Some("a"), &half);
        assert!((mean - 0.0).abs() < 1e-12 && (variance - (0.04 + 0.0025)).abs() < 1e-12);
        assert_eq!(terms().shift(Some("unheard of"), &[]), (0.0, 0.0));
    }

    #[test]
    fn a_group_of_one_model_knows_its_own_mean_whatever_the_model_is_worth() {
        let terms = terms();
        let design = vec![(0, 1.0)];
        let sure = Level::new((-9.0, 0.0), 3, &[(1e6, &design)], 25.0);
        let (mean, variance) = sure.of_chains(&terms, None);
        assert!((mean + 8.9).abs() < 1e-12 && variance < 1e-9);
        let (_, of_other) = sure.of_chains(&terms, Some(&terms.dense(&vec![(1, 1.0)])));
        assert!((of_other - (0.04 + 0.01 - 2.0 * 0.005)).abs() < 1e-5);
    }
}
