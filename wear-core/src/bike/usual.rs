//! What is usual for a bike of which nothing is recorded.

use super::{Ride, RideTotals};
use crate::drivetrain::Drivetrain;
use crate::exposure::care::Segment;
use crate::exposure::{Conditions, ExposureModel, Use};
use crate::units::RideDistance;

/// Distance of a ride that stands for all, km: exposure is in proportion to it.
const KM: RideDistance = RideDistance::constant(10.0);

/// A bike's riding as it is usual for its use: dry, on pavement, with the use's work per kilometre and usual care.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct UsualRiding {
    /// Kilometres per reference kilometre.
    pub km_per_reference_km: f64,
}

impl UsualRiding {
    pub fn of(drivetrain: &Drivetrain, usage: Use, conditions: &Conditions) -> Self {
        let ride = Ride::of(KM).totals(drivetrain, usage, &ExposureModel::default());
        Self { km_per_reference_km: km_per_reference_km([ride], conditions).unwrap_or(1.0) }
    }
}

/// Kilometres per reference kilometre of riding as a whole: by what surface and water do, and the mean of care
/// that nobody records. None without any.
///
/// ```
/// use wear_core::bike::{RideTotals, km_per_reference_km};
/// use wear_core::exposure::{Conditions, ExposureModel};
/// use wear_core::{Drivetrain, Ride, Surface, Use};
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let drivetrain = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
/// let sums = |ride: Ride| ride.totals(&drivetrain, Use::Town, &ExposureModel::default());
/// let dry = km_per_reference_km([sums(Ride::km(300.0)?)], &Conditions::default());
/// let rides = [sums(Ride::km(300.0)?), sums(Ride::km(30.0)?.surface(Surface::Mud))];
/// let muddy = km_per_reference_km(rides, &Conditions::default());
/// assert!(muddy < dry);
/// assert_eq!(km_per_reference_km([], &Conditions::default()), None);
/// # Ok(())
/// # }
/// ```
#[must_use]
pub fn km_per_reference_km(
    rides: impl IntoIterator<Item = RideTotals>,
    conditions: &Conditions,
) -> Option<f64> {
    let multipliers = conditions.multipliers();
    let (mut km, mut segment) = (0.0, Segment { dry: 0.0, wet: 0.0 });
    for sum in rides {
        let context = sum.context();
        let reference_km = sum.base_reference_mm as f64 / 1e6 * multipliers.get(context).median;
        *(if context.is_wet() { &mut segment.wet } else { &mut segment.dry }) += reference_km;
        km += sum.distance_mm as f64 / 1e6;
    }
    let (reference_km, _) = conditions.unrecorded().exposure(segment);
    (reference_km > 0.0 && km > 0.0).then(|| km / reference_km)
}
