//! Sentences with a stable word: a program reads the word and the parameters, people read the English.
//!
//! [`sentences!`](crate::sentences!) declares them. Another language takes the word and the parameters, never the English.

use std::fmt;

/// A number with a fixed number of decimals: `0.07`, `1.9`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decimal {
    value: f64,
    decimals: u8,
}

impl Decimal {
    /// A number that is written with so many decimals.
    #[must_use]
    pub const fn new(value: f64, decimals: u8) -> Self {
        Self { value, decimals }
    }

    /// The number.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.value
    }

    /// How many decimals it is written with.
    #[must_use]
    pub const fn decimals(self) -> usize {
        self.decimals as usize
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.*}", self.decimals(), self.value)
    }
}

/// A parameter of a sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Parameter {
    /// A number.
    Number(f64),
    /// A number with a fixed number of decimals.
    Decimal(Decimal),
    /// A month of the year, 1 to 12.
    Month(u8),
    /// A name or a word.
    Text(String),
}

macro_rules! numbers {
    ($($type:ty),+) => {$(
        impl From<&$type> for Parameter {
            fn from(number: &$type) -> Self {
                Self::Number(f64::from(*number))
            }
        }
    )+};
}

numbers!(u8, u16, u32, i32, f64);

impl From<&Decimal> for Parameter {
    fn from(number: &Decimal) -> Self {
        Self::Decimal(*number)
    }
}

impl From<&String> for Parameter {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}

impl From<&&'static str> for Parameter {
    fn from(text: &&'static str) -> Self {
        Self::Text((*text).to_owned())
    }
}

impl From<&&'static crate::bounds::Bound> for Parameter {
    fn from(bound: &&'static crate::bounds::Bound) -> Self {
        Self::Text(bound.name.to_owned())
    }
}

/// Declares an enum of sentences: `code` is the stable `snake_case` word, `parameters` what a sentence says of this case,
/// `CODES` every word, and `Display` the English.
#[macro_export]
macro_rules! sentences {
    ($(#[$meta:meta])* $type:ident {
        $($variant:ident $({ $($field:ident: $kind:ty),+ $(,)? })? = $code:literal, $english:literal;)+
    }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, PartialEq)]
        pub enum $type {
            $(
                #[doc = $english]
                $variant $({ $(
                    #[doc = concat!("What stands for `", stringify!($field), "`.")]
                    $field: $kind,
                )+ })?,
            )+
        }

        impl $type {
            /// Every stable word, in the order of declaration.
            pub const CODES: &'static [&'static str] = &[$($code),+];

            /// The stable `snake_case` word.
            #[must_use]
            pub const fn code(&self) -> &'static str {
                match self {
                    $(Self::$variant $({ $($field: _),+ })? => $code,)+
                }
            }

            /// The parameters, by name.
            #[must_use]
            pub fn parameters(&self) -> Vec<(&'static str, $crate::sentences::Parameter)> {
                match self {
                    $(Self::$variant $({ $($field),+ })? => vec![
                        $($((stringify!($field), $crate::sentences::Parameter::from($field))),+)?
                    ],)+
                }
            }
        }

        impl std::fmt::Display for $type {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                match self {
                    $(Self::$variant $({ $($field),+ })? => write!(f, $english),)+
                }
            }
        }
    };
}
