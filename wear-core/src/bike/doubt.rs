//! What explains readings that the record speaks against, and what would be done if it were so.

use super::chain::KnownChain;
use super::outlook::{DayQuantiles, ExplanationReport};
use crate::degradation::{Explanation, Explanations, MixedSnapshot, Outlook as LifeAhead, Snapshot};
use crate::forecast::{Advice, AdviceInput, LifeCurve, Reason, UseForecast, advise};
use crate::units::{Limit, ReferenceKilometres};

/// From the tenth to the ninetieth percentile a normal distribution spans so many standard deviations (C).
const SDS_FROM_P10_TO_P90: f64 = 2.563_1;

/// Probability of anything but chance from which on explanations are told (A).
const WORTH_SAYING: f64 = 0.1;

/// A chain now: the record is more likely right than not, or several things may be true of it.
pub(super) enum ChainNow<'a> {
    Agreed(Box<Snapshot<'a>>),
    Doubted(MixedSnapshot<'a>),
}

impl<'a> ChainNow<'a> {
    pub fn of(chain: &'a KnownChain, limit: Limit) -> Self {
        match chain.likely_wrong() {
            Some(doubt) => Self::Doubted(doubt.snapshot(chain.at(), limit)),
            None => Self::Agreed(Box::new(chain.posterior.snapshot(chain.at(), limit))),
        }
    }

    pub fn ahead(&self) -> LifeAhead {
        match self {
            Self::Agreed(snapshot) => snapshot.outlook(),
            Self::Doubted(mixed) => mixed.outlook(),
        }
    }

    pub fn curve(&self, p90: f64) -> LifeCurve {
        match self {
            Self::Agreed(snapshot) => LifeCurve::of(snapshot, p90),
            Self::Doubted(mixed) => LifeCurve::sample(p90, |ahead| mixed.over_within(ahead)),
        }
    }
}

/// What advice rests on beside the chain itself.
#[derive(Clone, Copy)]
pub(super) struct Advising<'a> {
    pub risk: f64,
    /// Probability of being over from which on a reading pays.
    pub due: f64,
    pub usage: Option<&'a UseForecast>,
}

/// Days ahead.
#[derive(Clone, Copy)]
pub(super) struct DaysAhead {
    /// Until the risk is passed.
    pub swap: Option<u32>,
    /// Until a reading pays.
    pub measure: Option<u32>,
    /// Until the limit is reached.
    pub limit: DayQuantiles,
}

impl Advising<'_> {
    /// The days that advice needs, along the curve.
    pub fn days(&self, curve: &LifeCurve) -> DaysAhead {
        // A reading pays where the probability of being late reaches what an inspection is worth; never after the swap.
        let levels = [self.risk, self.risk.min(self.due), 0.1, 0.5, 0.9];
        let days = self.usage.map_or([None; 5], |usage| curve.days_reaching(usage, levels));
        let [swap, measure, p10, p50, p90] = days;
        DaysAhead { swap, measure, limit: DayQuantiles { p10, p50, p90 } }
    }

    pub fn advise(&self, life: &LifeAhead, days: &DaysAhead, contradictory: bool) -> (Advice, Reason) {
        advise(&AdviceInput {
            probability_over_limit: life.probability_over_limit,
            risk: self.risk,
            elongation_sd: (life.elongation.p90 - life.elongation.p10) / SDS_FROM_P10_TO_P90,
            swap_in_days: days.swap,
            measure_in_days: days.measure,
            in_use: self.usage.is_some(),
            contradictory,
        })
    }

    /// What to do if an explanation is true.
    fn advise_if(&self, found: &Explanation, at: ReferenceKilometres, limit: Limit) -> (LifeAhead, Advice) {
        let life = found.outlook(at, limit);
        let own = ReferenceKilometres::new((at.get() - found.counts_from()).max(0.0));
        let own = own.unwrap_or(ReferenceKilometres::ZERO);
        let curve = LifeCurve::of(&found.posterior().snapshot(own, limit), life.remaining.p90);
        (life, self.advise(&life, &self.days(&curve), false).0)
    }

    /// Why nothing can be advised: something else than chance is the likeliest, and what to do depends on what it is.
    pub fn hold(&self, chain: &KnownChain, limit: Limit) -> Option<Reason> {
        let doubt = chain.doubt()?;
        let likeliest = doubt.changes().next()?;
        let told = doubt.telling().explanations().iter();
        let mut advice = told.filter(|found| found.probability > WORTH_SAYING).chain([likeliest]);
        let first = self.advise_if(advice.next()?, chain.at(), limit).1;
        let differs = advice.any(|found| self.advise_if(found, chain.at(), limit).1 != first)
            || self.as_recorded_differs(doubt, chain, limit, first);
        differs.then_some(Reason::RecordInDoubt {
            explanation: likeliest.kind,
            probability: likeliest.probability,
        })
    }

    /// Whether the record as it is would have one do something else.
    fn as_recorded_differs(
        &self,
        doubt: &Explanations,
        chain: &KnownChain,
        limit: Limit,
        advice: Advice,
    ) -> bool {
        let recorded = doubt.first().explanations().iter().find(|found| found.place.is_none());
        recorded.is_some_and(|found| self.advise_if(found, chain.at(), limit).1 != advice)
    }

    /// Explanations with their own numbers; none where chance has nearly all of the probability.
    pub fn explanations(
        &self,
        chain: &KnownChain,
        limit: Limit,
        km_per_reference_km: f64,
    ) -> Vec<ExplanationReport> {
        let Some(doubt) = chain.doubt() else { return Vec::new() };
        let first = doubt.first();
        let chance: f64 = first
            .explanations()
            .iter()
            .filter(|found| found.place.is_none())
            .map(|found| found.probability)
            .sum();
        if 1.0 - chance <= WORTH_SAYING {
            return Vec::new();
        }
        let report = |found: &Explanation| {
            let (life, advice) = self.advise_if(found, chain.at(), limit);
            ExplanationReport {
                kind: found.kind,
                probability: found.probability,
                between: chain.between(found),
                missing_km: found.missing.map(|missing| missing.times(km_per_reference_km)),
                elongation_percent: life.elongation,
                remaining_km: life.remaining.times(km_per_reference_km),
                advice,
            }
        };
        first.explanations().iter().map(report).collect()
    }
}
