//! Sums of what many bikes need, each with its own probabilities.

use super::{DEVIATE_STEP, DEVIATES};
use crate::numeric::normal;

/// What one bike needs: values above zero with their probabilities; nothing with what is left.
#[derive(Clone)]
pub(super) struct Outcome(Vec<(f64, f64)>);

impl Outcome {
    pub fn of(values: impl IntoIterator<Item = (f64, f64)>) -> Self {
        Self(values.into_iter().filter(|(value, p)| *value > 0.0 && *p > 0.0).collect())
    }

    fn moment(&self, power: i32) -> f64 {
        self.0.iter().map(|(value, p)| p * value.powi(power)).sum()
    }
}

/// Sums that are less skewed than this are told by their first three moments (A).
const SKEWED: f64 = 0.2;

/// Values of a sum that is told value by value, and how far it reaches in standard deviations.
const VALUES: usize = 512;
const REACH: f64 = 9.0;

/// The sum under one value of what all have in common.
#[derive(Clone)]
struct Given {
    mean: f64,
    sd: f64,
    skew: f64,
    /// P(sum ≤ i·step), where it is told value by value.
    below: Vec<f64>,
    step: f64,
}

/// Outcomes of bikes that are told value by value; of more of them the moments tell.
const FEW: usize = 1_000;

/// Outcomes of bikes that are independent of each other.
#[derive(Default)]
pub(super) struct Sum {
    mean: f64,
    variance: f64,
    third: f64,
    count: usize,
    few: Vec<Outcome>,
}

impl Sum {
    pub fn add(&mut self, outcome: &Outcome) {
        let (one, two, three) = (outcome.moment(1), outcome.moment(2), outcome.moment(3));
        self.mean += one;
        self.variance += two - one * one;
        self.third += three - 3.0 * one * two + 2.0 * one * one * one;
        self.count += 1;
        if self.count <= FEW {
            self.few.push(outcome.clone());
        }
    }
}

impl Given {
    fn of(sum: &Sum, whole_numbers: bool) -> Self {
        let (mean, sd) = (sum.mean, sum.variance.max(0.0).sqrt());
        let skew = if sd > 0.0 { sum.third / sd.powi(3) } else { 0.0 };
        let mut given = Self { mean, sd, skew, below: Vec::new(), step: 1.0 };
        if mean > 0.0 && (skew.abs() >= SKEWED || sd == 0.0) {
            if sum.count <= FEW {
                given.value_by_value(&sum.few, whole_numbers);
            } else if whole_numbers {
                given.rare();
            }
        }
        given
    }

    /// Of many that are each unlikely: Poisson.
    fn rare(&mut self) {
        let end = (self.mean + REACH * self.sd * (1.0 + self.skew)) as usize + 2;
        let (mut p, mut sum) = ((-self.mean).exp(), 0.0);
        self.below = (0..end)
            .map(|count| {
                if count > 0 {
                    p *= self.mean / count as f64;
                }
                sum += p;
                sum
            })
            .collect();
    }

    fn value_by_value(&mut self, pieces: &[Outcome], whole_numbers: bool) {
        let largest: f64 =
            pieces.iter().map(|piece| piece.0.iter().map(|(value, _)| *value).fold(0.0, f64::max)).sum();
        let end = largest.min(self.mean + REACH * self.sd.max(1e-9 * self.mean) * (1.0 + self.skew));
        self.step = if whole_numbers { 1.0 } else { (end / VALUES as f64).max(1e-9) };
        let count = (end / self.step).ceil() as usize + 2;
        let mut mass = vec![0.0; count];
        mass[0] = 1.0;
        let mut reached = 0_usize;
        for piece in pieces {
            // Between two values of the grid by straight lines, which keeps the mean.
            let moves: Vec<(usize, f64)> = piece
                .0
                .iter()
                .flat_map(|(value, p)| {
                    let at = value / self.step;
                    let (whole, rest) = (at.floor(), at - at.floor());
                    [(whole as usize, p * (1.0 - rest)), (whole as usize + 1, p * rest)]
                })
                .filter(|(_, p)| *p > 0.0)
                .collect();
            let stays = 1.0 - piece.moment(0);
            let most = moves.iter().map(|(by, _)| *by).max().unwrap_or(0);
            let end = (reached + most).min(count - 1);
            for i in (0..=end).rev() {
                let come = moves.iter().filter(|(by, _)| *by > 0 && *by <= i).map(|(by, p)| p * mass[i - by]);
                let stay = moves.iter().filter(|(by, _)| *by == 0).map(|(_, p)| p).sum::<f64>() + stays;
                mass[i] = mass[i] * stay.max(0.0) + come.sum::<f64>();
            }
            reached = end;
        }
        let mut sum = 0.0;
        self.below = mass
            .into_iter()
            .map(|p| {
                sum += p;
                sum
            })
            .collect();
    }
}

/// A sum under each value of what all have in common.
#[derive(Clone)]
pub(super) struct Total(Vec<(usize, Given)>);

/// Between two values of what is common, so many more by straight lines.
const BETWEEN: usize = 8;

impl Total {
    pub const EMPTY: Self = Self(Vec::new());

    pub fn add(&mut self, place: usize, sum: &Sum, whole_numbers: bool) {
        self.0.push((place, Given::of(sum, whole_numbers)));
    }

    /// Quantiles of the mixture.
    pub fn range(&self, weights: &[f64], whole_numbers: bool) -> super::Range {
        let mean: f64 = self.0.iter().map(|(place, given)| weights[*place] * given.mean).sum();
        if mean <= 0.0 {
            return super::Range::default();
        }
        let smooth = self.smooth(weights);
        let below = |value: f64| -> f64 {
            let listed: f64 = self
                .0
                .iter()
                .filter(|(_, given)| !given.below.is_empty())
                .map(|(place, given)| {
                    let at = (value / given.step + 1e-9).floor() as usize;
                    weights[*place] * given.below[at.min(given.below.len() - 1)]
                })
                .sum();
            let told: f64 = smooth.iter().map(|it| it.weight * it.below(value)).sum();
            listed + told
        };
        let most = self
            .0
            .iter()
            .map(|(_, given)| given.mean + REACH * given.sd * (1.0 + given.skew.abs()))
            .fold(0.0, f64::max)
            + 2.0;
        let quantile = |level: f64| {
            if whole_numbers {
                let (mut low, mut high) = (0_u64, most.ceil() as u64);
                while low < high {
                    let middle = low.midpoint(high);
                    if below(middle as f64 + 0.5) < level { low = middle + 1 } else { high = middle }
                }
                return low as f64;
            }
            if below(0.0) >= level {
                return 0.0;
            }
            let (mut low, mut high) = (0.0, most);
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                *(if below(middle) < level { &mut low } else { &mut high }) = middle;
            }
            high
        };
        super::Range { p10: quantile(0.1), p50: quantile(0.5), p90: quantile(0.9), mean }
    }

    /// Those that their moments tell, with more of them in between: one alone is narrower than the step to the next where
    /// bikes are many.
    fn smooth(&self, weights: &[f64]) -> Vec<Smooth> {
        let told = |place: usize| self.0.get(place).map(|(_, given)| given).filter(|it| it.below.is_empty());
        let mut all = Vec::new();
        for place in 0..self.0.len() {
            let Some(here) = told(place) else { continue };
            for part in 0..BETWEEN {
                let away = (part as f64 + 0.5) / BETWEEN as f64 - 0.5;
                let other = if away < 0.0 { place.checked_sub(1) } else { Some(place + 1) };
                let to = other.and_then(told).unwrap_or(here);
                let by = away.abs();
                let between = |of: fn(&Given) -> f64| of(here) + by * (of(to) - of(here));
                // The density of a normal falls within the step, too.
                let z = DEVIATE_STEP * (place as f64 - (DEVIATES / 2) as f64 + away);
                all.push(Smooth {
                    weight: normal::density(z),
                    mean: between(|it| it.mean),
                    sd: between(|it| it.sd),
                    skew: between(|it| it.skew),
                });
            }
        }
        let listed: f64 = self
            .0
            .iter()
            .filter(|(_, given)| !given.below.is_empty())
            .map(|(place, _)| weights[*place])
            .sum();
        let whole: f64 = all.iter().map(|it| it.weight).sum();
        all.iter_mut().for_each(|it| it.weight *= (1.0 - listed) / whole);
        all
    }
}

struct Smooth {
    weight: f64,
    mean: f64,
    sd: f64,
    skew: f64,
}

impl Smooth {
    /// Edgeworth's first correction for the skew.
    fn below(&self, value: f64) -> f64 {
        if self.sd <= 0.0 {
            return f64::from(u8::from(value >= self.mean));
        }
        let z = (value - self.mean) / self.sd;
        (normal::distribution(z) - self.skew / 6.0 * (z * z - 1.0) * normal::density(z)).clamp(0.0, 1.0)
    }
}
