//! Parts put on a bike together.

use wear_core::drivetrain::Drivetrain;

use crate::domain::{
    BikeId, BikeKindFacts, Fitting, FittingId, FittingStart, NewPart, PartFacts, PartId, PartModelId, Place,
    Position, Timestamp,
};
use crate::store::{StoreError, Tx};

/// Puts a part that wasn't on record on a bike; new, where `start` doesn't say otherwise.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn fit_new(
    tx: &mut Tx,
    bike_id: BikeId,
    (place, position): (Place, Position),
    model_id: Option<PartModelId>,
    (fitted_at, removed_at): (Timestamp, Option<Timestamp>),
    start: FittingStart,
    now: Timestamp,
) -> Result<Fitting, StoreError> {
    let facts = PartFacts { model_id, place, label: None };
    let part = NewPart { id: PartId::generate(), facts, created_at: now };
    tx.insert_part(&part).await?;
    let fitting = Fitting {
        id: FittingId::generate(),
        part_id: part.id,
        bike_id,
        place,
        position,
        fitted_at,
        removed_at,
        start,
    };
    tx.insert_fitting(&fitting).await?;
    Ok(fitting)
}

/// Puts a chain, sprockets and rings on a bike. What is said of how far they had run before is said of the chain. Parts are
/// of the kind's models, where it has any.
///
/// # Errors
/// [`StoreError`].
pub(super) async fn fit_all(
    tx: &mut Tx,
    bike_id: BikeId,
    drivetrain: &Drivetrain,
    kind: Option<&BikeKindFacts>,
    (fitted_at, start): (Timestamp, FittingStart),
    now: Timestamp,
) -> Result<(), StoreError> {
    let sprockets = if drivetrain.cogs().len() == 1 { Place::Cog } else { Place::Cassette };
    let rings = (0..drivetrain.rings().len()).filter_map(|i| Position::new(i as i64).ok());
    let places = [(Place::Chain, Position::default()), (sprockets, Position::default())]
        .into_iter()
        .chain(rings.map(|position| (Place::Ring, position)));
    for place in places {
        let start = match start {
            FittingStart::AsFound { .. } if place.0 != Place::Chain => FittingStart::AS_FOUND,
            start => start,
        };
        let model = kind.and_then(|kind| kind.model_at(place.0));
        fit_new(tx, bike_id, place, model, (fitted_at, None), start, now).await?;
    }
    Ok(())
}
