//! Swaps: one part off, one on, at a time that may lie in the past.

use wear_core::bike::Warning;

use super::{
    Actor, BikeChange, Conflict, Mismatch, ServiceError, Services, UnitOfWork, fit_check, odometer,
    parts_of_bike, read_of_bike, readings, stock,
};
use crate::domain::{
    BikeId, Checklist, EnteredWith, Field, Fitting, FittingStart, Form, Invalid, Measured, NewReading,
    NewSwap, Note, OdometerTotal, Once, Page, PageRequest, PartModelId, Place, Position, ReadWith, ReadingId,
    StatementId, Swap, SwapId, SwapReason, Taken, Timestamp,
};
use crate::store::Tx;

/// A swap to be entered.
#[derive(Debug, Clone, PartialEq)]
pub struct EnterSwap {
    /// When.
    pub swapped_at: Timestamp,
    /// Where on the bike.
    pub place: Place,
    /// Which of several equal places.
    pub position: Position,
    /// Model of the part put on; the old part's when it isn't said.
    pub model_id: Option<PartModelId>,
    /// What was read of the chain that came off, with what and by whom.
    pub reading: Option<(Measured, ReadWith)>,
    /// A remark.
    pub note: Option<Note>,
    /// Steps that were ticked.
    pub checklist: Option<Checklist>,
    /// What the odometer showed.
    pub odometer: Option<OdometerTotal>,
    /// Why the old part came off, of a cassette, a cog or a ring.
    pub reason: Option<SwapReason>,
    /// Whether a part that doesn't go with the bike is meant so.
    pub mismatch: Mismatch,
}

/// A swap that was entered, and what the shelf gave for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Entered {
    /// The swap.
    pub swap: Once<Swap>,
    /// What the shelf gave.
    pub shelf: Taken,
    /// What doesn't fit about the odometer.
    pub notices: Vec<Warning>,
    /// The odometer statement that came with it.
    pub statement: Option<Once<StatementId>>,
}

/// Enters a swap and takes its part off the shelf. The same place at the same instant is the same swap.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] for a time in the future or before the place was first
/// filled, a place that the bike lacks, an unknown model, one for another place or one that doesn't go with the bike, a reading of anything but a chain, and one with a tool that can't have
/// been used.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    mut enter: EnterSwap,
) -> Result<Entered, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    change.in_fleet("/swapped_at", enter.swapped_at)?;
    let (swapped_at, shown, mismatch) = (enter.swapped_at, enter.odometer.is_some(), enter.mismatch);
    if let Some((measured, with)) = &mut enter.reading {
        let read = (measured.measurement().instrument(), swapped_at);
        *with = change.read_with(read, std::mem::take(with), "/reading/tool_id").await?;
    }
    let mut entered = save(change.tx, bike_id, enter, change.now).await?;
    let id = match &entered.swap {
        Once::New(swap) | Once::Again(swap) => swap.facts.id,
    };
    let stored = (entered.swap.is_new(), entered.statement);
    let outlook =
        change.end_entered(stored, "swap.create", &format!("/swaps/{id}"), mismatch.detail()).await?;
    if shown {
        entered.notices = odometer::notices(&outlook, swapped_at);
    }
    Ok(entered)
}

/// Stores a swap in the caller's transaction.
///
/// # Errors
/// As [`post`].
pub async fn save(
    tx: &mut Tx,
    bike_id: BikeId,
    enter: EnterSwap,
    now: Timestamp,
) -> Result<Entered, ServiceError> {
    let EnterSwap {
        swapped_at,
        place,
        position,
        model_id,
        reading,
        note,
        checklist,
        odometer,
        reason,
        mismatch,
    } = enter;
    swapped_at.not_after(now).map_err(|cause| ServiceError::field("/swapped_at", cause))?;
    if reading.is_some() && place != Place::Chain {
        let cause = Invalid::Together { what: Field::ReadingAndPlace, allowed: Form::ReadingWithChain };
        return Err(ServiceError::field("/reading", cause));
    }
    if reason.is_some() && !takes_reason(place) {
        let cause = Invalid::Together { what: Field::ReasonAndPlace, allowed: Form::ReasonWithSprockets };
        return Err(ServiceError::field("/reason", cause));
    }
    if let Some(swap) = tx.swap_at(bike_id, place, position, swapped_at).await? {
        let with = (EnteredWith::Swap(swap.facts.id), swapped_at);
        let statement = odometer::save_shown(tx, bike_id, with, odometer, now).await?;
        let (swap, shelf) = (Once::Again(swap), Taken::NotCounted);
        return Ok(Entered { swap, shelf, notices: Vec::new(), statement });
    }
    if let Some(model_id) = model_id
        && stock::place_of(tx, model_id, "/part_model_id").await? != place
    {
        let cause = Invalid::Together { what: Field::ModelAndPlace, allowed: Form::ModelForPlace };
        return Err(ServiceError::field("/part_model_id", cause));
    }
    let drivetrain = tx.bike(bike_id).await?.facts.drivetrain;
    let fittings = tx.fittings_of_bike(bike_id).await?;
    fit_check::place_is_there(tx, &drivetrain, &fittings, (place, position), swapped_at).await?;
    if let Some(model) = model_id {
        let model = (model, position);
        fit_check::model_goes(tx, &drivetrain, model, mismatch, "/part_model_id").await?;
    }
    // A swap is an event of the bike: what was found on it was there before.
    tx.reach_back(bike_id, swapped_at).await?;
    let stays: Vec<Fitting> = tx
        .fittings_of_bike(bike_id)
        .await?
        .into_iter()
        .filter(|stay| stay.place == place && stay.position == position)
        .collect();
    let old = stays.iter().find(|stay| stay.covers(swapped_at));
    if let Some(first) = stays.iter().min_by_key(|stay| stay.fitted_at)
        && swapped_at <= first.fitted_at
        && !(first.start.is_as_found() && swapped_at == first.fitted_at)
    {
        let cause = Invalid::BeforeFitting { given: swapped_at, fitted_at: first.fitted_at };
        return Err(ServiceError::field("/swapped_at", cause));
    }
    // The place may have stood empty; then the new part stays until the next one was fitted.
    let until = match old {
        Some(stay) => stay.removed_at,
        None => stays.iter().map(|stay| stay.fitted_at).filter(|at| *at > swapped_at).min(),
    };
    let model_id = match (model_id, old) {
        (Some(model_id), _) => Some(model_id),
        (None, Some(stay)) => tx.part(stay.part_id).await?.facts.model_id,
        (None, None) => None,
    };
    if let Some(stay) = old {
        tx.move_fitting(bike_id, stay.id, stay.fitted_at, Some(swapped_at)).await?;
    }
    let (at, stay) = ((place, position), (swapped_at, until));
    let on = parts_of_bike::fit_new(tx, bike_id, at, model_id, stay, FittingStart::New, now).await?;
    let mut reading_id = None;
    if let Some(stay) = old {
        // What was read after the swap was read of the new part, though nobody knew of it then.
        let stay_of_new = (swapped_at, until.unwrap_or(Timestamp::LAST));
        let moved = tx.move_readings(bike_id, stay.part_id, on.part_id, stay_of_new).await;
        moved.map_err(ServiceError::or_conflict(Conflict::SameReading))?;
        if let Some((measured, with)) = reading {
            let reading = NewReading {
                id: ReadingId::generate(),
                bike_id,
                part_id: stay.part_id,
                taken_at: swapped_at,
                measured,
                with,
            };
            reading_id = Some(match readings::save_of_part(tx, reading).await? {
                Once::New(reading) | Once::Again(reading) => reading.id,
            });
        }
    }
    let shelf = stock::take(tx, model_id, swapped_at).await?;
    let swap = NewSwap {
        id: SwapId::generate(),
        bike_id,
        swapped_at,
        place,
        position,
        off_part_id: old.map(|stay| stay.part_id),
        on_part_id: on.part_id,
        model_id,
        reading_id,
        note,
        from_shelf: matches!(shelf, Taken::One { .. }),
        checklist,
        reason,
    };
    let id = match tx.insert_swap(&swap).await? {
        Once::New(id) | Once::Again(id) => id,
    };
    let with = (EnteredWith::Swap(id), swapped_at);
    let statement = odometer::save_shown(tx, bike_id, with, odometer, now).await?;
    Ok(Entered { swap: Once::New(tx.swap(bike_id, id).await?), shelf, notices: Vec::new(), statement })
}

/// Whether it matters why a part came off that place.
#[must_use]
pub const fn takes_reason(place: Place) -> bool {
    matches!(place, Place::Cassette | Place::Cog | Place::Ring)
}

/// A page of a bike's swaps, newest first.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<Swap>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.swaps(bike_id, page).await).await
}
