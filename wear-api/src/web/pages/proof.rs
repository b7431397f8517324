//! The proof that a form came from one of our pages.
//!
//! A page that is compressed tells by its length what in it repeats what somebody else could put there (CVE-2013-3587). So
//! a proof is never shown as it is: each page shows it under another random mask, as long as the proof, with the mask
//! beside it.

use std::fmt::Write as _;

use rand::Rng as _;

/// Bytes of a proof.
const LENGTH: usize = 32;

/// What a form has to bring along.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Proof([u8; LENGTH]);

impl Proof {
    pub(super) const fn of(secret: [u8; LENGTH]) -> Self {
        Self(secret)
    }

    /// The proof for one page: the mask, then the proof under it, in hexadecimal digits.
    pub(super) fn shown(&self) -> String {
        let mut mask = [0; LENGTH];
        rand::rng().fill_bytes(&mut mask);
        let masked = self.0.iter().zip(&mask).map(|(byte, mask)| byte ^ mask);
        mask.iter().copied().chain(masked).fold(String::new(), |mut text, byte| {
            // A string takes whatever is written to it.
            let _written = write!(text, "{byte:02x}");
            text
        })
    }

    /// Whether `given` is this proof, under whichever mask. How long it takes doesn't tell how much of it was right.
    pub(super) fn is(&self, given: &str) -> bool {
        let Some(bytes) = bytes(given) else { return false };
        let (mask, masked) = bytes.split_at(LENGTH);
        let differs = self
            .0
            .iter()
            .zip(mask.iter().zip(masked))
            .fold(0, |differs, (byte, (mask, masked))| differs | (byte ^ mask ^ masked));
        std::hint::black_box(differs) == 0
    }
}

fn bytes(hexadecimal: &str) -> Option<[u8; 2 * LENGTH]> {
    let digits: Vec<u32> = hexadecimal.chars().map(|digit| digit.to_digit(16)).collect::<Option<_>>()?;
    let bytes: Vec<u8> = digits
        .chunks(2)
        .map(|pair| u8::try_from(pair.iter().fold(0, |sum, digit| sum * 16 + digit)).ok())
        .collect::<Option<_>>()?;
    bytes.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proof_looks_different_each_time_and_is_still_the_same() {
        let (mine, theirs) = (Proof::of([7; LENGTH]), Proof::of([8; LENGTH]));
        let (first, second) = (mine.shown(), mine.shown());
        assert_ne!(first, second);
        assert_ne!(first[2 * LENGTH..], second[2 * LENGTH..]);
        assert!(mine.is(&first) && mine.is(&second));
        assert!(!theirs.is(&first));
    }

    #[test]
    fn what_is_no_proof_is_refused() {
        let proof = Proof::of([7; LENGTH]);
        let shown = proof.shown();
        for wrong in [
            "",
            "00",
            &shown[1..],
            &format!("{shown}0"),
            &"g".repeat(128),
            &"é".repeat(128),
            &"0".repeat(128),
        ] {
            assert!(!proof.is(wrong), "{wrong}");
        }
    }
}
