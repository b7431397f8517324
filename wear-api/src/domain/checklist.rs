//! Steps of a swap that somebody ticked.

use super::Field;
use wear_core::drivetrain::procedure;

use super::Invalid;

/// Steps that were ticked, each once, by their words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Checklist(Vec<&'static str>);

impl Checklist {
    /// Parses words of steps.
    ///
    /// # Errors
    /// [`Invalid::NoSuch`] for a word that no step has, with its place in the list; a word that stands twice counts once.
    pub fn new<'a>(words: impl IntoIterator<Item = &'a str>) -> Result<Self, (usize, Invalid)> {
        let mut ticked = Vec::new();
        for (index, word) in words.into_iter().enumerate() {
            let known = procedure::ALL.iter().find(|step| step.id == word);
            let step = known.ok_or((index, Invalid::NoSuch { what: Field::StepOfSwap }))?;
            if !ticked.contains(&step.id) {
                ticked.push(step.id);
            }
        }
        Ok(Self(ticked))
    }

    /// The words, in the order given.
    #[must_use]
    pub fn words(&self) -> &[&'static str] {
        &self.0
    }
}
