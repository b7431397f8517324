//! Sentences that are declared elsewhere, as the texts find them.

use std::fmt::Display;

use fluent_bundle::FluentValue;
use wear_core::drivetrain::Caution;
use wear_core::drivetrain::compatibility::Reason;
use wear_core::drivetrain::procedure::{Deference, Instruction, Tool, Torque};
use wear_core::drivetrain::symptom::Inspection;
use wear_core::sentences::Parameter;

use crate::domain::{
    Assumption, BiasSaid, BiasToDo, CassettesSaid, ChoiceSaid, ConditionSaid, EffectSaid, Field, Form,
    Meaning, NoticeSaid, SeasonSaid,
};
use crate::ride_file::{RideFault, RideForm};
use crate::service::Conflict;
use crate::transfer::{TableFault, TableForm};
use crate::words::Words;

/// A sentence with a stable code, whose `Display` is English.
pub(crate) trait Sentence: Display {
    /// The text that holds its kind.
    fn group(&self) -> &'static str;
    /// Its code.
    fn code(&self) -> &'static str;
    /// Its parameters, as that language writes them.
    fn values(&self, words: &Words) -> Vec<(&'static str, FluentValue<'static>)>;
}

macro_rules! sentences {
    ($($type:ty = $group:literal;)+) => {
        $(impl Sentence for $type {
            fn group(&self) -> &'static str {
                $group
            }

            fn code(&self) -> &'static str {
                self.code()
            }

            fn values(&self, words: &Words) -> Vec<(&'static str, FluentValue<'static>)> {
                self.parameters().into_iter().map(|(name, value)| (name, said(words, value))).collect()
            }
        })+

        /// Every kind with its codes.
        #[cfg(test)]
        pub(super) const ALL: &[(&str, &[&str])] = &[$(($group, <$type>::CODES)),+];
    };
}

sentences! {
    Instruction = "instruction";
    Caution = "hazard";
    Tool = "tool";
    Torque = "torque";
    Deference = "deference";
    Inspection = "inspection";
    Assumption = "assumption";
    Reason = "fit";
    Field = "field";
    Form = "form";
    Conflict = "conflict";
    Meaning = "meaning";
    NoticeSaid = "notice";
    BiasSaid = "bias";
    BiasToDo = "bias-to-do";
    ConditionSaid = "condition";
    EffectSaid = "effect";
    SeasonSaid = "season";
    CassettesSaid = "cassettes";
    ChoiceSaid = "choice";
    TableFault = "table_fault";
    TableForm = "table_form";
    RideFault = "ride_fault";
    RideForm = "ride_form";
}

fn said(words: &Words, value: Parameter) -> FluentValue<'static> {
    match value {
        Parameter::Number(number) => number.into(),
        Parameter::Decimal(number) => words.number(number.value(), number.decimals()).into(),
        Parameter::Month(month) => words.month_name(month.into()).into(),
        Parameter::Text(text) => text.into(),
    }
}
