//! What models of chain and lubricants are worth, and how wear drifts, in plain words.

use std::collections::BTreeMap;
use std::sync::Arc;

use wear_core::bike::UnderLubricant;
use wear_core::exposure::Conditions;
use wear_core::exposure::care_habit::USUAL_CARE_INTERVAL;
use wear_core::fleet::multipliers::{COVARIATES, Covariate, LearnedCovariate, MultiplierFit};
use wear_core::fleet::{Drift, LearnedEffect, LearnedTerms, LubricantEffects, Term};

use super::{GroupName, LubricantId, PartModelId, ReadChain};

/// Effects below this share of wear are none, and slopes of a year too (A).
const NOTHING: f64 = 0.005;

/// What a fleet's chains taught beside its rates.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WearEffects {
    /// What each model and each lubricant is worth, by its id.
    pub terms: LearnedTerms,
    /// Each group's usual mix of them; the empty name is the fleet's.
    pub usual: BTreeMap<String, Vec<(Term, f64)>>,
    /// What one more chain that is read says of ln θ: one over a variance.
    pub information_per_chain: f64,
    /// How wear drifts; none where too few chains have told.
    pub drift: Option<Drift>,
    /// How far all chains were run on each lubricant, and how often it was put on.
    pub applied: Vec<LubricantUse>,
    /// What surface, water, a trainer and neglect do, one of each covariate; none before anything was learned.
    pub conditions: Option<[LearnedCovariate; COVARIATES]>,
}

/// How far chains were run on one lubricant.
#[derive(Debug, Clone, PartialEq)]
pub struct LubricantUse {
    /// The lubricant, by its id.
    pub lubricant: String,
    /// How far, reference km.
    pub reference_km: f64,
    /// How often it was put on.
    pub applications: i64,
}

impl LubricantUse {
    /// Of one chain.
    #[must_use]
    pub fn of(under: &UnderLubricant) -> Self {
        let UnderLubricant { lubricant, reference_km, applications, .. } = under;
        let (lubricant, applications) = (lubricant.to_string(), i64::from(*applications));
        Self { lubricant, reference_km: *reference_km, applications }
    }
}

/// The usual interval of care counts for as many applications of a lubricant as this (A).
const USUAL_APPLICATIONS: f64 = 3.0;

impl WearEffects {
    /// As it was learned.
    #[must_use]
    pub fn of(fit: &MultiplierFit, chains: &[ReadChain]) -> Self {
        let learned = &fit.fleet;
        let groups = learned.groups.keys().map(String::as_str);
        let usual = std::iter::once("").chain(groups).map(|name| (name.to_owned(), learned.usual(name)));
        Self {
            usual: if learned.terms.is_empty() { BTreeMap::new() } else { usual.collect() },
            terms: learned.terms.clone(),
            information_per_chain: learned.information_per_chain,
            drift: learned.drift,
            applied: applied(chains),
            conditions: Some(fit.covariates),
        }
    }

    /// What surface, water, a trainer and neglect do, as assumed where nothing was learned.
    #[must_use]
    pub fn conditions(&self) -> Conditions {
        self.conditions.as_ref().map_or_else(Conditions::default, LearnedCovariate::conditions)
    }

    /// What of them was learned.
    pub fn learned_conditions(&self) -> impl Iterator<Item = Covariate> + '_ {
        self.conditions.iter().flatten().filter(|it| it.learned).map(|it| it.covariate)
    }

    /// What a model is called among the terms.
    #[must_use]
    pub fn term(model: PartModelId) -> Term {
        Term::Model(model.to_string())
    }

    /// What a lubricant is called among the terms.
    #[must_use]
    pub fn lubricant(lubricant: LubricantId) -> Term {
        Term::Lubricant(lubricant.to_string())
    }

    /// What one is worth over the fleet's usual mix of models, or of lubricants. How far all of them together are above the mean
    /// of µ is next to unknown where every chain is of one of them; how they compare is what readings tell.
    #[must_use]
    pub fn over_fleet(&self, term: &Term, effect: LearnedEffect) -> LearnedEffect {
        let (means, covariance) = self.terms.instead(std::slice::from_ref(term), self.usual(None));
        match (means.as_slice(), covariance.as_slice()) {
            ([mean], [row]) => LearnedEffect {
                ln_mean: *mean,
                ln_sd: row.first().copied().unwrap_or(0.0).max(0.0).sqrt(),
                chains: effect.chains,
            },
            _ => effect,
        }
    }

    /// What each lubricant is worth over the usual mix of a group; none where nothing was learned of any.
    #[must_use]
    pub fn lubricants_over_usual(&self, group: Option<&GroupName>) -> Option<Arc<LubricantEffects>> {
        LubricantEffects::of(&self.terms, self.usual(group)).map(Arc::new)
    }

    /// How far chains go on one application of a lubricant, reference km: as this fleet has it, drawn towards what is usual
    /// where few applications are on record.
    #[must_use]
    pub fn reference_km_per_application(&self, lubricant: LubricantId) -> f64 {
        let id = lubricant.to_string();
        let (km, count) = self
            .applied
            .iter()
            .find(|used| used.lubricant == id)
            .map_or((0.0, 0.0), |used| (used.reference_km, used.applications as f64));
        (km + USUAL_APPLICATIONS * USUAL_CARE_INTERVAL) / (count + USUAL_APPLICATIONS)
    }

    /// The usual mix of a group, or of the fleet.
    #[must_use]
    pub fn usual(&self, group: Option<&GroupName>) -> &[(Term, f64)] {
        let name = group.map_or("", GroupName::as_str);
        self.usual.get(name).or_else(|| self.usual.get("")).map_or(&[], Vec::as_slice)
    }

    /// Mean and variance of what ln θ of a chain of this model is over its group's.
    #[must_use]
    pub fn over_usual(&self, model: Option<PartModelId>, group: Option<&GroupName>) -> (f64, f64) {
        let model = model.map(|id| id.to_string());
        self.terms.over_usual(model.as_deref(), &[], self.usual(group))
    }
}

/// What was learned of one model.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelEffect {
    /// The model and its name.
    pub model: (PartModelId, String),
    /// What it is worth.
    pub effect: LearnedEffect,
}

/// What was learned of one lubricant.
#[derive(Debug, Clone, PartialEq)]
pub struct LubricantEffect {
    /// The lubricant and its name.
    pub lubricant: (LubricantId, String),
    /// What it is worth.
    pub effect: LearnedEffect,
}

/// How far all chains together were run on each lubricant, in the order of ids.
fn applied(chains: &[ReadChain]) -> Vec<LubricantUse> {
    let mut sums: BTreeMap<&str, (f64, i64)> = BTreeMap::new();
    for used in chains.iter().flat_map(|chain| &chain.ridden_under) {
        let (km, count) = sums.entry(&used.lubricant).or_default();
        *km += used.reference_km;
        *count += used.applications;
    }
    let sum = |(lubricant, (reference_km, applications)): (&str, (f64, i64))| LubricantUse {
        lubricant: lubricant.to_owned(),
        reference_km,
        applications,
    };
    sums.into_iter().map(sum).collect()
}

wear_core::sentences! {
    /// What an effect makes of wear.
    EffectSaid {
        WearsFaster { who: String, percent: String, from: String, to: String } = "wears_faster",
            "{who} wears {percent} % faster than the fleet's chains on average (8 in 10: {from} to {to} %)";
        WearsSlower { who: String, percent: String, from: String, to: String } = "wears_slower",
            "{who} wears {percent} % slower than the fleet's chains on average (8 in 10: {from} to {to} %)";
        WearsAlike { who: String, from: String, to: String } = "wears_alike",
            "{who} wears as the fleet's chains do on average (8 in 10: {from} to {to} %)";
        UnderWearsFaster { who: String, percent: String, from: String, to: String } = "under_wears_faster",
            "Chains run on {who} wear {percent} % faster than the fleet's chains on average (8 in 10: {from} to {to} %)";
        UnderWearsSlower { who: String, percent: String, from: String, to: String } = "under_wears_slower",
            "Chains run on {who} wear {percent} % slower than the fleet's chains on average (8 in 10: {from} to {to} %)";
        UnderWearsAlike { who: String, from: String, to: String } = "under_wears_alike",
            "Chains run on {who} wear as the fleet's chains do on average (8 in 10: {from} to {to} %)";
        Rises { percent: String, from: String, to: String } = "rises",
            "Chains wear {percent} % faster from year to year (8 in 10: {from} to {to} %)";
        Falls { percent: String, from: String, to: String } = "falls",
            "Chains wear {percent} % slower from year to year (8 in 10: {from} to {to} %)";
        Stays { from: String, to: String } = "stays",
            "Chains wear as they did a year ago (8 in 10: {from} to {to} %)";
    }
}

/// P10 and P90 of a change of ln θ, as a share of wear in percent, and what it is on average.
fn in_words(mean: f64, sd: f64) -> (String, String, String) {
    let percent = |ln: f64| 100.0 * ln.exp_m1();
    let signed = |ln: f64| format!("{:+.0}", percent(ln)).replace("-0", "0").replace("+0", "0");
    let reach = 1.281_55 * sd;
    (format!("{:.0}", percent(mean).abs()), signed(mean - reach), signed(mean + reach))
}

impl ModelEffect {
    /// In plain words.
    #[must_use]
    pub fn said(&self) -> EffectSaid {
        let LearnedEffect { ln_mean, ln_sd, .. } = self.effect;
        let who = self.model.1.clone();
        let (percent, from, to) = in_words(ln_mean, ln_sd);
        match ln_mean {
            mean if mean.abs() < NOTHING => EffectSaid::WearsAlike { who, from, to },
            mean if mean > 0.0 => EffectSaid::WearsFaster { who, percent, from, to },
            _ => EffectSaid::WearsSlower { who, percent, from, to },
        }
    }
}

impl LubricantEffect {
    /// In plain words.
    #[must_use]
    pub fn said(&self) -> EffectSaid {
        let LearnedEffect { ln_mean, ln_sd, .. } = self.effect;
        let who = self.lubricant.1.clone();
        let (percent, from, to) = in_words(ln_mean, ln_sd);
        match ln_mean {
            mean if mean.abs() < NOTHING => EffectSaid::UnderWearsAlike { who, from, to },
            mean if mean > 0.0 => EffectSaid::UnderWearsFaster { who, percent, from, to },
            _ => EffectSaid::UnderWearsSlower { who, percent, from, to },
        }
    }
}

/// A drift in plain words.
#[must_use]
pub fn drift_said(drift: Drift) -> EffectSaid {
    let (percent, from, to) = in_words(drift.per_year, drift.sd);
    match drift.per_year {
        slope if slope.abs() < NOTHING => EffectSaid::Stays { from, to },
        slope if slope > 0.0 => EffectSaid::Rises { percent, from, to },
        _ => EffectSaid::Falls { percent, from, to },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_between_applications_is_drawn_towards_the_usual_one() {
        let id = LubricantId::generate();
        let used = LubricantUse { lubricant: id.to_string(), reference_km: 17_000.0, applications: 17 };
        let effects = WearEffects { applied: vec![used], ..WearEffects::default() };
        assert!((effects.reference_km_per_application(id) - 18_050.0 / 20.0).abs() < 1e-9);
        assert!((effects.reference_km_per_application(LubricantId::generate()) - 350.0).abs() < 1e-9);
    }

    #[test]
    fn an_effect_is_said_as_a_share_of_wear() {
        let said = |ln_mean: f64, ln_sd: f64| {
            let model = (PartModelId::generate(), "Coated".to_owned());
            ModelEffect { model, effect: LearnedEffect { ln_mean, ln_sd, chains: 9 } }.said().to_string()
        };
        assert_eq!(
            said(0.8_f64.ln(), 0.1),
            "Coated wears 20 % slower than the fleet's chains on average (8 in 10: -30 to -9 %)"
        );
        assert_eq!(
            said(0.0, 0.1),
            "Coated wears as the fleet's chains do on average (8 in 10: -12 to +14 %)"
        );
        let lubricant = (LubricantId::generate(), "wax".to_owned());
        let effect = LearnedEffect { ln_mean: 0.85_f64.ln(), ln_sd: 0.05, chains: 60 };
        assert_eq!(
            LubricantEffect { lubricant, effect }.said().to_string(),
            "Chains run on wax wear 15 % slower than the fleet's chains on average (8 in 10: -20 to -9 %)"
        );
        let drift = drift_said(Drift::kept(1.4_f64.ln(), 0.05, 20_000, None));
        assert_eq!(drift.to_string(), "Chains wear 40 % faster from year to year (8 in 10: +31 to +49 %)");
    }
}
