//! A chain's exposures by the clock of the lubricant that it is ridden under now: see [`LubricantEffects`].

use super::ridden_under::RiddenUnder;
use super::timeline::Accrued;
use crate::fleet::{Counted, LubricantEffects};

/// What is known of a chain's wear under the lubricant that it is ridden under now.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lubricated {
    /// ln of its wear over that under what is usual.
    pub ln_mean: f64,
    /// Variance of what isn't known of that, and of how it compares with what the chain was ridden under so far.
    pub variance: f64,
    pub apart: f64,
}

/// The same exposures by the clock of the lubricant that the chain is ridden under now; none where nothing was learned of any
/// that it was ridden under.
pub(super) fn by_lubricants(
    effects: &LubricantEffects,
    accrued: &Accrued,
    (read, counted): (&[usize], Counted),
) -> (Counted, Option<Lubricated>) {
    let now = accrued.lubricant.as_deref();
    if !effects.knows(now) && !accrued.under.iter().any(|under| effects.knows(Some(&under.lubricant))) {
        return (counted, None);
    }
    let ahead = effects.ln_mean(now);
    let at_reading = |place: &usize| accrued.at_mark.iter().find(|mark| mark.place == *place);
    let read = read.iter().filter_map(at_reading).map(|mark| (mark.reference_km, &mark.under));
    let nothing = RiddenUnder::default();
    let mut before = (0.0, &nothing);
    let factors: Vec<f64> = read
        .chain([(accrued.reference_km, &accrued.under)])
        .map(|(at, under)| {
            let ridden = at - before.0;
            let more: f64 = under
                .since(before.1)
                .map(|(lubricant, km)| km * (effects.ln_mean(Some(lubricant)).exp() - 1.0))
                .sum();
            before = (at, under);
            // What nobody knows of counts as what is usual.
            if ridden > 0.0 { (ridden + more) / ridden / ahead.exp() } else { 1.0 }
        })
        .collect();
    let whole = accrued.reference_km.max(f64::MIN_POSITIVE);
    let so_far = accrued.under.iter().map(|under| (Some(&*under.lubricant), -under.reference_km / whole));
    let lubricated = Lubricated {
        ln_mean: ahead,
        variance: effects.variance([(now, 1.0)]),
        apart: effects.variance(so_far.chain([(now, 1.0)])),
    };
    (counted.by_factors(&factors, ahead), Some(lubricated))
}
