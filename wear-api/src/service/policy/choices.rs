//! Models of chain, and lubricants, held against the one in use.

use wear_core::fleet::Term;
use wear_core::policy::{
    Candidate, ChoiceCost, ChoiceQuestion, Costs, Effects, LimitPolicy, Scenario, Spread,
};

use crate::domain::{
    ChainChoice, GroupName, Lubricant, LubricantChoice, Minutes, Money, PartModel, PartModelId, Place,
    PolicyPrices, WearEffects, Workshop,
};
use crate::service::ServiceError;
use crate::service::prices::price_of;
use crate::store::Tx;

/// What there is to choose from in a group.
#[derive(Debug, Clone)]
pub(super) struct Choices {
    chains: Vec<ChainModel>,
    lubricants: Vec<OfferedLubricant>,
    effects: WearEffects,
    /// What a swap of a chain takes on the bench: what its labour costs is the price of so many minutes.
    swap: Minutes,
}

/// A model of chain that the fleet has learned of, or that the group rides.
#[derive(Debug, Clone)]
struct ChainModel {
    model: PartModel,
    /// Chains of it on the group's bikes.
    count: i64,
}

/// A lubricant that the fleet has learned of, or that the group's bikes are ridden under.
#[derive(Debug, Clone)]
struct OfferedLubricant {
    lubricant: Lubricant,
    /// Bikes of the group that are ridden under it.
    bikes: i64,
}

/// The limit in force, and what is paid there.
pub(super) struct AtLimit<'a> {
    pub group: &'a GroupName,
    pub workshop: &'a Workshop,
    pub prices: &'a PolicyPrices,
    pub costs: &'a Costs,
    pub scenarios: &'a [Scenario],
    pub limit_percent: f64,
    pub looks: LimitPolicy,
}

impl Choices {
    /// Loads them; none of a kind where nothing was learned of any.
    ///
    /// # Errors
    /// [`ServiceError::Unavailable`].
    pub async fn load(
        tx: &mut Tx,
        group: &GroupName,
        parts: &[(PartModel, i64)],
    ) -> Result<Self, ServiceError> {
        let effects = tx.wear_effects().await?;
        Ok(Self {
            chains: chain_models(tx, parts, &effects).await?,
            lubricants: lubricants(tx, group, &effects).await?,
            swap: tx.bench_settings().await?.0.chain,
            effects,
        })
    }

    /// Each model of chain at the limit in force, against the one that most of the group's bikes have.
    pub fn of_chains(&self, at: &AtLimit<'_>) -> Vec<ChainChoice> {
        let Some(in_use) = (0..self.chains.len()).max_by_key(|place| self.chains[*place].count) else {
            return Vec::new();
        };
        let usual = at.prices.chain_minor;
        let price = |chain: &ChainModel| price_of(at.workshop, &chain.model);
        let minor = |chain: &ChainModel| price(chain).unwrap_or(usual as f64);
        let terms: Vec<Term> = self.chains.iter().map(|chain| WearEffects::term(chain.model.id)).collect();
        let candidate = |chain: &ChainModel| Candidate { chain: minor(chain), upkeep_per_1000_km: 0.0 };
        let candidates: Vec<Candidate> = self.chains.iter().map(candidate).collect();
        let name = |chain: &ChainModel| chain.model.facts.name.to_string();
        let mut choices: Vec<ChainChoice> = self
            .chains
            .iter()
            .zip(self.costs(at, &terms, &candidates, in_use))
            .map(|(chain, cost)| ChainChoice {
                model: (chain.model.id, name(chain)),
                in_use: name(&self.chains[in_use]),
                chain_minor: minor(chain).round() as i64,
                price_is_assumed: price(chain).is_none(),
                cost,
            })
            .collect();
        choices.sort_by(|a, b| middle(&a.cost).total_cmp(&middle(&b.cost)));
        choices
    }

    /// Each lubricant at the limit in force, against the one that most of the group's bikes are ridden under; where nobody said
    /// which that is, against the one that the fleet was ridden under furthest.
    pub fn of_lubricants(&self, at: &AtLimit<'_>) -> Vec<LubricantChoice> {
        let ridden = |offered: &OfferedLubricant| {
            let id = offered.lubricant.id.to_string();
            let used = self.effects.applied.iter().find(|used| used.lubricant == id);
            used.map_or(0.0, |used| used.reference_km)
        };
        let all = &self.lubricants;
        let in_use = (0..all.len()).max_by(|a, b| {
            let (a, b) = (&all[*a], &all[*b]);
            a.bikes.cmp(&b.bikes).then(ridden(a).total_cmp(&ridden(b)))
        });
        let Some(in_use) = in_use else { return Vec::new() };
        let interval = |it: &OfferedLubricant| self.effects.reference_km_per_application(it.lubricant.id);
        let application: Vec<Option<f64>> =
            all.iter().map(|it| self.application(at, &it.lubricant)).collect();
        let upkeep =
            |(it, minor): (&OfferedLubricant, &Option<f64>)| Some(1_000.0 / interval(it) * (*minor)?);
        let upkeep: Vec<Option<f64>> = all.iter().zip(&application).map(upkeep).collect();
        let told: Vec<f64> = upkeep.iter().copied().flatten().collect();
        let assumed = told.iter().sum::<f64>() / told.len().max(1) as f64;
        let candidate = |upkeep: &Option<f64>| Candidate {
            chain: at.prices.chain_minor as f64,
            upkeep_per_1000_km: upkeep.unwrap_or(assumed),
        };
        let candidates: Vec<Candidate> = upkeep.iter().map(candidate).collect();
        let terms: Vec<Term> = all.iter().map(|it| WearEffects::lubricant(it.lubricant.id)).collect();
        let named = |it: &OfferedLubricant| (it.lubricant.id, it.lubricant.facts.name.to_string());
        let mut choices: Vec<LubricantChoice> = all
            .iter()
            .zip(application)
            .zip(self.costs(at, &terms, &candidates, in_use))
            .map(|((it, application), cost)| LubricantChoice {
                lubricant: named(it),
                in_use: named(&all[in_use]),
                application_minor: application.map(|minor| minor.round() as i64),
                reference_km_per_application: interval(it),
                upkeep_is_assumed: application.is_none() && !told.is_empty(),
                cost,
            })
            .collect();
        choices.sort_by(|a, b| middle(&a.cost).total_cmp(&middle(&b.cost)));
        choices
    }

    /// What one application costs, minor units: the stuff, and its minutes at what a swap's labour costs a minute; none where
    /// nobody said either.
    fn application(&self, at: &AtLimit<'_>, lubricant: &Lubricant) -> Option<f64> {
        let facts = &lubricant.facts;
        let price = facts.price.filter(|price| price.currency() == at.workshop.settings.currency);
        let minute = at.prices.swap_labour_minor as f64 / f64::from(self.swap.get().max(1));
        let work = facts.minutes.map(|minutes| minute * f64::from(minutes.get()));
        match (price.map(|price| Money::minor(price) as f64), work) {
            (None, None) => None,
            (stuff, work) => Some(stuff.unwrap_or(0.0) + work.unwrap_or(0.0)),
        }
    }

    fn costs(
        &self,
        at: &AtLimit<'_>,
        terms: &[Term],
        candidates: &[Candidate],
        in_use: usize,
    ) -> Vec<ChoiceCost> {
        let (ln_means, covariance) = self.effects.terms.instead(terms, self.effects.usual(Some(at.group)));
        let information_per_chain = self.effects.information_per_chain;
        let question = ChoiceQuestion {
            costs: at.costs,
            scenarios: at.scenarios,
            limit_percent: at.limit_percent,
            policy: at.looks,
            candidates,
            effects: &Effects { ln_means, covariance, information_per_chain },
            in_use,
        };
        question.answer().unwrap_or_default()
    }
}

const fn middle(cost: &ChoiceCost) -> f64 {
    let Spread { p50, .. } = cost.cost;
    p50
}

/// The models of chain to choose from; none where nothing was learned of any.
async fn chain_models(
    tx: &mut Tx,
    of_group: &[(PartModel, i64)],
    effects: &WearEffects,
) -> Result<Vec<ChainModel>, ServiceError> {
    let told: Vec<PartModelId> = effects.terms.models().filter_map(|(id, _)| id.parse().ok()).collect();
    if told.is_empty() {
        return Ok(Vec::new());
    }
    let on = of_group.iter().filter(|(model, _)| model.facts.geometry.place() == Place::Chain);
    let mut chains: Vec<ChainModel> =
        on.map(|(model, count)| ChainModel { model: model.clone(), count: *count }).collect();
    let others: Vec<PartModelId> =
        told.into_iter().filter(|id| chains.iter().all(|chain| chain.model.id != *id)).collect();
    let others = tx.part_models_of(&others).await?;
    chains.extend(others.into_iter().map(|model| ChainModel { model, count: 0 }));
    Ok(chains)
}

/// The lubricants to choose from, in the order in which they were entered: those in use that something was learned of, and
/// those that the group's bikes are ridden under. None where nothing was learned of any.
async fn lubricants(
    tx: &mut Tx,
    group: &GroupName,
    effects: &WearEffects,
) -> Result<Vec<OfferedLubricant>, ServiceError> {
    if effects.terms.lubricants().next().is_none() {
        return Ok(Vec::new());
    }
    let of_group = tx.lubricants_of_group(group).await?;
    let all = tx.all_lubricants().await?.into_iter();
    let offered = all.filter_map(|lubricant| {
        let id = lubricant.id.to_string();
        let bikes = of_group.iter().find(|(id, _)| *id == lubricant.id).map_or(0, |(_, bikes)| *bikes);
        let is_told = effects.terms.lubricants().any(|(name, _)| name == id);
        let is_there = bikes > 0 || (is_told && lubricant.retired_at.is_none());
        is_there.then_some(OfferedLubricant { lubricant, bikes })
    });
    Ok(offered.collect())
}
