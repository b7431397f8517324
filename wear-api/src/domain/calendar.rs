//! The workshop's calendar: an address that holds a secret, and what stands in it.

use super::{Field, Form};
use std::fmt;
use std::str::FromStr;

use chrono::NaiveDate;
use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};

use super::{BikeId, GroupName, Invalid, Label, NoRandomness, PartId, Timestamp};

const BYTES: usize = 32;

/// The secret in a calendar's address: 256 random bits in hexadecimal. Whoever has the address reads the calendar.
///
/// `Debug` doesn't show it; only its hash is kept.
#[derive(Clone, PartialEq, Eq)]
pub struct CalendarSecret([u8; BYTES]);

impl CalendarSecret {
    /// A new secret from the operating system's randomness.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn generate() -> Result<Self, NoRandomness> {
        let mut bytes = [0; BYTES];
        SysRng.try_fill_bytes(&mut bytes).map_err(|_| NoRandomness)?;
        Ok(Self(bytes))
    }

    /// The secret as it stands in the address.
    #[must_use]
    pub fn reveal(&self) -> String {
        self.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// What is kept of it: SHA-256, as of a token.
    #[must_use]
    pub fn hash(&self) -> [u8; 32] {
        Sha256::digest(self.0).into()
    }
}

impl fmt::Debug for CalendarSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("CalendarSecret(..)")
    }
}

impl FromStr for CalendarSecret {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let malformed = || Invalid::Malformed { what: Field::Calendar, allowed: Form::AddressAsShown };
        if given.len() != 2 * BYTES || !given.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f')) {
            return Err(malformed());
        }
        let mut bytes = [0; BYTES];
        for (index, byte) in bytes.iter_mut().enumerate() {
            let pair = given.get(2 * index..2 * index + 2).ok_or_else(malformed)?;
            *byte = u8::from_str_radix(pair, 16).map_err(|_| malformed())?;
        }
        Ok(Self(bytes))
    }
}

/// A swap that stands in the calendar.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedSwap {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: Label,
    /// Its group.
    pub group: GroupName,
    /// The chain.
    pub part_id: PartId,
    /// By when.
    pub swap_by: NaiveDate,
    /// When that was found.
    pub computed_at: Timestamp,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_reads_back_and_is_not_shown() {
        let secret = CalendarSecret::generate().expect("randomness");
        let shown = secret.reveal();
        assert_eq!(shown.parse::<CalendarSecret>(), Ok(secret.clone()));
        assert!(!format!("{secret:?}").contains(&shown[..8]));
        for wrong in ["", &shown[1..], &shown.to_uppercase(), &format!("{shown}0"), &"é".repeat(32)] {
            assert!(wrong.parse::<CalendarSecret>().is_err(), "{wrong}");
        }
    }
}
