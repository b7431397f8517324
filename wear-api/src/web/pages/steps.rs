//! The steps of a safe swap as the pages show them.

use wear_core::drivetrain::procedure::{Deference, Step, SwapOf};

use super::failure::Failure;
use crate::domain::{Bike, Checklist, Place};
use crate::service::{Actor, Services, procedure};
use crate::words::Words;
use crate::words::texts::Sentence;

/// One step.
pub(super) struct StepShown {
    /// Its word in a checklist.
    pub(super) id: &'static str,
    /// What to do.
    pub(super) what: String,
    /// What can hurt someone.
    pub(super) caution: Option<String>,
    /// Tools and where a torque comes from.
    pub(super) with: String,
    /// Whether it is a check before the bike goes out.
    pub(super) check: bool,
    /// Whether it is ticked.
    pub(super) ticked: bool,
    /// For which part alone it is, in a list of several.
    pub(super) only: Option<String>,
}

/// The steps of one kind of swap, with what goes before them.
pub(super) struct Procedure {
    /// What goes before the steps.
    pub(super) defer: String,
    /// The steps.
    pub(super) steps: Vec<StepShown>,
}

/// The steps of a swap on a bike.
pub(super) async fn procedure_of(
    services: &Services,
    actor: &Actor,
    words: &Words,
    bike: &Bike,
    swap: SwapOf,
) -> Result<Procedure, Failure> {
    let (_, steps) = procedure::of_bike(services, actor, bike.id, swap, None).await?;
    Ok(Procedure {
        defer: said(words, &Deference::MakersAndRules),
        steps: steps.iter().map(|step| shown(words, step)).collect(),
    })
}

/// The steps of several swaps in one visit, the first one's with those of the others in between.
pub(super) async fn procedure_together(
    services: &Services,
    actor: &Actor,
    words: &Words,
    (bike, swaps): (&Bike, &[SwapOf]),
) -> Result<Procedure, Failure> {
    let at_hand = procedure::at_hand(services, actor, bike.id, None).await?;
    let steps = procedure::together(swaps, at_hand);
    let only = |askers: &[SwapOf]| match (askers, swaps) {
        ([one], [_, _, ..]) => Some(kind_name(words, *one)),
        _ => None,
    };
    Ok(Procedure {
        defer: said(words, &Deference::MakersAndRules),
        steps: steps
            .iter()
            .map(|(step, askers)| StepShown { only: only(askers), ..shown(words, step) })
            .collect(),
    })
}

/// What a kind of swap is called.
pub(super) fn kind_name(words: &Words, kind: SwapOf) -> String {
    match kind {
        SwapOf::Chain => words.steps_chain(),
        SwapOf::Cassette => words.steps_cassette(),
        SwapOf::Ring => words.steps_ring(),
    }
}

/// Checks that nobody ticked.
pub(super) async fn left_undone(
    services: &Services,
    actor: &Actor,
    words: &Words,
    bike: &Bike,
    place: Place,
    ticked: &Checklist,
) -> Result<Vec<String>, Failure> {
    let Some(swap) = swap_of(place) else { return Ok(Vec::new()) };
    let procedure = procedure_of(services, actor, words, bike, swap).await?;
    // Whoever reads this has entered the swap.
    let open = |step: &StepShown| step.check && step.id != "enter" && !ticked.words().contains(&step.id);
    Ok(procedure.steps.into_iter().filter(open).map(|step| step.what).collect())
}

/// Which steps a place asks for; none for what is changed along the way.
pub(super) const fn swap_of(place: Place) -> Option<SwapOf> {
    match place {
        Place::Chain => Some(SwapOf::Chain),
        Place::Cassette | Place::Cog => Some(SwapOf::Cassette),
        Place::Ring => Some(SwapOf::Ring),
        Place::JockeyWheels => None,
    }
}

/// A sentence of the library's, with its full stop.
pub(super) fn said(words: &Words, sentence: &impl Sentence) -> String {
    format!("{}.", words.said(sentence))
}

fn shown(words: &Words, step: &Step) -> StepShown {
    let Step { id, what, caution, tools, torque, check } = *step;
    let mut with = Vec::new();
    if !tools.is_empty() {
        let tools: Vec<String> = tools.iter().map(|tool| words.said(tool)).collect();
        with.push(words.steps_tools(tools.join(", ")));
    }
    if torque.is_some() {
        with.push(words.steps_torque());
    }
    StepShown {
        id,
        what: said(words, &what),
        caution: caution.map(|caution| said(words, &caution)),
        with: with.join(" "),
        check,
        ticked: false,
        only: None,
    }
}
