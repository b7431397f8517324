//! How far a group's bikes come on a reference kilometre.

use chrono::Days;
use wear_core::bike::{RideTotals, km_per_reference_km};
use wear_core::exposure::Conditions;

use super::{GroupName, Timestamp};

/// Riding that a group's kilometres are learned from: a year, so that no season counts twice.
pub const LEARNED_OVER: Days = Days::new(365);

/// A group that rode less than this in the year says nothing, km (A): one wet ride isn't what its bikes will do.
const LEAST_KM: f64 = 300.0;

/// Millimetres in a kilometre.
const MM_PER_KM: f64 = 1e6;

/// Kilometres per reference kilometre of a group: what a bike without riding of its own is told in kilometres by.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupKilometres {
    /// The group.
    pub group: GroupName,
    /// Kilometres per reference kilometre.
    pub km_per_reference_km: f64,
    /// Distance that its bikes rode in the year, mm.
    pub distance_mm: i64,
    /// When it was learned.
    pub learned_at: Timestamp,
}

impl GroupKilometres {
    /// From the sums of what a group's bikes rode in the year, in each context; none where that is too little.
    #[must_use]
    pub fn of(
        group: GroupName,
        rides: &[RideTotals],
        conditions: &Conditions,
        learned_at: Timestamp,
    ) -> Option<Self> {
        let distance_mm: i64 = rides.iter().map(|sum| sum.distance_mm).sum();
        if (distance_mm as f64) < LEAST_KM * MM_PER_KM {
            return None;
        }
        let km_per_reference_km = km_per_reference_km(rides.iter().copied(), conditions)?;
        Some(Self { group, km_per_reference_km, distance_mm, learned_at })
    }
}
