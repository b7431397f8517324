//! Requests that may be sent twice and count once.

use super::{IdempotencyKey, Timestamp, TokenId};

/// What names a request: the token, its own key and what was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdempotentRequest {
    /// Whose key it is.
    pub token_id: TokenId,
    /// The client's key.
    pub key: IdempotencyKey,
    /// SHA-256 over method, path and body.
    pub fingerprint: [u8; 32],
    /// When it came.
    pub at: Timestamp,
}

/// The answer that was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredAnswer {
    /// Status code.
    pub status: u16,
    /// Headers to repeat, in order.
    pub headers: Vec<(String, String)>,
    /// Body.
    pub body: Vec<u8>,
}

/// What to do with a request that carries a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reservation {
    /// It is new: do the work, then store the answer in the same transaction.
    Fresh,
    /// It was answered: give the same answer.
    Answered(StoredAnswer),
    /// The key was used for another request.
    Mismatch,
    /// It was begun and has no answer.
    InFlight,
}
