//! A posterior as bytes, to go on from at the next reading.
//!
//! Little-endian: magic `WEAR`, the version, then the fields in the order of [`Posterior::encode`] below. Format 2 adds how
//! the record begins, whether a reading is in doubt, and riding that may be missing, format 3 any fast phase, what isn't known
//! of a bias, and calibrations of single readings; a chain is written in the first format that has room for all it is.
//! Numbers are IEEE doubles, so that nothing is lost; counts are LEB128. Of a density only the run of cells that aren't
//! zero is written. The last four bytes are a CRC-32 of all before them. What was expected before past readings
//! ([`Posterior::predictives`]) is not kept: it grows with the history and the filter doesn't need it.

use thiserror::Error;

use super::contradiction::{HighMark, HighMarks};
use super::filter::{Cells, Posterior, Resolution, State};
use super::nodes::{self, MOST_NODES, RateGrid};
use super::process::CEILING_PERCENT;
use super::{
    AsFound, Contradiction, FastPhase, MissingRiding, OpenExposure, Start, TimedReading, WearParameters,
};
use crate::bounds::{self, Bound};
use crate::reading::{Calibration, Content, Instrument, InstrumentCalibrations, Measurement, Spots};
use crate::units::{GaugeMark, Limit, LogSd, Probability, ReferenceKilometres};

/// Newest format. One that says nothing of what it added is still written as the format before it.
pub const CHECKPOINT_VERSION: u8 = 3;

/// Format of a chain that was new when its record began, with all its riding on record and no reading in doubt.
const PLAIN: u8 = 1;

/// Format of a chain without learned tools and with no fast phase but the assumed one.
const WITHOUT_TOOLS: u8 = 2;

const MAGIC: &[u8; 4] = b"WEAR";

/// More cells than any grid has at the standard resolution, times what a finer one multiplies.
const MOST_CELLS: u64 = 1 << 20;

/// More cells over all nodes than any checkpoint holds: 64 MB.
const MOST_MASS: u64 = 1 << 23;

/// More cells over all nodes than an outlook may need on the way to the ceiling: half a gigabyte of spectra.
const MOST_SPECTRA: f64 = 33_554_432.0;

/// ln θ and elongations, percent, between which every grid lies.
const LOG_RATES: std::ops::Range<f64> = -50.0..30.0;
const ELONGATIONS: std::ops::Range<f64> = -10.0..100.0;

/// More readings than a checkpoint names.
const MOST_NAMED: u64 = 1 << 20;

/// Why bytes are no checkpoint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CheckpointError {
    /// They don't begin as one.
    #[error("not a checkpoint")]
    NotACheckpoint,
    /// Written by another version: compute the posterior from the readings again.
    #[error("checkpoint of format {found}, this version reads {CHECKPOINT_VERSION}")]
    Version {
        /// The format they are in.
        found: u8,
    },
    /// They end too early, go on too long, or were changed.
    #[error("checkpoint is damaged at {place}")]
    Damaged {
        /// Where it shows.
        place: &'static str,
    },
}

impl Posterior {
    /// The posterior as bytes.
    ///
    /// ```
    /// # use wear_core::degradation::{Posterior, TimedReading, WearParameters};
    /// # use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
    /// # use wear_core::units::{ElongationReading, Limit, ReferenceKilometres};
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// let read = Measurement::percent(Instrument::Rule, ElongationReading::new(0.21)?)?;
    /// let reading = TimedReading::new(ReferenceKilometres::new(812.0)?, read);
    /// let posterior = Posterior::of(&WearParameters::default(), &InstrumentCalibrations::default(), &[reading]);
    ///
    /// let resumed = Posterior::from_checkpoint(&posterior.checkpoint())?;
    /// let (at, limit) = (ReferenceKilometres::new(1_700.0)?, Limit::new(0.75)?);
    /// assert_eq!(resumed.outlook(at, limit), posterior.outlook(at, limit));
    /// # Ok(())
    /// # }
    /// ```
    #[must_use]
    pub fn checkpoint(&self) -> Vec<u8> {
        let version = self.version();
        let mut out = Writer { bytes: Vec::with_capacity(64 + 8 * self.state.mass.len()), version };
        out.bytes.extend_from_slice(MAGIC);
        out.bytes.push(version);
        self.encode(&mut out);
        let sum = crc32(&out.bytes);
        out.bytes.extend_from_slice(&sum.to_le_bytes());
        out.bytes
    }

    /// The first format that has room for all of it.
    fn version(&self) -> u8 {
        let of_kind = |reading: &TimedReading| reading.calibration.is_none();
        let known = |instrument: &Instrument| {
            self.calibrations.own(*instrument).is_none_or(|own| own.unknown_bias() == 0.0)
        };
        let fast = self.parameters.fast_phase();
        let whole = |reading: &TimedReading| reading.missing_riding.is_none();
        if ![FastPhase::NONE, FastPhase::ASSUMED].contains(&fast)
            || !self.named_readings().all(of_kind)
            || !Instrument::ALL.iter().all(known)
        {
            CHECKPOINT_VERSION
        } else if self.parameters.start() == Start::New
            && (!self.doubted || !self.contradictions.is_empty())
            && self.named_readings().all(whole)
        {
            PLAIN
        } else {
            WITHOUT_TOOLS
        }
    }

    /// Every reading that is written down.
    fn named_readings(&self) -> impl Iterator<Item = &TimedReading> {
        let marks = self.high_marks.marks.iter().map(|mark| &mark.reading);
        let found = self.contradictions.iter().flat_map(|found| found.earlier.iter().chain([&found.later]));
        marks.chain(&self.high_marks.last).chain(&self.last_spots).chain(found)
    }

    /// Reads [`Posterior::checkpoint`]: all but [`Posterior::predictives`] is as it was, to the bit.
    ///
    /// # Errors
    /// [`CheckpointError`]; damaged bytes never panic and never give a posterior.
    pub fn from_checkpoint(bytes: &[u8]) -> Result<Self, CheckpointError> {
        let body = bytes.strip_prefix(MAGIC.as_slice()).ok_or(CheckpointError::NotACheckpoint)?;
        let (&found, _) = body.split_first().ok_or(CheckpointError::NotACheckpoint)?;
        if !(PLAIN..=CHECKPOINT_VERSION).contains(&found) {
            return Err(CheckpointError::Version { found });
        }
        let (body, sum) = bytes.split_last_chunk().ok_or(CheckpointError::Damaged { place: "its end" })?;
        if crc32(body) != u32::from_le_bytes(*sum) {
            return Err(CheckpointError::Damaged { place: "its checksum" });
        }
        let mut input = Reader { rest: body.get(5..).unwrap_or_default(), version: found };
        let posterior = Self::decode(&mut input)?;
        if input.rest.is_empty() {
            Ok(posterior)
        } else {
            Err(CheckpointError::Damaged { place: "its length" })
        }
    }

    fn encode(&self, out: &mut Writer) {
        let p = &self.parameters;
        out.numbers(&[p.mean_log_rate(), p.sd_log_rate(), p.scale(), p.initial_mean(), p.initial_sd()]);
        out.numbers(&[p.running_in(), p.running_in_distance()]);
        out.flag(p.fast_phase() != FastPhase::NONE);
        if out.version > WITHOUT_TOOLS && p.fast_phase() != FastPhase::NONE {
            out.numbers(&[p.fast_phase().onset(), p.fast_phase().gain()]);
        }
        if out.version > PLAIN {
            out.flag(self.doubted);
            out.numbers(&[p.common_variance()]);
            out.start(p.start());
        }
        for &instrument in Instrument::ALL {
            let own = self.calibrations.own(instrument);
            out.flag(own.is_some());
            if let Some(own) = own {
                out.calibration(own);
            }
        }
        out.numbers(&[self.resolution.elongation, self.resolution.rate, self.log_evidence]);
        out.numbers(&[self.open.since_last_reading.get(), self.open.ahead.get()]);

        let State { s, rates, log_likelihood, beyond, cells, mass } = &self.state;
        out.numbers(&[*s, rates.first, rates.spacing, cells.lowest, cells.width]);
        out.count(rates.count);
        out.count(cells.count);
        out.numbers(log_likelihood);
        out.numbers(beyond);
        for row in mass.chunks_exact(cells.count) {
            let first = row.iter().position(|value| *value != 0.0).unwrap_or(row.len());
            let end = row.iter().rposition(|value| *value != 0.0).map_or(first, |last| last + 1);
            out.count(first);
            out.count(end - first);
            out.numbers(&row[first..end]);
        }

        out.count(self.high_marks.marks.len());
        for mark in &self.high_marks.marks {
            out.numbers(&[mark.at_least, mark.sd]);
            out.reading(&mark.reading);
        }
        out.optional(self.high_marks.last.as_ref());
        out.optional(self.last_spots.as_ref());
        out.count(self.contradictions.len());
        for found in &self.contradictions {
            out.optional(found.earlier.as_ref());
            out.reading(&found.later);
            out.numbers(&[found.deviations]);
            out.flag(found.likelihood_lost);
        }
    }

    fn decode(input: &mut Reader<'_>) -> Result<Self, CheckpointError> {
        let (parameters, doubted) = decode_parameters(input)?;
        let mut calibrations = InstrumentCalibrations::default();
        for &instrument in Instrument::ALL {
            if input.flag("a calibration")? {
                calibrations = calibrations.with(instrument, input.calibration()?);
            }
        }
        let [elongation, rate, log_evidence] = input.numbers("the resolution")?;
        if !((1.0..=1e3).contains(&elongation) && (1.0..=1e3).contains(&rate)) {
            return Err(damaged("the resolution"));
        }
        let [since, ahead] = input.numbers("the open exposure")?;
        let ln_sd = |value| LogSd::new(value).map_err(|_| damaged("the open exposure"));
        let open = OpenExposure { since_last_reading: ln_sd(since)?, ahead: ln_sd(ahead)? };
        let state = decode_state(input, &parameters)?;

        let marks = input.list("a high mark", |input| {
            let [at_least, sd] = input.numbers("a high mark")?;
            Ok(HighMark { at_least, sd, reading: input.reading()? })
        })?;
        let last = input.optional()?;
        let last_spots = input.optional()?;
        let contradictions = input.list("a contradiction", |input| {
            let (earlier, later) = (input.optional()?, input.reading()?);
            let [deviations] = input.numbers("a contradiction")?;
            let likelihood_lost = input.flag("a contradiction")?;
            Ok(Contradiction { earlier, later, deviations, likelihood_lost })
        })?;
        Ok(Self {
            parameters,
            calibrations,
            resolution: Resolution { elongation, rate },
            state,
            open,
            log_evidence,
            high_marks: HighMarks { marks, last },
            doubted: doubted || !contradictions.is_empty(),
            contradictions,
            predictives: Vec::new(),
            last_spots,
        })
    }
}

const fn damaged(place: &'static str) -> CheckpointError {
    CheckpointError::Damaged { place }
}

/// The parameters, and whether a reading was doubted.
fn decode_parameters(input: &mut Reader<'_>) -> Result<(WearParameters, bool), CheckpointError> {
    let [mean, sd, scale, initial_mean, initial_sd] = input.numbers("the parameters")?;
    let [amount, distance] = input.numbers("the parameters")?;
    let fast = input.fast_phase()?;
    let (mut doubted, mut common, mut start) = (false, LogSd::ZERO, Start::New);
    if input.version > PLAIN {
        doubted = input.flag("the parameters")?;
        let [variance] = input.numbers("the parameters")?;
        common = LogSd::new(variance.sqrt()).map_err(|_| damaged("the parameters"))?;
        start = input.start()?;
    }
    WearParameters::default()
        .with_log_rate(mean, sd)
        .and_then(|p| p.with_scale(scale))
        .and_then(|p| p.with_initial(initial_mean, initial_sd))
        .and_then(|p| p.with_running_in(amount, distance))
        .map(|p| (p.with_fast_phase(fast).with_common_spread(common).with_start(start), doubted))
        .map_err(|_| damaged("the parameters"))
}

fn decode_state(input: &mut Reader<'_>, parameters: &WearParameters) -> Result<State, CheckpointError> {
    const PLACE: &str = "the densities";
    let [s, first, spacing, lowest, width] = input.numbers(PLACE)?;
    let count_of_nodes = input.count(MOST_NODES as u64, PLACE)?;
    let count = input.count(MOST_CELLS, PLACE)?;
    let sound = bounds::REFERENCE_KM.check(s).is_ok()
        && LOG_RATES.contains(&first)
        && LOG_RATES.contains(&(first + spacing * count_of_nodes as f64))
        && spacing > 0.0
        && ELONGATIONS.contains(&lowest)
        && ELONGATIONS.contains(&(lowest + width * count as f64))
        && width > 0.0
        && count_of_nodes > 0
        && count > 0
        && count_of_nodes as f64 * (CEILING_PERCENT.max(lowest + width * count as f64) - lowest) / width
            <= MOST_SPECTRA
        && (count_of_nodes as u64) * (count as u64) <= MOST_MASS;
    if !sound {
        return Err(damaged(PLACE));
    }
    let rates = RateGrid { first, spacing, count: count_of_nodes };
    let cells = Cells { lowest, width, count };
    // Nothing is reserved before the bytes for it have been seen.
    let log_likelihood = input.vector(count_of_nodes, PLACE)?;
    let beyond = input.vector(count_of_nodes, PLACE)?;
    if !beyond.iter().all(|share| (-1e-6..=1.0 + 1e-6).contains(share)) {
        return Err(damaged(PLACE));
    }
    let mut runs = Vec::with_capacity(count_of_nodes);
    for _ in 0..count_of_nodes {
        let start = input.count(count as u64, PLACE)?;
        let length = input.count((count - start) as u64, PLACE)?;
        let run = input.vector(length, PLACE)?;
        if !run.iter().all(|value| (0.0..=2.0).contains(value)) {
            return Err(damaged(PLACE));
        }
        runs.push((start, run));
    }
    let mut mass = vec![0.0; count_of_nodes * count];
    for (row, (start, run)) in mass.chunks_exact_mut(count).zip(runs) {
        row[start..start + run.len()].copy_from_slice(&run);
    }
    let state = State { s, rates, log_likelihood, beyond, cells, mass };
    // Nodes of no weight may have lost mass to the cut of the grid; the whole hasn't.
    let weights = nodes::normalised(&state.log_weights(parameters));
    let whole: f64 = weights
        .iter()
        .enumerate()
        .map(|(node, weight)| weight * (state.beyond[node] + state.node(node).iter().sum::<f64>()))
        .sum();
    if (whole - 1.0).abs() < 1e-3 { Ok(state) } else { Err(damaged(PLACE)) }
}

struct Writer {
    bytes: Vec<u8>,
    version: u8,
}

impl Writer {
    fn numbers(&mut self, values: &[f64]) {
        self.bytes.extend(values.iter().flat_map(|value| value.to_le_bytes()));
    }

    fn flag(&mut self, value: bool) {
        self.bytes.push(u8::from(value));
    }

    fn count(&mut self, count: usize) {
        let mut rest = count as u64;
        while rest >= 0x80 {
            self.bytes.push((rest & 0x7f) as u8 | 0x80);
            rest >>= 7;
        }
        self.bytes.push(rest as u8);
    }

    fn start(&mut self, start: Start) {
        let Start::AsFound(found) = start else { return self.flag(false) };
        self.flag(true);
        self.numbers(&[found.limit().get()]);
        self.flag(found.ridden().is_some());
        if let Some((before, ln_sd)) = found.ridden() {
            self.numbers(&[before.get(), ln_sd.get()]);
        }
    }

    fn calibration(&mut self, own: Calibration) {
        self.numbers(&[own.bias(), own.sd()]);
        if self.version > WITHOUT_TOOLS {
            self.numbers(&[own.unknown_bias()]);
        }
    }

    fn optional(&mut self, reading: Option<&TimedReading>) {
        self.flag(reading.is_some());
        if let Some(reading) = reading {
            self.reading(reading);
        }
    }

    fn reading(&mut self, reading: &TimedReading) {
        self.numbers(&[reading.at.get(), reading.exposure_ln_sd.get()]);
        if self.version > PLAIN {
            self.flag(reading.missing_riding.is_some());
            if let Some(MissingRiding { probability, mean, parts }) = reading.missing_riding {
                self.numbers(&[probability.get(), mean.get()]);
                self.bytes.push(parts.get());
            }
        }
        if self.version > WITHOUT_TOOLS {
            self.flag(reading.calibration.is_some());
            if let Some(own) = reading.calibration {
                self.calibration(own);
            }
        }
        self.bytes.push(reading.measurement.instrument() as u8);
        match reading.measurement.content() {
            Content::Elongation(spots) => {
                self.count(spots.count() as usize);
                self.numbers(&spots.parts());
            }
            Content::Gauge { mark, drops_in } => {
                self.flag(drops_in);
                self.numbers(&[mark.get()]);
            }
        }
    }
}

struct Reader<'a> {
    rest: &'a [u8],
    version: u8,
}

impl Reader<'_> {
    fn byte(&mut self, place: &'static str) -> Result<u8, CheckpointError> {
        let (&byte, rest) = self.rest.split_first().ok_or(damaged(place))?;
        self.rest = rest;
        Ok(byte)
    }

    fn flag(&mut self, place: &'static str) -> Result<bool, CheckpointError> {
        match self.byte(place)? {
            0 => Ok(false),
            1 => Ok(true),
            _ => Err(damaged(place)),
        }
    }

    fn count(&mut self, most: u64, place: &'static str) -> Result<usize, CheckpointError> {
        let mut value = 0_u64;
        for shift in (0..35).step_by(7) {
            let byte = self.byte(place)?;
            value |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                return usize::try_from(value).ok().filter(|_| value <= most).ok_or(damaged(place));
            }
        }
        Err(damaged(place))
    }

    fn number(&mut self, place: &'static str) -> Result<f64, CheckpointError> {
        let (bytes, rest) = self.rest.split_first_chunk().ok_or(damaged(place))?;
        self.rest = rest;
        Some(f64::from_le_bytes(*bytes)).filter(|value| value.is_finite()).ok_or(damaged(place))
    }

    fn numbers<const N: usize>(&mut self, place: &'static str) -> Result<[f64; N], CheckpointError> {
        let mut values = [0.0; N];
        for value in &mut values {
            *value = self.number(place)?;
        }
        Ok(values)
    }

    fn vector(&mut self, count: usize, place: &'static str) -> Result<Vec<f64>, CheckpointError> {
        if self.rest.len() / 8 < count {
            return Err(damaged(place));
        }
        (0..count).map(|_| self.number(place)).collect()
    }

    fn list<T>(
        &mut self,
        place: &'static str,
        mut item: impl FnMut(&mut Self) -> Result<T, CheckpointError>,
    ) -> Result<Vec<T>, CheckpointError> {
        let count = self.count(MOST_NAMED, place)?;
        let mut items = Vec::new();
        for _ in 0..count {
            items.push(item(self)?);
        }
        Ok(items)
    }

    fn optional(&mut self) -> Result<Option<TimedReading>, CheckpointError> {
        Ok(if self.flag("a reading")? { Some(self.reading()?) } else { None })
    }

    fn start(&mut self) -> Result<Start, CheckpointError> {
        const PLACE: &str = "the start";
        if !self.flag(PLACE)? {
            return Ok(Start::New);
        }
        let [limit] = self.numbers(PLACE)?;
        let found = AsFound::at_limit(Limit::new(limit).map_err(|_| damaged(PLACE))?);
        if !self.flag(PLACE)? {
            return Ok(Start::AsFound(found));
        }
        let [before, ln_sd] = self.numbers(PLACE)?;
        let before = ReferenceKilometres::new(before).map_err(|_| damaged(PLACE))?;
        let ln_sd = LogSd::new(ln_sd).map_err(|_| damaged(PLACE))?;
        Ok(Start::AsFound(found.ridden_about(before, ln_sd)))
    }

    fn fast_phase(&mut self) -> Result<FastPhase, CheckpointError> {
        const PLACE: &str = "the parameters";
        Ok(match (self.flag(PLACE)?, self.version) {
            (false, _) => FastPhase::NONE,
            (true, PLAIN | WITHOUT_TOOLS) => FastPhase::ASSUMED,
            (true, _) => {
                let [onset, gain] = self.numbers(PLACE)?;
                FastPhase::new(onset, gain).map_err(|_| damaged(PLACE))?
            }
        })
    }

    fn calibration(&mut self) -> Result<Calibration, CheckpointError> {
        const PLACE: &str = "a calibration";
        let [bias, sd] = self.numbers(PLACE)?;
        let [unknown] = if self.version > WITHOUT_TOOLS { self.numbers(PLACE)? } else { [0.0] };
        Calibration::parse(bias, sd)
            .and_then(|own| own.with_unknown_bias(unknown))
            .map_err(|_| damaged(PLACE))
    }

    fn missing_riding(&mut self) -> Result<Option<MissingRiding>, CheckpointError> {
        const PLACE: &str = "a reading";
        if self.version == PLAIN || !self.flag(PLACE)? {
            return Ok(None);
        }
        let [probability, mean] = self.numbers(PLACE)?;
        let probability = Probability::new(probability).map_err(|_| damaged(PLACE))?;
        let mean = ReferenceKilometres::new(mean).map_err(|_| damaged(PLACE))?;
        let parts = std::num::NonZero::new(self.byte(PLACE)?).ok_or(damaged(PLACE))?;
        Ok(Some(MissingRiding { probability, mean, parts }))
    }

    fn reading(&mut self) -> Result<TimedReading, CheckpointError> {
        const PLACE: &str = "a reading";
        let [at, ln_sd] = self.numbers(PLACE)?;
        let at = ReferenceKilometres::new(at).map_err(|_| damaged(PLACE))?;
        let ln_sd = LogSd::new(ln_sd).map_err(|_| damaged(PLACE))?;
        let missing_riding = self.missing_riding()?;
        let own = self.version > WITHOUT_TOOLS && self.flag(PLACE)?;
        let calibration = if own { Some(self.calibration()?) } else { None };
        let instrument = *Instrument::ALL.get(usize::from(self.byte(PLACE)?)).ok_or(damaged(PLACE))?;
        let measurement = if instrument.is_gauge() {
            let drops_in = self.flag(PLACE)?;
            let [mark] = self.numbers(PLACE)?;
            let mark = GaugeMark::new(mark).map_err(|_| damaged(PLACE))?;
            Measurement::gauge(instrument, mark, drops_in).map_err(|_| damaged(PLACE))?
        } else {
            let count = self.count(bounds::SPOTS.maximum as u64, PLACE)?;
            let parts = self.numbers(PLACE)?;
            let within = |bound: &'static Bound| parts.iter().all(|part| bound.check(*part).is_ok());
            let spots = Spots::from_parts(count, parts)
                .filter(|_| within(&bounds::ELONGATION_READING))
                .ok_or(damaged(PLACE))?;
            Measurement::of_spots(instrument, spots).ok_or(damaged(PLACE))?
        };
        let reading = TimedReading::new(at, measurement).with_exposure_ln_sd(ln_sd);
        Ok(TimedReading { missing_riding, calibration, ..reading })
    }
}

/// CRC-32 of IEEE 802.3, reflected, polynomial 0xEDB88320 (M), four bits at a time.
fn crc32(bytes: &[u8]) -> u32 {
    const TABLE: [u32; 16] = {
        let mut table = [0; 16];
        let mut i = 0;
        while i < 16 {
            let mut value = i as u32;
            let mut bit = 0;
            while bit < 4 {
                value = if value & 1 == 1 { value >> 1 ^ 0xedb8_8320 } else { value >> 1 };
                bit += 1;
            }
            table[i] = value;
            i += 1;
        }
        table
    };
    !bytes.iter().fold(!0, |sum: u32, byte| {
        let low = sum ^ u32::from(*byte);
        let half = low >> 4 ^ TABLE[(low & 15) as usize];
        half >> 4 ^ TABLE[(half & 15) as usize]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn checksum_of_the_textbook() {
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn a_checksum_that_fits_does_not_make_nonsense_a_posterior() {
        let sound =
            Posterior::new(&WearParameters::default(), &InstrumentCalibrations::default()).checkpoint();
        let body = &sound[..sound.len() - 4];
        // Every byte changed in turn, with a checksum that fits: an error or a posterior, never a panic.
        let mut refused = 0;
        for place in 0..body.len() {
            for change in [0x01, 0x80, 0xff] {
                let mut bytes = body.to_vec();
                bytes[place] ^= change;
                let sum = crc32(&bytes);
                bytes.extend(sum.to_le_bytes());
                refused += u32::from(Posterior::from_checkpoint(&bytes).is_err());
            }
        }
        assert!(refused > 200, "{refused}");
    }
}
