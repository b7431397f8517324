//! Closed lists of words, as they stand in the store and in JSON.

/// Defines an enum whose variants are words: `as_str`, `ALL`, `WORDS`, `Display` and `FromStr`.
macro_rules! words {
    ($(#[$doc:meta])* $type:ident, $what:literal { $($(#[$vdoc:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $type { $($(#[$vdoc])* $variant,)+ }

        impl $type {
            /// Every variant, in order of declaration.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// Every word, in the same order.
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            /// The word.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl std::fmt::Display for $type {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl std::str::FromStr for $type {
            type Err = $crate::domain::Invalid;

            fn from_str(given: &str) -> Result<Self, Self::Err> {
                match given {
                    $($word => Ok(Self::$variant),)+
                    _ => Err($crate::domain::Invalid::unknown_word($what, given, Self::WORDS)),
                }
            }
        }
    };
}

pub(crate) use words;
