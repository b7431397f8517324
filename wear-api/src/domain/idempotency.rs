//! Requests that may be sent twice and count once.

use super::{IdempotencyKey, Timestamp, TokenId};

/// What names a request: the token, the operation and the client's own key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdempotentRequest {
    /// Whose key it is.
    pub token_id: TokenId,
    /// Method and address pattern, as in `POST /v1/bikes/{bike_id}/rides`: the same key means something else
    /// elsewhere.
    pub operation: String,
    /// The client's key.
    pub key: IdempotencyKey,
    /// When it came.
    pub at: Timestamp,
}

/// SHA-256 over address, query and body: what a key stands for.
pub type Fingerprint = [u8; 32];

/// The answer that was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredAnswer {
    /// What was asked.
    pub fingerprint: Fingerprint,
    /// Status code.
    pub status: u16,
    /// Headers to repeat, in order.
    pub headers: Vec<(String, String)>,
    /// Body, sealed by whoever stores it: an answer may hold a secret.
    pub body: Vec<u8>,
}

/// What to do with a request that carries a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reservation {
    /// It is new: do the work, then store the answer in the same transaction.
    Fresh,
    /// It was answered.
    Answered(StoredAnswer),
    /// It is being answered.
    InFlight,
}
