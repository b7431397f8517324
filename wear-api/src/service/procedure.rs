//! How a part of a bike is swapped safely.

use wear_core::drivetrain::procedure::{BikeAtHand, CogBuild, Shifting, Step, SwapOf, steps};

use super::{Actor, ServiceError, Services};
use crate::domain::{BikeId, Geometry, Place, Use};

/// The steps of a swap on a bike, in order, and what the bike was taken for.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn of_bike(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    swap: SwapOf,
    shifting: Option<Shifting>,
) -> Result<(BikeAtHand, Vec<Step>), ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let fittings = tx.fittings_of_bike(bike_id).await?;
    let sprockets = fittings.iter().find(|fitting| {
        fitting.removed_at.is_none() && matches!(fitting.place, Place::Cassette | Place::Cog)
    });
    let model_id = match sprockets {
        Some(fitting) => tx.part(fitting.part_id).await?.facts.model_id,
        None => None,
    };
    let geometry = match model_id {
        Some(model_id) => Some(tx.part_model(model_id).await?.facts.geometry),
        None => None,
    };
    let drivetrain = &bike.facts.drivetrain;
    let cogs = match geometry {
        _ if drivetrain.cogs().len() == 1 => CogBuild::SingleCog,
        Some(Geometry::Cassette { one_piece: false, .. } | Geometry::Cog { .. }) => CogBuild::SeparateCogs,
        _ => CogBuild::OnePiece,
    };
    let at_hand = BikeAtHand {
        gearing: drivetrain.gearing(),
        cogs,
        shifting,
        motor: matches!(bike.facts.usage, Use::EBike | Use::ECargo),
    };
    Ok((at_hand, steps(swap, at_hand)))
}
