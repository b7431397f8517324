//! When the bike's next swap comes and what it uses, for counts of parts.

use super::outlook::{CassetteReport, RingReport};
use crate::degradation::WearParameters;
use crate::fleet::coming_year::{AHEAD_DAYS, Renewals};
use crate::forecast::{Advice, LifeCurve, UseForecast};
use crate::knock_on;
use crate::numeric::normal;
use crate::units::Limit;

/// The days ahead for which the probability of a swap is kept; in between it is linear.
pub const SWAP_DAYS: [u32; 21] =
    [0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 56, 70, 91, 119, 147, 182, 273, 365, 548, 730];

/// Share in common where nobody kept it (A).
pub const USUAL_COMMON: f64 = 0.15;

/// When a bike's next chain swap comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwapTiming {
    /// Days ahead from which on the swap is certain, as it is the advice.
    pub certain_in_days: Option<u32>,
    /// Probability that the chain has reached its limit by each of [`SWAP_DAYS`].
    pub by_day: [f64; SWAP_DAYS.len()],
    /// Share, by each of these days, of what makes it early or late that all bikes of the workshop have in common: the
    /// season and habits that drift together. The correlation of two bikes' normal deviates.
    pub common: [f64; SWAP_DAYS.len()],
}

impl SwapTiming {
    /// Never, as far as is known: a bike without a chain.
    pub const NEVER: Self =
        Self { certain_in_days: None, by_day: [0.0; SWAP_DAYS.len()], common: [0.0; SWAP_DAYS.len()] };

    /// Probability that the swap has come by `days` ahead; the last one kept beyond the days that are kept.
    #[must_use]
    pub fn by(&self, days: f64) -> f64 {
        if self.certain_in_days.is_some_and(|certain| days >= f64::from(certain)) {
            return 1.0;
        }
        between(&self.by_day, days)
    }

    /// The share in common of what makes it early or late by `days` ahead.
    #[must_use]
    pub fn common_by(&self, days: f64) -> f64 {
        between(&self.common, days).clamp(0.0, 0.99)
    }

    /// The same as [`SwapTiming::by`] where what all bikes have in common is `deviate` standard deviations above its median: for
    /// [`crate::fleet::demand::Demand::under_shared_deviate`]. `Φ((Φ⁻¹(p) + √ρ·z)/√(1 − ρ))`, whose mean over z is p (Vasicek
    /// 2002, Risk 15:160; M).
    #[must_use]
    pub fn by_given(&self, days: f64, deviate: f64) -> f64 {
        given(self.by(days), self.common_by(days), deviate)
    }
}

/// A probability of which the share `common` moves with a normal deviate, where that deviate is known.
#[must_use]
pub fn given(probability: f64, common: f64, deviate: f64) -> f64 {
    if probability <= 0.0 || probability >= 1.0 {
        return probability;
    }
    let shifted = normal::quantile(probability) + common.sqrt() * deviate;
    normal::distribution(shifted / (1.0 - common).sqrt())
}

/// Linear between [`SWAP_DAYS`].
fn between(values: &[f64; SWAP_DAYS.len()], days: f64) -> f64 {
    let after = SWAP_DAYS.partition_point(|day| f64::from(*day) <= days);
    match (after.checked_sub(1), SWAP_DAYS.get(after)) {
        (None, _) => values[0],
        (Some(before), None) => values[before],
        (Some(before), Some(next)) => {
            let (from, to) = (f64::from(SWAP_DAYS[before]), f64::from(*next));
            values[before] + (days - from) / (to - from) * (values[after] - values[before])
        }
    }
}

/// When a bike's next chain swap comes, and the probability that it uses a cassette or rings as well.
///
/// The chain comes off when it reaches its limit, or on the day of the advice to swap it. Cassette and rings go with it
/// when they are used up by then (A: nobody swaps them alone).
#[derive(Debug, Clone, PartialEq)]
pub struct NextSwap {
    /// When it comes.
    pub timing: SwapTiming,
    /// Probability that the cassette is used up by then; none where it isn't on record.
    pub cassette: Option<f64>,
    /// Probability that each ring is used up by then, the largest first; none where they aren't on record.
    pub rings: Vec<f64>,
    /// What the swaps after it rest on; none for a bike that isn't in use.
    pub renewals: Option<Renewals>,
}

impl NextSwap {
    /// Of a bike without a chain.
    pub(super) const NONE: Self =
        Self { timing: SwapTiming::NEVER, cassette: None, rings: Vec::new(), renewals: None };
}

/// What the next swap of a bike rests on.
pub(super) struct SwapFacts<'a> {
    pub advice: Advice,
    pub swap_in_days: Option<u32>,
    pub curve: &'a LifeCurve,
    pub usage: Option<&'a UseForecast>,
    pub limit: Limit,
    /// Of a new chain on this bike.
    pub parameters: &'a WearParameters,
    pub cassette: Option<&'a CassetteReport>,
    pub rings: &'a [RingReport],
}

impl SwapFacts<'_> {
    pub fn next_swap(&self) -> NextSwap {
        let days = SWAP_DAYS.map(|day| self.by(f64::from(day)));
        // What is over stays over, however much less is known of use further ahead.
        let mut highest = 0.0_f64;
        let by_day = days.map(|(by, _)| {
            highest = highest.max(by);
            highest
        });
        let certain_in_days = match self.advice {
            Advice::SwapNow => Some(0),
            Advice::SwapBy => self.swap_in_days,
            _ => None,
        };
        NextSwap {
            timing: SwapTiming { certain_in_days, by_day, common: days.map(|(_, common)| common) },
            cassette: self.cassette.map(|report| report.probability_skips_at_limit),
            rings: self.rings.iter().rev().map(|ring| ring.probability_worn_at_limit).collect(),
            renewals: self.usage.map(|usage| self.renewals(usage)),
        }
    }

    /// A new chain's life by the middle wear rate.
    fn renewals(&self, usage: &UseForecast) -> Renewals {
        let (limit, wear) = (self.limit.get(), self.parameters);
        let percent = (wear.fast_phase().slow(limit) - wear.initial_mean() - wear.running_in()).max(0.05);
        let (over_a_year, common) = (usage.ln_sd_over(365.0), usage.shared_ln_sd_over(365.0));
        // The rate, where it began, and the gamma process, whose variance is φ times its mean.
        let variance =
            wear.sd_log_rate().powi(2) + (wear.initial_sd() / percent).powi(2) + wear.scale() / percent;
        Renewals {
            ahead: AHEAD_DAYS.map(|days| usage.exposure_over(days)),
            own_ln_sd: (over_a_year * over_a_year - common * common).max(0.0).sqrt(),
            common_ln_sd: common,
            life: percent / wear.mean_log_rate().exp(),
            life_ln_sd: variance.sqrt(),
            cassette_per_chain: knock_on::accrued(limit),
        }
    }

    /// Probability that the chain has reached its limit by a day, and the share in common of what makes it early or late: from
    /// how far the probability moves between a shared deviate of −1 and of 1.
    fn by(&self, days: f64) -> (f64, f64) {
        let Some(usage) = self.usage else { return (self.curve.probability(0.0), 0.0) };
        let (by, given) = self.curve.probabilities_by_day(usage, days, [-1.0, 1.0]);
        let [low, high] = given.map(|given| normal::quantile(given.clamp(1e-6, 1.0 - 1e-6)));
        let slope = 0.5 * (high - low);
        (by, slope * slope / (1.0 + slope * slope))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn probabilities_are_linear_between_days_and_certain_when_advised() {
        let by_day = SWAP_DAYS.map(|day| f64::from(day) / 1_000.0);
        let mut timing = SwapTiming { by_day, ..SwapTiming::NEVER };
        for days in [0.0, 0.5, 4.0, 33.3, 730.0] {
            assert!((timing.by(days) - days / 1_000.0).abs() < 1e-12, "{days}");
        }
        assert_eq!((timing.by(-3.0), timing.by(5_000.0)), (0.0, 0.73));
        timing.certain_in_days = Some(20);
        assert!((timing.by(19.9) - 0.0199).abs() < 1e-12);
        assert_eq!(timing.by(20.0), 1.0);
    }

    #[test]
    fn what_is_common_moves_all_and_leaves_the_mean() {
        let by_day = SWAP_DAYS.map(|day| f64::from(day) / 1_000.0);
        let timing = SwapTiming { by_day, common: [0.3; SWAP_DAYS.len()], certain_in_days: Some(500) };
        let (early, late) = (timing.by_given(182.0, 1.0), timing.by_given(182.0, -1.0));
        assert!(early > 1.5 * timing.by(182.0) && late < 0.6 * timing.by(182.0), "{early} {late}");
        let steps = (-40..=40).map(|step| 0.1 * f64::from(step));
        let mean: f64 = steps.map(|z| 0.1 * normal::density(z) * timing.by_given(182.0, z)).sum();
        assert!((mean - 0.182).abs() < 1e-4, "{mean}");
        assert_eq!((timing.by_given(0.0, 2.0), timing.by_given(600.0, -2.0)), (0.0, 1.0));
    }

    /// The counts that the kept numbers give are those of the forecasts themselves.
    #[test]
    fn kept_numbers_count_like_the_forecasts() {
        use crate::fleet::demand::Demand;
        use crate::forecast::DailyUse;
        use crate::units::Probability;

        let days = [DailyUse { km: 12.0, reference_km: 15.0 }; 200];
        let usage = UseForecast::from_days(&days).expect("used");
        let curves: Vec<LifeCurve> = (1..=40)
            .map(|bike| {
                let life = 120.0 * f64::from(bike);
                LifeCurve::sample(1.2 * life, |s| normal::distribution((s / life).max(1e-9).ln() / 0.15))
            })
            .collect();
        let timings: Vec<SwapTiming> = curves
            .iter()
            .map(|curve| {
                let facts = SwapFacts {
                    advice: Advice::RideOn,
                    swap_in_days: None,
                    curve,
                    usage: Some(&usage),
                    limit: Limit::new(0.75).expect("a limit"),
                    parameters: &WearParameters::default(),
                    cassette: None,
                    rings: &[],
                };
                facts.next_swap().timing
            })
            .collect();
        for days in [56.0, 182.0] {
            let kept = Demand::under_shared_deviate(|deviate| {
                let given = timings.iter().map(|timing| timing.by_given(days, deviate));
                given.filter_map(|p| Probability::new(p).ok()).collect()
            });
            let whole = Demand::under_shared_use(days, curves.iter().map(|curve| (&usage, curve)));
            for level in [0.1, 0.5, 0.9] {
                let level = Probability::new(level).expect("a level");
                let (kept, whole) = (kept.quantile(level), whole.quantile(level));
                assert!(kept.abs_diff(whole) <= 1, "{days} {level:?}: {kept} {whole}");
            }
        }
    }
}
