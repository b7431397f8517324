//! Answers that are kept for the sender alone.
//!
//! An answer can hold a secret that is shown once and stored nowhere, such as a new token's. It is kept sealed
//! with a key made of the sender's own token, of which the store has but a hash: only who sent the request can
//! have its answer again.

use chacha20poly1305::aead::{Aead as _, KeyInit as _};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use rand::TryRng as _;
use rand::rngs::SysRng;
use sha2::{Digest as _, Sha256};
use thiserror::Error;

use crate::domain::{IdempotentRequest, TokenSecret};

const NONCE: usize = 24;

/// Why an answer can't be sealed or opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SealError {
    /// The operating system gave no randomness.
    #[error("the operating system gave no randomness")]
    NoRandomness,
    /// What is stored was not sealed for this request.
    #[error("the stored answer was not sealed for this request")]
    Foreign,
}

/// Seals `body` for who holds `secret`: XChaCha20-Poly1305 under a random nonce that stands before the text.
///
/// # Errors
/// [`SealError::NoRandomness`].
pub fn seal(secret: &TokenSecret, request: &IdempotentRequest, body: &[u8]) -> Result<Vec<u8>, SealError> {
    let mut nonce = [0; NONCE];
    SysRng.try_fill_bytes(&mut nonce).map_err(|_| SealError::NoRandomness)?;
    let text = cipher(secret, request).encrypt(&XNonce::from(nonce), body).map_err(|_| SealError::Foreign)?;
    Ok([nonce.as_slice(), &text].concat())
}

/// Opens what [`seal`] made of the same secret and request.
///
/// # Errors
/// [`SealError::Foreign`].
pub fn open(secret: &TokenSecret, request: &IdempotentRequest, sealed: &[u8]) -> Result<Vec<u8>, SealError> {
    let (nonce, text) = sealed.split_first_chunk::<NONCE>().ok_or(SealError::Foreign)?;
    cipher(secret, request).decrypt(&XNonce::from(*nonce), text).map_err(|_| SealError::Foreign)
}

fn cipher(secret: &TokenSecret, request: &IdempotentRequest) -> XChaCha20Poly1305 {
    let key: [u8; 32] = Sha256::new()
        .chain_update("answer kept for its sender\0")
        .chain_update(secret.reveal())
        .chain_update(&request.operation)
        .chain_update([0])
        .chain_update(request.key.as_str())
        .finalize()
        .into();
    XChaCha20Poly1305::new(&key.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{IdempotencyKey, Timestamp, TokenId};

    #[test]
    fn only_the_same_sender_with_the_same_request_can_open_it() {
        let request = |key: &str| IdempotentRequest {
            token_id: TokenId::generate(),
            operation: "POST /v1/tokens".to_owned(),
            key: IdempotencyKey::new(key).expect("a key"),
            at: Timestamp::EPOCH,
        };
        let (mine, theirs) =
            (TokenSecret::generate().expect("a secret"), TokenSecret::generate().expect("one"));
        let sealed = seal(&mine, &request("k1"), b"wear_0123").expect("sealed");
        assert!(!sealed.windows(9).any(|window| window == b"wear_0123"));
        assert_eq!(open(&mine, &request("k1"), &sealed).as_deref(), Ok(b"wear_0123".as_slice()));
        assert_eq!(open(&theirs, &request("k1"), &sealed), Err(SealError::Foreign));
        assert_eq!(open(&mine, &request("k2"), &sealed), Err(SealError::Foreign));
        assert_eq!(open(&mine, &request("k1"), &sealed[..20]), Err(SealError::Foreign));
        assert_ne!(seal(&mine, &request("k1"), b"wear_0123").expect("sealed"), sealed);
    }
}
