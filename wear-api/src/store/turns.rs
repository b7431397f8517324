//! Workshops take turns at what the worker does: one with much to do doesn't keep the others waiting.

use uuid::Uuid;

/// Whose turn it was last; nobody's at first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Turn(Option<Uuid>);

impl Turn {
    /// Workshops that are looked at in one round (A).
    pub(super) const AT_ONCE: i64 = 16;

    /// This workshop's, so that the next round begins after it.
    pub(super) const fn of(workshop: Uuid) -> Self {
        Self(Some(workshop))
    }

    /// The workshop after which the next round begins.
    pub(super) fn after(self) -> Uuid {
        self.0.unwrap_or(Uuid::nil())
    }

    /// The round of these workshops, which were found after the turn. None where there are none and the round has to begin anew,
    /// at the beginning.
    pub(super) fn taken_by(&mut self, found: Vec<Uuid>) -> Option<Waiting> {
        let began = self.0.is_none();
        self.0 = found.last().copied();
        if found.is_empty() && !began { None } else { Some(Waiting(found.into_iter())) }
    }
}

/// The workshops of one round that haven't had their turn.
pub(super) struct Waiting(std::vec::IntoIter<Uuid>);

impl Waiting {
    /// The next one's turn.
    pub(super) fn next(&mut self) -> Option<Uuid> {
        self.0.next()
    }

    /// How much the workshop whose turn it is may take: what is left, shared with those that come after it.
    pub(super) fn share(&self, most: i64, taken: usize) -> i64 {
        let left = most.saturating_sub_unsigned(taken as u64).max(0);
        let sharing = 1 + self.0.len() as i64;
        (left + sharing - 1) / sharing
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_go_on_where_the_last_one_ended_and_share_what_there_is() {
        let [one, two] = [Uuid::from_u128(1), Uuid::from_u128(2)];
        let mut turn = Turn::default();
        let mut round = turn.taken_by(vec![one, two]).expect("a round");
        assert_eq!((round.next(), round.share(5, 0)), (Some(one), 3));
        assert_eq!((round.next(), round.share(5, 1)), (Some(two), 4));
        assert_eq!(round.next(), None);
        assert_eq!(turn.after(), two);
        assert!(turn.taken_by(Vec::new()).is_none());
        assert_eq!(turn.after(), Uuid::nil());
        assert!(turn.taken_by(Vec::new()).expect("nobody waits").next().is_none());
    }
}
