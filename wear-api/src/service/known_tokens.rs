//! Tokens that were looked up a moment ago.
//!
//! On Postgres a look-up is a transaction of its own: four round trips ahead of whatever the request is for. A token
//! in steady use is therefore looked up once in [`KEPT_FOR`] by each process and taken as known in between.
//!
//! What revokes a token in this process forgets it at once; another process goes on taking it for [`KEPT_FOR`] at
//! most. Only tokens in force are kept, so a new one needs no word: it opens from its first request on.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::Actor;
use crate::domain::{TokenHash, TokenId};

/// How long after it was looked up a token is taken as known (A): the longest that another process's revocation
/// goes unseen.
pub const KEPT_FOR: Duration = Duration::from_secs(1);

/// Tokens kept before those that are over get cleared out (A).
const MOST: usize = 10_000;

/// Tokens in force and who holds them. Clones share them.
#[derive(Clone, Default)]
pub struct KnownTokens(Arc<Mutex<Kept>>);

#[derive(Default)]
struct Kept {
    holders: HashMap<TokenHash, (Actor, Instant)>,
    /// Counts what was forgotten: an answer of the store's from before is out of date.
    forgotten: u64,
}

/// A look-up under way. What it finds is kept only when nothing was forgotten since it began.
#[derive(Debug, Clone, Copy)]
pub(super) struct LookUp {
    began: Instant,
    forgotten: u64,
}

impl KnownTokens {
    /// Who holds the token, if it was looked up less than [`KEPT_FOR`] before `now`; otherwise a look-up to begin.
    pub(super) fn find(&self, hash: &TokenHash, now: Instant) -> Result<Actor, LookUp> {
        let kept = self.lock();
        match kept.holders.get(hash) {
            Some((actor, since)) if now.saturating_duration_since(*since) < KEPT_FOR => Ok(*actor),
            _ => Err(LookUp { began: now, forgotten: kept.forgotten }),
        }
    }

    /// Keeps what a look-up found. Its age counts from when it began.
    pub(super) fn keep(&self, hash: TokenHash, actor: Actor, found: LookUp) {
        let mut kept = self.lock();
        if kept.forgotten != found.forgotten {
            return;
        }
        if kept.holders.len() >= MOST {
            kept.holders.retain(|_, (_, since)| found.began.saturating_duration_since(*since) < KEPT_FOR);
        }
        if kept.holders.len() < MOST {
            kept.holders.insert(hash, (actor, found.began));
        }
    }

    /// Forgets a token that was revoked.
    pub(super) fn forget(&self, id: TokenId) {
        let mut kept = self.lock();
        kept.forgotten = kept.forgotten.wrapping_add(1);
        kept.holders.retain(|_, (actor, _)| actor.token_id != Some(id));
    }

    fn lock(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl fmt::Debug for KnownTokens {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("KnownTokens").field("kept", &self.lock().holders.len()).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Role, TokenSecret, WorkshopId};

    fn holder() -> (TokenHash, Actor, TokenId) {
        let id = TokenId::generate();
        let workshop_id = WorkshopId::generate();
        let secret = TokenSecret::generate().expect("randomness");
        (secret.hash(), Actor { token_id: Some(id), role: Role::App, ..Actor::program(workshop_id) }, id)
    }

    #[test]
    fn a_token_is_known_for_a_second_from_the_beginning_of_its_look_up() {
        let (known, (hash, actor, _)) = (KnownTokens::default(), holder());
        let start = Instant::now();
        let found = known.find(&hash, start).expect_err("a look-up");
        known.keep(hash, actor, found);
        assert_eq!(known.find(&hash, start + Duration::from_millis(999)).expect("known"), actor);
        assert!(known.find(&hash, start + KEPT_FOR).is_err());
        assert!(known.find(&holder().0, start).is_err());
    }

    #[test]
    fn what_was_revoked_is_forgotten_even_when_its_look_up_was_under_way() {
        let (known, (hash, actor, id)) = (KnownTokens::default(), holder());
        let start = Instant::now();
        let found = known.find(&hash, start).expect_err("a look-up");
        known.keep(hash, actor, found);
        known.forget(id);
        let again = known.find(&hash, start).expect_err("a look-up");
        known.forget(id);
        known.keep(hash, actor, again);
        assert!(known.find(&hash, start).is_err());
    }

    #[test]
    fn it_keeps_no_more_than_it_may() {
        let known = KnownTokens::default();
        let start = Instant::now();
        for _ in 0..MOST + 5 {
            let (hash, actor, _) = holder();
            let found = known.find(&hash, start).expect_err("a look-up");
            known.keep(hash, actor, found);
        }
        assert_eq!(known.lock().holders.len(), MOST);
        let (hash, actor, _) = holder();
        let found = known.find(&hash, start + KEPT_FOR).expect_err("a look-up");
        known.keep(hash, actor, found);
        assert_eq!(known.lock().holders.len(), 1);
    }
}
