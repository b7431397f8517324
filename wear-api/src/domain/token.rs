//! Bearer tokens: a secret shown once, and the hash that is kept of it.

use super::{Field, Form};
use std::fmt;
use std::str::FromStr;

use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};
use thiserror::Error;

use super::{Grant, Invalid, Label, Timestamp, TokenId, WorkshopId};

const PREFIX: &str = "wear_";
const BYTES: usize = 32;

/// The secret of a bearer token: 256 random bits, written as `wear_` and 64 hexadecimal digits.
///
/// `Debug` doesn't show it and there is no `Display`; [`TokenSecret::reveal`] says what it does.
#[derive(Clone, PartialEq, Eq)]
pub struct TokenSecret([u8; BYTES]);

/// The operating system gave no randomness.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("the operating system gave no randomness")]
pub struct NoRandomness;

impl TokenSecret {
    /// A new secret from the operating system's randomness.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn generate() -> Result<Self, NoRandomness> {
        let mut bytes = [0; BYTES];
        SysRng.try_fill_bytes(&mut bytes).map_err(|_| NoRandomness)?;
        Ok(Self(bytes))
    }

    /// The secret in the form that is handed to its holder, once.
    #[must_use]
    pub fn reveal(&self) -> String {
        self.0.iter().fold(PREFIX.to_owned(), |text, byte| text + &format!("{byte:02x}"))
    }

    /// Another secret made of this one for a purpose: whoever knows it can't find this one.
    #[must_use]
    pub fn derived(&self, purpose: &str) -> [u8; 32] {
        Sha256::new().chain_update(self.0).chain_update(purpose.as_bytes()).finalize().into()
    }

    /// What is kept of it.
    #[must_use]
    pub fn hash(&self) -> TokenHash {
        TokenHash(Sha256::digest(self.0).into())
    }
}

impl fmt::Debug for TokenSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("TokenSecret(..)")
    }
}

impl FromStr for TokenSecret {
    type Err = Invalid;

    fn from_str(given: &str) -> Result<Self, Invalid> {
        let malformed = || Invalid::Malformed { what: Field::Token, allowed: Form::TokenAsShown };
        let digits = given.strip_prefix(PREFIX).ok_or_else(malformed)?.as_bytes();
        if digits.len() != 2 * BYTES {
            return Err(malformed());
        }
        let mut bytes = [0; BYTES];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            let nibble = |digit: u8| match digit {
                b'0'..=b'9' => Ok(digit - b'0'),
                b'a'..=b'f' => Ok(digit - b'a' + 10),
                _ => Err(malformed()),
            };
            *byte = nibble(pair[0])? << 4 | nibble(pair[1])?;
        }
        Ok(Self(bytes))
    }
}

/// SHA-256 of a secret's 32 bytes.
///
/// A slow, salted hash guards passwords because people choose them from few. This secret is 256 bits
/// of randomness: no list holds it and no search finds it, so one fast round is as safe, and a request
/// doesn't wait for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TokenHash([u8; 32]);

impl TokenHash {
    /// Wraps a hash that was kept.
    #[must_use]
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The hash.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

/// What is known of a token.
#[derive(Debug, Clone, PartialEq)]
pub struct Token {
    /// Its id.
    pub id: TokenId,
    /// The workshop whose data it opens.
    pub workshop_id: WorkshopId,
    /// What its holder may do, and with which bikes.
    pub grant: Grant,
    /// What people call it.
    pub label: Label,
    /// When it was made.
    pub created_at: Timestamp,
    /// When it was last used, to within a minute or two.
    pub last_used_at: Option<Timestamp>,
    /// When it was revoked.
    pub revoked_at: Option<Timestamp>,
}

/// A token to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct NewToken {
    /// Its id.
    pub id: TokenId,
    /// Hash of its secret.
    pub hash: TokenHash,
    /// What its holder may do, and with which bikes.
    pub grant: Grant,
    /// What people call it.
    pub label: Label,
    /// When it is made.
    pub created_at: Timestamp,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_reads_back_from_what_its_holder_was_shown() {
        let secret = TokenSecret::generate().unwrap();
        let shown = secret.reveal();
        assert_eq!(shown.len(), 69);
        assert_eq!(shown.parse::<TokenSecret>().unwrap().hash(), secret.hash());
        assert_ne!(TokenSecret::generate().unwrap(), secret);
        assert!(!format!("{secret:?}").contains(&shown[5..13]));
    }

    #[test]
    fn what_was_never_shown_is_no_token() {
        let shown = TokenSecret::generate().unwrap().reveal();
        for given in [&shown[..68], &shown[1..], "", "wear_", &shown.to_uppercase(), &format!("{shown}0")] {
            assert!(given.parse::<TokenSecret>().is_err(), "{given}");
        }
    }

    /// FIPS 180-4 example values: SHA-256 of 32 zero bytes, from any implementation.
    #[test]
    fn the_hash_is_sha_256_of_the_bytes() {
        let secret: TokenSecret = format!("wear_{}", "0".repeat(64)).parse().unwrap();
        assert_eq!(secret.hash().as_bytes()[..4], [0x66, 0x68, 0x7a, 0xad]);
    }
}
