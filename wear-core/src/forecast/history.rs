//! A bike's daily use in the form that a fit takes.

use super::daily_use::{DailyUse, SEASON_DAYS};

/// Days of a block of the fit.
pub(super) const BLOCK: usize = 28;

/// Days without a ride at the end of a record after which the bike counts as out of use, rather than as resting (A).
const OUT_OF_USE_DAYS: usize = 182;

/// Daily use of one bike, in the form that a fit takes: sums over four weeks, the same four for all bikes.
///
/// Stored in short, distances to the metre.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(from = "Kept", into = "Kept")
)]
pub struct UseHistory {
    pub(super) first: i64,
    pub(super) days: usize,
    pub(super) blocks: Vec<BlockSum>,
    pub(super) scatter: Scatter,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BlockSum {
    pub block: i64,
    pub days: f64,
    pub used: DailyUse,
}

/// Squared differences of neighbouring weeks over their sums: the variance of use over its mean, whatever the season.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Scatter {
    pub squares: f64,
    pub sums: f64,
}

impl Scatter {
    /// From use by age in days, yesterday first.
    pub fn of(by_age: impl Iterator<Item = f64>) -> Self {
        let days: Vec<f64> = by_age.collect();
        let weeks: Vec<f64> = days.chunks_exact(7).map(|week| week.iter().sum()).collect();
        let mut scatter = Self::default();
        for pair in weeks.windows(2) {
            scatter.squares += (pair[0] - pair[1]).powi(2);
            scatter.sums += pair[0] + pair[1];
        }
        scatter
    }

    /// Variance of a sum over its mean, reference km, with `weight` reference km a week in pairs of a prior.
    pub fn dispersion(&self, prior: f64, weight: f64) -> f64 {
        (self.squares + prior * weight) / (self.sums + weight)
    }
}

impl UseHistory {
    /// From use of each day, oldest first; `first_day` is counted since 1970-01-01. The last [`SEASON_DAYS`] count, and
    /// neither do days before the first ride nor half a year and more of rest at the end. `None` for a bike that was never
    /// ridden, or when a number is negative or not finite.
    #[must_use]
    pub fn of(first_day: i64, days: &[DailyUse]) -> Option<Self> {
        if !days.iter().all(DailyUse::is_sound) {
            return None;
        }
        let dropped = days.len().saturating_sub(SEASON_DAYS);
        let begins = dropped + days[dropped..].iter().position(DailyUse::is_ridden)?;
        let ridden_to = days.iter().rposition(DailyUse::is_ridden)? + 1;
        let ends = if days.len() - ridden_to > OUT_OF_USE_DAYS { ridden_to } else { days.len() };
        let first = first_day.checked_add(i64::try_from(begins).ok()?)?;
        let days = &days[begins..ends];
        let mut blocks: Vec<BlockSum> = Vec::new();
        for (day, used) in (first..).zip(days) {
            let block = day.div_euclid(BLOCK as i64);
            match blocks.last_mut().filter(|last| last.block == block) {
                Some(last) => {
                    last.days += 1.0;
                    last.used.km += used.km;
                    last.used.reference_km += used.reference_km;
                }
                None => blocks.push(BlockSum { block, days: 1.0, used: *used }),
            }
        }
        let scatter = Scatter::of(days.iter().rev().map(|day| day.reference_km));
        Some(Self { first, days: days.len(), blocks, scatter })
    }

    /// The same with what an earlier one knows of the days before `first_day`, in whole blocks: where this one was made of
    /// less than the whole record.
    #[must_use]
    pub fn continuing(mut self, earlier: &Self, first_day: i64) -> Self {
        let (end, oldest) = (self.end(), self.end() - SEASON_DAYS as i64);
        let begins = |block: &BlockSum| block.block * BLOCK as i64;
        let until = first_day.min(self.blocks.first().map_or(first_day, begins));
        let before = earlier.blocks.iter().filter(|block| begins(block) + BLOCK as i64 <= until);
        let mut blocks: Vec<BlockSum> = before.filter(|block| begins(block) >= oldest).copied().collect();
        if let Some(block) = blocks.first() {
            self.first = begins(block).max(earlier.first);
            self.days = usize::try_from(end - self.first).unwrap_or(self.days);
            blocks.append(&mut self.blocks);
            self.blocks = blocks;
        }
        self
    }

    /// The first day, counted since 1970-01-01.
    #[must_use]
    pub const fn first_day(&self) -> i64 {
        self.first
    }

    pub(super) fn end(&self) -> i64 {
        self.first + self.days as i64
    }
}

/// As it is stored: metres, and their squares.
#[cfg(feature = "serde")]
#[derive(serde::Serialize, serde::Deserialize)]
struct Kept {
    first: i64,
    days: usize,
    /// Number, days, metres, reference metres.
    blocks: Vec<(i64, u32, u64, u64)>,
    scatter: (u64, u64),
}

#[cfg(feature = "serde")]
impl From<UseHistory> for Kept {
    fn from(history: UseHistory) -> Self {
        let UseHistory { first, days, blocks, scatter: Scatter { squares, sums } } = history;
        let metres = |km: f64| (1e3 * km).round() as u64;
        let blocks = blocks.into_iter().map(|BlockSum { block, days, used }| {
            (block, days as u32, metres(used.km), metres(used.reference_km))
        });
        Self {
            first,
            days,
            blocks: blocks.collect(),
            scatter: ((1e6 * squares).round() as u64, metres(sums)),
        }
    }
}

#[cfg(feature = "serde")]
impl From<Kept> for UseHistory {
    fn from(kept: Kept) -> Self {
        let Kept { first, days, blocks, scatter: (squares, sums) } = kept;
        let km = |metres: u64| 1e-3 * metres as f64;
        let blocks = blocks.into_iter().map(|(block, days, metres, reference_metres)| BlockSum {
            block,
            days: f64::from(days),
            used: DailyUse { km: km(metres), reference_km: km(reference_metres) },
        });
        let scatter = Scatter { squares: 1e-6 * squares as f64, sums: km(sums) };
        Self { first, days, blocks: blocks.collect(), scatter }
    }
}

/// The middle of a block, days since 1970-01-01.
pub(super) fn middle_of(block: i64) -> f64 {
    (block as f64 + 0.5) * BLOCK as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(reference_km: f64) -> DailyUse {
        DailyUse { km: reference_km, reference_km }
    }

    #[test]
    fn all_bikes_have_the_same_blocks() {
        let (first, days) = (20_000, [day(1.0); 100]);
        let early = UseHistory::of(first, &days).expect("used");
        let late = UseHistory::of(first + 40, &days[40..]).expect("used");
        assert_eq!(early.end(), late.end());
        let last = |history: &UseHistory| history.blocks.last().map(|block| (block.block, block.days));
        assert_eq!(last(&early), last(&late));
        assert_eq!(early.blocks.iter().map(|block| block.days).sum::<f64>(), 100.0);
    }

    #[test]
    fn before_the_first_ride_and_after_the_last_there_is_no_use() {
        let mut days = vec![day(0.0); 50];
        days.extend([day(10.0); 60]);
        days.extend([day(0.0); 120]);
        let resting = UseHistory::of(1_000, &days).expect("used");
        assert_eq!((resting.first, resting.days), (1_050, 180));
        days.extend([day(0.0); 90]);
        let sold = UseHistory::of(1_000, &days).expect("used");
        assert_eq!((sold.first, sold.days), (1_050, 60));
        assert_eq!(UseHistory::of(0, &days[..50]), None);
        assert_eq!(UseHistory::of(0, &[day(f64::NAN)]), None);
    }

    #[test]
    fn what_was_known_before_goes_on() {
        let days: Vec<DailyUse> = (0..200).map(|age| day(f64::from(age))).collect();
        let whole = UseHistory::of(20_000, &days).expect("used");
        // 20,050 lies within a block, of which neither of the two knows all.
        let late = UseHistory::of(20_050, &days[50..]).expect("used");
        let joined = late.clone().continuing(&whole, 20_050);
        assert_eq!((joined.first, joined.end()), (whole.first, whole.end()));
        assert_eq!(joined.blocks[0], whole.blocks[0]);
        assert_eq!(joined.blocks.last(), whole.blocks.last());
        assert!(joined.blocks.windows(2).all(|pair| pair[0].block < pair[1].block));
        assert_eq!(whole.clone().continuing(&whole, 20_000), whole);
        assert_eq!(late.clone().continuing(&late, 20_050), late);
    }

    #[test]
    fn scatter_is_of_weeks_and_not_of_their_trend() {
        let rising = Scatter::of((0..140).map(|age| 20.0 - 0.05 * f64::from(age)));
        assert!(rising.dispersion(0.0, 0.0) < 0.1, "{rising:?}");
        let uneven = Scatter::of((0..140).map(|age| if age / 7 % 2 == 0 { 30.0 } else { 10.0 }));
        assert!(uneven.dispersion(0.0, 0.0) > 60.0, "{uneven:?}");
        assert_eq!(Scatter::default().dispersion(5.0, 2.0), 5.0);
    }
}
