//! From a bike's days of rides to the exposure of one part at each event of its life.
//!
//! Days in which nothing but riding happened come as the rollup has them. A day in which the part was
//! fitted, looked after or measured comes as single rides, so that each is counted on its own side of the
//! event: what matters is when things happened, never when they were reported.

use chrono::NaiveDate;
use wear_core::exposure::care::{CareKind, CareModel, CareState, Segment};
use wear_core::exposure::{Context, DriverParts, EnergySource, ExposureModel, ExposureSum, RolledUp};
use wear_core::forecast::DailyUse;

use crate::domain::{BikeDay, Timestamp};

/// Millimetres in a kilometre.
const MM_PER_KM: f64 = 1e6;

/// Rides that count together.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Start of the ride, or of the day that the rides are summed over.
    pub at: Timestamp,
    /// The date in UTC.
    pub day: NaiveDate,
    /// Sums by context.
    pub sums: Vec<BikeDay>,
}

/// What happened to the part at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// The drivetrain was looked after.
    Care(CareKind),
    /// The exposure is wanted: at a reading, or at the fitting of a sprocket; its place in the caller's list.
    Mark(usize),
}

/// A part's time on one bike.
#[derive(Debug, Clone, PartialEq)]
pub struct Stint {
    /// Rides while the part was on, in order.
    pub stretches: Vec<Stretch>,
    /// Events while the part was on, in order.
    pub events: Vec<(Timestamp, Event)>,
}

/// One day's exposure of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExposedDay {
    /// The date in UTC.
    pub day: NaiveDate,
    /// Its use.
    pub used: DailyUse,
    /// What its exposure is made of, for how far it may be off.
    pub mix: ExposureSum,
}

/// The part at one of the caller's instants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// The instant's place in the caller's list.
    pub place: usize,
    /// Exposure, reference km.
    pub reference_km: f64,
    /// What that exposure is made of.
    pub mix: ExposureSum,
}

/// Exposure by where its energy came from, reference km.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BySource {
    /// Measured power.
    pub measured: f64,
    /// Distance and climb.
    pub distance_and_climb: f64,
    /// Distance alone.
    pub distance: f64,
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
    /// Exposure by source of energy.
    pub by_source: BySource,
    /// What the exposure is made of, for how far it may be off.
    pub mix: ExposureSum,
    /// The part at each mark, in order of time.
    pub at_mark: Vec<Mark>,
    /// Day by day.
    pub days: Vec<ExposedDay>,
    care: CareState,
}

/// The part's exposure over its stints, in order.
#[must_use]
pub fn accrue(stints: &[Stint], exposure: &ExposureModel, care: &CareModel) -> Accrued {
    let mut accrued = Accrued::default();
    for stint in stints {
        accrued.care = CareState::fresh();
        let mut events = stint.events.iter().peekable();
        for stretch in &stint.stretches {
            while let Some((_, event)) = events.next_if(|(at, _)| *at <= stretch.at) {
                accrued.meet(*event);
            }
            accrued.ride(stretch, exposure, care);
        }
        events.for_each(|(_, event)| accrued.meet(*event));
    }
    accrued
}

impl Accrued {
    fn meet(&mut self, event: Event) {
        match event {
            Event::Care(kind) => self.care = self.care.after(kind),
            Event::Mark(place) => {
                self.at_mark.push(Mark { place, reference_km: self.reference_km, mix: self.mix })
            }
        }
    }

    fn ride(&mut self, stretch: &Stretch, exposure: &ExposureModel, care: &CareModel) {
        let mut segment = Segment::default();
        let mut km = 0.0;
        for sum in &stretch.sums {
            let context = Context::of(sum.key.surface, sum.key.wet);
            let base = kilometres(sum.base_reference_mm);
            let multiplier = exposure.multipliers().get(context).median;
            *(if context.is_wet() { &mut segment.wet } else { &mut segment.dry }) += base * multiplier;
            km += kilometres(sum.distance_mm);
        }
        let before_care = segment.dry + segment.wet;
        let (with_care, after) = care.accrue(self.care, segment);
        self.care = after;
        let care_factor = if before_care > 0.0 { with_care / before_care } else { 1.0 };
        let mut mix = ExposureSum::default();
        for sum in &stretch.sums {
            self.attribute(sum, exposure, care_factor, &mut mix);
        }
        self.mix.merge(&mix);
        self.km += km;
        self.reference_km += with_care;
        let used = DailyUse { km, reference_km: with_care };
        match self.days.last_mut() {
            Some(last) if last.day == stretch.day => {
                last.used.km += used.km;
                last.used.reference_km += used.reference_km;
                last.mix.merge(&mix);
            }
            _ => self.days.push(ExposedDay { day: stretch.day, used, mix }),
        }
    }

    fn attribute(
        &mut self,
        sum: &BikeDay,
        exposure: &ExposureModel,
        care_factor: f64,
        mix: &mut ExposureSum,
    ) {
        let context = Context::of(sum.key.surface, sum.key.wet);
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
            let rolled_up = RolledUp { context, source, rides, reference_km: part * scale, care_factor };
            mix.add_rolled_up(&rolled_up, exposure.multipliers());
        }
    }
}

fn kilometres(mm: i64) -> f64 {
    mm as f64 / MM_PER_KM
}
