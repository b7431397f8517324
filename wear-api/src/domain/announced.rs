//! What hooks are told of a bike's parts: what an outlook finds, against what was told already and still stands.

use super::{Advice, Alert, AlertChange, HookEvent, Invalid, PartId, PartModelId, Timestamp};
use super::{Field, NoticeSaid, Position};

wear_core::vocabulary! {
    /// What can be told of a part.
    Topic, "topic" {
        /// How urgent the advice on a chain is.
        Urgency = "urgency",
        /// A reading is due within the lead.
        MeasureSoon = "measure_soon",
        /// A swap is due within the lead.
        SwapSoon = "swap_soon",
        /// Someone has to look at the record or at the bike.
        Check = "check",
        /// A new chain likely skips on the cassette.
        Cassette = "cassette",
        /// A ring is likely worn out.
        Ring = "ring",
    }
}

impl Topic {
    const OF_CHAIN: [Self; 4] = [Self::Urgency, Self::MeasureSoon, Self::SwapSoon, Self::Check];

    fn event(self, level: i64) -> HookEvent {
        match self {
            Self::Urgency => match level {
                ..=1 => HookEvent::MeasureBy,
                2 => HookEvent::SwapBy,
                _ => HookEvent::SwapNow,
            },
            Self::MeasureSoon => HookEvent::MeasureSoon,
            Self::SwapSoon => HookEvent::SwapSoon,
            Self::Check => HookEvent::Check,
            Self::Cassette => HookEvent::CassetteWorn,
            Self::Ring => HookEvent::RingWorn,
        }
    }
}

/// Days before its day that a reading or a swap counts as due soon, 0 to 60.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SoonDays(u32);

impl SoonDays {
    /// Smallest legal number: told on the day itself.
    pub const MINIMUM: i64 = 0;
    /// Largest legal number.
    pub const MAXIMUM: i64 = 60;
    /// A week, until the workshop says otherwise (A).
    pub const WEEK: Self = Self(7);

    /// Checks a number of days.
    ///
    /// # Errors
    /// [`Invalid::WholeNumber`] outside of the range.
    pub fn new(given: i64) -> Result<Self, Invalid> {
        match u32::try_from(given) {
            Ok(days) if given <= Self::MAXIMUM => Ok(Self(days)),
            _ => Err(Invalid::WholeNumber {
                what: Field::SoonDays,
                given,
                minimum: Self::MINIMUM,
                maximum: Self::MAXIMUM,
            }),
        }
    }

    /// The number of days.
    #[must_use]
    pub const fn get(self) -> u32 {
        self.0
    }

    /// What of a chain is due within the lead: its reading or its swap.
    ///
    /// A chain that has to come off now is due to be swapped; `hold` has no date.
    #[must_use]
    pub fn due(
        self,
        advice: Advice,
        measure_in_days: Option<u32>,
        swap_in_days: Option<u32>,
    ) -> Option<Topic> {
        let within = |days: Option<u32>| days.is_some_and(|days| days <= self.0);
        match advice {
            Advice::Hold => None,
            Advice::SwapNow => Some(Topic::SwapSoon),
            Advice::SwapBy => within(swap_in_days).then_some(Topic::SwapSoon),
            Advice::MeasureBy => within(measure_in_days).then_some(Topic::MeasureSoon),
            Advice::RideOn => match (within(measure_in_days), within(swap_in_days)) {
                (true, _) if measure_in_days <= swap_in_days || swap_in_days.is_none() => {
                    Some(Topic::MeasureSoon)
                }
                (_, true) => Some(Topic::SwapSoon),
                (true, false) => Some(Topic::MeasureSoon),
                (false, false) => None,
            },
        }
    }
}

/// What an outlook finds of a bike's parts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Findings {
    /// The parts that are on the bike.
    pub on_bike: Vec<PartId>,
    /// Of the chain; none where there is none, and while nothing is known of it: whoever entered the bike knows that.
    pub chain: Option<ChainFinding>,
    /// Of cassette and rings.
    pub sprockets: Vec<SprocketFinding>,
}

/// What an outlook finds of the chain.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainFinding {
    /// The chain.
    pub part_id: PartId,
    /// Its model, where known.
    pub model_id: Option<PartModelId>,
    /// What to do.
    pub advice: Advice,
    /// What that rests on other than the passing of time and kilometres, as text to be compared.
    pub evidence: String,
    /// What is due within the lead.
    pub soon: Option<Topic>,
}

/// How worn a cassette or ring is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Worn {
    /// It likely has to go with the chain.
    Likely,
    /// It may have to.
    Maybe,
    /// It most likely stays.
    No,
}

/// What an outlook finds of a cassette or ring.
#[derive(Debug, Clone, PartialEq)]
pub struct SprocketFinding {
    /// The part.
    pub part_id: PartId,
    /// Its model, where known.
    pub model_id: Option<PartModelId>,
    /// Cassette or ring.
    pub topic: Topic,
    /// Which ring, from the largest.
    pub position: Position,
    /// Its shape: `42 teeth`.
    pub shape: String,
    /// How worn it is.
    pub worn: Worn,
    /// Probability that it has to go when the chain is ridden to its limit.
    pub probability: f64,
    /// That in words.
    pub said: NoticeSaid,
}

/// What was told of a part, while it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Announced {
    /// The part.
    pub part_id: PartId,
    /// What was told.
    pub topic: Topic,
    /// How urgent it is, what it rests on, since when.
    pub alert: Alert,
}

impl Announced {
    fn event(&self) -> HookEvent {
        self.topic.event(self.alert.level)
    }
}

/// Something to tell of a part: each hook is told the first of the events that it listens for.
#[derive(Debug, Clone, PartialEq)]
pub struct Raised {
    /// The part.
    pub part_id: PartId,
    /// The events, the most urgent first.
    pub events: Vec<HookEvent>,
}

/// What was told of a part holds no more.
#[derive(Debug, Clone, PartialEq)]
pub struct Over {
    /// The part.
    pub part_id: PartId,
    /// What was told.
    pub announced: Vec<HookEvent>,
    /// Why it holds no more.
    pub because: NoticeSaid,
}

/// What an outlook changes about what was told.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct News {
    /// What stands now that didn't, or rests on something else.
    pub standing: Vec<Announced>,
    /// What stands no more.
    pub fallen: Vec<(PartId, Topic)>,
    /// What hooks are told.
    pub raised: Vec<Raised>,
    /// What hooks are told is over.
    pub over: Vec<Over>,
}

/// Events of a chain, the most urgent first.
const BY_URGENCY: [HookEvent; 5] = [
    HookEvent::SwapNow,
    HookEvent::SwapSoon,
    HookEvent::SwapBy,
    HookEvent::MeasureSoon,
    HookEvent::MeasureBy,
];

impl News {
    /// What `found` changes about `before`, which was told of the same bike.
    #[must_use]
    pub fn of(before: &[Announced], found: &Findings, at: Timestamp) -> Self {
        let mut news = Self::default();
        for gone in before.chunk_by(|a, b| a.part_id == b.part_id) {
            let part_id = gone[0].part_id;
            if !found.on_bike.contains(&part_id) {
                news.end(part_id, gone, NoticeSaid::CameOff);
            }
        }
        if let Some(chain) = &found.chain {
            let of_chain =
                |told: &&Announced| told.part_id == chain.part_id && Topic::OF_CHAIN.contains(&told.topic);
            let told: Vec<Announced> = before.iter().filter(of_chain).cloned().collect();
            news.of_chain(&told, chain, at);
        }
        for sprocket in &found.sprockets {
            let told =
                before.iter().find(|told| (told.part_id, told.topic) == (sprocket.part_id, sprocket.topic));
            news.of_sprocket(told, sprocket, at);
        }
        news
    }

    fn end(&mut self, part_id: PartId, told: &[Announced], because: NoticeSaid) {
        self.fallen.extend(told.iter().map(|told| (part_id, told.topic)));
        let announced = told.iter().map(Announced::event).collect();
        self.over.push(Over { part_id, announced, because });
    }

    fn of_chain(&mut self, told: &[Announced], chain: &ChainFinding, at: Timestamp) {
        let ChainFinding { part_id, advice, evidence, soon, .. } = chain;
        let before = |topic: Topic| told.iter().find(|told| told.topic == topic).map(|told| &told.alert);
        let stands = |topic, level| {
            let alert = Alert { level, evidence: evidence.clone(), at };
            Announced { part_id: *part_id, topic, alert }
        };
        let mut now: Vec<Announced> = told.to_vec();
        let mut raised = Vec::new();
        let mut put = |wanted: Announced| {
            now.retain(|it| it.topic != wanted.topic);
            now.push(wanted);
        };
        if *advice == Advice::Hold {
            if before(Topic::Check).is_none() {
                put(stands(Topic::Check, 1));
                raised.push(HookEvent::Check);
            }
        } else {
            match Alert::by(before(Topic::Urgency), *advice, evidence.clone(), at) {
                AlertChange::Nothing => {}
                AlertChange::Silent(to) => put(stands(Topic::Urgency, to.level)),
                AlertChange::Raised { from, to } => {
                    put(stands(Topic::Urgency, to.level));
                    raised.extend(Alert::events(from, to.level));
                }
            }
            for topic in [Topic::MeasureSoon, Topic::SwapSoon] {
                let other_evidence = before(topic).is_some_and(|told| told.evidence != *evidence);
                match (*soon == Some(topic), before(topic)) {
                    (true, None) => {
                        put(stands(topic, 1));
                        raised.push(topic.event(1));
                    }
                    (true, Some(_)) if other_evidence => put(stands(topic, 1)),
                    (false, Some(_)) if other_evidence => put(stands(topic, 0)),
                    _ => {}
                }
            }
            if before(Topic::Check).is_some() {
                put(stands(Topic::Check, 0));
            }
        }
        now.retain(|it| it.alert.level > 0);
        if now.is_empty() && !told.is_empty() {
            return self.end(*part_id, told, NoticeSaid::NotDue);
        }
        let gone = |told: &&Announced| now.iter().all(|it| it.topic != told.topic);
        self.fallen.extend(told.iter().filter(gone).map(|told| (*part_id, told.topic)));
        self.standing.extend(now.into_iter().filter(|it| !told.contains(it)));
        let rank = |event: &HookEvent| BY_URGENCY.iter().position(|it| it == event);
        raised.sort_by_key(rank);
        if !raised.is_empty() {
            self.raised.push(Raised { part_id: *part_id, events: raised });
        }
    }

    fn of_sprocket(&mut self, told: Option<&Announced>, found: &SprocketFinding, at: Timestamp) {
        let SprocketFinding { part_id, topic, worn, .. } = found;
        match (worn, told) {
            (Worn::Likely, None) => {
                let alert = Alert { level: 1, evidence: String::new(), at };
                self.standing.push(Announced { part_id: *part_id, topic: *topic, alert });
                self.raised.push(Raised { part_id: *part_id, events: vec![topic.event(1)] });
            }
            (Worn::No, Some(told)) => self.end(*part_id, std::slice::from_ref(told), NoticeSaid::NotDue),
            _ => {}
        }
    }

    /// Whether nothing changes.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.standing.is_empty() && self.fallen.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use HookEvent::{Check, MeasureBy, MeasureSoon, SwapBy, SwapNow, SwapSoon};

    fn at() -> Timestamp {
        "2026-11-25T12:00:00Z".parse().expect("a time")
    }

    fn chain(part_id: PartId, advice: Advice, soon: Option<Topic>, evidence: &str) -> Findings {
        let chain = ChainFinding { part_id, model_id: None, advice, evidence: evidence.to_owned(), soon };
        Findings { on_bike: vec![part_id], chain: Some(chain), sprockets: Vec::new() }
    }

    fn apply(told: &mut Vec<Announced>, found: &Findings) -> News {
        let news = News::of(told, found, at());
        told.retain(|it| !news.fallen.contains(&(it.part_id, it.topic)));
        told.retain(|it| news.standing.iter().all(|new| (new.part_id, new.topic) != (it.part_id, it.topic)));
        told.extend(news.standing.clone());
        news
    }

    #[test]
    fn each_thing_is_told_once_and_taken_back_once() {
        use Advice::{Hold, MeasureBy as Measure, RideOn, SwapBy as Swap, SwapNow as Now};
        use Topic::{MeasureSoon as MSoon, SwapSoon as SSoon};
        type Step = (Advice, Option<Topic>, &'static str, &'static [HookEvent], &'static [HookEvent]);
        let story: [Step; 15] = [
            (RideOn, None, "a", &[], &[]),
            (Measure, None, "a", &[MeasureBy], &[]),
            (Measure, Some(MSoon), "a", &[MeasureSoon], &[]),
            // The forecast flutters on the same evidence.
            (Measure, None, "a", &[], &[]),
            (Measure, Some(MSoon), "a", &[], &[]),
            (RideOn, None, "a", &[], &[]),
            // A reading says that all is well.
            (RideOn, None, "b", &[], &[MeasureBy, MeasureSoon]),
            (Swap, Some(SSoon), "b", &[SwapSoon, SwapBy, MeasureBy], &[]),
            (Now, Some(SSoon), "b", &[SwapNow], &[]),
            // The readings contradict each other, and one is voided.
            (Hold, None, "c", &[Check], &[]),
            (Hold, None, "c", &[], &[]),
            (Now, Some(SSoon), "b", &[], &[]),
            (RideOn, None, "d", &[], &[SwapNow, SwapSoon]),
            // Levels in between are told to those who listen for no more.
            (Now, Some(SSoon), "d", &[SwapNow, SwapSoon, SwapBy, MeasureBy], &[]),
            (RideOn, None, "e", &[], &[SwapNow, SwapSoon]),
        ];
        let (part, mut told) = (PartId::generate(), Vec::new());
        for (step, (advice, soon, evidence, raised, over)) in story.into_iter().enumerate() {
            let news = apply(&mut told, &chain(part, advice, soon, evidence));
            let events: Vec<HookEvent> = news.raised.into_iter().flat_map(|it| it.events).collect();
            assert_eq!(events, raised, "step {step}");
            let mut ended: Vec<HookEvent> = news.over.into_iter().flat_map(|it| it.announced).collect();
            ended.sort_by_key(|event| over.iter().position(|it| it == event));
            assert_eq!(ended, over, "step {step}");
        }
        assert_eq!(told, []);
    }

    #[test]
    fn a_part_that_came_off_takes_along_what_was_told_of_it() {
        let (old, new) = (PartId::generate(), PartId::generate());
        let mut told = Vec::new();
        let first = apply(&mut told, &chain(old, Advice::SwapNow, Some(Topic::SwapSoon), "a"));
        assert_eq!(first.raised.len(), 1);
        let swapped = apply(&mut told, &chain(new, Advice::RideOn, None, "-"));
        assert_eq!((swapped.over.len(), &swapped.over[0].because), (1, &NoticeSaid::CameOff));
        assert_eq!((swapped.over[0].part_id, told), (old, Vec::new()));
    }

    #[test]
    fn of_a_chain_of_which_nothing_is_known_nothing_is_told() {
        let part = PartId::generate();
        let unknown = Findings { chain: None, ..chain(part, Advice::Hold, None, "-") };
        let mut told = Vec::new();
        assert!(apply(&mut told, &unknown).is_empty());
        // What stands stays while nothing is known.
        let _raised = apply(&mut told, &chain(part, Advice::SwapNow, Some(Topic::SwapSoon), "a"));
        assert!(apply(&mut told, &unknown).is_empty());
    }

    #[test]
    fn a_cassette_is_told_once_until_it_most_likely_stays() {
        let part = PartId::generate();
        let found = |worn, probability| Findings {
            on_bike: vec![part],
            sprockets: vec![SprocketFinding {
                part_id: part,
                model_id: None,
                topic: Topic::Cassette,
                position: Position::default(),
                shape: "11-13".to_owned(),
                worn,
                probability,
                said: NoticeSaid::CassetteWorn { percent: 60 },
            }],
            ..Findings::default()
        };
        let mut told = Vec::new();
        let mut counts = |worn| {
            let news = apply(&mut told, &found(worn, 0.5));
            (news.raised.len(), news.over.len())
        };
        let expected = [
            (Worn::No, (0, 0)),
            (Worn::Likely, (1, 0)),
            (Worn::Maybe, (0, 0)),
            (Worn::Likely, (0, 0)),
            (Worn::No, (0, 1)),
            (Worn::Likely, (1, 0)),
        ];
        for (worn, expected) in expected {
            assert_eq!(counts(worn), expected, "{worn:?}");
        }
    }

    #[test]
    fn the_lead_is_counted_from_the_day_that_matters() {
        let lead = SoonDays::WEEK;
        for (advice, measure, swap, expected) in [
            (Advice::MeasureBy, Some(7), Some(30), Some(Topic::MeasureSoon)),
            (Advice::MeasureBy, Some(8), Some(3), None),
            (Advice::SwapBy, Some(1), Some(7), Some(Topic::SwapSoon)),
            (Advice::SwapBy, Some(1), Some(8), None),
            (Advice::SwapNow, None, Some(0), Some(Topic::SwapSoon)),
            (Advice::RideOn, Some(3), Some(9), Some(Topic::MeasureSoon)),
            (Advice::RideOn, Some(40), Some(5), Some(Topic::SwapSoon)),
            (Advice::RideOn, None, None, None),
            (Advice::Hold, Some(1), Some(1), None),
        ] {
            assert_eq!(lead.due(advice, measure, swap), expected, "{advice} {measure:?} {swap:?}");
        }
        assert!(SoonDays::new(-1).is_err() && SoonDays::new(61).is_err());
        assert_eq!(SoonDays::new(0).map(SoonDays::get), Ok(0));
    }
}
