//! How a part of a bike is swapped safely.

use wear_core::drivetrain::procedure::{BikeAtHand, CogBuild, Shifting, Step, SwapOf, steps};

use super::{Actor, ServiceError, Services};
use crate::domain::{BikeId, Geometry, Place, Use};

/// The steps of several swaps in one visit, in an order in which each can be done: pedals and cranks are loosened while the
/// wheels stand and the chain is on, all comes off, is cleaned, goes on again, the chain last; then the checks.
const TOGETHER: [&str; 41] = [
    "motor_off",
    "pedals_first",
    "stand",
    "battery",
    "slacken",
    "read_old",
    "open_chain",
    "crank_off",
    "ring_off",
    "hub_cable",
    "wheel_out",
    "lock_ring_off",
    "cog_off",
    "look_at_body",
    "clean",
    "ring_on",
    "crank_on",
    "crank_fast",
    "cassette_on",
    "cogs_on",
    "cog_on",
    "lock_ring_on",
    "no_play",
    "wheel_in",
    "wheel_fast",
    "length",
    "cut",
    "thread",
    "close",
    "link_seated",
    "no_stiff_link",
    "front_cage",
    "end_stops",
    "cog_clearance",
    "indexing",
    "largest_to_largest",
    "slack_set",
    "hub_indexing",
    "skip_test",
    "first_ride",
    "enter",
];

/// The steps of several swaps as one list, each once, with the swaps that ask for it.
#[must_use]
pub fn together(swaps: &[SwapOf], bike: BikeAtHand) -> Vec<(Step, Vec<SwapOf>)> {
    let mut all: Vec<(Step, Vec<SwapOf>)> = Vec::new();
    for &swap in swaps {
        for step in steps(swap, bike) {
            match all.iter_mut().find(|(known, _)| known.id == step.id) {
                Some((_, askers)) => askers.push(swap),
                None => all.push((step, vec![swap])),
            }
        }
    }
    let place = |step: &Step| TOGETHER.iter().position(|id| *id == step.id).unwrap_or(TOGETHER.len());
    all.sort_by_key(|(step, _)| place(step));
    all
}

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
    let at_hand = at_hand(services, actor, bike_id, shifting).await?;
    Ok((at_hand, steps(swap, at_hand)))
}

/// What a bike is taken for.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn at_hand(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    shifting: Option<Shifting>,
) -> Result<BikeAtHand, ServiceError> {
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
    Ok(BikeAtHand {
        gearing: drivetrain.gearing(),
        cogs,
        shifting,
        motor: matches!(bike.facts.usage, Use::EBike | Use::ECargo),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use wear_core::drivetrain::Gearing;
    use wear_core::drivetrain::procedure::ALL;

    fn bikes() -> Vec<BikeAtHand> {
        let mut bikes = Vec::new();
        for &gearing in Gearing::ALL {
            for &cogs in CogBuild::ALL {
                for shifting in [None, Some(Shifting::Cable), Some(Shifting::Electronic)] {
                    bikes.push(BikeAtHand { gearing, cogs, shifting, motor: true });
                }
            }
        }
        bikes
    }

    #[test]
    fn every_step_has_its_place_and_no_swap_is_put_out_of_order() {
        for step in ALL.iter().filter(|step| step.id != "battery") {
            assert!(TOGETHER.contains(&step.id), "{}", step.id);
        }
        for bike in bikes() {
            for &swap in SwapOf::ALL {
                let own: Vec<_> = steps(swap, bike).iter().map(|step| step.id).collect();
                let alone: Vec<_> = together(&[swap], bike).iter().map(|(step, _)| step.id).collect();
                assert_eq!(alone, own, "{swap:?} {bike:?}");
            }
        }
    }

    #[test]
    fn in_one_visit_what_hurts_comes_in_the_order_that_spares_hands() {
        for bike in bikes() {
            let all = together(SwapOf::ALL, bike);
            let at = |id: &str| all.iter().position(|(step, _)| step.id == id);
            let before =
                |a: &str, b: &str| assert!(at(a).zip(at(b)).is_none_or(|(a, b)| a < b), "{a} {b} {bike:?}");
            assert!(at("pedals_first").is_some());
            for later in ["stand", "open_chain", "crank_off", "wheel_out"] {
                before("pedals_first", later);
            }
            before("wheel_in", "thread");
            before("link_seated", "end_stops");
            before("skip_test", "first_ride");
            assert_eq!(all.iter().filter(|(step, _)| step.id == "first_ride").count(), 1);
        }
    }
}
