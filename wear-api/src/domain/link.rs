//! One-time codes by which an app gets its token without anyone copying one.

use std::fmt;
use std::str::FromStr;

use chrono::Duration;
use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};

use thiserror::Error;

use super::{AppId, Field, Form, Invalid, Label, LinkId, NoRandomness, Reach, RiderId, Timestamp, TokenHash};

/// How long a code can be redeemed.
pub const LINK_IN_FORCE: Duration = Duration::minutes(15);

/// Crockford's base 32: digits and letters but I, L, O and U.
const DIGITS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Characters of a code, of 5 bits each: 60 bits.
const LENGTH: usize = 12;

/// Characters between two hyphens.
const GROUP: usize = 4;

/// A one-time code that links an app: 60 random bits, written as three groups of four characters, `7K3M-9QXT-2B4D`.
///
/// `Debug` doesn't show it and there is no `Display`; [`LinkCode::reveal`] says what it is.
#[derive(Clone, PartialEq, Eq)]
pub struct LinkCode([u8; LENGTH]);

impl LinkCode {
    /// A new code from the operating system's randomness.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn generate() -> Result<Self, NoRandomness> {
        let mut bytes = [0; LENGTH];
        SysRng.try_fill_bytes(&mut bytes).map_err(|_| NoRandomness)?;
        Ok(Self(bytes.map(|byte| DIGITS[usize::from(byte % 32)])))
    }

    /// The code in the form that is shown, once.
    #[must_use]
    pub fn reveal(&self) -> String {
        let groups = self.0.chunks(GROUP).map(|group| group.iter().map(|digit| char::from(*digit)).collect());
        groups.collect::<Vec<String>>().join("-")
    }

    /// What is kept of it.
    #[must_use]
    pub fn hash(&self) -> TokenHash {
        TokenHash::from_bytes(Sha256::digest(self.0).into())
    }
}

impl fmt::Debug for LinkCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("LinkCode(..)")
    }
}

/// A text that isn't twelve characters of a code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("no code looks like this")]
pub struct NoCode;

impl FromStr for LinkCode {
    type Err = NoCode;

    /// Reads a code as people type it: in either case, with hyphens and spaces or without, `O` for 0, `I` and `L` for 1.
    fn from_str(given: &str) -> Result<Self, NoCode> {
        let mut code = [0; LENGTH];
        let mut found = 0;
        for c in given.chars().filter(|c| !matches!(c, '-' | ' ')) {
            let digit = match c.to_ascii_uppercase() {
                'O' => '0',
                'I' | 'L' => '1',
                other => other,
            };
            let digit = u8::try_from(digit).ok().filter(|digit| DIGITS.contains(digit));
            *code.get_mut(found).ok_or(NoCode)? = digit.ok_or(NoCode)?;
            found += 1;
        }
        if found == LENGTH { Ok(Self(code)) } else { Err(NoCode) }
    }
}

/// What a link is to: one app, one rider, or an app for a rider; never the whole workshop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LinkedReach(Reach);

impl LinkedReach {
    /// To these.
    ///
    /// # Errors
    /// [`Invalid::Missing`] when neither is named.
    pub fn new(app: Option<AppId>, rider: Option<RiderId>) -> Result<Self, Invalid> {
        match Reach::of(app, rider) {
            Reach::Workshop => {
                Err(Invalid::Missing { what: Field::AppOrRider, allowed: Form::AppRiderOrBoth })
            }
            bound => Ok(Self(bound)),
        }
    }

    /// The reach of the token that it leads to.
    #[must_use]
    pub const fn get(self) -> Reach {
        self.0
    }
}

/// A code that waits to be redeemed; the code itself isn't kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Its id.
    pub id: LinkId,
    /// The reach of the token that it leads to.
    pub reach: LinkedReach,
    /// What the token will be called.
    pub label: Label,
    /// When it was made.
    pub created_at: Timestamp,
    /// Up to when it can be redeemed.
    pub expires_at: Timestamp,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_reads_back_however_it_is_typed() {
        let code: LinkCode = "7K3M-9QXT-2B01".parse().unwrap();
        for typed in ["7k3m 9qxt 2bo1", "7K3M9QXT2BOI", "7k3m-9qxt-2b0l", " 7K3M - 9QXT - 2B01 "] {
            assert_eq!(typed.parse(), Ok(code.clone()), "{typed}");
        }
        assert_eq!(code.reveal(), "7K3M-9QXT-2B01");
        assert_eq!(code.reveal().parse::<LinkCode>().map(|read| read.hash()), Ok(code.hash()));
        assert!(!format!("{code:?}").contains("7K3M"));
    }

    #[test]
    fn what_no_code_looks_like_is_none() {
        for typed in
            ["", "7K3M-9QXT-2B0", "7K3M-9QXT-2B011", "7K3M-9QXT-2BU1", "7K3M_9QXT_2B01", "ſK3M-9QXT-2B01"]
        {
            assert!(typed.parse::<LinkCode>().is_err(), "{typed}");
        }
    }

    #[test]
    fn codes_use_every_digit_about_as_often() {
        let mut counts = [0_u32; 32];
        for _ in 0..2_000 {
            for digit in LinkCode::generate().unwrap().0 {
                counts[DIGITS.iter().position(|known| *known == digit).unwrap()] += 1;
            }
        }
        // 24,000 digits, 750 of each; six standard deviations are 162.
        assert!(counts.iter().all(|count| count.abs_diff(750) < 162), "{counts:?}");
    }

    #[test]
    fn a_link_is_to_somebody() {
        assert!(LinkedReach::new(None, None).is_err());
        let app = AppId::generate();
        assert_eq!(LinkedReach::new(Some(app), None).map(LinkedReach::get), Ok(Reach::App(app)));
    }
}
