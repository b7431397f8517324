//! From rides, care and readings in order of time to the exposure of one part at each event of its life.
//!
//! A day on which nothing but riding happened is taken as a whole, by context. The rides of a day on which the part was
//! fitted, taken off, looked after or measured are taken one by one, so that each falls on its own side of the event:
//! what matters is when things happened, never when they were reported.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::lubrication::{Lubrication, WithCare};
use super::ridden_under::RiddenUnder;
use super::riding::Unlogged;
use super::{Moment, RideTotals};
use crate::drivetrain::TYPICAL_LN_SD;
use crate::exposure::care::{CareKind, CareModel, Segment};
use crate::exposure::care_habit::{CareHabit, USUAL_CARE_INTERVAL, USUAL_CARE_LN_SD};
use crate::exposure::odometer::StretchSource;
use crate::exposure::{
    Assumption, Conditions, Context, DriverParts, EnergySource, ExposureModel, ExposureSum, RolledUp,
};
use crate::fleet::multipliers::ContextExposure;
use crate::forecast::DailyUse;
use crate::units::Probability;

/// Millimetres in a kilometre.
const MM_PER_KM: f64 = 1e6;

/// A part's time on one bike, with what happened to it meanwhile; in any order.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    from: Moment,
    to: Moment,
    here: bool,
    rides: Vec<(Moment, RideTotals)>,
    care: Vec<(Moment, CareKind)>,
    /// What the part was ridden under from then on, in order of time.
    lubricants: Vec<(Moment, Option<Arc<str>>)>,
    habit: CareHabit,
    unlogged: Vec<Unlogged>,
    assumed_drivetrain: bool,
}

impl Stay {
    /// A stay on the bike at hand, up to the present while it lasts.
    #[must_use]
    pub const fn new(from: Moment, to: Moment) -> Self {
        Self {
            from,
            to,
            here: true,
            rides: Vec::new(),
            care: Vec::new(),
            lubricants: Vec::new(),
            habit: CareHabit::Recorded,
            unlogged: Vec::new(),
            assumed_drivetrain: false,
        }
    }

    /// The same on another bike: its rides wear the part, and say nothing of the bike at hand.
    #[must_use]
    pub const fn elsewhere(mut self) -> Self {
        self.here = false;
        self
    }

    /// The same with rides of the stay.
    ///
    /// Sums of a whole day stand at the beginning of the day, and only for days without another event; see
    /// [`Stay::needs_single_rides`].
    #[must_use]
    pub fn with_rides(mut self, rides: impl IntoIterator<Item = (Moment, RideTotals)>) -> Self {
        self.rides.extend(rides);
        self
    }

    /// The same with care given during the stay.
    #[must_use]
    pub fn with_care(mut self, care: impl IntoIterator<Item = (Moment, CareKind)>) -> Self {
        self.care.extend(care);
        self
    }

    /// The same with what it was ridden under from each of these moments on: none where nobody named it, as before the first.
    /// Of two at one moment the one that is named counts.
    #[must_use]
    pub fn with_lubricants(
        mut self,
        lubricants: impl IntoIterator<Item = (Moment, Option<Arc<str>>)>,
    ) -> Self {
        self.lubricants.extend(lubricants);
        self.lubricants.sort_unstable();
        self
    }

    /// The same with what is known of the bike's care; without it all care counts as entered.
    #[must_use]
    pub const fn with_care_habit(mut self, habit: CareHabit) -> Self {
        self.habit = habit;
        self
    }

    /// The same with distance that no ride accounts for; what lies outside of the stay is left out.
    #[must_use]
    pub fn with_unlogged(mut self, unlogged: impl IntoIterator<Item = Unlogged>) -> Self {
        let (from, to) = (self.from, self.to);
        let during = |one: &Unlogged| {
            let (begins, ends) = one.span();
            begins < to && ends >= from
        };
        self.unlogged.extend(unlogged.into_iter().filter(during));
        self
    }

    /// The same on a drivetrain that was assumed, as nobody entered it.
    #[must_use]
    pub const fn on_assumed_drivetrain(mut self) -> Self {
        self.assumed_drivetrain = true;
        self
    }

    /// The stay as it was at `at`: what happened later is left out; none where it began later.
    pub(super) fn as_of(&self, at: Moment) -> Option<Self> {
        let Self { from, to, here, rides, care, lubricants, habit, unlogged, assumed_drivetrain } = self;
        (*from <= at).then(|| Self {
            from: *from,
            to: at.min(*to),
            here: *here,
            rides: rides.iter().filter(|(ridden, _)| *ridden < at).copied().collect(),
            care: care.iter().filter(|(done, _)| *done <= at).copied().collect(),
            lubricants: lubricants.iter().filter(|(done, _)| *done <= at).cloned().collect(),
            habit: match habit {
                CareHabit::RecordedSince(since) if *since > at.days() => CareHabit::Unrecorded,
                known => *known,
            },
            unlogged: unlogged.clone(),
            assumed_drivetrain: *assumed_drivetrain,
        })
    }

    /// Whether anything tells that it was ridden.
    pub(super) fn is_ridden(&self) -> bool {
        !self.rides.is_empty() || !self.unlogged.is_empty()
    }

    /// Whether anybody said what it was ridden under.
    pub(super) fn names_lubricants(&self) -> bool {
        self.lubricants.iter().any(|(_, lubricant)| lubricant.is_some())
    }

    /// Whether it is on the bike at hand.
    pub(super) const fn is_here(&self) -> bool {
        self.here
    }

    /// When the part was fitted.
    #[must_use]
    pub const fn from(&self) -> Moment {
        self.from
    }

    /// When it came off; beyond now while it is on.
    pub(super) const fn to(&self) -> Moment {
        self.to
    }

    /// Whether it ended after `since`, on the bike at hand.
    pub(super) fn was_here_after(&self, since: Moment) -> bool {
        self.here && self.to > since
    }

    /// Whether the part was on the bike at hand at `at`.
    pub(super) fn was_here_at(&self, at: Moment) -> bool {
        self.here && self.from <= at && at < self.to
    }

    /// Days whose rides are needed one by one, given when the chain was read and when the sprockets of the bike at hand
    /// were fitted.
    #[must_use]
    pub fn needs_single_rides(&self, readings: &[Moment], sprockets: &[Moment]) -> BTreeSet<i64> {
        let events = self.events(Marks { readings, sprockets });
        self.eventful(&events)
    }

    /// What the part went through during this stay alone, given its care and what surface, water and neglect do.
    #[must_use]
    pub fn accrued(&self, conditions: &Conditions) -> Accrued {
        accrue(std::slice::from_ref(self), Marks::NONE, conditions)
    }

    fn events(&self, marks: Marks<'_>) -> Vec<(Moment, Event)> {
        let care = self.care.iter().map(|&(at, kind)| (at, Event::Care(kind)));
        let lubricants = (0..).zip(&self.lubricants).map(|(place, (at, _))| (*at, Event::Lubricated(place)));
        let sprockets = marks.sprockets.iter().filter(|_| self.here);
        let marks = marks.readings.iter().chain(sprockets).enumerate();
        let marks = marks.filter(|(_, at)| self.from <= **at && **at <= self.to);
        let mut events: Vec<(Moment, Event)> = care
            .chain(lubricants)
            .chain(marks.map(|(place, at)| (*at, Event::ExposureWanted(place))))
            .collect();
        events.sort_unstable();
        events
    }

    /// Days that can't be taken as a whole.
    fn eventful(&self, events: &[(Moment, Event)]) -> BTreeSet<i64> {
        events.iter().map(|(at, _)| *at).chain([self.from, self.to]).map(Moment::day).collect()
    }

    /// Rides that count together, in order of time.
    fn stretches(&self, events: &[(Moment, Event)]) -> Vec<Stretch> {
        let eventful = self.eventful(events);
        let mut rides = self.rides.clone();
        rides.sort_unstable();
        let mut stretches: Vec<Stretch> = Vec::with_capacity(rides.len());
        for (at, ride) in rides {
            let day = at.day();
            if eventful.contains(&day) {
                stretches.push(Stretch { at, day, sums: vec![ride], assumed: None });
                continue;
            }
            match stretches.last_mut() {
                Some(last) if last.day == day => match last.sums.iter_mut().find(|sum| sum.is_alike(&ride)) {
                    Some(sum) => sum.add(&ride),
                    None => last.sums.push(ride),
                },
                _ => {
                    let at = Moment::start_of(day);
                    stretches.push(Stretch { at, day, sums: vec![ride], assumed: None });
                }
            }
        }
        for stretch in &mut stretches {
            stretch.sums.sort_unstable();
        }
        for unlogged in &self.unlogged {
            self.spread(unlogged, events, &mut stretches);
        }
        if !self.unlogged.is_empty() {
            stretches.sort_by_key(|stretch| stretch.at);
        }
        stretches
    }

    /// Cuts unlogged distance where days begin and where something happened, so that each part falls on its own side.
    fn spread(&self, unlogged: &Unlogged, events: &[(Moment, Event)], stretches: &mut Vec<Stretch>) {
        let (begins, ends) = unlogged.span();
        let (from, to) = (begins.max(self.from), ends.min(self.to));
        let mut part = |from: Moment, to: Moment| {
            let sums = unlogged.between(from, to);
            if !sums.is_empty() {
                let assumed = Some(unlogged.source());
                stretches.push(Stretch { at: from, day: from.day(), sums, assumed });
            }
        };
        if from >= to {
            // Two totals read at one time.
            part(from, Moment::from_micros(from.micros().saturating_add(1)));
            return;
        }
        let days = (from.day() + 1..=to.day()).map(Moment::start_of);
        let happened = events.iter().map(|(at, _)| *at);
        let cuts: BTreeSet<Moment> =
            days.chain(happened).filter(|at| from < *at && *at < to).chain([to]).collect();
        let mut begin = from;
        for cut in cuts {
            part(begin, cut);
            begin = cut;
        }
    }
}

/// Moments at which a part's exposure is wanted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Marks<'a> {
    /// When it was read.
    pub readings: &'a [Moment],
    /// When sprockets of the bike at hand were fitted.
    pub sprockets: &'a [Moment],
}

impl Marks<'_> {
    /// Never.
    pub const NONE: Self = Self { readings: &[], sprockets: &[] };
}

/// Rides that count together.
struct Stretch {
    /// Start of the ride, or of the day that the rides are summed over.
    at: Moment,
    day: i64,
    /// Sums by context, in order.
    sums: Vec<RideTotals>,
    /// From what it is known, where it isn't from rides.
    assumed: Option<StretchSource>,
}

/// What happened to the part at an instant; at the same one, care comes before a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Event {
    /// The drivetrain was looked after.
    Care(CareKind),
    /// What it is ridden under from then on; its place in the stay's list.
    Lubricated(usize),
    /// The exposure is wanted; its place among the marks, sprockets' after readings'.
    ExposureWanted(usize),
}

/// One day's exposure of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExposedDay {
    /// The day.
    pub day: i64,
    /// Its use.
    pub used: DailyUse,
    /// What its exposure is made of, for how far it may be off.
    pub mix: ExposureSum,
    /// Distance of it that is no more than declared, km.
    pub declared_km: f64,
}

impl ExposedDay {
    /// Adds what happened on the same day.
    pub(super) fn merge(&mut self, other: &Self) {
        self.used.km += other.used.km;
        self.used.reference_km += other.used.reference_km;
        self.mix.merge(&other.mix);
        self.declared_km += other.declared_km;
    }
}

/// The part at one of the caller's instants.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ExposureAt {
    /// The instant's place among the marks, sprockets' after readings'.
    pub place: usize,
    /// Distance, km.
    pub km: f64,
    /// Exposure, reference km.
    pub reference_km: f64,
    /// What that exposure is made of.
    pub mix: ExposureSum,
    /// How much of it was ridden under which lubricant.
    pub under: RiddenUnder,
    /// The same by context, before contexts and care are counted.
    pub by_context: ContextExposure,
}

/// Exposure by where its energy came from, reference km.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct BySource {
    pub measured: f64,
    pub distance_and_climb: f64,
    pub distance: f64,
}

/// Distance without rides, km, by what it is known from.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct UnloggedKm {
    /// Odometer statements went further than the rides.
    pub by_odometer: f64,
    /// Since the last odometer statement, at the pace of those before.
    pub since_odometer: f64,
    /// Declared use.
    pub declared: f64,
}

/// What a part went through.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Accrued {
    /// Distance, km.
    pub km: f64,
    /// Exposure, reference km.
    pub reference_km: f64,
    /// Work through the chain, kJ.
    pub energy_kj: f64,
    /// Exposure by cause.
    pub parts: DriverParts,
    /// Day by day.
    pub days: Vec<ExposedDay>,
    /// Distance of it that a counter or a declaration tells and no ride, km.
    pub unlogged_km: UnloggedKm,
    /// Exposure by source of energy.
    pub(super) by_source: BySource,
    /// What the exposure is made of, for how far it may be off.
    pub(super) mix: ExposureSum,
    /// The same by context, before contexts and care are counted.
    by_context: ContextExposure,
    /// The part at each mark, in order of time.
    pub(super) at_mark: Vec<ExposureAt>,
    /// How much of the exposure was ridden under which lubricant.
    pub(super) under: RiddenUnder,
    /// The lubricant that it is ridden under at the end.
    pub(super) lubricant: Option<Arc<str>>,
    care: Lubrication,
    /// Distance and exposure since the last care.
    since_care: DailyUse,
}

/// The part's exposure over its stays, in order, with what it was at each of `marks`.
pub(super) fn accrue(stays: &[Stay], marks: Marks<'_>, conditions: &Conditions) -> Accrued {
    let exposure = &ExposureModel::default().with_multipliers(*conditions.multipliers());
    let mut accrued = Accrued::default();
    for stay in stays {
        accrued.care = Lubrication::at_the_start(stay.habit, stay.from, conditions);
        accrued.since_care = DailyUse::default();
        accrued.lubricant = None;
        let events = stay.events(marks);
        let stretches = stay.stretches(&events);
        let mut events = events.into_iter().peekable();
        for stretch in &stretches {
            while let Some((at, event)) = events.next_if(|(at, _)| *at <= stretch.at) {
                accrued.meet(at, event, stay);
            }
            accrued.ride(stretch, (exposure, conditions.care()), stay.assumed_drivetrain);
        }
        events.for_each(|(at, event)| accrued.meet(at, event, stay));
    }
    accrued
}

impl Accrued {
    fn meet(&mut self, at: Moment, event: Event, stay: &Stay) {
        match event {
            Event::Care(kind) => {
                self.care.meet(at, kind);
                self.since_care = DailyUse::default();
            }
            Event::Lubricated(place) => {
                self.lubricant = stay.lubricants.get(place).and_then(|(_, lubricant)| lubricant.clone());
                if let Some(lubricant) = &self.lubricant {
                    self.under.put_on(lubricant);
                }
            }
            Event::ExposureWanted(place) => {
                let Self { km, reference_km, mix, by_context, .. } = *self;
                let under = self.under.clone();
                self.at_mark.push(ExposureAt { place, km, reference_km, mix, by_context, under });
            }
        }
    }

    fn ride(
        &mut self,
        stretch: &Stretch,
        (exposure, care): (&ExposureModel, &CareModel),
        assumed_drivetrain: bool,
    ) {
        let mut segment = Segment::default();
        let mut km = 0.0;
        for sum in &stretch.sums {
            let context = sum.context();
            let base = kilometres(sum.base_reference_mm);
            let multiplier = exposure.multipliers().get(context).median;
            *(if context.is_wet() { &mut segment.wet } else { &mut segment.dry }) += base * multiplier;
            km += kilometres(sum.distance_mm);
        }
        let before_care = segment.dry + segment.wet;
        let WithCare { reference_km: with_care, assumed } = self.care.ride(stretch.at, km, segment, care);
        let care_factor = if before_care > 0.0 { with_care / before_care } else { 1.0 };
        // with care = before care · (1 + (N − 1) · neglect)
        let neglect =
            Probability::saturating((care_factor - 1.0) / (care.neglected() - 1.0).max(f64::MIN_POSITIVE));
        let mut mix = ExposureSum::default();
        for sum in &stretch.sums {
            self.by_context.add_km(sum.context(), kilometres(sum.base_reference_mm), neglect);
            self.attribute(sum, exposure, care_factor, assumed.is_none(), &mut mix);
        }
        if let Some(ln_sd) = assumed {
            mix.add_assumed(Assumption::UnrecordedCare, with_care, ln_sd);
        }
        if assumed_drivetrain {
            mix.add_assumed(Assumption::TypicalDrivetrain, with_care, TYPICAL_LN_SD);
        }
        let mut declared_km = 0.0;
        if let Some(source) = stretch.assumed {
            let (kilometres, assumption) = match source {
                StretchSource::Odometer => (&mut self.unlogged_km.by_odometer, Assumption::UnloggedDistance),
                StretchSource::Continued => {
                    (&mut self.unlogged_km.since_odometer, Assumption::UnloggedDistance)
                }
                StretchSource::Declared => {
                    declared_km = km;
                    (&mut self.unlogged_km.declared, Assumption::DeclaredUse)
                }
            };
            *kilometres += km;
            mix.add_assumed(assumption, with_care, source.ln_sd());
        }
        self.mix.merge(&mix);
        self.km += km;
        self.reference_km += with_care;
        if let Some(lubricant) = &self.lubricant {
            self.under.ride(lubricant, with_care);
        }
        self.since_care.km += km;
        self.since_care.reference_km += before_care;
        let used = DailyUse { km, reference_km: with_care };
        let exposed = ExposedDay { day: stretch.day, used, mix, declared_km };
        match self.days.last_mut() {
            Some(last) if last.day == stretch.day => last.merge(&exposed),
            _ => self.days.push(exposed),
        }
    }

    /// Surfaces and weather that it was ridden in.
    pub(super) fn contexts(&self) -> impl Iterator<Item = Context> + '_ {
        self.by_context.contexts().map(|(context, ..)| context)
    }

    /// Whether a ride or an odometer told of any of it.
    pub(super) fn is_ridden_on_record(&self) -> bool {
        self.km > self.unlogged_km.declared
    }

    /// Distance since care was last entered, km, where care counts as recorded and 19 of 20 would have looked after the chain
    /// by then.
    pub(super) fn care_silent(&self) -> Option<f64> {
        let is_long = self.since_care.reference_km > longest_usual_care_interval();
        (self.care.counts_as_recorded() && is_long).then_some(self.since_care.km)
    }

    fn attribute(
        &mut self,
        sum: &RideTotals,
        exposure: &ExposureModel,
        care_factor: f64,
        care_is_known: bool,
        mix: &mut ExposureSum,
    ) {
        let context: Context = sum.context();
        let scale = exposure.multipliers().get(context).median * care_factor;
        let base = kilometres(sum.base_reference_mm);
        let energy_kj = sum.energy_j as f64 / 1e3;
        let parts = exposure.drivers_of_sum(kilometres(sum.distance_mm), energy_kj, base, context);
        self.parts += parts.with_care(parts.total() * (care_factor - 1.0));
        self.energy_kj += energy_kj;
        let measured = kilometres(sum.measured_reference_mm);
        let climbed = kilometres(sum.climb_reference_mm);
        self.by_source.measured += measured * scale;
        self.by_source.distance_and_climb += climbed * scale;
        let by_distance = (base - measured - climbed).max(0.0);
        self.by_source.distance += by_distance * scale;
        let by_source = [
            (EnergySource::Measured, measured),
            (EnergySource::DistanceAndClimb, climbed),
            (EnergySource::Distance, by_distance),
        ];
        for (source, part) in by_source.into_iter().filter(|(_, part)| *part > 0.0) {
            let rides = sum.rides as f64 * part / base;
            // How far an assumed care may be off is added for all of the stretch at once.
            let in_doubt = if care_is_known { care_factor } else { 1.0 };
            let rolled_up =
                RolledUp { context, source, rides, reference_km: part * scale, care_factor: in_doubt };
            mix.add_rolled_up(&rolled_up, exposure.multipliers());
        }
    }
}

/// The interval that 19 of 20 chains are looked after within, reference km.
fn longest_usual_care_interval() -> f64 {
    USUAL_CARE_INTERVAL * (USUAL_CARE_LN_SD * 1.645).exp()
}

fn kilometres(mm: i64) -> f64 {
    mm as f64 / MM_PER_KM
}
