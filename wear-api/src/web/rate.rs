//! How many requests a token may send in a minute, and how often an address may guess.
//!
//! Counted by each process for itself: with several processes on one store a token may send as many times more.

use std::collections::HashMap;
use std::hash::Hash;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};

use crate::domain::TokenId;

const WINDOW: Duration = Duration::from_secs(60);

/// Tokens kept before windows that are over get cleared out.
const KEPT: usize = 10_000;

/// Counts requests by who sends them, in windows of a minute that begin with the sender's first.
#[derive(Debug)]
pub struct RateLimiter<K = TokenId> {
    per_window: u32,
    windows: Mutex<HashMap<K, Window>>,
}

/// Most wrong guesses of one address in a minute (A).
const GUESSES: u32 = 10;

/// Counts wrong guesses by the address that they come from; behind a proxy all come from the proxy's. With right ones
/// uncounted, nobody is kept out but beside somebody who guesses.
#[derive(Debug)]
pub struct Guesses(RateLimiter<IpAddr>);

impl Default for Guesses {
    fn default() -> Self {
        Self(RateLimiter::new(GUESSES))
    }
}

impl Guesses {
    /// Seconds until the address may guess again; none when it may now.
    #[must_use]
    pub fn closed_for(&self, from: IpAddr, now: Instant) -> Option<u64> {
        self.0.standing(network(from), now).filter(|standing| standing.left == 0).map(|it| it.ends_in_seconds)
    }

    /// Counts a wrong guess.
    pub fn wrong(&self, from: IpAddr, now: Instant) {
        self.0.count(network(from), now);
    }
}

/// What one party has at its disposal: an IPv4 address, or the 64 bits of an IPv6 network.
fn network(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V6(v6) => v6
            .to_ipv4_mapped()
            .map_or_else(|| IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() >> 64 << 64)), IpAddr::V4),
        v4 => v4,
    }
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

impl<K: Copy + Eq + Hash> RateLimiter<K> {
    /// A limiter that lets `per_minute` requests of each sender through.
    #[must_use]
    pub fn new(per_minute: u32) -> Self {
        Self { per_window: per_minute, windows: Mutex::new(HashMap::new()) }
    }

    /// How a sender stands in the window that is under way.
    fn standing(&self, sender: K, now: Instant) -> Option<Standing> {
        let windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        let window = windows.get(&sender).filter(|window| now.duration_since(window.began) < WINDOW)?;
        Some(self.stands(window, now, true))
    }

    /// Counts a request of `sender` at `now`.
    pub fn count(&self, sender: K, now: Instant) -> Standing {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        if windows.len() > KEPT {
            windows.retain(|_, window| now.duration_since(window.began) < WINDOW);
        }
        let window = windows.entry(sender).or_insert(Window { began: now, used: 0 });
        if now.duration_since(window.began) >= WINDOW {
            *window = Window { began: now, used: 0 };
        }
        let within = window.used < self.per_window;
        window.used = window.used.saturating_add(1);
        self.stands(window, now, within)
    }

    fn stands(&self, window: &Window, now: Instant, within: bool) -> Standing {
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
    #[test]
    fn an_address_that_guesses_wrong_too_often_is_closed_out_for_the_rest_of_a_minute() {
        let guesses = Guesses::default();
        let start = Instant::now();
        let after = |seconds| start + Duration::from_secs(seconds);
        let [guesser, neighbour, other]: [IpAddr; 3] =
            ["2001:db8::1", "2001:db8::2", "192.0.2.1"].map(|address| address.parse().expect("an address"));
        for _ in 0..GUESSES {
            assert_eq!(guesses.closed_for(guesser, start), None);
            guesses.wrong(guesser, start);
        }
        assert_eq!(guesses.closed_for(guesser, after(20)), Some(40));
        // Of the same network, so likely the same party.
        assert_eq!(guesses.closed_for(neighbour, after(20)), Some(40));
        assert_eq!(guesses.closed_for(other, after(20)), None);
        assert_eq!(guesses.closed_for(guesser, after(60)), None);
    }
}
