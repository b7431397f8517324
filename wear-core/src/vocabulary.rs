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

/// Declares an enum together with its words: `ALL`, `WORDS`, `as_str`, `Display` and `FromStr`, whose error is
/// [`UnknownWord`]; with the feature `serde` the word is also what is written and read.
///
/// The word that stands before the brace names the list in messages.
///
/// ```
/// wear_core::vocabulary! {
///     /// Which end of the workshop a bike stands in.
///     Bay, "bay" {
///         /// By the door.
///         Door = "door",
///         /// By the bench.
///         Bench = "bench",
///     }
/// }
///
/// assert_eq!("bench".parse(), Ok(Bay::Bench));
/// assert_eq!("yard".parse::<Bay>().unwrap_err().to_string(), r#"bay is "yard", allowed door, bench"#);
/// ```
#[macro_export]
macro_rules! vocabulary {
    (
        $(#[$doc:meta])*
        $type:ident, $what:literal {
            $($(#[$variant_doc:meta])* $variant:ident = $word:literal,)+
        }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $type {
            $($(#[$variant_doc])* $variant,)+
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

        impl ::std::fmt::Display for $type {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl ::std::str::FromStr for $type {
            type Err = $crate::vocabulary::UnknownWord;

            fn from_str(word: &str) -> ::std::result::Result<Self, Self::Err> {
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

        $crate::word_in_serde!($type);
    };
}

pub use vocabulary;

#[cfg(feature = "serde")]
#[doc(hidden)]
pub use serde;

/// Writes and reads a vocabulary's member as its word.
#[cfg(feature = "serde")]
#[doc(hidden)]
#[macro_export]
macro_rules! word_in_serde {
    ($type:ident) => {
        impl $crate::vocabulary::serde::Serialize for $type {
            fn serialize<S: $crate::vocabulary::serde::Serializer>(
                &self,
                serializer: S,
            ) -> ::std::result::Result<S::Ok, S::Error> {
                serializer.serialize_str(self.as_str())
            }
        }

        impl<'de> $crate::vocabulary::serde::Deserialize<'de> for $type {
            fn deserialize<D: $crate::vocabulary::serde::Deserializer<'de>>(
                deserializer: D,
            ) -> ::std::result::Result<Self, D::Error> {
                let word = <::std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
                word.parse().map_err($crate::vocabulary::serde::de::Error::custom)
            }
        }
    };
}

#[cfg(not(feature = "serde"))]
#[doc(hidden)]
#[macro_export]
macro_rules! word_in_serde {
    ($type:ident) => {};
}
