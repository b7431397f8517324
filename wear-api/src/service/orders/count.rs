//! The count of one part over days, and what to order for it: no store, no clock.

use chrono::NaiveDate;
use wear_core::fleet::demand::{Demand, Supply, order_need, shared_deviates};
use wear_core::units::Probability;

use crate::domain::BikeNeeds;

/// Days to count over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Windows {
    /// Days asked about.
    pub horizon: f64,
    /// Days from an order to its arrival.
    pub lead_time: f64,
}

/// What there is of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Shelf {
    /// On the shelf.
    pub on_hand: u32,
    /// Arriving within the lead time.
    pub under_way: u32,
    /// Parts per pack, at least 1.
    pub pack: u32,
    /// What the workshop set.
    pub reorder_point: Option<u32>,
}

/// What to order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reorder {
    /// At this number on hand and under way, or below, more are ordered.
    pub point: usize,
    /// What an order fills up to.
    pub up_to: usize,
    /// Parts to order now, in whole packs.
    pub quantity: usize,
    /// Packs to order now.
    pub packs: usize,
    /// Probability that what there is lasts through the lead time without the order.
    pub lasts_probability: f64,
    /// Parts expected to be missing in the lead time without the order.
    pub expected_short: f64,
}

/// The count of one part.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counted {
    pub mean: f64,
    pub p10: usize,
    pub p50: usize,
    pub p90: usize,
    /// Each use's part of the mean, in the order that they were given.
    pub expected: Vec<f64>,
    pub reorder: Reorder,
}

/// Probability that a bike's swap has come by `days` after today, where what all bikes have in common is `deviate` standard
/// deviations above its median.
pub(super) fn probability_by(bike: &BikeNeeds, today: NaiveDate, days: f64, deviate: f64) -> f64 {
    let age = (today - bike.as_of).num_days().max(0) as f64;
    bike.needs.as_ref().map_or(0.0, |needs| needs.timing.by_given(age + days, deviate))
}

/// Counts uses: `uses(days, deviate)` gives the probability of each within the days under what all bikes have in common.
/// `None` for a pack of nothing.
pub(super) fn count(
    windows: &Windows,
    shelf: Shelf,
    level: Probability,
    uses: impl Fn(f64, f64) -> Vec<f64>,
) -> Option<Counted> {
    let demand = |days: f64| Demand::under_shared_deviate(|deviate| likely(&uses(days, deviate)));
    let over_horizon = demand(windows.horizon);
    let over_lead_time = demand(windows.lead_time);
    let over_both = demand(windows.lead_time + windows.horizon);
    let supply = Supply { on_hand: shelf.on_hand, under_way: shelf.under_way, pack: shelf.pack };
    let need = order_need(&over_lead_time, &over_both, supply, level).ok()?;
    let mut reorder = Reorder {
        point: need.reorder_point,
        up_to: need.order_up_to,
        quantity: need.quantity,
        packs: need.quantity / (shelf.pack.max(1) as usize),
        lasts_probability: need.lasts_probability,
        expected_short: need.expected_short,
    };
    if let Some(point) = shelf.reorder_point {
        set_by_workshop(&mut reorder, point as usize, shelf);
    }
    let mut expected = vec![0.0; uses(0.0, 0.0).len()];
    for (deviate, weight) in shared_deviates() {
        for (sum, p) in expected.iter_mut().zip(uses(windows.horizon, deviate)) {
            *sum += weight * p;
        }
    }
    let tenth = Probability::new(0.1).ok()?;
    let half = Probability::new(0.5).ok()?;
    let nine_tenths = Probability::new(0.9).ok()?;
    Some(Counted {
        mean: over_horizon.mean(),
        p10: over_horizon.quantile(tenth),
        p50: over_horizon.quantile(half),
        p90: over_horizon.quantile(nine_tenths),
        expected,
        reorder,
    })
}

/// Probabilities above zero.
fn likely(probabilities: &[f64]) -> Vec<Probability> {
    probabilities.iter().filter(|p| **p > 0.0).filter_map(|p| Probability::new(p.min(1.0)).ok()).collect()
}

/// The workshop's own point: at or below it, order up to what covers the days, and above the point in any case.
fn set_by_workshop(reorder: &mut Reorder, point: usize, shelf: Shelf) {
    let position = shelf.on_hand as usize + shelf.under_way as usize;
    let pack = shelf.pack.max(1) as usize;
    reorder.point = point;
    reorder.up_to = reorder.up_to.max(point + 1);
    reorder.packs = if position <= point { (reorder.up_to - position).div_ceil(pack) } else { 0 };
    reorder.quantity = reorder.packs * pack;
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOWS: Windows = Windows { horizon: 28.0, lead_time: 7.0 };

    fn shelf(on_hand: u32, reorder_point: Option<u32>) -> Shelf {
        Shelf { on_hand, under_way: 0, pack: 5, reorder_point }
    }

    fn counted(shelf: Shelf) -> Counted {
        // Forty bikes; swaps come with use.
        let uses = |days: f64, deviate: f64| vec![(days * (0.2 * deviate).exp() / 100.0).min(1.0); 40];
        count(&WINDOWS, shelf, Probability::new(0.95).expect("a level"), uses).expect("counted")
    }

    #[test]
    fn the_bikes_add_up_to_the_mean() {
        let counted = counted(shelf(0, None));
        assert_eq!(counted.expected.len(), 40);
        assert!((counted.expected.iter().sum::<f64>() - counted.mean).abs() < 1e-9, "{counted:?}");
        // A log-normal factor of median 1 has mean exp(σ²/2), a little cut where all swap.
        let mean = 40.0 * 0.28 * (0.2_f64 * 0.2 / 2.0).exp();
        assert!((counted.mean / mean - 1.0).abs() < 1e-3, "{counted:?} {mean}");
        assert!(counted.p50 < counted.p90);
    }

    #[test]
    fn orders_are_packs_that_cover_lead_time_and_horizon() {
        let empty = counted(shelf(0, None)).reorder;
        assert_eq!(empty.quantity, empty.packs * 5);
        assert!(empty.quantity >= empty.up_to && empty.quantity < empty.up_to + 5, "{empty:?}");
        assert!(empty.lasts_probability < 0.1 && empty.expected_short > 2.0, "{empty:?}");
        let full = counted(shelf(40, None)).reorder;
        assert_eq!((full.quantity, full.packs), (0, 0));
        assert!(full.lasts_probability > 0.999_999);
    }

    #[test]
    fn the_workshops_own_point_is_kept() {
        let own = counted(shelf(30, Some(30))).reorder;
        assert_eq!((own.point, own.quantity), (30, 5), "{own:?}");
        assert_eq!(counted(shelf(31, Some(30))).reorder.quantity, 0);
        let low = counted(shelf(3, Some(2))).reorder;
        assert_eq!((low.point, low.quantity), (2, 0));
    }
}
