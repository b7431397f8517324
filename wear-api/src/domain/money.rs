//! Money in whole minor units.

use super::{Field, Form};
use std::fmt;
use std::str::FromStr;

use super::Invalid;

/// A currency by its three-letter code (ISO 4217). The shape is checked, not the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency([u8; 3]);

impl Currency {
    /// The code, upper case.
    #[must_use]
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl FromStr for Currency {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        match given.as_bytes() {
            &[a, b, c] if [a, b, c].iter().all(u8::is_ascii_uppercase) => Ok(Self([a, b, c])),
            _ => Err(Invalid::Malformed { what: Field::Currency, allowed: Form::Currency }),
        }
    }
}

/// A price or cost: whole minor units (cents, pence, yen) of a currency, 0 to 10¹².
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Money {
    minor: i64,
    currency: Currency,
}

impl Money {
    /// Largest amount, minor units.
    pub const MAXIMUM_MINOR: i64 = 1_000_000_000_000;

    /// An amount in minor units.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`] when negative or above [`Money::MAXIMUM_MINOR`].
    pub fn new(minor: i64, currency: Currency) -> Result<Self, Invalid> {
        let maximum = Self::MAXIMUM_MINOR;
        if !(0..=maximum).contains(&minor) {
            return Err(Invalid::WholeNumber { what: Field::AmountMinor, given: minor, minimum: 0, maximum });
        }
        Ok(Self { minor, currency })
    }

    /// Whole minor units.
    #[must_use]
    pub const fn minor(self) -> i64 {
        self.minor
    }

    /// The currency.
    #[must_use]
    pub const fn currency(self) -> Currency {
        self.currency
    }
}
