//! When a chain passes its limit: as it was forecast, and as readings show it.

use crate::bike::{Outlook, SWAP_DAYS, SwapTiming};

/// Points of the curve of an outlook of which one is kept.
const THINNED: usize = 3;

/// A stretch that holds the passage with no more probability is left out.
const NEGLIGIBLE: f64 = 1e-9;

/// A forecast of when a chain passes its limit: the probability that it has by so many kilometres, or days, after the
/// forecast was made.
#[derive(Debug, Clone, PartialEq)]
pub struct PassageForecast {
    /// Ahead, and probability; neither falls.
    points: Vec<(f64, f64)>,
}

impl PassageForecast {
    /// By its points; none where there is none, one lies in the past, one is no number or no probability.
    #[must_use]
    pub fn new(points: impl IntoIterator<Item = (f64, f64)>) -> Option<Self> {
        let mut points: Vec<(f64, f64)> = points.into_iter().collect();
        let legal = |(ahead, probability): &(f64, f64)| {
            (0.0..=f64::MAX).contains(ahead) && (0.0..=1.0).contains(probability)
        };
        if points.is_empty() || !points.iter().all(legal) {
            return None;
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut highest = 0.0_f64;
        for (_, probability) in &mut points {
            highest = highest.max(*probability);
            *probability = highest;
        }
        Some(Self { points })
    }

    /// In kilometres, as an outlook told it; none without a chain.
    #[must_use]
    pub fn in_kilometres(outlook: &Outlook) -> Option<Self> {
        let told = outlook.remaining_km?;
        let last = outlook.curve.len().saturating_sub(1);
        let kept = outlook.curve.iter().enumerate();
        let kept = kept.filter(|(place, _)| place % THINNED == 0 || *place == last);
        let curve = kept.map(|(_, point)| (point.ahead_km, point.probability_over_limit));
        Self::new(curve.chain([(told.p10, 0.1), (told.p50, 0.5), (told.p90, 0.9)]))
    }

    /// In days, as an outlook told it, with the probabilities of its next swap; none where no date was told.
    #[must_use]
    pub fn in_days(outlook: &Outlook, swap: &SwapTiming) -> Option<Self> {
        let told = outlook.limit_in_days?;
        let days = SWAP_DAYS.iter().zip(swap.by_day).map(|(day, probability)| (f64::from(*day), probability));
        let told = [(told.p10, 0.1), (told.p50, 0.5), (told.p90, 0.9)];
        Self::new(days.chain(told.into_iter().filter_map(|(day, level)| Some((f64::from(day?), level)))))
    }

    /// Its points: how far ahead, and the probability.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Probability of having passed by `ahead`: on a straight line between two points, the last one's beyond it.
    #[must_use]
    pub fn probability(&self, ahead: f64) -> f64 {
        let after = self.points.partition_point(|(at, _)| *at <= ahead);
        match (after.checked_sub(1).map(|before| self.points[before]), self.points.get(after)) {
            (None, _) => 0.0,
            (Some((_, probability)), None) => probability,
            (Some((from, low)), Some((to, high))) => low + (high - low) * (ahead - from) / (to - from),
        }
    }

    /// Whether it says anything of so far ahead.
    fn reaches(&self, ahead: f64) -> bool {
        self.points.last().is_some_and(|(last, _)| ahead <= *last)
    }

    /// How far ahead that probability is reached; none beyond its points.
    #[must_use]
    pub fn quantile(&self, level: f64) -> Option<f64> {
        let after = self.points.iter().position(|(_, probability)| *probability >= level)?;
        let (to, high) = self.points[after];
        let Some((from, low)) = after.checked_sub(1).map(|before| self.points[before]) else {
            return Some(to);
        };
        Some(from + (to - from) * (level - low) / (high - low))
    }

    /// Between which probabilities of the forecast the passage lies.
    #[must_use]
    pub fn span(&self, between: &Between) -> (f64, f64) {
        let by = match between.by {
            Some(by) if self.reaches(by) => self.probability(by),
            Some(_) | None => 1.0,
        };
        (between.after.map_or(0.0, |after| self.probability(after)).min(by), by)
    }
}

/// Between two inspections.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// After this; none where it may have been at any time before.
    pub after: Option<f64>,
    /// By this; none where it may not have happened yet.
    pub by: Option<f64>,
    /// The probability that it happened so.
    pub probability: f64,
}

/// What readings say of when a chain passed its limit.
///
/// A reading near the limit doesn't tell on which side the chain is. What counts is the probability that it was over by the
/// reading, given the readings up to that one. Among right forecasts its mean is what was forecast, at each reading and
/// however readings were timed, so nothing is decided by half a reading's error. Where a later reading makes less
/// likely what an earlier one had said, both get their mean (pooling of adjacent violators; Ayer et al. 1955, M).
///
/// A chain that comes off mostly does because somebody has just read it, so that it came off says how near its limit it was;
/// to take no more from it than "not yet" would make chains last longer than they do. What it would have done is then given
/// as if it had been read ([`crate::bike::SeenPassing::would_pass`]); a fault that the last look shares with the forecast isn't
/// found by that part. Of a chain that is still on nothing but its readings counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// How far ahead of the forecast, and probability of being over by then; neither falls.
    read: Vec<(f64, f64)>,
}

impl Passage {
    /// From readings after the forecast was made: how far ahead each was taken, and the probability that the chain was over
    /// its limit by then. None without one.
    #[must_use]
    pub fn seen(readings: impl IntoIterator<Item = (f64, f64)>) -> Option<Self> {
        let mut readings: Vec<(f64, f64)> = readings
            .into_iter()
            .filter(|(ahead, over)| ahead.is_finite() && (0.0..=1.0).contains(over))
            .collect();
        readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        // Sum and count of readings that share one probability.
        let mut pooled: Vec<(f64, usize)> = Vec::with_capacity(readings.len());
        for (_, over) in &readings {
            let mut last = (*over, 1);
            while let Some(before) = pooled.last()
                && before.0 / before.1 as f64 >= last.0 / last.1 as f64
            {
                last = (last.0 + before.0, last.1 + before.1);
                pooled.pop();
            }
            pooled.push(last);
        }
        let over = pooled.iter().flat_map(|(sum, count)| std::iter::repeat_n(sum / *count as f64, *count));
        let read: Vec<(f64, f64)> =
            readings.iter().zip(over).map(|((ahead, _), over)| (*ahead, over)).collect();
        (!read.is_empty()).then_some(Self { read })
    }

    /// Between which inspections it passed, each with its probability.
    pub fn between(&self) -> impl Iterator<Item = Between> + '_ {
        let before =
            std::iter::once((None, 0.0)).chain(self.read.iter().map(|(at, over)| (Some(*at), *over)));
        let by = self.read.iter().map(|(at, over)| (Some(*at), *over)).chain(std::iter::once((None, 1.0)));
        before.zip(by).filter_map(|((after, low), (by, high))| {
            let probability = high - low;
            (probability > NEGLIGIBLE).then_some(Between { after, by, probability })
        })
    }

    /// What is known of whether it had passed by `ahead`: the probability that it had, and that it hadn't; what is left of
    /// 1 happened or didn't between two inspections around it.
    #[must_use]
    pub fn by(&self, ahead: f64) -> (f64, f64) {
        let (mut over, mut under) = (0.0, 0.0);
        for between in self.between() {
            if between.by.is_some_and(|by| by <= ahead) {
                over += between.probability;
            } else if between.after.is_some_and(|after| after >= ahead) {
                under += between.probability;
            }
        }
        (over, under)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_invert_probabilities() {
        let forecast =
            PassageForecast::new([(0.0, 0.0), (100.0, 0.2), (300.0, 0.9), (500.0, 0.97)]).expect("legal");
        for level in [0.1, 0.2, 0.55, 0.9, 0.95] {
            let ahead = forecast.quantile(level).expect("within");
            assert!((forecast.probability(ahead) - level).abs() < 1e-12, "{level}");
        }
        assert_eq!((forecast.quantile(0.98), forecast.probability(900.0)), (None, 0.97));
        // Over already: the probability jumps at nought.
        let over = PassageForecast::new([(0.0, 0.1), (0.0, 0.35), (200.0, 0.9)]).expect("legal");
        assert_eq!((over.quantile(0.3), over.probability(0.0)), (Some(0.0), 0.35));
        assert_eq!(PassageForecast::new([]), None);
        assert_eq!(PassageForecast::new([(-1.0, 0.2)]), None);
        assert_eq!(PassageForecast::new([(1.0, 1.2)]), None);
        assert_eq!(PassageForecast::new([(f64::NAN, 0.2)]), None);
    }

    #[test]
    fn what_readings_leave_open_stays_open() {
        let forecast = PassageForecast::new([(0.0, 0.0), (100.0, 0.5), (200.0, 0.9)]).expect("legal");
        let passed = Passage::seen([(150.0, 1.0), (50.0, 0.0)]).expect("read");
        let all: Vec<Between> = passed.between().collect();
        assert_eq!(all, [Between { after: Some(50.0), by: Some(150.0), probability: 1.0 }]);
        let (from, to) = forecast.span(&all[0]);
        assert!((from - 0.25).abs() < 1e-12 && (to - 0.7).abs() < 1e-12);
        let not_yet = Passage::seen([(50.0, 0.0)]).expect("read");
        let open: Vec<Between> = not_yet.between().collect();
        assert_eq!(open, [Between { after: Some(50.0), by: None, probability: 1.0 }]);
        assert_eq!(forecast.span(&open[0]), (0.25, 1.0));
        assert_eq!(
            (passed.by(100.0), passed.by(150.0), passed.by(50.0)),
            ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
        );
        assert_eq!(Passage::seen([]), None);
        // Beyond the points of a forecast nothing is known but that it is beyond.
        let late = Passage::seen([(300.0, 0.0), (400.0, 1.0)]).expect("read");
        assert_eq!(late.between().map(|it| forecast.span(&it)).collect::<Vec<_>>(), [(0.9, 1.0)]);
    }

    #[test]
    fn what_readings_disagree_on_gets_their_mean() {
        let unsure =
            Passage::seen([(1.0, 0.1), (2.0, 0.6), (3.0, 0.3), (4.0, 0.45), (5.0, 0.9)]).expect("read");
        let found: Vec<f64> = unsure.between().map(|it| it.probability).collect();
        for (found, expected) in found.iter().zip([0.1, 0.35, 0.45, 0.1]) {
            assert!((found - expected).abs() < 1e-12, "{found} against {expected}");
        }
        assert!((found.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }
}
