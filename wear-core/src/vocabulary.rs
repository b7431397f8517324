//! Closed vocabularies: enums that are written and read as one `snake_case` word.

use thiserror::Error;

/// A word that is not in its vocabulary.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{what} is {given:?}, allowed {}", .allowed.join(", "))]
pub struct UnknownWord {
    /// What the word names, for messages.
    pub what: &'static str,
    /// The word that was given.
    pub given: String,
    /// Every legal word.
    pub allowed: &'static [&'static str],
}

/// Declares an enum together with its words, `ALL`, `as_str`, `Display` and `FromStr`.
macro_rules! vocabulary {
    (
        $(#[$doc:meta])*
        $type:ident, $what:literal {
            $($(#[$variant_doc:meta])* $variant:ident = $word:literal,)+
        }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub enum $type {
            $($(#[$variant_doc])* #[cfg_attr(feature = "serde", serde(rename = $word))] $variant,)+
        }

        impl $type {
            /// Every member, in the order of declaration.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// Every word, in the order of declaration.
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            /// The `snake_case` word.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)+
                }
            }
        }

        impl std::fmt::Display for $type {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl std::str::FromStr for $type {
            type Err = $crate::vocabulary::UnknownWord;

            fn from_str(word: &str) -> Result<Self, Self::Err> {
                match word {
                    $($word => Ok(Self::$variant),)+
                    _ => Err($crate::vocabulary::UnknownWord {
                        what: $what,
                        given: word.to_owned(),
                        allowed: Self::WORDS,
                    }),
                }
            }
        }
    };
}

pub(crate) use vocabulary;
