//! Signatures of messages, by Standard Webhooks 1.0.0.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;

use crate::domain::HookSecret;

/// Header that names the message; the same on every attempt, so that the receiver can tell a repetition.
pub const ID: &str = "webhook-id";

/// Header with the time of the attempt, seconds since 1970-01-01T00:00:00Z.
pub const TIMESTAMP: &str = "webhook-timestamp";

/// Header with one signature for each secret in force, separated by spaces.
pub const SIGNATURE: &str = "webhook-signature";

/// Bytes of a block of SHA-256.
const BLOCK: usize = 64;

/// One signature: `v1,` and base64 of HMAC-SHA-256(secret, `id.timestamp.body`).
#[must_use]
pub fn sign(secret: &HookSecret, id: &str, timestamp: i64, body: &[u8]) -> String {
    // RFC 2104, section 2: a key shorter than a block is filled up with zeros. A secret has 24 to 64 bytes.
    let mut key = [0; BLOCK];
    for (place, byte) in key.iter_mut().zip(secret.as_bytes()) {
        *place = *byte;
    }
    let mut mac = Hmac::<Sha256>::new(&key.into());
    mac.update(format!("{id}.{timestamp}.").as_bytes());
    mac.update(body);
    format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes()))
}

/// The whole header: a signature by each secret.
#[must_use]
pub fn header<'a>(
    secrets: impl Iterator<Item = &'a HookSecret>,
    id: &str,
    timestamp: i64,
    body: &[u8],
) -> String {
    secrets.map(|secret| sign(secret, id, timestamp, body)).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const ID: &str = "msg_p5jXN8AQM9LWM0D4loKWxJek";
    const AT: i64 = 1_614_265_330;
    const BODY: &[u8] = br#"{"test": 2432232314}"#;

    /// The test vector of the Standard Webhooks libraries (M; reproduced with Python's hmac, C).
    #[test]
    fn the_published_vector() {
        let secret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw".parse().expect("a secret");
        assert_eq!(sign(&secret, ID, AT, BODY), "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=");
    }

    #[test]
    fn whatever_is_changed_the_signature_is_another() {
        let secret = HookSecret::from_bytes(vec![7; 32]).expect("a secret");
        let other = HookSecret::from_bytes(vec![8; 32]).expect("a secret");
        let mut signatures = vec![
            sign(&secret, ID, AT, BODY),
            sign(&other, ID, AT, BODY),
            sign(&secret, "msg_other", AT, BODY),
            sign(&secret, ID, AT + 1, BODY),
            sign(&secret, ID, AT, b"{}"),
        ];
        assert_eq!(
            header([&secret, &other].into_iter(), ID, AT, BODY),
            format!("{} {}", signatures[0], signatures[1])
        );
        signatures.sort();
        signatures.dedup();
        assert_eq!(signatures.len(), 5);
    }
}
