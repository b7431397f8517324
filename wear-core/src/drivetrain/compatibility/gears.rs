//! Derailleurs, frame and the chain's length.

use super::{Caution, Finding, Parts, Question, Reason, Source, Verdict};
use crate::drivetrain::chain_length::{chain_length, needed_capacity};
use crate::drivetrain::{Drivetrain, DrivetrainFacts, Gearing, Teeth};

pub(super) fn findings(parts: &Parts) -> Vec<Finding> {
    let mut found = Vec::new();
    let drivetrain = drivetrain(parts);
    if let (Some(drivetrain), Some(rear)) = (&drivetrain, &parts.rear_derailleur)
        && let Some(capacity) = rear.capacity_teeth
    {
        found.push(taken_up(needed_capacity(drivetrain), capacity));
    }
    if let (Some(cassette), Some(rear)) = (&parts.cassette, &parts.rear_derailleur)
        && let (Some(smallest), Some(largest)) = (cassette.cogs.first(), cassette.cogs.last())
    {
        if let Some(clears) = rear.largest_cog {
            found.push(against(Question::CogRange, *largest, clears, |given, most| Reason::LargestCog {
                given,
                most,
            }));
        }
        if let Some(reaches) = rear.smallest_cog {
            let verdict = if *smallest >= reaches { Verdict::Fits } else { Verdict::Doesnt };
            let reason = Reason::SmallestCog { given: smallest.get(), least: reaches.get() };
            found.push(Finding::new(Question::CogRange, verdict, Source::Entered, reason));
        }
    }
    found.extend(rings(parts));
    if let (Some(drivetrain), Some(chainstay)) = (&drivetrain, parts.chainstay) {
        let needed = chain_length(drivetrain, chainstay);
        let given = parts.chain.and_then(|chain| chain.links);
        found.push(length(drivetrain.gearing(), needed.links.get(), given.map(|links| links.get())));
    }
    found
}

fn drivetrain(parts: &Parts) -> Option<Drivetrain> {
    let cassette = parts.cassette.as_ref()?;
    let facts = DrivetrainFacts {
        rings: parts.rings.iter().map(|ring| u32::from(ring.teeth.get())).collect(),
        cogs: cassette.cogs.iter().map(|teeth| u32::from(teeth.get())).collect(),
        links: 114,
        gearing: parts.gearing.or(parts.rear_derailleur.map(|_| Gearing::Derailleur)),
        ..DrivetrainFacts::default()
    };
    Drivetrain::new(&facts).ok()
}

fn taken_up(needed: u16, capacity: u16) -> Finding {
    if needed <= capacity {
        Finding::new(
            Question::Capacity,
            Verdict::Fits,
            Source::Entered,
            Reason::WithinCapacity { needed, capacity },
        )
    } else {
        Finding::new(
            Question::Capacity,
            Verdict::Doesnt,
            Source::Entered,
            Reason::BeyondCapacity { needed, capacity },
        )
        .careful(Caution::TooShortOnLargest)
    }
}

fn against(question: Question, given: Teeth, most: Teeth, reason: fn(u16, u16) -> Reason) -> Finding {
    let verdict = if given <= most { Verdict::Fits } else { Verdict::Doesnt };
    Finding::new(question, verdict, Source::Entered, reason(given.get(), most.get()))
}

fn rings(parts: &Parts) -> Vec<Finding> {
    let mut found = Vec::new();
    let largest = parts.rings.iter().map(|ring| ring.teeth).max();
    let smallest = parts.rings.iter().map(|ring| ring.teeth).min();
    let (Some(largest), Some(smallest)) = (largest, smallest) else { return found };
    if let Some(front) = &parts.front_derailleur {
        if let Some(shaped_for) = front.largest_ring {
            found.push(against(Question::RingRange, largest, shaped_for, |given, most| {
                Reason::LargestRing { given, most }
            }));
        }
        if let Some(difference) = front.difference_teeth {
            let apart = largest.get() - smallest.get();
            let verdict = if apart <= difference { Verdict::Fits } else { Verdict::Doesnt };
            let reason = Reason::RingsApart { apart, most: difference };
            found.push(Finding::new(Question::RingRange, verdict, Source::Entered, reason));
        }
    }
    if let Some(clears) = parts.frame_largest_ring {
        found.push(against(Question::RingClearance, largest, clears, |given, most| Reason::RingClearance {
            given,
            most,
        }));
    }
    found
}

fn length(gearing: Gearing, needed: u16, given: Option<u16>) -> Finding {
    let finding =
        |verdict, source, reason: Reason| Finding::new(Question::ChainLength, verdict, source, reason);
    let Some(given) = given else {
        let reason = Reason::LengthNeeded { needed };
        return finding(Verdict::Check, Source::CommonPractice, reason);
    };
    if !given.is_multiple_of(2) {
        return finding(Verdict::Check, Source::Geometry, Reason::OddLength { given });
    }
    if given < needed {
        return finding(Verdict::Doesnt, Source::CommonPractice, Reason::TooShort { given, needed })
            .careful(Caution::TooShortOnLargest);
    }
    let reason = match (given - needed, gearing) {
        (0, _) => Reason::RightLength { given },
        (over, Gearing::Derailleur) => Reason::TakeOut { given, over, needed },
        (over, _) => Reason::TakeOutAndTension { given, over, needed },
    };
    finding(Verdict::Fits, Source::CommonPractice, reason)
}
