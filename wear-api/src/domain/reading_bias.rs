//! How far tools and people read high or low, in plain words.

use wear_core::fleet::LearnedBias;
use wear_core::sentences::Decimal;

use super::{Instrument, Label, ToolId};

/// What was learned of a tool.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolBias {
    /// What it is.
    pub instrument: Instrument,
    /// The tool and its name; none for all of its kind that nobody named.
    pub tool: Option<(ToolId, Label)>,
    /// How far it reads high.
    pub bias: LearnedBias,
}

/// What was learned of a person.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonBias {
    /// Who.
    pub name: String,
    /// How far he reads high over what the tool reads.
    pub bias: LearnedBias,
}

wear_core::sentences! {
    /// How far a tool or a person reads high.
    BiasSaid {
        ReadsHigh { who: String, percent: Decimal, give_or_take: Decimal } = "reads_high",
            "{who} reads {percent} % high, give or take {give_or_take}";
        ReadsLow { who: String, percent: Decimal, give_or_take: Decimal } = "reads_low",
            "{who} reads {percent} % low, give or take {give_or_take}";
        ReadsTrue { who: String, give_or_take: Decimal } = "reads_true",
            "{who} reads true, give or take {give_or_take} %";
        DropsInEarly { who: String, percent: Decimal, give_or_take: Decimal } = "drops_in_early",
            "{who} drops in {percent} % early, give or take {give_or_take}";
        DropsInLate { who: String, percent: Decimal, give_or_take: Decimal } = "drops_in_late",
            "{who} drops in {percent} % late, give or take {give_or_take}";
    }
}

wear_core::sentences! {
    /// What makes a bias better known.
    BiasToDo {
        NewChainWithTool = "new_chain_with_tool", "Read one new chain with it";
        NewChainByPerson { who: String } = "new_chain_by_person", "Have {who} read one new chain";
        GaugeAndRule = "gauge_and_rule",
            "Measure a few chains with this gauge and with a rule";
    }
}

/// Biases below this read true, percent (A).
const TRUE_TO: f64 = 0.005;

/// A bias that is known no better than this is worth a reading, percent (A); of a gauge, which tells less a reading.
const UNCERTAIN: f64 = 0.025;
const UNCERTAIN_GAUGE: f64 = 0.05;

impl ToolBias {
    fn who(&self) -> String {
        match &self.tool {
            Some((_, name)) => name.to_string(),
            None => match self.instrument {
                Instrument::Rule => "A rule that nobody named",
                Instrument::Caliper => "A caliper that nobody named",
                Instrument::Dial => "A dial gauge that nobody named",
                Instrument::DropIn => "A drop-in gauge that nobody named",
                Instrument::DropInIsolating => "An isolating drop-in gauge that nobody named",
            }
            .to_owned(),
        }
    }

    /// In plain words.
    #[must_use]
    pub fn said(&self) -> BiasSaid {
        let who = self.who();
        let (percent, give_or_take) = words(self.bias);
        match self.bias.bias {
            bias if bias.abs() < TRUE_TO => BiasSaid::ReadsTrue { who, give_or_take },
            bias if self.instrument.is_gauge() && bias > 0.0 => {
                BiasSaid::DropsInEarly { who, percent, give_or_take }
            }
            _ if self.instrument.is_gauge() => BiasSaid::DropsInLate { who, percent, give_or_take },
            bias if bias > 0.0 => BiasSaid::ReadsHigh { who, percent, give_or_take },
            _ => BiasSaid::ReadsLow { who, percent, give_or_take },
        }
    }

    /// What makes it better known; none where it is known well enough.
    #[must_use]
    pub fn to_do(&self) -> Option<BiasToDo> {
        if self.instrument.is_gauge() {
            return (self.bias.sd > UNCERTAIN_GAUGE).then_some(BiasToDo::GaugeAndRule);
        }
        (self.bias.sd > UNCERTAIN).then_some(BiasToDo::NewChainWithTool)
    }
}

impl PersonBias {
    /// In plain words.
    #[must_use]
    pub fn said(&self) -> BiasSaid {
        let who = self.name.clone();
        let (percent, give_or_take) = words(self.bias);
        match self.bias.bias {
            bias if bias.abs() < TRUE_TO => BiasSaid::ReadsTrue { who, give_or_take },
            bias if bias > 0.0 => BiasSaid::ReadsHigh { who, percent, give_or_take },
            _ => BiasSaid::ReadsLow { who, percent, give_or_take },
        }
    }

    /// What makes it better known; none where it is known well enough.
    #[must_use]
    pub fn to_do(&self) -> Option<BiasToDo> {
        (self.bias.sd > UNCERTAIN).then(|| BiasToDo::NewChainByPerson { who: self.name.clone() })
    }
}

fn words(LearnedBias { bias, sd, .. }: LearnedBias) -> (Decimal, Decimal) {
    // Nothing is known to within 0.00.
    (Decimal::new(bias.abs(), 2), Decimal::new(sd.max(TRUE_TO), 2))
}
