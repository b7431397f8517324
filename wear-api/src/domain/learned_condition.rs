//! What a fleet learned of rain, gravel, mud, trainers and neglect, in plain words.

use wear_core::exposure::care::CareModel;
use wear_core::exposure::{Context, ContextMultipliers};
use wear_core::fleet::multipliers::{CHAINS_TO_LEARN, Covariate, LearnedCovariate};
use wear_core::sentences::Decimal;

/// z of 90 %.
const Z90: f64 = 1.281_55;

/// What one of them does to wear, against a dry paved road and a chain that is looked after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedCondition {
    /// Which.
    pub covariate: Covariate,
    /// How many times as fast chains wear: as likely less as more.
    pub p50: f64,
    /// One chance in ten that it is less.
    pub p10: f64,
    /// One chance in ten that it is more.
    pub p90: f64,
    /// Chains that differ from the others in how much of it they had.
    pub chains: usize,
    /// Whether these were enough: assumed otherwise.
    pub is_learned: bool,
}

impl From<LearnedCovariate> for LearnedCondition {
    fn from(learned: LearnedCovariate) -> Self {
        let LearnedCovariate { covariate, ln_shift, ln_sd, chains, learned: is_learned } = learned;
        let assumed = |context| ContextMultipliers::default().get(context).median;
        let times = |ln: f64| match covariate {
            Covariate::Wet => assumed(Context::PavedWet) * ln.exp(),
            Covariate::Gravel => assumed(Context::GravelDry) * ln.exp(),
            Covariate::Mud => assumed(Context::MudDry) * ln.exp(),
            Covariate::Indoor => assumed(Context::Indoor) * ln.exp(),
            // ln(N − 1) = ln(N̂ − 1) + β
            Covariate::Care => 1.0 + (CareModel::default().neglected() - 1.0) * ln.exp(),
        };
        let reach = Z90 * ln_sd;
        Self {
            covariate,
            p50: times(ln_shift),
            p10: times(ln_shift - reach),
            p90: times(ln_shift + reach),
            chains,
            is_learned,
        }
    }
}

wear_core::sentences! {
    /// What a condition does to wear.
    ConditionSaid {
        RainLearned { times: Decimal, from: Decimal, to: Decimal } = "rain_learned",
            "Rain wears chains {times} times as fast as a dry road (8 in 10: {from} to {to})";
        RainAssumed { times: Decimal, chains: u32, enough: u32 } = "rain_assumed",
            "Rain is assumed to wear chains {times} times as fast as a dry road. The fleet has its own figure once {enough} chains differ in it; so far {chains} do";
        GravelLearned { times: Decimal, from: Decimal, to: Decimal } = "gravel_learned",
            "Gravel wears chains {times} times as fast as a dry road (8 in 10: {from} to {to})";
        GravelAssumed { times: Decimal, chains: u32, enough: u32 } = "gravel_assumed",
            "Gravel is assumed to wear chains {times} times as fast as a dry road. The fleet has its own figure once {enough} chains differ in it; so far {chains} do";
        MudLearned { times: Decimal, from: Decimal, to: Decimal } = "mud_learned",
            "Mud and sand wear chains {times} times as fast as a dry road (8 in 10: {from} to {to})";
        MudAssumed { times: Decimal, chains: u32, enough: u32 } = "mud_assumed",
            "Mud and sand are assumed to wear chains {times} times as fast as a dry road. The fleet has its own figure once {enough} chains differ in it; so far {chains} do";
        IndoorLearned { times: Decimal, from: Decimal, to: Decimal } = "indoor_learned",
            "A trainer wears chains {times} times as fast as a dry road (8 in 10: {from} to {to})";
        IndoorAssumed { times: Decimal, chains: u32, enough: u32 } = "indoor_assumed",
            "A trainer is assumed to wear chains {times} times as fast as a dry road. The fleet has its own figure once {enough} chains differ in it; so far {chains} do";
        NeglectLearned { times: Decimal, from: Decimal, to: Decimal } = "neglect_learned",
            "A chain that nobody looks after wears {times} times as fast as one that is cleaned and lubricated (8 in 10: {from} to {to})";
        NeglectAssumed { times: Decimal, chains: u32, enough: u32 } = "neglect_assumed",
            "A chain that nobody looks after is assumed to wear {times} times as fast as one that is cleaned and lubricated. The fleet has its own figure once {enough} chains differ in it; so far {chains} do";
    }
}

impl LearnedCondition {
    /// In plain words.
    #[must_use]
    pub fn said(&self) -> ConditionSaid {
        let in_times = |times: f64| Decimal::new(times, 1);
        let times = in_times(self.p50);
        if self.is_learned {
            let (from, to) = (in_times(self.p10), in_times(self.p90));
            return match self.covariate {
                Covariate::Wet => ConditionSaid::RainLearned { times, from, to },
                Covariate::Gravel => ConditionSaid::GravelLearned { times, from, to },
                Covariate::Mud => ConditionSaid::MudLearned { times, from, to },
                Covariate::Indoor => ConditionSaid::IndoorLearned { times, from, to },
                Covariate::Care => ConditionSaid::NeglectLearned { times, from, to },
            };
        }
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let (chains, enough) = (count(self.chains), count(CHAINS_TO_LEARN));
        match self.covariate {
            Covariate::Wet => ConditionSaid::RainAssumed { times, chains, enough },
            Covariate::Gravel => ConditionSaid::GravelAssumed { times, chains, enough },
            Covariate::Mud => ConditionSaid::MudAssumed { times, chains, enough },
            Covariate::Indoor => ConditionSaid::IndoorAssumed { times, chains, enough },
            Covariate::Care => ConditionSaid::NeglectAssumed { times, chains, enough },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rain_and_neglect_are_said_in_times() {
        let learned = |covariate, ln_shift, learned| {
            LearnedCondition::from(LearnedCovariate { covariate, ln_shift, ln_sd: 0.1, chains: 31, learned })
        };
        assert_eq!(
            learned(Covariate::Wet, 1.5_f64.ln(), true).said().to_string(),
            "Rain wears chains 3.0 times as fast as a dry road (8 in 10: 2.6 to 3.4)"
        );
        assert_eq!(
            learned(Covariate::Care, 0.0, false).said().to_string(),
            "A chain that nobody looks after is assumed to wear 2.0 times as fast as one that is cleaned and lubricated. \
             The fleet has its own figure once 50 chains differ in it; so far 31 do"
        );
    }
}
