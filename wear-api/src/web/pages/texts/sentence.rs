//! Sentences that are declared elsewhere, as the texts find them.

use std::fmt::Display;

use fluent_bundle::FluentValue;
use wear_core::drivetrain::Caution;
use wear_core::drivetrain::compatibility::Reason;
use wear_core::drivetrain::procedure::{Deference, Instruction, Tool, Torque};
use wear_core::drivetrain::symptom::Inspection;
use wear_core::sentences::Parameter;

use crate::domain::{Assumption, Field, Form, Meaning};
use crate::service::Conflict;
use crate::transfer::{TableFault, TableForm};

/// A sentence with a stable code, whose `Display` is English.
pub(in crate::web::pages) trait Sentence: Display {
    /// The text that holds its kind.
    fn group(&self) -> &'static str;
    /// Its code.
    fn code(&self) -> &'static str;
    /// Its parameters.
    fn values(&self) -> Vec<(&'static str, FluentValue<'static>)>;
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

            fn values(&self) -> Vec<(&'static str, FluentValue<'static>)> {
                self.parameters().into_iter().map(|(name, value)| (name, said(value))).collect()
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
    TableFault = "table_fault";
    TableForm = "table_form";
}

fn said(value: Parameter) -> FluentValue<'static> {
    match value {
        Parameter::Number(number) => number.into(),
        Parameter::Text(text) => text.into(),
    }
}
