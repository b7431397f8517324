//! Derailleurs, frame and the chain's length.

use super::{Finding, Parts, Question, Source, Verdict};
use crate::drivetrain::chain_length::{chain_length, needed_capacity};
use crate::drivetrain::{Drivetrain, DrivetrainFacts, Gearing, Teeth};

const TOO_SHORT: &str = "On the largest ring and the largest cog a chain that is too short tears off the derailleur and can lock the wheel";

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
            found.push(against(Question::CogRange, "cog", *largest, clears, "the rear derailleur clears"));
        }
        if let Some(reaches) = rear.smallest_cog {
            let verdict = if *smallest >= reaches { Verdict::Fits } else { Verdict::Doesnt };
            let (smallest, reaches) = (smallest.get(), reaches.get());
            let reason =
                format!("Smallest cog {smallest}; the rear derailleur is made for {reaches} and more");
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
            format!("Rings and cogs ask for {needed} teeth of capacity; the cage takes up {capacity}"),
        )
    } else {
        Finding::new(
            Question::Capacity,
            Verdict::Doesnt,
            Source::Entered,
            format!("Rings and cogs ask for {needed} teeth of capacity; the cage takes up {capacity}: the chain hangs slack on small ring and small cogs, or is too short on the large ones"),
        )
        .careful(TOO_SHORT)
    }
}

fn against(question: Question, what: &str, given: Teeth, most: Teeth, who: &str) -> Finding {
    let verdict = if given <= most { Verdict::Fits } else { Verdict::Doesnt };
    let (given, most) = (given.get(), most.get());
    Finding::new(question, verdict, Source::Entered, format!("Largest {what} {given}; {who} {most}"))
}

fn rings(parts: &Parts) -> Vec<Finding> {
    let mut found = Vec::new();
    let largest = parts.rings.iter().map(|ring| ring.teeth).max();
    let smallest = parts.rings.iter().map(|ring| ring.teeth).min();
    let (Some(largest), Some(smallest)) = (largest, smallest) else { return found };
    if let Some(front) = &parts.front_derailleur {
        if let Some(shaped_for) = front.largest_ring {
            found.push(against(
                Question::RingRange,
                "ring",
                largest,
                shaped_for,
                "the front derailleur is shaped for",
            ));
        }
        if let Some(difference) = front.difference_teeth {
            let apart = largest.get() - smallest.get();
            let verdict = if apart <= difference { Verdict::Fits } else { Verdict::Doesnt };
            let reason = format!("Rings are {apart} teeth apart; the front derailleur takes {difference}");
            found.push(Finding::new(Question::RingRange, verdict, Source::Entered, reason));
        }
    }
    if let Some(clears) = parts.frame_largest_ring {
        found.push(against(Question::RingClearance, "ring", largest, clears, "the frame clears"));
    }
    found
}

fn length(gearing: Gearing, needed: u16, given: Option<u16>) -> Finding {
    let finding =
        |verdict, source, reason: String| Finding::new(Question::ChainLength, verdict, source, reason);
    let Some(given) = given else {
        let reason = format!("Largest ring and largest cog on this chainstay ask for {needed} pitches");
        return finding(Verdict::Check, Source::CommonPractice, reason);
    };
    if !given.is_multiple_of(2) {
        return finding(
            Verdict::Check,
            Source::Geometry,
            format!("{given} pitches is odd: ends of two inner plates don't join without a half link"),
        );
    }
    if given < needed {
        return finding(
            Verdict::Doesnt,
            Source::CommonPractice,
            format!("The chain has {given} pitches; largest ring and largest cog ask for {needed}"),
        )
        .careful(TOO_SHORT);
    }
    let reason = match (given - needed, gearing) {
        (0, _) => format!("{given} pitches is what largest ring and largest cog ask for"),
        (over, Gearing::Derailleur) => {
            format!(
                "The chain has {given} pitches; take out {over} to have {needed}, and check on the bike before it is cut"
            )
        }
        (over, _) => format!(
            "The chain has {given} pitches; take out {over} to have {needed}, then set its slack at the dropout"
        ),
    };
    finding(Verdict::Fits, Source::CommonPractice, reason)
}
