//! A workshop's lubricants.

use super::{CareKind, Field, Form, Invalid, Label, LubricantId, Minutes, Money, Timestamp};

/// A lubricant that a workshop puts on chains.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lubricant {
    /// Its id.
    pub id: LubricantId,
    /// What can be set of it.
    pub facts: LubricantFacts,
    /// When it was entered.
    pub created_at: Timestamp,
    /// Since when it is out of use.
    pub retired_at: Option<Timestamp>,
    /// Counts its changes, from 1.
    pub revision: i64,
}

/// What can be set of a lubricant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LubricantFacts {
    /// What people call it; one lubricant in use of a workshop has the name, in any case.
    pub name: Label,
    /// What one application costs, the stuff alone; none where nobody said.
    pub price: Option<Money>,
    /// The work of one application; none where nobody said.
    pub minutes: Option<Minutes>,
}

impl Lubricant {
    /// Whether it can have been put on then, by care of this kind.
    ///
    /// # Errors
    /// [`Invalid::LubricantRetired`]; [`Invalid::Together`] for care that puts nothing on.
    pub fn fits(&self, kind: CareKind, done_at: Timestamp) -> Result<(), Invalid> {
        if kind == CareKind::Cleaned {
            return Err(Invalid::Together {
                what: Field::CareAndLubricant,
                allowed: Form::LubricantWhereLubricated,
            });
        }
        match self.retired_at {
            Some(retired_at) if retired_at <= done_at => {
                Err(Invalid::LubricantRetired { given: done_at, retired_at })
            }
            _ => Ok(()),
        }
    }
}
