//! How many requests a token may send in a minute.
//!
//! Counted by each process for itself: with several processes on one store a token may send as many times more.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};

use crate::domain::TokenId;

const WINDOW: Duration = Duration::from_secs(60);

/// Tokens kept before windows that are over get cleared out.
const KEPT: usize = 10_000;

/// Counts requests by token, in windows of a minute that begin with the token's first request.
#[derive(Debug)]
pub struct RateLimiter {
    per_window: u32,
    windows: Mutex<HashMap<TokenId, Window>>,
}

#[derive(Debug, Clone, Copy)]
struct Window {
    began: Instant,
    used: u32,
}

/// What is left of a token's window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Requests of a whole window.
    pub allowed: u32,
    /// Requests left, this one counted.
    pub left: u32,
    /// Seconds until the window ends, rounded up.
    pub ends_in_seconds: u64,
    /// Whether this request still was within.
    pub within: bool,
    /// Whether it is the window's first.
    pub first: bool,
}

impl RateLimiter {
    /// A limiter that lets `per_minute` requests of each token through.
    #[must_use]
    pub fn new(per_minute: u32) -> Self {
        Self { per_window: per_minute, windows: Mutex::new(HashMap::new()) }
    }

    /// Counts a request of `token` at `now`.
    pub fn count(&self, token: TokenId, now: Instant) -> Standing {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        if windows.len() > KEPT {
            windows.retain(|_, window| now.duration_since(window.began) < WINDOW);
        }
        let window = windows.entry(token).or_insert(Window { began: now, used: 0 });
        if now.duration_since(window.began) >= WINDOW {
            *window = Window { began: now, used: 0 };
        }
        let within = window.used < self.per_window;
        window.used = window.used.saturating_add(1);
        let rest = WINDOW.saturating_sub(now.duration_since(window.began));
        Standing {
            allowed: self.per_window,
            left: self.per_window.saturating_sub(window.used),
            ends_in_seconds: rest.as_secs() + u64::from(rest.subsec_nanos() > 0),
            within,
            first: window.used == 1,
        }
    }
}

impl Standing {
    /// Adds `RateLimit` and `RateLimit-Policy` (the IETF's draft "RateLimit header fields for HTTP").
    pub fn write(&self, headers: &mut HeaderMap) {
        let policy = format!("\"token\";q={};w={}", self.allowed, WINDOW.as_secs());
        let standing = format!("\"token\";r={};t={}", self.left, self.ends_in_seconds);
        for (name, value) in [("ratelimit-policy", policy), ("ratelimit", standing)] {
            if let Ok(value) = HeaderValue::from_str(&value) {
                headers.insert(HeaderName::from_static(name), value);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_lets_so_many_through_and_then_begins_anew() {
        let limiter = RateLimiter::new(2);
        let (token, other) = (TokenId::generate(), TokenId::generate());
        let start = Instant::now();
        let after = |seconds| start + Duration::from_secs(seconds);
        assert!(limiter.count(token, start).within);
        let second = limiter.count(token, after(1));
        assert_eq!((second.within, second.left, second.ends_in_seconds), (true, 0, 59));
        assert!(!limiter.count(token, after(59)).within);
        assert!(limiter.count(other, after(59)).within);
        assert!(limiter.count(token, after(60)).within);
    }
}
