//! What lubricants make of a group's wear, for chains that change from one to another.
//!
//! A chain wears `e^{x_l}` times as fast under lubricant l as under what is usual for its group. A change of rate is a change of
//! clock, as a drift over the calendar is: by the clock of the lubricant that it is ridden under now (a), a reference km under
//! l counts `e^{x_l − x_a}`, and ln θ ahead is over the group's by `x_a`. What was ridden under nobody knows what has x = 0,
//! the usual mix: neither the best nor the worst.

use super::terms::{LearnedTerms, Term};

/// What each lubricant is worth over a group's usual mix.
#[derive(Debug, Clone, PartialEq)]
pub struct LubricantEffects {
    names: Vec<String>,
    means: Vec<f64>,
    covariance: Vec<Vec<f64>>,
}

impl LubricantEffects {
    /// As a fleet has learned them, for a group with this usual mix; `None` where it learned of none.
    #[must_use]
    pub fn of(terms: &LearnedTerms, usual: &[(Term, f64)]) -> Option<Self> {
        let names: Vec<String> = terms.lubricants().map(|(name, _)| name.to_owned()).collect();
        if names.is_empty() {
            return None;
        }
        let choices: Vec<Term> = names.iter().cloned().map(Term::Lubricant).collect();
        let (means, covariance) = terms.instead(&choices, usual);
        Some(Self { names, means, covariance })
    }

    /// Mean of x under a lubricant; 0 where it isn't known which, and of one that nothing was learned of.
    #[must_use]
    pub fn ln_mean(&self, lubricant: Option<&str>) -> f64 {
        self.place(lubricant).map_or(0.0, |place| self.means[place])
    }

    /// Variance of what isn't known of a sum of x, each lubricant with its weight.
    #[must_use]
    pub fn variance<'a>(&self, weights: impl IntoIterator<Item = (Option<&'a str>, f64)>) -> f64 {
        let mut dense = vec![0.0; self.names.len()];
        for (lubricant, weight) in weights {
            if let Some(place) = self.place(lubricant) {
                dense[place] += weight;
            }
        }
        let row =
            |row: &Vec<f64>| -> f64 { row.iter().zip(&dense).map(|(value, weight)| value * weight).sum() };
        self.covariance.iter().zip(&dense).map(|(values, weight)| weight * row(values)).sum::<f64>().max(0.0)
    }

    /// Whether anything was learned of a lubricant.
    #[must_use]
    pub fn knows(&self, lubricant: Option<&str>) -> bool {
        self.place(lubricant).is_some()
    }

    fn place(&self, lubricant: Option<&str>) -> Option<usize> {
        let lubricant = lubricant?;
        self.names.iter().position(|name| name == lubricant)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fleet::LearnedEffect;

    #[test]
    fn what_nobody_knows_is_neither_the_best_nor_the_worst() {
        let effect = |ln_mean: f64| LearnedEffect { ln_mean, ln_sd: 0.1, chains: 9 };
        let term = |name: &str| Term::Lubricant(name.to_owned());
        let terms = LearnedTerms::kept(
            [(term("oil"), effect(0.08)), (term("wax"), effect(-0.08))],
            &[vec![0.01, -0.004], vec![-0.004, 0.01]],
        );
        let effects = LubricantEffects::of(&terms, &[(term("oil"), 0.5), (term("wax"), 0.5)]).unwrap();
        assert!((effects.ln_mean(Some("oil")) - 0.08).abs() < 1e-12);
        assert!((effects.ln_mean(Some("wax")) + 0.08).abs() < 1e-12);
        assert_eq!((effects.ln_mean(None), effects.ln_mean(Some("lard"))), (0.0, 0.0));
        // The difference of two: 0.01 + 0.01 + 2 · 0.004.
        let apart = effects.variance([(Some("oil"), 1.0), (Some("wax"), -1.0)]);
        assert!((apart - 0.028).abs() < 1e-12, "{apart}");
        assert_eq!(LubricantEffects::of(&LearnedTerms::default(), &[]), None);
    }
}
