//! What a workshop's chains taught of models, of lubricants and of drift.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use wear_core::fleet::multipliers::LearnedCovariate;
use wear_core::fleet::{Drift, LearnedEffect, LearnedTerms, Term};

use super::error::StoreError;
use super::{Tx, execute, statements, value_if_any};
use crate::domain::{LubricantUse, Timestamp, WearEffects};

statements! {
    CLEAR = "delete from wear_effects where workshop_id = $1";
    INSERT = "insert into wear_effects (workshop_id, payload, learned_at) values ($1, $2, $3)";
    GET = "select payload from wear_effects where workshop_id = $1";
}

#[derive(Serialize, Deserialize)]
struct EffectDoc {
    is_model: bool,
    name: String,
    ln_mean: f64,
    ln_sd: f64,
    chains: usize,
}

#[derive(Serialize, Deserialize)]
struct DriftDoc {
    per_year: f64,
    sd: f64,
    of_day: i32,
    km_a_day: Option<f64>,
}

#[derive(Serialize, Deserialize)]
struct AppliedDoc {
    lubricant: String,
    reference_km: f64,
    applications: i64,
}

#[derive(Serialize, Deserialize)]
struct CovariateDoc {
    covariate: String,
    ln_shift: f64,
    ln_sd: f64,
    chains: usize,
    learned: bool,
}

impl From<LearnedCovariate> for CovariateDoc {
    fn from(LearnedCovariate { covariate, ln_shift, ln_sd, chains, learned }: LearnedCovariate) -> Self {
        Self { covariate: covariate.as_str().to_owned(), ln_shift, ln_sd, chains, learned }
    }
}

impl CovariateDoc {
    fn read(&self) -> Option<LearnedCovariate> {
        let Self { covariate, ln_shift, ln_sd, chains, learned } = self;
        let covariate = covariate.parse().ok()?;
        Some(LearnedCovariate {
            covariate,
            ln_shift: *ln_shift,
            ln_sd: *ln_sd,
            chains: *chains,
            learned: *learned,
        })
    }
}

#[derive(Serialize, Deserialize)]
struct Doc {
    effects: Vec<EffectDoc>,
    covariance: Vec<Vec<f64>>,
    /// Shares in the order of the effects.
    usual: BTreeMap<String, Vec<f64>>,
    information_per_chain: f64,
    drift: Option<DriftDoc>,
    /// Missing where it was kept before lubricants were named.
    #[serde(default)]
    applied: Vec<AppliedDoc>,
    #[serde(default)]
    conditions: Vec<CovariateDoc>,
}

fn term(is_model: bool, name: String) -> Term {
    if is_model { Term::Model(name) } else { Term::Lubricant(name) }
}

impl From<&WearEffects> for Doc {
    fn from(learned: &WearEffects) -> Self {
        let WearEffects { terms, usual, information_per_chain, drift, conditions, applied } = learned;
        let applied =
            applied.iter().cloned().map(|LubricantUse { lubricant, reference_km, applications }| {
                AppliedDoc { lubricant, reference_km, applications }
            });
        let effect = |(term, effect): (&Term, LearnedEffect)| {
            let (is_model, name) = match term {
                Term::Model(name) => (true, name),
                Term::Lubricant(name) => (false, name),
            };
            let LearnedEffect { ln_mean, ln_sd, chains } = effect;
            EffectDoc { is_model, name: name.clone(), ln_mean, ln_sd, chains }
        };
        let share = |mix: &Vec<(Term, f64)>, term: &Term| {
            mix.iter().find(|(one, _)| one == term).map_or(0.0, |(_, share)| *share)
        };
        let shares = |mix| terms.effects().map(|(term, _)| share(mix, term)).collect();
        Self {
            effects: terms.effects().map(effect).collect(),
            covariance: terms.covariance().to_vec(),
            usual: usual.iter().map(|(group, mix)| (group.clone(), shares(mix))).collect(),
            information_per_chain: *information_per_chain,
            drift: drift.map(|drift| DriftDoc {
                per_year: drift.per_year,
                sd: drift.sd,
                of_day: drift.of_day,
                km_a_day: drift.km_a_day,
            }),
            applied: applied.collect(),
            conditions: conditions.iter().flatten().copied().map(CovariateDoc::from).collect(),
        }
    }
}

impl From<Doc> for WearEffects {
    fn from(doc: Doc) -> Self {
        let Doc { effects, covariance, usual, information_per_chain, drift, conditions, applied } = doc;
        let applied = applied.into_iter().map(|AppliedDoc { lubricant, reference_km, applications }| {
            LubricantUse { lubricant, reference_km, applications }
        });
        let names: Vec<Term> = effects.iter().map(|it| term(it.is_model, it.name.clone())).collect();
        let effects = effects.into_iter().map(|EffectDoc { is_model, name, ln_mean, ln_sd, chains }| {
            (term(is_model, name), LearnedEffect { ln_mean, ln_sd, chains })
        });
        let mix = |shares: Vec<f64>| names.iter().cloned().zip(shares).collect();
        Self {
            terms: LearnedTerms::kept(effects, &covariance),
            usual: usual.into_iter().map(|(group, shares)| (group, mix(shares))).collect(),
            information_per_chain,
            drift: drift.map(|DriftDoc { per_year, sd, of_day, km_a_day }| {
                Drift::kept(per_year, sd, of_day, km_a_day)
            }),
            applied: applied.collect(),
            conditions: conditions.iter().filter_map(CovariateDoc::read).collect::<Vec<_>>().try_into().ok(),
        }
    }
}

impl Tx {
    /// Stores what was learned, in place of what had been learned before; nothing where nothing was.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_wear_effects(
        &mut self,
        learned: Option<&WearEffects>,
        learned_at: Timestamp,
    ) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        if let Some(learned) = learned {
            execute!(self, INSERT, Json(Doc::from(learned)), learned_at.micros())?;
        }
        Ok(())
    }

    /// What was learned last; nothing before the first time.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn wear_effects(&mut self) -> Result<WearEffects, StoreError> {
        let doc: Option<Json<Doc>> = value_if_any!(self, GET)?;
        Ok(doc.map_or_else(WearEffects::default, |Json(doc)| doc.into()))
    }
}
