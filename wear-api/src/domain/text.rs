//! Texts that people type: trimmed, of bounded length, without control characters.

use super::Field;
use std::fmt;
use std::str::FromStr;

use super::Invalid;

macro_rules! texts {
    ($($(#[$doc:meta])* $type:ident, $what:ident, $minimum:literal..=$maximum:literal, lines: $lines:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $type(String);

        impl $type {
            /// Fewest characters.
            pub const MINIMUM: usize = $minimum;
            /// Most characters.
            pub const MAXIMUM: usize = $maximum;

            /// Parses a text: white space at both ends is dropped, characters are counted after that.
            ///
            /// # Errors
            /// [`Invalid::TextLength`], [`Invalid::ControlCharacter`].
            pub fn new(given: &str) -> Result<Self, Invalid> {
                parse(Field::$what, given, $minimum, $maximum, $lines).map(Self)
            }

            /// The text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }

            /// The text in lower case: what searches compare.
            #[must_use]
            pub fn folded(&self) -> String {
                self.0.to_lowercase()
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl FromStr for $type {
            type Err = Invalid;

            fn from_str(given: &str) -> Result<Self, Invalid> {
                Self::new(given)
            }
        }
    )+};
}

texts! {
    /// What people call a bike, a part, a model or a token.
    Label, Label, 1..=64, lines: false;
    /// Group of bikes that wear alike, `town-8s`.
    GroupName, Group, 1..=64, lines: false;
    /// Name of a workshop.
    WorkshopName, WorkshopName, 1..=64, lines: false;
    /// Where a ride was logged: the name of a device, an app, a file.
    Source, Source, 1..=128, lines: false;
    /// The source's own id of a ride.
    SourceId, SourceId, 1..=128, lines: false;
    /// What another program calls a bike.
    ExternalId, ExternalId, 1..=128, lines: false;
    /// A remark, or the reason of a voiding. May run over several lines.
    Note, Note, 1..=2000, lines: true;
    /// A client's idempotency key.
    IdempotencyKey, IdempotencyKey, 1..=255, lines: false;
}

fn parse(what: Field, given: &str, minimum: usize, maximum: usize, lines: bool) -> Result<String, Invalid> {
    let trimmed = given.trim();
    let length = trimmed.chars().count();
    if length < minimum || length > maximum {
        return Err(Invalid::TextLength { what, length, minimum, maximum });
    }
    if trimmed.chars().any(|c| c.is_control() && !(lines && c == '\n')) {
        return Err(Invalid::ControlCharacter { what });
    }
    Ok(trimmed.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_trimmed_and_measured_in_characters() {
        assert_eq!(Label::new("  041\t").unwrap().as_str(), "041");
        assert!(Label::new(&"ß".repeat(64)).is_ok());
        assert!(matches!(Label::new(&"ß".repeat(65)), Err(Invalid::TextLength { length: 65, .. })));
        assert!(matches!(Label::new(" \n "), Err(Invalid::TextLength { length: 0, .. })));
    }

    #[test]
    fn control_characters_are_refused_but_a_note_may_have_lines() {
        assert_eq!(Label::new("a\nb"), Err(Invalid::ControlCharacter { what: Field::Label }));
        assert_eq!(Note::new("a\nb").unwrap().as_str(), "a\nb");
        assert_eq!(Note::new("a\0b"), Err(Invalid::ControlCharacter { what: Field::Note }));
    }
}
