//! The posterior of elongation and wear rate.
//!
//! State `x = ε − r(s)`, running-in taken off: `x = ε0 + G(s)`. On nodes of ln θ lies a density of x each,
//! sampled on a common grid. ε0 is normal and every likelihood is smooth, so the densities are band-limited
//! to the precision wanted here and equidistant samples lose nothing. Between readings the gamma increment
//! multiplies the transform by `(1 + φz)^(−θΔs/φ)`, exact for any shape, on the line Re z = λ > 0 so that
//! mass beyond the grid's upper end comes back damped by e^(−18). At a reading the samples are multiplied by
//! the likelihood. Both grids adapt: in x to the bandwidth that the product will have, in ln θ to the
//! curvature that it has.

use super::contradiction::HighMarks;
use super::nodes::{self, RateGrid, Stencil};
use super::process::{CEILING_PERCENT, ExposureFactor, Extra, MissingRiding, StateLikelihood};
use super::start::{AsFound, Start};
use super::{Contradiction, WearParameters, doubt};
use crate::degradation::step::{self, Trial, Way};
use crate::reading::{Calibration, InstrumentCalibrations, Likelihood, Measurement};
use crate::units::{LogSd, ReferenceKilometres};

/// A measurement and when in the chain's life it was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct TimedReading {
    /// Exposure since the chain was fitted, or since its record began.
    pub at: ReferenceKilometres,
    /// What was measured.
    pub measurement: Measurement,
    /// How far the exposure since the reading before, or since the fitting, may be off, apart from what all of the
    /// chain's exposure is off by: see [`WearParameters::with_shared_exposure_error`].
    pub exposure_ln_sd: LogSd,
    /// Riding that may be missing from that exposure.
    pub missing_riding: Option<MissingRiding>,
    /// How the tool and the person err that it was read with and by, where that is known better than of their kind.
    pub calibration: Option<Calibration>,
}

impl TimedReading {
    /// A measurement at an exposure that is known exactly.
    #[must_use]
    pub const fn new(at: ReferenceKilometres, measurement: Measurement) -> Self {
        Self { at, measurement, exposure_ln_sd: LogSd::ZERO, missing_riding: None, calibration: None }
    }

    /// The same after an exposure that may be off.
    #[must_use]
    pub const fn with_exposure_ln_sd(self, exposure_ln_sd: LogSd) -> Self {
        Self { exposure_ln_sd, ..self }
    }

    /// The same with riding before it that may be missing from the record.
    #[must_use]
    pub const fn with_missing_riding(self, missing: MissingRiding) -> Self {
        Self { missing_riding: Some(missing), ..self }
    }

    /// An order that doesn't depend on how readings arrive: by exposure, then by what they say.
    #[must_use]
    pub fn order(&self, other: &Self) -> std::cmp::Ordering {
        self.at
            .get()
            .total_cmp(&other.at.get())
            .then_with(|| self.measurement.order(&other.measurement))
            .then_with(|| {
                let own = self.own_calibration().partial_cmp(&other.own_calibration());
                own.unwrap_or(std::cmp::Ordering::Equal)
            })
    }

    /// The same read with a tool and by a person that err so.
    #[must_use]
    pub const fn with_calibration(self, calibration: Calibration) -> Self {
        Self { calibration: Some(calibration), ..self }
    }

    /// How it errs: as its tool and its person do where that is known, else as its kind of instrument does.
    #[must_use]
    pub fn calibration(&self, calibrations: &InstrumentCalibrations) -> Calibration {
        self.calibration.unwrap_or_else(|| calibrations.of(self.measurement.instrument()))
    }

    /// The likelihood of the measurement, with the calibration of its kind where it has none of its own.
    #[must_use]
    pub fn likelihood(&self, calibrations: &InstrumentCalibrations) -> Likelihood {
        match self.calibration {
            Some(own) => self.measurement.likelihood_by(own),
            None => self.measurement.likelihood(calibrations),
        }
    }

    /// Mean and variance of the factor on the exposure before it.
    pub(crate) fn exposure_factor_moments(&self) -> (f64, f64) {
        ExposureFactor::moments(ExposureFactor::of(self.exposure_ln_sd))
    }

    /// Bias, spread and what isn't known of the bias, of a calibration of its own: to be put in order by.
    fn own_calibration(&self) -> [f64; 3] {
        self.calibration.map_or([0.0; 3], |own| [own.bias(), own.sd(), own.unknown_bias()])
    }

    /// A chain's readings in order of exposure, when riding may be missing from its record before any of them. Of
    /// readings at one exposure only the first has it before it, and one at exposure 0 has none.
    #[must_use]
    pub fn of_incomplete_record(readings: &[Self], missing: MissingRiding) -> Vec<Self> {
        let mut sorted = readings.to_vec();
        Posterior::put_in_order(&mut sorted);
        let mut last = ReferenceKilometres::ZERO;
        for reading in &mut sorted {
            if reading.at > last {
                *reading = reading.with_missing_riding(missing);
            }
            last = reading.at;
        }
        sorted
    }
}

/// How far exposures that no reading has closed yet may be off, apart from what all of the chain's exposure is off by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpenExposure {
    /// From the last reading to now.
    pub since_last_reading: LogSd,
    /// From now on: a bike that leaves pavement for mud is as uncertain as the multiplier of mud.
    pub ahead: LogSd,
}

impl OpenExposure {
    /// Known exactly.
    pub const EXACT: Self = Self { since_last_reading: LogSd::ZERO, ahead: LogSd::ZERO };
}

/// What was expected just before a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Predictive {
    /// The reading.
    pub reading: TimedReading,
    /// Mean elongation expected, percent; with the fast phase on, the elongation at the mean of the slow process.
    pub mean: f64,
    /// Standard deviation of the elongation expected, percent, without the instrument's own.
    pub sd: f64,
    /// Probability of the reading under the prediction, relative to the reading's peak: 1 when it could not
    /// have fitted better, 1e-10 when only a blunder explains it.
    pub relative_evidence: f64,
    /// Whether the reading was set aside as a blunder: it is reported as a contradiction and leaves what is known
    /// of the chain as it was.
    pub set_aside: bool,
    /// Odds of anything but the record as it is, no more than these: see [`Posterior::explain`].
    pub(super) odds: f64,
    /// Whether an earlier reading speaks against it.
    pub(super) contradicted: bool,
}

impl Predictive {
    /// Whether something other than the record as it is may explain the reading better: see [`Posterior::explain`].
    #[must_use]
    pub fn is_doubted(&self) -> bool {
        self.contradicted || doubt::is_worth_explaining(self.odds)
    }
}

/// How fine the grids are, as multiples of the standard grids.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    /// Multiplies the number of cells in elongation; at least 1.
    pub elongation: f64,
    /// Multiplies the number of nodes in the wear rate; at least 1.
    pub rate: f64,
}

impl Resolution {
    /// What every estimate uses.
    pub const STANDARD: Self = Self { elongation: 1.0, rate: 1.0 };
    /// Ten times finer in both directions, to check the standard against.
    pub const TENFOLD: Self = Self { elongation: 10.0, rate: 10.0 };
}

/// What is known of one chain after its readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    pub(super) parameters: WearParameters,
    pub(super) calibrations: InstrumentCalibrations,
    pub(super) resolution: Resolution,
    pub(super) state: State,
    pub(super) open: OpenExposure,
    pub(super) log_evidence: f64,
    pub(super) high_marks: HighMarks,
    pub(super) contradictions: Vec<Contradiction>,
    pub(super) predictives: Vec<Predictive>,
    /// The last reading at several spots that wasn't set aside.
    pub(super) last_spots: Option<TimedReading>,
    /// Whether any reading was doubted.
    pub(super) doubted: bool,
}

/// Densities of x on nodes of ln θ.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct State {
    /// Exposure at the last reading, or 0.
    pub(super) s: f64,
    pub(super) rates: RateGrid,
    /// `ln p(readings | θ)` at each node.
    pub(super) log_likelihood: Vec<f64>,
    /// Probability, given θ, of being beyond the grid and every limit.
    pub(super) beyond: Vec<f64>,
    pub(super) cells: Cells,
    /// Probability per cell, node after node; sums to `1 − beyond` at each node.
    pub(super) mass: Vec<f64>,
}

/// Equidistant samples of x, percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cells {
    pub(super) lowest: f64,
    pub(super) width: f64,
    pub(super) count: usize,
}

impl Cells {
    pub(super) fn at(&self, cell: usize) -> f64 {
        self.lowest + cell as f64 * self.width
    }

    pub(super) fn top(&self) -> f64 {
        self.at(self.count - 1)
    }
}

impl State {
    fn new(parameters: &WearParameters, resolution: Resolution) -> Self {
        let rates =
            RateGrid::around(parameters.prior_mean_log_rate(), parameters.sd_log_rate(), resolution.rate);
        match parameters.start() {
            Start::New => Self::with_new_chain(parameters, rates, resolution),
            Start::AsFound(found) => Self::ridden(parameters, rates, found, resolution)
                .unwrap_or_else(|| Self::of_unknown_age(parameters, rates, found, resolution)),
        }
    }

    fn with_new_chain(parameters: &WearParameters, rates: RateGrid, resolution: Resolution) -> Self {
        let sd = parameters.initial_sd();
        let width = step::widest_cell(1.0 / (sd * sd), resolution);
        let half = (8.0 * sd / width).ceil();
        let count = 2 * half as usize + 1;
        let cells = Cells { lowest: parameters.initial_mean() - half * width, width, count };
        Self::alike(rates, cells, |x| (-0.5 * ((x - parameters.initial_mean()) / sd).powi(2)).exp())
    }

    fn of_unknown_age(
        parameters: &WearParameters,
        rates: RateGrid,
        found: AsFound,
        resolution: Resolution,
    ) -> Self {
        let density = parameters.found_density(found.limit());
        let width = step::widest_cell(density.precision(), resolution);
        let (lowest, highest) = density.range();
        let count = ((highest - lowest) / width).ceil() as usize + 1;
        Self::alike(rates, Cells { lowest, width, count }, |x| density.at(x))
    }

    /// A chain about which it is known what it had run when its record began; `None` when that is beyond any chain's life.
    ///
    /// Of chains met on the road the ages are spread as survival is, so that with B the exposure before the record
    /// `p(θ, x) ∝ p(θ) ∫ p(x | θ, B) p(still on | x) p(hint | B) dB`, p(θ) that of new chains: over the length-biased prior
    /// it weighs θ once more.
    fn ridden(
        parameters: &WearParameters,
        rates: RateGrid,
        found: AsFound,
        resolution: Resolution,
    ) -> Option<Self> {
        let (before, ln_sd) = found.ridden()?;
        let mut state = Self::with_new_chain(parameters, rates, resolution);
        let run_in = -parameters.running_in() * (-before.get() / parameters.running_in_distance()).exp_m1();
        state.cells.lowest += run_in;
        let seen = StateLikelihood {
            likelihood: Likelihood::still_on(found.limit().get(), parameters.initial_sd()),
            known: 0.0,
            fast: parameters.fast_phase(),
        };
        let way = Way { ds: before.get(), factor: ExposureFactor::of(ln_sd), extra: None };
        let trial = state.walk(parameters, way, &seen, resolution);
        if trial.set_aside {
            return None;
        }
        state.accept(0.0, trial, parameters);
        let offset = parameters.mean_log_rate();
        for node in 0..state.rates.count {
            state.log_likelihood[node] += state.rates.log_rate(node) - offset;
        }
        Some(state)
    }

    /// One density at every node.
    fn alike(rates: RateGrid, cells: Cells, density: impl Fn(f64) -> f64) -> Self {
        let mut bell: Vec<f64> = (0..cells.count).map(|cell| density(cells.at(cell))).collect();
        let sum: f64 = bell.iter().sum();
        bell.iter_mut().for_each(|value| *value /= sum);
        Self {
            s: 0.0,
            rates,
            log_likelihood: vec![0.0; rates.count],
            beyond: vec![0.0; rates.count],
            cells,
            mass: bell.repeat(rates.count),
        }
    }

    pub(super) fn node(&self, node: usize) -> &[f64] {
        &self.mass[node * self.cells.count..(node + 1) * self.cells.count]
    }

    pub(super) fn log_weights(&self, parameters: &WearParameters) -> Vec<f64> {
        (0..self.rates.count)
            .map(|node| parameters.log_density(self.rates.log_rate(node)) + self.log_likelihood[node])
            .collect()
    }

    /// Mean of x, and its variance given θ where θ is most probable.
    pub(super) fn moments(&self, parameters: &WearParameters) -> (f64, f64) {
        let weights = nodes::normalised(&self.log_weights(parameters));
        let (mut mean, mut variance, mut mode) = (0.0, 0.0, 0.0);
        for (node, &weight) in weights.iter().enumerate() {
            let (centre, spread) = self.moments_at(node);
            mean += weight * centre;
            if weight > mode {
                (mode, variance) = (weight, spread);
            }
        }
        (mean, variance)
    }

    /// Mean and variance of x at one node.
    fn moments_at(&self, node: usize) -> (f64, f64) {
        let row = self.node(node);
        let middle = 0.5 * (self.cells.count - 1) as f64;
        let (mut inside, mut first, mut second, mut off) = (0.0, 0.0, 0.0, -middle);
        for mass in row {
            let moment = mass * off;
            inside += mass;
            first += moment;
            second += moment * off;
            off += 1.0;
        }
        let inside = inside.max(f64::MIN_POSITIVE);
        let (centre, square) = (first / inside, second / inside);
        let width = self.cells.width;
        let mean = self.cells.lowest + (middle + centre) * width;
        (mean, (square - centre * centre).max(0.0) * width * width)
    }

    /// Mean and standard deviation of x at the end of the way: `E(x + θFΔs)`, F the exposure's factor, and the variance
    /// of x, θFΔs and the jumps, `φθFΔs`, taken together.
    fn expected(&self, parameters: &WearParameters, Way { ds, factor, extra }: Way) -> (f64, f64) {
        let (mean_factor, variance_factor) = ExposureFactor::moments(factor);
        let (extra_km, extra_variance) = extra.map_or((0.0, 0.0), Extra::moments);
        let weights = nodes::normalised(&self.log_weights(parameters));
        let at: Vec<(f64, f64)> = (0..weights.len())
            .map(|node| {
                let (centre, variance) = self.moments_at(node);
                let rate = self.rates.log_rate(node).exp();
                let counted = rate * ds;
                let wear = counted * mean_factor + rate * extra_km;
                let error = counted * counted * variance_factor + rate * rate * extra_variance;
                (centre + wear, variance + parameters.scale() * wear + error)
            })
            .collect();
        let mean: f64 = at.iter().zip(&weights).map(|((centre, _), weight)| weight * centre).sum();
        let variance: f64 = at
            .iter()
            .zip(&weights)
            .map(|((centre, variance), weight)| weight * (variance + (centre - mean).powi(2)))
            .sum();
        (mean, variance.sqrt())
    }

    /// Moves to other nodes of ln θ by interpolating logarithms.
    pub(super) fn move_to(&mut self, rates: RateGrid) {
        let (old, cells) = (self.rates, self.cells.count);
        // Before any reading all nodes have one density.
        let alike = self.mass.chunks_exact(cells).all(|row| row == self.node(0));
        let position = |node: usize| (rates.log_rate(node) - old.first) / old.spacing;
        let logs: Vec<f64> = (0..if alike { 0 } else { old.count })
            .flat_map(|node| {
                let row = self.node(node);
                let floor = 1e-15 * row.iter().copied().fold(1e-200, f64::max);
                row.iter().map(move |value| value.max(floor).ln())
            })
            .collect();
        let mut log_likelihood = Vec::with_capacity(rates.count);
        let mut beyond = Vec::with_capacity(rates.count);
        let mut mass = vec![0.0; rates.count * cells];
        for (node, row) in mass.chunks_exact_mut(cells).enumerate() {
            let stencil = Stencil::at(position(node), old.count);
            log_likelihood.push(stencil.interpolate_below_neighbours(0.5, &self.log_likelihood));
            beyond.push(Stencil::interpolate_linearly(position(node), &self.beyond));
            if alike {
                row.copy_from_slice(self.node(0));
                continue;
            }
            for (cell, value) in row.iter_mut().enumerate() {
                *value = stencil.interpolate(|i| logs[i * cells + cell]);
            }
            let peak = row.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            row.iter_mut().for_each(|log| *log = if *log > peak - 32.0 { (*log - peak).exp() } else { 0.0 });
            let scale = (1.0 - beyond[node]) / row.iter().sum::<f64>();
            row.iter_mut().for_each(|value| *value *= scale);
        }
        *self = Self { rates, log_likelihood, beyond, mass, ..*self };
    }

    /// Predicts over a way and weighs by what is seen at its end, on nodes of ln θ as fine as what comes of it needs.
    fn walk(
        &mut self,
        parameters: &WearParameters,
        way: Way,
        seen: &StateLikelihood,
        resolution: Resolution,
    ) -> Trial {
        let mut log_weights = self.log_weights(parameters);
        // Finer nodes cover only what the reading leaves of the rates, but it was expected by all of them.
        let log_integral = nodes::log_integral(&log_weights, self.rates.spacing);
        loop {
            let log_measure = self.rates.spacing.ln() - log_integral;
            let weights: Vec<f64> = log_weights.iter().map(|weight| (weight + log_measure).exp()).collect();
            let trial = step::attempt(parameters, self, &weights, way, seen, resolution);
            log_weights.iter_mut().zip(&trial.log_evidence).for_each(|(weight, now)| *weight += now);
            match self.rates.finer_for(&log_weights, resolution.rate) {
                Some(rates) => {
                    let kept = nodes::significant(&log_weights);
                    self.move_to(rates.over(self.rates, &kept));
                    log_weights = self.log_weights(parameters);
                }
                None => return trial,
            }
        }
    }

    /// Takes over an accepted trial, without the nodes and cells that carry nothing.
    fn accept(&mut self, s: f64, trial: Trial, parameters: &WearParameters) {
        let log_likelihood: Vec<f64> =
            self.log_likelihood.iter().zip(&trial.log_evidence).map(|(before, now)| before + now).collect();
        let candidate = Self {
            s,
            rates: self.rates,
            log_likelihood,
            beyond: trial.beyond,
            cells: trial.cells,
            mass: trial.mass,
        };
        let log_weights = candidate.log_weights(parameters);
        let kept_nodes = nodes::significant(&log_weights);
        let kept_cells = candidate.significant_cells(&nodes::normalised(&log_weights));
        *self = Self {
            s,
            rates: candidate.rates.cut(&kept_nodes),
            log_likelihood: candidate.log_likelihood[kept_nodes.clone()].to_vec(),
            beyond: candidate.beyond[kept_nodes.clone()].to_vec(),
            cells: Cells {
                lowest: candidate.cells.at(kept_cells.start),
                width: candidate.cells.width,
                count: kept_cells.len(),
            },
            mass: kept_nodes.flat_map(|node| &candidate.node(node)[kept_cells.clone()]).copied().collect(),
        };
    }

    /// The cells that carry mass. Low cells are kept longer: damping weighs them up.
    fn significant_cells(&self, weights: &[f64]) -> std::ops::Range<usize> {
        let mut envelope = vec![0.0; self.cells.count];
        for (node, weight) in weights.iter().enumerate() {
            for (sum, value) in envelope.iter_mut().zip(self.node(node)) {
                *sum += weight * value;
            }
        }
        let peak = envelope.iter().copied().fold(0.0, f64::max);
        let first = envelope.iter().position(|value| *value > 1e-16 * peak).unwrap_or(0);
        let last = envelope.iter().rposition(|value| *value > 1e-13 * peak).unwrap_or(0);
        first..last.max(first) + 1
    }
}

impl Posterior {
    /// What is known of a chain before any reading.
    #[must_use]
    pub fn new(parameters: &WearParameters, calibrations: &InstrumentCalibrations) -> Self {
        Self::with_resolution(parameters, calibrations, Resolution::STANDARD)
    }

    /// As [`Posterior::new`] on finer grids.
    #[must_use]
    pub fn with_resolution(
        parameters: &WearParameters,
        calibrations: &InstrumentCalibrations,
        resolution: Resolution,
    ) -> Self {
        let resolution =
            Resolution { elongation: resolution.elongation.max(1.0), rate: resolution.rate.max(1.0) };
        Self {
            parameters: *parameters,
            calibrations: *calibrations,
            resolution,
            state: State::new(parameters, resolution),
            open: OpenExposure::EXACT,
            log_evidence: 0.0,
            high_marks: HighMarks::default(),
            contradictions: Vec::new(),
            predictives: Vec::new(),
            last_spots: None,
            doubted: false,
        }
    }

    /// What is known of a chain after `readings`, whose order does not matter.
    #[must_use]
    pub fn of(
        parameters: &WearParameters,
        calibrations: &InstrumentCalibrations,
        readings: &[TimedReading],
    ) -> Self {
        Self::new(parameters, calibrations).after(readings)
    }

    /// This posterior with more readings, in any order among themselves; one from before the last reading
    /// already taken in counts as taken at that one's time.
    #[must_use]
    pub fn after(mut self, readings: &[TimedReading]) -> Self {
        let mut sorted = readings.to_vec();
        Self::put_in_order(&mut sorted);
        for reading in sorted {
            self.update(reading);
        }
        self
    }

    /// Sorts readings by exposure, and those at one exposure by what they say.
    pub(super) fn put_in_order(sorted: &mut [TimedReading]) {
        sorted.sort_by(TimedReading::order);
        // Of readings taken at one exposure whichever comes first walks the way.
        for same in sorted.chunk_by_mut(|a, b| a.at == b.at) {
            let apart = same
                .iter()
                .map(|reading| reading.exposure_ln_sd)
                .fold(LogSd::ZERO, |a, b| if b > a { b } else { a });
            same.iter_mut().for_each(|reading| reading.exposure_ln_sd = apart);
        }
    }

    /// Takes in one more reading, at a cost that does not depend on the history. A reading from before the
    /// last one counts as taken at the last one's time; recompute from an earlier posterior instead.
    pub fn update(&mut self, reading: TimedReading) {
        self.take_in(reading, reading.missing_riding.map(Extra::Missing));
    }

    /// Takes in a reading after exposure some of which may not have been counted.
    pub(super) fn take_in(&mut self, reading: TimedReading, extra: Option<Extra>) {
        let s = reading.at.get().max(self.state.s);
        let known = self.parameters.running_in_curve().at(s);
        let likelihood = reading.likelihood(&self.calibrations);
        let fast = self.parameters.fast_phase();
        let seen = StateLikelihood { likelihood, known, fast };
        let way = Way { ds: s - self.state.s, factor: ExposureFactor::of(reading.exposure_ln_sd), extra };
        let (mean, sd) = self.state.expected(&self.parameters, way);
        let trial = self.state.walk(&self.parameters, way, &seen, self.resolution);
        let log_evidence = likelihood.log_peak() + trial.relative_evidence.ln();
        self.log_evidence += log_evidence;
        let contradiction = self.high_marks.judge(reading, &likelihood, &trial);
        let contradicted = contradiction.is_some();
        self.contradictions.extend(contradiction);
        let mean = fast.elongation(mean + known);
        if !trial.set_aside && reading.measurement.as_spots().is_some_and(|spots| spots.count() > 1) {
            self.last_spots = Some(reading);
        }
        let odds = doubt::odds_at_most(&likelihood, log_evidence, mean, &self.parameters);
        self.doubted |= contradicted || doubt::is_worth_explaining(odds);
        self.predictives.push(Predictive {
            reading,
            mean,
            sd: sd * fast.slope(mean),
            relative_evidence: trial.relative_evidence,
            set_aside: trial.set_aside,
            odds,
            contradicted,
        });
        self.state.accept(s, trial, &self.parameters);
        self.open.since_last_reading = LogSd::ZERO;
    }

    /// The same with other uncertainty of the exposure since the last reading and from now on; exact at first, and
    /// exact since the last reading again after the next one.
    #[must_use]
    pub fn with_open_exposure(mut self, open: OpenExposure) -> Self {
        self.set_open_exposure(open);
        self
    }

    /// As [`Posterior::with_open_exposure`], in place.
    pub const fn set_open_exposure(&mut self, open: OpenExposure) {
        self.open = open;
    }

    /// The parameters it rests on.
    #[must_use]
    pub const fn parameters(&self) -> &WearParameters {
        &self.parameters
    }

    /// How the instruments of its readings err.
    #[must_use]
    pub const fn calibrations(&self) -> &InstrumentCalibrations {
        &self.calibrations
    }

    /// Exposure at the last reading, reference km; 0 without readings.
    #[must_use]
    pub const fn last_reading_at(&self) -> f64 {
        self.state.s
    }

    /// What was expected before each reading, in order of exposure.
    #[must_use]
    pub fn predictives(&self) -> &[Predictive] {
        &self.predictives
    }

    /// Readings that speak against each other, in order of the later one.
    #[must_use]
    pub fn contradictions(&self) -> &[Contradiction] {
        &self.contradictions
    }

    /// Whether some reading cannot be explained, so that a person has to look before anything is advised.
    #[must_use]
    pub fn is_contradictory(&self) -> bool {
        self.contradictions.iter().any(|found| found.likelihood_lost)
    }

    /// `ln p(all readings)`.
    #[must_use]
    pub const fn log_evidence(&self) -> f64 {
        self.log_evidence
    }

    /// Mean and standard deviation of `ln θ`, θ in percent per reference km.
    #[must_use]
    pub fn log_rate(&self) -> (f64, f64) {
        let weights = nodes::normalised(&self.state.log_weights(&self.parameters));
        let moment = |about: f64, power: i32| -> f64 {
            (0..weights.len())
                .map(|node| weights[node] * (self.state.rates.log_rate(node) - about).powi(power))
                .sum()
        };
        let offset = self.state.rates.first;
        let mean = offset + moment(offset, 1);
        (mean, moment(mean, 2).sqrt())
    }

    /// `ln p(readings | θ)` on the nodes in ln θ that carry weight.
    pub(crate) fn log_likelihood_of_rate(&self) -> impl Iterator<Item = (f64, f64)> {
        (0..self.state.rates.count)
            .map(|node| (self.state.rates.log_rate(node), self.state.log_likelihood[node]))
    }

    /// Elongation resolved at most, percent.
    pub(super) fn ceiling(&self) -> f64 {
        CEILING_PERCENT.max(self.state.cells.top())
    }
}
