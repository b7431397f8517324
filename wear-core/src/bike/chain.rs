//! One chain: what happened to it, and what is known of it.

use std::sync::OnceLock;

use super::knock_on::{ExpectedKnockOn, expected_knock_on};
use super::lubricant_clock::{Lubricated, by_lubricants};
use super::timeline::{Accrued, Marks, Stay, accrue};
use super::usual::UsualRiding;
use super::warning::{ReadingSaid, Warning};
use super::{Moment, Rate, Reading};
use crate::degradation::{
    AsFound, Explanation, ExplanationKind, Explanations, HINT_LN_SD, OpenExposure, Posterior, Predictive,
    Snapshot, Start, TimedReading,
};
use crate::exposure::{Conditions, ExposureSum};
use crate::fleet::multipliers::ReadExposure;
use crate::fleet::{Counted, Days, Drift, LubricantShare};
use crate::reading::{Content, InstrumentCalibrations, Spots};
use crate::units::{Kilometres, Limit, LogSd, ReferenceKilometres};

/// Limit of the bikes on which a fleet's chains were found, where nothing else is known of them, percent (T: up to ten
/// sprockets).
const USUAL_LIMIT: Limit = Limit::constant(0.75);

/// A chain's life on the bikes it was on: stays and readings, in any order but that of the stays.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainRecord {
    stays: Vec<Stay>,
    readings: Vec<(Moment, Reading)>,
    start: ChainStart,
    /// The same for the filter, where the bike that it is on is known.
    begins: Option<Start>,
    /// How fast it wears, where more is known of it than of its bike.
    rate: Option<Rate>,
    /// What surface, water and neglect do to it.
    conditions: Conditions,
}

/// How a chain's record begins.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum ChainStart {
    /// With a new chain.
    #[default]
    New,
    /// With a chain that was on already, of an age that nobody knows.
    AsFound,
    /// The same with about so many kilometres on it.
    AsFoundAfter(Kilometres),
}

impl ChainRecord {
    /// A chain with its stays, in order of time.
    #[must_use]
    pub fn new(stays: Vec<Stay>) -> Self {
        Self {
            stays,
            readings: Vec::new(),
            start: ChainStart::New,
            begins: None,
            rate: None,
            conditions: Conditions::default(),
        }
    }

    /// The same with another beginning.
    #[must_use]
    pub fn starting(self, start: ChainStart) -> Self {
        Self { start, begins: None, ..self }
    }

    /// The same with how it begins for the filter, on a bike of which limit and usual riding are known.
    pub(super) fn begun(self, limit: Limit, usual: impl FnOnce() -> UsualRiding) -> Self {
        let begins = Some(self.start(limit, usual));
        Self { begins, ..self }
    }

    /// The same of which more is known than of the next chain of its bike: how fast the bike's other chains wore, say.
    /// A rate that was learned from this chain's own readings would count them twice.
    #[must_use]
    pub fn with_rate(self, rate: Rate) -> Self {
        Self { rate: Some(rate), ..self }
    }

    /// How it begins, for a fleet. What a chain had run when it was found counts where the record is a
    /// [`crate::Chain`]'s, which knows its bike.
    pub(crate) fn begins(&self) -> Start {
        self.begins.unwrap_or(match self.start {
            ChainStart::New => Start::New,
            ChainStart::AsFound | ChainStart::AsFoundAfter(_) => {
                Start::AsFound(AsFound::at_limit(USUAL_LIMIT))
            }
        })
    }

    /// The same with readings; outlooks name them by their place in this list.
    #[must_use]
    pub fn with_readings(mut self, readings: impl IntoIterator<Item = (Moment, Reading)>) -> Self {
        self.readings.extend(readings);
        self
    }

    /// The same where the drivetrain of the bike at hand is assumed.
    pub(super) fn on_assumed_drivetrain(self) -> Self {
        let assumed = |stay: Stay| if stay.is_here() { stay.on_assumed_drivetrain() } else { stay };
        Self { stays: self.stays.into_iter().map(assumed).collect(), ..self }
    }

    /// The same under what a fleet has learned of surface, water and neglect.
    pub(super) fn under(self, conditions: Conditions) -> Self {
        Self { conditions, ..self }
    }

    /// The chain as it was known at `at`: what happened later is left out; none where it was fitted later.
    pub(super) fn as_of(&self, at: Moment) -> Option<Self> {
        let stays: Vec<Stay> = self.stays.iter().filter_map(|stay| stay.as_of(at)).collect();
        let readings = self.readings.iter().filter(|(taken, _)| *taken <= at).copied().collect();
        let Self { start, begins, rate, conditions, .. } = self;
        (!stays.is_empty()).then(|| Self {
            stays,
            readings,
            start: *start,
            begins: *begins,
            rate: rate.clone(),
            conditions: *conditions,
        })
    }

    /// Whether rides, an odometer or a declaration tell that it was ridden.
    pub(super) fn is_ridden(&self) -> bool {
        self.stays.iter().any(Stay::is_ridden)
    }

    /// Days from its fitting to `now`.
    pub(super) fn days_on(&self, now: Moment) -> f64 {
        self.fitted_at().map_or(0.0, |fitted_at| now.days_since(fitted_at))
    }

    /// How its record begins.
    #[must_use]
    pub const fn chain_start(&self) -> ChainStart {
        self.start
    }

    /// Its stays.
    #[must_use]
    pub fn stays(&self) -> &[Stay] {
        &self.stays
    }

    /// Its readings.
    #[must_use]
    pub fn readings(&self) -> &[(Moment, Reading)] {
        &self.readings
    }

    /// When it was first fitted.
    pub(super) fn fitted_at(&self) -> Option<Moment> {
        self.stays.first().map(Stay::from)
    }

    pub(super) fn was_here_after(&self, since: Moment) -> bool {
        self.stays.iter().any(|stay| stay.was_here_after(since))
    }

    pub(super) fn was_here_at(&self, at: Moment) -> bool {
        self.stays.iter().any(|stay| stay.was_here_at(at))
    }

    pub(super) fn accrued(&self, sprockets: &[Moment]) -> Accrued {
        let readings: Vec<Moment> = self.readings.iter().map(|(at, _)| *at).collect();
        let marks = Marks { readings: &readings, sprockets };
        accrue(&self.stays, marks, &self.conditions)
    }

    /// How its record begins, for the filter.
    pub(super) fn start(&self, limit: Limit, usual: impl FnOnce() -> UsualRiding) -> Start {
        let ridden = match self.start {
            ChainStart::New => return Start::New,
            ChainStart::AsFound => None,
            ChainStart::AsFoundAfter(km) => {
                ReferenceKilometres::new(km.get() / usual().km_per_reference_km).ok()
            }
        };
        let found = AsFound::at_limit(limit);
        Start::AsFound(ridden.map_or(found, |before| found.ridden_about(before, HINT_LN_SD)))
    }

    /// The place of each reading that fell into its life, in order of time, and its exposure then.
    pub(super) fn read_at(&self) -> Vec<(usize, ReadExposure)> {
        let accrued = self.accrued(&[]);
        recorded(&accrued, &timed(&accrued, &self.readings))
    }

    /// What it was ridden under up to each reading that fell into its life, by the reading's place, in order of time: shares of
    /// its exposure by then. Nothing where nobody named a lubricant.
    pub(crate) fn read_under(&self) -> Vec<(usize, Vec<LubricantShare>)> {
        if !self.stays.iter().any(Stay::names_lubricants) {
            return Vec::new();
        }
        let accrued = self.accrued(&[]);
        let read = accrued.at_mark.iter().filter(|mark| mark.place < self.readings.len());
        read.map(|mark| (mark.place, mark.under.shares_of(mark.reference_km))).collect()
    }

    /// The exposure of the chain at each of its readings, in order of time: what a fleet learns from, and what
    /// forecasts are scored on.
    #[must_use]
    pub fn timed_readings(&self) -> Vec<TimedReading> {
        timed(&self.accrued(&[]), &self.readings).into_iter().map(|(_, reading)| reading).collect()
    }
}

/// Readings with their exposures, in order of time, each with its place in the record.
fn timed(accrued: &Accrued, readings: &[(Moment, Reading)]) -> Vec<(usize, TimedReading)> {
    let mut before = ExposureSum::default();
    let mut timed = Vec::with_capacity(readings.len());
    for mark in &accrued.at_mark {
        let Some((_, reading)) = readings.get(mark.place) else { continue };
        let Ok(at) = ReferenceKilometres::new(mark.reference_km.max(0.0)) else { continue };
        // What a stretch shares with the whole of the chain's exposure is in the spread of its rate already.
        let apart = mark.mix.since(&before).ln_sd_apart_from(&accrued.mix);
        let read = TimedReading::new(at, *reading.measurement()).with_exposure_ln_sd(apart);
        timed.push((mark.place, reading.calibration().map_or(read, |own| read.with_calibration(own))));
        before = mark.mix;
    }
    timed
}

/// The exposure at each reading, as it was recorded and by context.
fn recorded(accrued: &Accrued, timed: &[(usize, TimedReading)]) -> Vec<(usize, ReadExposure)> {
    let marks = timed.iter().filter_map(|(place, reading)| {
        let mark = accrued.at_mark.iter().find(|mark| mark.place == *place)?;
        Some((*place, ReadExposure { at: reading.at, by_context: mark.by_context }))
    });
    marks.collect()
}

/// A chain's exposures by the clock of what lies ahead.
fn clock(
    drift: Drift,
    record: &ChainRecord,
    accrued: &Accrued,
    timed: &[(usize, TimedReading)],
    now: Moment,
) -> Counted {
    let day = |at: Moment| i32::try_from(at.day()).unwrap_or(i32::MAX);
    let read = |place: usize| record.readings.get(place).map_or(now, |(at, _)| *at);
    let days: Vec<i32> = timed.iter().map(|(place, _)| day(read(*place))).collect();
    let readings: Vec<TimedReading> = timed.iter().map(|(_, reading)| *reading).collect();
    let at = ReferenceKilometres::new(accrued.reference_km.max(0.0)).unwrap_or(ReferenceKilometres::ZERO);
    let days = Days { begun: record.fitted_at().map(day), read: &days };
    drift.counted(&readings, days, (day(now), at))
}

/// A chain with its exposure and what is known of its elongation.
#[derive(Debug)]
pub(super) struct KnownChain {
    pub record: ChainRecord,
    /// What it went through.
    pub accrued: Accrued,
    /// What is known of it.
    pub posterior: Posterior,
    /// Its readings with their exposures, in order of time, each with its place in the record; by the clock of what lies ahead
    /// where wear drifts.
    pub timed: Vec<(usize, TimedReading)>,
    /// The same exposures as they were recorded.
    pub recorded: Vec<(usize, ReadExposure)>,
    clock: Option<Counted>,
    lubricated: Option<Lubricated>,
    /// Exposure at each moment at which a sprocket was fitted.
    at_sprockets: Vec<(Moment, ReferenceKilometres)>,
    open: OpenExposure,
    knock_on: OnceLock<ExpectedKnockOn>,
    doubt: OnceLock<Option<Explanations>>,
}

impl KnownChain {
    /// What is known of a chain, given when sprockets of the bike at hand were fitted.
    pub fn of(
        record: ChainRecord,
        sprockets_since: &[Moment],
        rate: &Rate,
        calibrations: &InstrumentCalibrations,
        (start, now): (Start, Moment),
    ) -> Self {
        let accrued = record.accrued(sprockets_since);
        let mut timed = timed(&accrued, &record.readings);
        let recorded = recorded(&accrued, &timed);
        let rate = record.rate.as_ref().unwrap_or(rate);
        let clock = rate.drift().map(|drift| clock(drift, &record, &accrued, &timed, now));
        let (clock, lubricated) = match rate.lubricants().filter(|_| !accrued.under.is_empty()) {
            Some(effects) => {
                let (read, readings): (Vec<usize>, Vec<TimedReading>) = timed.iter().copied().unzip();
                let exposure = ReferenceKilometres::new(accrued.reference_km.max(0.0));
                let recorded =
                    || Counted::as_recorded(readings, exposure.unwrap_or(ReferenceKilometres::ZERO));
                let (counted, lubricated) =
                    by_lubricants(effects, &accrued, (&read, clock.clone().unwrap_or_else(recorded)));
                (lubricated.map(|_| counted).or(clock), lubricated)
            }
            None => (clock, None),
        };
        for ((_, reading), counted) in timed.iter_mut().zip(clock.iter().flat_map(|clock| &clock.readings)) {
            *reading = *counted;
        }
        let is_reading = |place: usize| place < record.readings.len();
        let last_mark = accrued.at_mark.iter().rfind(|mark| is_reading(mark.place));
        let before = last_mark.map_or_else(ExposureSum::default, |mark| mark.mix);
        let since_last_reading = accrued.mix.since(&before).ln_sd_apart_from(&accrued.mix);
        let open = OpenExposure { since_last_reading, ahead: LogSd::ZERO };
        let readings: Vec<TimedReading> = timed.iter().map(|(_, reading)| *reading).collect();
        let parameters = rate.for_exposure(&accrued.mix).with_start(start);
        let parameters = clock.as_ref().map_or(parameters, |clock| parameters.with_faster(clock.ln_rate));
        let unknown = lubricated.and_then(|it| LogSd::new(it.variance.sqrt()).ok());
        let parameters = unknown.map_or(parameters, |sd| parameters.with_shared_exposure_error(sd));
        let posterior = Posterior::of(&parameters, calibrations, &readings).with_open_exposure(open);
        let at_sprockets = accrued
            .at_mark
            .iter()
            .filter_map(|mark| {
                let since = *sprockets_since.get(mark.place.checked_sub(record.readings.len())?)?;
                let km = clock.as_ref().map_or(mark.reference_km, |clock| clock.counted(mark.reference_km));
                Some((since, ReferenceKilometres::new(km).ok()?))
            })
            .collect();
        Self {
            record,
            accrued,
            posterior,
            timed,
            recorded,
            clock,
            lubricated,
            at_sprockets,
            open,
            knock_on: OnceLock::new(),
            doubt: OnceLock::new(),
        }
    }

    /// What lies ahead is ridden as of late: how far that may be off compared with the chain's past.
    pub fn look_ahead(&mut self, recent: &ExposureSum) {
        let mut recent = *recent;
        recent.forget_single_rides();
        self.open.ahead = recent.ln_sd_apart_from(&self.accrued.mix);
        if let Some(lubricated) = &self.lubricated {
            let ahead = self.open.ahead.get().hypot(lubricated.apart.sqrt());
            self.open.ahead = LogSd::new(ahead).unwrap_or(self.open.ahead);
        }
        self.posterior.set_open_exposure(self.open);
    }

    /// Exposure up to now, or up to the chain's removal; by the clock of what lies ahead where wear drifts.
    pub fn at(&self) -> ReferenceKilometres {
        self.clock.as_ref().map_or_else(|| self.recorded_at(), |clock| clock.now)
    }

    /// An exposure on record by the clock of what lies ahead.
    pub fn counted(&self, recorded: f64) -> f64 {
        self.clock.as_ref().map_or(recorded, |clock| clock.counted(recorded))
    }

    /// What the lubricant that it is ridden under now makes of its wear over what is usual, as a factor; none where nothing was
    /// learned of it.
    pub fn lubricant_factor(&self) -> Option<f64> {
        self.lubricated.filter(|_| self.accrued.lubricant.is_some()).map(|it| it.ln_mean.exp())
    }

    /// What it was ridden under up to its last reading, by shares of its exposure by then.
    pub fn read_under(&self) -> Vec<LubricantShare> {
        let count = self.record.readings.len();
        let last = self.accrued.at_mark.iter().rfind(|mark| mark.place < count);
        last.map_or_else(Vec::new, |mark| mark.under.shares_of(mark.reference_km))
    }

    /// The same as it was recorded.
    pub fn recorded_at(&self) -> ReferenceKilometres {
        ReferenceKilometres::new(self.accrued.reference_km.max(0.0)).unwrap_or(ReferenceKilometres::ZERO)
    }

    /// Exposure when a sprocket fitted at `since` met the chain first.
    pub fn at_sprocket(&self, since: Moment) -> ReferenceKilometres {
        let met = self.at_sprockets.iter().find(|(at, _)| *at == since);
        met.map_or(ReferenceKilometres::ZERO, |(_, exposure)| *exposure)
    }

    /// Expected wear rate, percent per reference km.
    pub fn mean_rate(&self) -> f64 {
        // E θ of a log-normal θ
        let (mean, sd) = self.posterior.log_rate();
        (mean + 0.5 * sd * sd).exp()
    }

    /// What it is expected to have done by now, or by its removal.
    pub fn knock_on(&self) -> ExpectedKnockOn {
        *self.knock_on.get_or_init(|| self.knock_on_at(self.at()))
    }

    /// The same, from what was computed for other questions as well.
    pub fn knock_on_now(&self, chain: &Snapshot<'_>) -> ExpectedKnockOn {
        *self.knock_on.get_or_init(|| expected_knock_on(|grid| chain.elongation_density(grid), |e| e))
    }

    /// What it had done at an earlier exposure, by all that is known now.
    ///
    /// The filter knows the chain from its last reading on. Before that, a gamma process that is known at both ends is on
    /// average the straight line between them (C); where the beginning isn't known, the mean rate leads back.
    pub fn knock_on_at(&self, at: ReferenceKilometres) -> ExpectedKnockOn {
        let parameters = self.posterior.parameters();
        let read_at = self.timed.iter().map(|(_, reading)| reading.at.get()).fold(0.0, f64::max);
        let known_at = ReferenceKilometres::new(read_at).unwrap_or(ReferenceKilometres::ZERO);
        let seen_at = if at < known_at { known_at } else { at };
        let density = |grid: &[f64]| self.posterior.elongation_density(seen_at, grid);
        let (then, back) = (at.get(), read_at - at.get());
        if back <= 0.0 {
            return expected_knock_on(density, |e| e);
        }
        let run_in = |s: f64| -parameters.running_in() * (-s / parameters.running_in_distance()).exp_m1();
        match parameters.start() {
            Start::New => {
                let fresh = |s: f64| parameters.initial_mean() + run_in(s);
                let path = |e: f64| (fresh(then) + then / read_at * (e - fresh(read_at))).max(0.0);
                expected_knock_on(density, path)
            }
            Start::AsFound(_) => {
                let rate = self.mean_rate();
                expected_knock_on(density, |e| (e - rate * back).max(0.0))
            }
        }
    }

    /// Kilometres per reference kilometre over its life; none while it hasn't been ridden.
    pub fn lifetime_ratio(&self) -> Option<f64> {
        let Accrued { km, reference_km, .. } = self.accrued;
        (reference_km > 0.0).then(|| km / reference_km)
    }

    /// What may explain the readings, where they and the record don't agree.
    pub fn doubt(&self) -> Option<&Explanations> {
        let explain = || {
            let readings: Vec<TimedReading> = self.timed.iter().map(|(_, reading)| *reading).collect();
            Posterior::explain(self.posterior.parameters(), self.posterior.calibrations(), &readings)
        };
        self.doubt.get_or_init(|| self.posterior.is_doubted().then(explain).flatten()).as_ref()
    }

    /// The same, where the record is more likely wrong than right.
    pub fn likely_wrong(&self) -> Option<&Explanations> {
        self.doubt().filter(|doubt| !doubt.is_as_recorded())
    }

    /// Density of the elongation at an exposure, by what is known now, per percent.
    pub fn elongation_density(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        match self.likely_wrong() {
            Some(doubt) => doubt.telling().elongation_density(at, grid),
            None => self.posterior.elongation_density(at, grid),
        }
    }

    /// Probability of being at or below each elongation of a grid at an exposure, by what is known now.
    pub fn elongation_distribution(&self, at: ReferenceKilometres, grid: &[f64]) -> Vec<f64> {
        match self.likely_wrong() {
            Some(doubt) => doubt.telling().elongation_distribution(at, grid),
            None => self.posterior.elongation_distribution(at, grid),
        }
    }

    /// What the latest reading said, percent: the mean of the spots, or the mark of a gauge that dropped in.
    pub fn last_read_percent(&self) -> Option<f64> {
        let (_, reading) = self.record.readings.iter().max_by_key(|(at, _)| *at)?;
        match reading.measurement().content() {
            Content::Elongation(spots) => Some(spots.mean()),
            Content::Gauge { mark, drops_in: true } => Some(mark.get()),
            Content::Gauge { drops_in: false, .. } => None,
        }
    }

    /// Distance since care was last entered, km, where care counts as recorded and silence is longer than is usual for those
    /// who look after a chain at all.
    pub fn care_silent(&self) -> Option<f64> {
        self.accrued.care_silent()
    }

    /// Whether each reading of the record is taken for wrong and left out.
    pub fn set_aside(&self) -> Vec<bool> {
        let predictives = self.posterior.predictives();
        let mut aside: Vec<bool> = self
            .record
            .readings
            .iter()
            .map(|(_, reading)| {
                let same = |known: &&Predictive| known.reading.measurement == *reading.measurement();
                predictives.iter().filter(same).any(|known| known.set_aside)
            })
            .collect();
        if let Some(doubt) = self.likely_wrong() {
            // What a swap or missing rides explain is no error.
            aside.fill(false);
            let wrong = doubt.changes().filter(|found| found.kind == ExplanationKind::WrongReading);
            for place in wrong.filter_map(|found| Some(self.timed.get(found.place?.index)?.0)) {
                aside[place] = true;
            }
        }
        aside
    }

    /// When what an explanation says most likely happened: after the reading before, or the fitting, and by the one it
    /// names.
    pub fn between(&self, explanation: &Explanation) -> Option<(Moment, Moment)> {
        let read_at = |index: usize| Some(self.record.readings.get(self.timed.get(index)?.0)?.0);
        let index = explanation.place?.index;
        let by = read_at(index)?;
        if explanation.kind == ExplanationKind::WrongReading {
            return Some((by, by));
        }
        let before = index.checked_sub(1).and_then(read_at);
        Some((before.or(self.record.fitted_at()).unwrap_or(by), by))
    }

    /// What a person should know of the readings.
    pub fn warnings(&self) -> Vec<Warning> {
        let uneven = self.record.readings.iter().filter_map(|(at, reading)| {
            let is_uneven = reading.measurement().as_spots().is_some_and(Spots::is_uneven);
            is_uneven.then_some(Warning::UnevenChain { read_at: *at })
        });
        let contradictory =
            self.posterior.contradictions().iter().map(|found| Warning::ContradictoryReadings {
                earlier: found.earlier.as_ref().map(ReadingSaid::of),
                later: ReadingSaid::of(&found.later),
                deviations: found.deviations,
            });
        let in_doubt = self.doubt().into_iter().flat_map(Explanations::changes).filter_map(|found| {
            Some(Warning::RecordInDoubt {
                explanation: found.kind,
                probability: found.probability,
                between: self.between(found)?,
            })
        });
        uneven.chain(contradictory).chain(in_doubt).collect()
    }
}
