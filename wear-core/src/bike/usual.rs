//! What is usual for a bike of which nothing is recorded.

use super::Ride;
use crate::drivetrain::Drivetrain;
use crate::exposure::care::{CareModel, Segment};
use crate::exposure::{ExposureModel, Use};
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
    pub fn of(drivetrain: &Drivetrain, usage: Use) -> Self {
        let ride = Ride::of(KM).totals(drivetrain, usage, &ExposureModel::default());
        let dry = ride.base_reference_mm as f64 / 1e6;
        let (reference_km, _) = CareModel::default().unrecorded().exposure(Segment { dry, wet: 0.0 });
        Self { km_per_reference_km: if reference_km > 0.0 { KM.get() / reference_km } else { 1.0 } }
    }
}
