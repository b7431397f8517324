//! Track record: what was forecast, held against what was read later.
//!
//! A [`Forecast`] is made when something new is known of a chain and kept as it is: the quantiles of its elongation at
//! several exposures ahead. When the next reading arrives, [`Score::of`] holds the forecast against it, together with
//! two naive answers. [`Tally`] adds scores up, and [`Tally::record`] says how good they are.
//!
//! Readings are what is scored, not swaps: every reading counts, whether or not its chain ever reaches the limit, so
//! nothing is picked by its outcome.

use statrs::distribution::{Binomial, DiscreteCDF as _};

use crate::degradation::{Posterior, Quantiles, WearParameters};
use crate::numeric::normal;
use crate::reading::{Calibration, Content, Measurement};
use crate::units::ReferenceKilometres;

/// Exposures ahead for which a forecast is kept, reference km (A: doubling, as the spread grows with the distance).
pub const AHEAD_KM: [f64; 8] = [0.0, 100.0, 200.0, 400.0, 800.0, 1_600.0, 3_200.0, 6_400.0];

/// Share of readings that the interval from P10 to P90 should hold.
pub const INTERVAL: f64 = 0.8;

/// A fleet whose intervals are right leaves the band of [`Record::coverage_band`] once in a hundred looks (A).
pub const DRIFT_RISK: f64 = 0.01;

const LEVELS: [f64; 3] = [0.1, 0.5, 0.9];

/// Standard normal quantile at 90 %.
const Z90: f64 = 1.281_551_565_544_6;

/// Elongation of one chain at exposures to come, as it was seen at one time.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    at: f64,
    quantiles: Vec<Quantiles>,
}

impl Forecast {
    /// What `posterior` says at exposure `at` of the exposures [`AHEAD_KM`] later.
    #[must_use]
    pub fn of(posterior: &Posterior, at: ReferenceKilometres) -> Self {
        let quantiles = AHEAD_KM
            .iter()
            .filter_map(|ahead| ReferenceKilometres::new(at.get() + ahead).ok())
            .map(|then| posterior.elongation_range(then))
            .collect();
        Self { at: at.get(), quantiles }
    }

    /// A forecast that was kept; none when the quantiles aren't in order or there are not enough of them.
    #[must_use]
    pub fn kept(at: ReferenceKilometres, quantiles: Vec<Quantiles>) -> Option<Self> {
        let in_order =
            |q: &Quantiles| q.p10.is_finite() && q.p10 <= q.p50 && q.p50 <= q.p90 && q.p90.is_finite();
        (!quantiles.is_empty() && quantiles.len() <= AHEAD_KM.len() && quantiles.iter().all(in_order))
            .then_some(Self { at: at.get(), quantiles })
    }

    /// Exposure of the chain when it was made, reference km.
    #[must_use]
    pub const fn at_reference_km(&self) -> f64 {
        self.at
    }

    /// Elongation at each of [`AHEAD_KM`], percent.
    #[must_use]
    pub fn quantiles(&self) -> &[Quantiles] {
        &self.quantiles
    }

    /// Elongation forecast for exposure `at`, percent, between two kept exposures by a straight line; none beyond the
    /// last one or before the forecast was made.
    #[must_use]
    pub fn elongation(&self, at: ReferenceKilometres) -> Option<Quantiles> {
        let ahead = at.get() - self.at;
        if ahead < 0.0 {
            return None;
        }
        let kept = &AHEAD_KM[..self.quantiles.len()];
        if ahead <= kept[0] {
            return self.quantiles.first().copied();
        }
        let right = kept.iter().position(|end| ahead <= *end)?;
        let (from, to) = (kept[right - 1], kept[right]);
        let share = (ahead - from) / (to - from);
        let (a, b) = (self.quantiles[right - 1], self.quantiles[right]);
        let mix = |a: f64, b: f64| a + share * (b - a);
        Some(Quantiles { p10: mix(a.p10, b.p10), p50: mix(a.p50, b.p50), p90: mix(a.p90, b.p90) })
    }
}

/// What someone without a model would have expected, percent elongation.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct NaiveAnswers {
    /// All chains wear alike: the default rate, whatever was read.
    pub fixed_distance: f64,
    /// A straight line from a new chain's elongation through what was read before, by least squares.
    pub straight_line: f64,
}

impl NaiveAnswers {
    /// For exposure `at`, from the numbers read `before`: exposure and percent. Both naive answers are given our
    /// reference kilometres, which flatters them: they would have the kilometres of the tachometer.
    #[must_use]
    pub fn at(at: ReferenceKilometres, before: &[(ReferenceKilometres, f64)]) -> Self {
        let default = WearParameters::default();
        let start = default.initial_mean();
        let fixed_distance = start + default.mean_log_rate().exp() * at.get();
        // b = Σ s(y − y0) / Σ s²
        let (products, squares) = before.iter().fold((0.0, 0.0), |(products, squares), (s, y)| {
            (products + s.get() * (y - start), squares + s.get() * s.get())
        });
        let straight_line =
            if squares > 0.0 { start + products / squares * at.get() } else { fixed_distance };
        Self { fixed_distance, straight_line }
    }
}

/// How one forecast did on one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Score {
    /// The instrument gave a number.
    Number {
        /// What was forecast of the number, the instrument's own bias and scatter included.
        forecast: Quantiles,
        /// What was read.
        read: f64,
        /// Pinball losses, percent elongation, mean over P10, P50 and P90.
        loss: Losses,
    },
    /// A gauge dropped in or not.
    Gauge {
        /// Forecast probability that it drops in.
        probability: f64,
        /// Whether it did.
        drops_in: bool,
    },
}

/// Pinball losses, the smaller the better.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Losses {
    /// Of the forecast.
    pub forecast: f64,
    /// Of the same distance for all chains.
    pub fixed_distance: f64,
    /// Of a straight line through the readings before.
    pub straight_line: f64,
}

impl Score {
    /// Holds the forecast elongation at a reading's exposure against the reading, whose tool and person err as `calibration`
    /// says.
    ///
    /// Between its quantiles the forecast is taken as two halves of normal distributions that meet at the median, each
    /// widened by the instrument's scatter and what isn't known of its bias:
    /// `σ² = ((q − q50)/1.2816)² + σ_instrument²`.
    #[must_use]
    pub fn of(
        elongation: Quantiles,
        naive: NaiveAnswers,
        measurement: &Measurement,
        calibration: Calibration,
    ) -> Self {
        let scatter = measurement.sd(calibration);
        let widened = |side: f64| ((side / Z90).powi(2) + scatter * scatter).sqrt();
        let (below, above) =
            (widened(elongation.p50 - elongation.p10), widened(elongation.p90 - elongation.p50));
        let centre = elongation.p50 + calibration.bias();
        match measurement.content() {
            Content::Elongation(spots) => {
                let read = spots.mean();
                let forecast =
                    Quantiles { p10: centre - Z90 * below, p50: centre, p90: centre + Z90 * above };
                let point = |point: f64| pinball([point + calibration.bias(); 3], read);
                let loss = Losses {
                    forecast: pinball([forecast.p10, forecast.p50, forecast.p90], read),
                    fixed_distance: point(naive.fixed_distance),
                    straight_line: point(naive.straight_line),
                };
                Self::Number { forecast, read, loss }
            }
            Content::Gauge { mark, drops_in } => {
                let z = centre - mark.get();
                let probability = normal::distribution(z / if z > 0.0 { below } else { above });
                Self::Gauge { probability, drops_in }
            }
        }
    }
}

/// Mean over the levels of `max(τ(y − q), (τ − 1)(y − q))` (Koenker & Bassett 1978, M).
fn pinball(quantiles: [f64; 3], read: f64) -> f64 {
    let loss = |(level, q): (f64, f64)| (level * (read - q)).max((level - 1.0) * (read - q));
    LEVELS.into_iter().zip(quantiles).map(loss).sum::<f64>() / LEVELS.len() as f64
}

/// Sums over scores: they add up over groups and months.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    /// Readings that gave a number.
    pub readings: u64,
    /// Those of them between P10 and P90.
    pub covered: u64,
    /// Sum of read minus P50, percent.
    pub bias: f64,
    /// Sums of the losses.
    pub loss: Losses,
    /// Gauge answers.
    pub gauges: u64,
    /// Sum of (probability − answer)², the answer 1 when it dropped in.
    pub brier: f64,
}

impl std::ops::AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.readings += other.readings;
        self.covered += other.covered;
        self.bias += other.bias;
        self.loss.forecast += other.loss.forecast;
        self.loss.fixed_distance += other.loss.fixed_distance;
        self.loss.straight_line += other.loss.straight_line;
        self.gauges += other.gauges;
        self.brier += other.brier;
    }
}

impl From<&Score> for Tally {
    fn from(score: &Score) -> Self {
        match *score {
            Score::Number { forecast, read, loss } => Self {
                readings: 1,
                covered: u64::from(forecast.p10 <= read && read <= forecast.p90),
                bias: read - forecast.p50,
                loss,
                ..Self::default()
            },
            Score::Gauge { probability, drops_in } => Self {
                gauges: 1,
                brier: (probability - f64::from(u8::from(drops_in))).powi(2),
                ..Self::default()
            },
        }
    }
}

/// How good forecasts have been.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Record {
    /// Share of readings between P10 and P90; [`INTERVAL`] is right.
    pub coverage: f64,
    /// Shares between which the coverage of right intervals lies but for [`DRIFT_RISK`], as few readings as there are.
    pub coverage_band: (f64, f64),
    /// Mean of read minus P50, percent: above nought, chains wear faster than forecast.
    pub bias: f64,
    /// Mean losses.
    pub loss: Losses,
}

impl Record {
    /// Whether the coverage has left its band: the intervals are too narrow, or too wide.
    #[must_use]
    pub fn has_drifted(&self) -> bool {
        self.coverage < self.coverage_band.0 || self.coverage > self.coverage_band.1
    }
}

impl Tally {
    /// How good the forecasts of numbers were; none when there were none.
    #[must_use]
    pub fn record(&self) -> Option<Record> {
        let expected = Binomial::new(INTERVAL, self.readings).ok().filter(|_| self.readings > 0)?;
        let n = self.readings as f64;
        let at = |level: f64| expected.inverse_cdf(level) as f64 / n;
        Some(Record {
            coverage: self.covered as f64 / n,
            coverage_band: (at(DRIFT_RISK / 2.0), at(1.0 - DRIFT_RISK / 2.0)),
            bias: self.bias / n,
            loss: Losses {
                forecast: self.loss.forecast / n,
                fixed_distance: self.loss.fixed_distance / n,
                straight_line: self.loss.straight_line / n,
            },
        })
    }

    /// Mean Brier score of the gauge answers: 0 is perfect, 0.25 is saying one half each time; none without any.
    #[must_use]
    pub fn brier(&self) -> Option<f64> {
        (self.gauges > 0).then(|| self.brier / self.gauges as f64)
    }
}
