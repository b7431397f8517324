//! Alerts: the advice on a part has become more urgent than it was.

use super::{Advice, HookEvent, Timestamp};

/// How urgent the advice on a part was when hooks were last told, and what it rested on.
///
/// A level rises once for each alert. It falls on other evidence alone: a reading, a void, another limit.
/// The forecast flutters from day to day with the use of the bike, and nobody wants to be told each time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alert {
    /// 0 ride on, 1 measure by, 2 swap by, 3 swap now.
    pub level: i64,
    /// The evidence, as text to be compared.
    pub evidence: String,
    /// Since when.
    pub at: Timestamp,
}

/// What an outlook changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AlertChange {
    /// Nothing that is kept.
    Nothing,
    /// What is kept, and nobody is told.
    Silent(Alert),
    /// Hooks are told; `from` is the level before.
    Raised {
        /// The level before.
        from: i64,
        /// Where it stands now.
        to: Alert,
    },
}

/// The urgency of an advice; none for `hold`, which tells of data and not of wear.
#[must_use]
pub const fn level(advice: Advice) -> Option<i64> {
    match advice {
        Advice::RideOn => Some(0),
        Advice::MeasureBy => Some(1),
        Advice::SwapBy => Some(2),
        Advice::SwapNow => Some(3),
        _ => None,
    }
}

impl Alert {
    /// What a new outlook changes about what is kept.
    #[must_use]
    pub fn by(before: Option<&Self>, advice: Advice, evidence: String, at: Timestamp) -> AlertChange {
        let Some(level) = level(advice) else { return AlertChange::Nothing };
        let from = before.map_or(0, |before| before.level);
        let same_evidence = before.is_some_and(|before| before.evidence == evidence);
        let now = Self { level, evidence, at };
        match before {
            _ if level > from => AlertChange::Raised { from, to: now },
            // A part that was never urgent needs no row.
            None => AlertChange::Nothing,
            Some(_) if same_evidence => AlertChange::Nothing,
            Some(_) => AlertChange::Silent(now),
        }
    }

    /// The levels above `from` and up to `to`, the most urgent first: who listens for less urgent alerts alone is told
    /// when two levels are passed at once.
    pub fn events(from: i64, to: i64) -> impl Iterator<Item = HookEvent> {
        let events = [(3, HookEvent::SwapNow), (2, HookEvent::SwapBy), (1, HookEvent::MeasureBy)];
        events.into_iter().filter(move |(level, _)| *level > from && *level <= to).map(|(_, event)| event)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at() -> Timestamp {
        "2026-11-25T12:00:00Z".parse().expect("a time")
    }

    /// Advice after advice with its evidence; how often hooks are told, and the level in the end.
    fn told(story: &[(Advice, &str)]) -> (usize, i64) {
        let mut kept: Option<Alert> = None;
        let mut told = 0;
        for (advice, evidence) in story {
            match Alert::by(kept.as_ref(), *advice, (*evidence).to_owned(), at()) {
                AlertChange::Nothing => {}
                AlertChange::Silent(now) => kept = Some(now),
                AlertChange::Raised { to, .. } => {
                    told += 1;
                    kept = Some(to);
                }
            }
        }
        (told, kept.map_or(0, |kept| kept.level))
    }

    #[test]
    fn hooks_are_told_once_for_each_alert() {
        use Advice::{Hold, MeasureBy, RideOn, SwapBy, SwapNow};
        type Story = &'static [(Advice, &'static str)];
        let table: [(Story, (usize, i64)); 7] = [
            (&[(RideOn, "a"), (RideOn, "b")], (0, 0)),
            (&[(MeasureBy, "a"), (MeasureBy, "a"), (MeasureBy, "a")], (1, 1)),
            // The forecast flutters on the same evidence.
            (&[(SwapBy, "a"), (MeasureBy, "a"), (SwapBy, "a"), (RideOn, "a"), (SwapBy, "a")], (1, 2)),
            // A reading says that the chain is better than was thought: the next alert is another.
            (&[(SwapBy, "a"), (RideOn, "b"), (SwapBy, "b")], (2, 2)),
            (&[(MeasureBy, "a"), (SwapBy, "b"), (SwapNow, "b")], (3, 3)),
            // The level stays through a reading, and the forecast flutters afterwards.
            (&[(SwapBy, "a"), (SwapBy, "b"), (RideOn, "b"), (SwapBy, "b")], (1, 2)),
            (&[(SwapBy, "a"), (Hold, "b"), (SwapBy, "a")], (1, 2)),
        ];
        for (story, expected) in table {
            assert_eq!(told(story), expected, "{story:?}");
        }
    }

    #[test]
    fn a_listener_is_told_of_the_most_urgent_alert_it_listens_for() {
        use HookEvent::{MeasureBy, RideRejected, SwapBy, SwapNow};
        let table: &[(i64, i64, &[HookEvent], Option<HookEvent>)] = &[
            (0, 3, &[MeasureBy, SwapBy, SwapNow], Some(SwapNow)),
            (0, 3, &[MeasureBy, SwapBy], Some(SwapBy)),
            (1, 3, &[MeasureBy], None),
            (0, 1, &[SwapNow], None),
            (2, 3, &[SwapNow, SwapBy], Some(SwapNow)),
            (0, 2, &[RideRejected], None),
        ];
        for (from, to, listens, expected) in table {
            let first = Alert::events(*from, *to).find(|event| listens.contains(event));
            assert_eq!(first, *expected, "{from} {to} {listens:?}");
        }
    }
}
