//! Whether as many swaps came as were forecast for a quarter.

use statrs::distribution::{Binomial, DiscreteCDF as _};

use super::track_record::DRIFT_RISK;
use crate::vocabulary::vocabulary;

/// With fewer quarters nothing is said (A).
pub const FEWEST_QUARTERS: u64 = 3;

/// Share of counts below P10, or above P90, at most: counts are whole.
const TAIL: f64 = 0.1;

vocabulary! {
    /// What it means for the next order.
    DemandVerdict, "verdict" {
        /// Too few quarters are over.
        TooFew = "too_few",
        /// The forecasts keep their promise.
        Holds = "holds",
        /// More swaps come than are forecast.
        TooFewForecast = "too_few_forecast",
        /// Fewer swaps come than are forecast.
        TooManyForecast = "too_many_forecast",
        /// Now too many, now too few.
        TooNarrow = "too_narrow",
    }
}

/// Swaps forecast for a quarter, with those that came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuarterDemand {
    /// Forecast: no fewer in nine cases of ten.
    pub p10: u64,
    /// As likely more as fewer.
    pub p50: u64,
    /// No more in nine cases of ten.
    pub p90: u64,
    /// Expected number.
    pub mean: f64,
    /// Bikes that were forecast.
    pub bikes: u64,
    /// Those of them whose chain was swapped.
    pub came: u64,
}

impl QuarterDemand {
    /// Whether the count is between P10 and P90.
    #[must_use]
    pub const fn is_covered(&self) -> bool {
        self.p10 <= self.came && self.came <= self.p90
    }
}

/// How forecasts of counts have done.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[non_exhaustive]
pub struct DemandRecord {
    /// Quarters that are over.
    pub quarters: u64,
    /// Those whose count was between P10 and P90.
    pub covered: u64,
    /// Those in which more came than P90.
    pub above: u64,
    /// Those in which fewer came than P10.
    pub below: u64,
    /// Sum of what was expected.
    pub expected: f64,
    /// Sum of what came.
    pub came: u64,
}

impl DemandRecord {
    /// Of quarters that are over.
    #[must_use]
    pub fn of<'a>(quarters: impl IntoIterator<Item = &'a QuarterDemand>) -> Self {
        let mut record = Self::default();
        for quarter in quarters {
            record.quarters += 1;
            record.covered += u64::from(quarter.is_covered());
            record.above += u64::from(quarter.came > quarter.p90);
            record.below += u64::from(quarter.came < quarter.p10);
            record.expected += quarter.mean;
            record.came += quarter.came;
        }
        record
    }

    /// What it means for the next order.
    #[must_use]
    pub fn verdict(&self) -> DemandVerdict {
        let by_chance = |count: u64, share: f64| {
            let Ok(expected) = Binomial::new(share, self.quarters) else { return true };
            count == 0 || 1.0 - expected.cdf(count - 1) >= DRIFT_RISK
        };
        if self.quarters < FEWEST_QUARTERS {
            DemandVerdict::TooFew
        } else if !by_chance(self.above, TAIL) && self.below == 0 {
            DemandVerdict::TooFewForecast
        } else if !by_chance(self.below, TAIL) && self.above == 0 {
            DemandVerdict::TooManyForecast
        } else if !by_chance(self.above + self.below, 2.0 * TAIL) {
            DemandVerdict::TooNarrow
        } else {
            DemandVerdict::Holds
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quarters(came: &[u64]) -> DemandRecord {
        let quarters: Vec<QuarterDemand> = came
            .iter()
            .map(|came| QuarterDemand { p10: 5, p50: 9, p90: 14, mean: 9.3, bikes: 40, came: *came })
            .collect();
        DemandRecord::of(&quarters)
    }

    #[test]
    fn a_run_on_one_side_is_no_chance() {
        for (came, verdict) in [
            (&[9, 8][..], DemandVerdict::TooFew),
            (&[9, 5, 14, 8], DemandVerdict::Holds),
            (&[9, 15, 14, 8], DemandVerdict::Holds),
            (&[20, 18, 16], DemandVerdict::TooFewForecast),
            (&[1, 2, 3, 9], DemandVerdict::TooManyForecast),
            (&[1, 20, 2, 22], DemandVerdict::TooNarrow),
        ] {
            assert_eq!(quarters(came).verdict(), verdict, "{came:?}");
        }
        let record = quarters(&[9, 15, 4]);
        assert_eq!((record.covered, record.above, record.below, record.came), (1, 1, 1, 28));
        assert!((record.expected - 27.9).abs() < 1e-9);
    }
}
