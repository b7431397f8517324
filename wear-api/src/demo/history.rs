//! What happened to one bike of the invented yard: rides by day, wear by the model, and a workshop that
//! measures now and then and swaps what it finds worn.

use chrono::{Datelike as _, NaiveDate, Weekday};
use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, LogNormal, Normal};
use wear_core::degradation::WearParameters;
use wear_core::exposure::care::{CareKind, CareModel, CareState, Segment};
use wear_core::exposure::{Context, ContextMultipliers, Surface, Use};
use wear_core::units::{ElongationReading, GaugeMark, RideAscent, RideDistance, RideEnergy};

use super::fleet::{PlannedBike, Story};
use crate::domain::{
    Bike, Entry, Instrument, Invalid, Measured, Place, Position, RideFacts, RideIdentity, Source, SourceId,
    Timestamp,
};
use crate::service::care::EnterCare;
use crate::service::rides::{RideIds, RideSaid, with_load};
use crate::service::swaps::EnterSwap;
use crate::service::{Mismatch, ServiceError};

/// Something that the workshop did.
#[derive(Debug, Clone)]
pub enum Event {
    /// Cleaned and lubricated.
    Care(EnterCare),
    /// Measured the chain.
    Reading(Timestamp, Measured),
    /// Put a new part on.
    Swap(EnterSwap),
}

/// What happened to one bike.
#[derive(Debug, Clone, Default)]
pub struct History {
    /// Its rides, in order.
    pub rides: Vec<RideSaid>,
    /// What the workshop did, in order.
    pub events: Vec<Event>,
}

/// A chain as it truly is.
pub(super) struct TrueChain {
    /// Wear rate, percent per reference km.
    rate: f64,
    start: f64,
    worn: f64,
    reference_km: f64,
    care: CareState,
}

impl TrueChain {
    /// A new chain; `wear` is its median wear as a factor on the default.
    pub(super) fn new(wear: f64, random: &mut ChaCha8Rng) -> Self {
        let p = WearParameters::default();
        let median = wear * p.mean_log_rate().exp();
        let normal = Normal::new(p.initial_mean(), p.initial_sd());
        let rate = LogNormal::new(median.ln(), 0.3).map_or(median, |it| it.sample(random));
        let start = normal.map_or(p.initial_mean(), |it| it.sample(random));
        Self { rate, start, worn: 0.0, reference_km: 0.0, care: CareState::fresh() }
    }

    pub(super) fn ride(&mut self, reference_km: f64, random: &mut ChaCha8Rng) {
        let scale = WearParameters::default().scale();
        self.reference_km += reference_km;
        self.worn += Gamma::new(self.rate * reference_km / scale, scale).map_or(0.0, |it| it.sample(random));
    }

    fn elongation(&self) -> f64 {
        let p = WearParameters::default();
        let run_in = p.running_in() * (1.0 - (-self.reference_km / p.running_in_distance()).exp());
        self.start + run_in + self.worn
    }
}

/// The bike's history from the day its parts were fitted until now.
///
/// # Errors
/// [`ServiceError::Invalid`] when an invented number is illegal.
pub fn of(
    planned: &PlannedBike,
    bike: &Bike,
    fitted_on: NaiveDate,
    now: Timestamp,
    random: &mut ChaCha8Rng,
) -> Result<History, ServiceError> {
    invent(planned, bike, fitted_on, now, random).map_err(|cause| ServiceError::field("", cause))
}

fn invent(
    planned: &PlannedBike,
    bike: &Bike,
    fitted_on: NaiveDate,
    now: Timestamp,
    random: &mut ChaCha8Rng,
) -> Result<History, Invalid> {
    let mut history = History::default();
    let mut chain = TrueChain::new(planned.wear, random);
    let limit = planned.facts.drivetrain.default_limit().get();
    let mut chains_on_cassette = 1;
    let today = now.utc_date();
    let mut days_since_care = 0;
    let mut secret = planned.story == Story::SecretSwap;
    for day in fitted_on.iter_days().skip(1).take_while(|day| *day < today) {
        let age = (today - day).num_days();
        if planned.story == Story::Stored && age < 110 {
            break;
        }
        if random.random_bool(out_today(planned, day)) {
            ride(&mut history, &mut chain, planned, bike, day, random)?;
        }
        days_since_care += 1;
        if days_since_care > 45 && random.random_bool(0.06) {
            days_since_care = 0;
            chain.care = CareState::fresh();
            let done_at = at(day, 18, 30)?;
            let kind = CareKind::CleanedAndLubricated;
            history.events.push(Event::Care(EnterCare {
                kind,
                done_at,
                note: None,
                odometer: None,
                lubricant_id: None,
            }));
        }
        if secret && age < 60 && chain.elongation() > 0.45 * limit {
            // Measured, then changed without a word, then measured again.
            history.events.push(Event::Reading(at(day, 17, 0)?, measure(Instrument::Dial, &chain, random)?));
            chain = TrueChain::new(planned.wear, random);
            secret = false;
            continue;
        }
        let forgotten = planned.story == Story::Forgotten && age < 365;
        if forgotten || !random.random_bool(1.0 / planned.days_between_readings as f64) {
            continue;
        }
        let instrument = match random.random_range(0..10) {
            0..5 => Instrument::Rule,
            5..8 => Instrument::Dial,
            _ => Instrument::DropInIsolating,
        };
        let measured = measure(instrument, &chain, random)?;
        let says = measured.measurement().as_spots().map_or(0.0, wear_core::reading::Spots::mean);
        history.events.push(Event::Reading(at(day, 17, 0)?, measured));
        // A busy yard lets some of the worn ones go for now.
        if says >= 0.92 * limit && random.random_bool(0.9) {
            let swapped_at = at(day, 17, 20)?;
            history.events.push(Event::Swap(swap(Place::Chain, swapped_at)));
            chains_on_cassette += 1;
            if chains_on_cassette > 3 {
                let sprockets =
                    if planned.facts.drivetrain.cogs().len() == 1 { Place::Cog } else { Place::Cassette };
                history.events.push(Event::Swap(swap(sprockets, swapped_at)));
                chains_on_cassette = 1;
            }
            chain = TrueChain::new(planned.wear, random);
        }
    }
    if planned.story == Story::SecretSwap
        && let Some(yesterday) = today.pred_opt()
    {
        history
            .events
            .push(Event::Reading(at(yesterday, 19, 0)?, measure(Instrument::Dial, &chain, random)?));
    }
    Ok(history)
}

fn out_today(planned: &PlannedBike, day: NaiveDate) -> f64 {
    // Busy in August, quiet in February; weekends half again as busy.
    let season = 1.0 + 0.35 * (std::f64::consts::TAU * (f64::from(day.ordinal()) - 225.0) / 365.25).cos();
    let weekend = if matches!(day.weekday(), Weekday::Sat | Weekday::Sun) { 1.3 } else { 0.9 };
    (planned.out * season * weekend).clamp(0.05, 0.97)
}

fn ride(
    history: &mut History,
    chain: &mut TrueChain,
    planned: &PlannedBike,
    bike: &Bike,
    day: NaiveDate,
    random: &mut ChaCha8Rng,
) -> Result<(), Invalid> {
    let km: f64 = LogNormal::new(planned.day_km.ln(), 0.35).map_or(planned.day_km, |it| it.sample(random));
    let km = (km.clamp(1.0, 150.0) * 10.0).round() / 10.0;
    let surface = match (planned.facts.usage, random.random_range(0..10)) {
        (Use::Gravel, 0..6) => Surface::Gravel,
        (Use::Gravel, 6) => Surface::Mud,
        (_, 0) => Surface::Gravel,
        _ => Surface::Paved,
    };
    let wet = random.random_bool(0.17);
    let climb =
        random.random_bool(0.8).then(|| RideAscent::new((km * random.random_range(2.0..9.0)).round()));
    let energy = (planned.facts.usage == Use::Road)
        .then(|| RideEnergy::new((km * random.random_range(17.0..25.0)).round()));
    let facts = RideFacts::new(RideDistance::new(km)?, climb.transpose()?, energy.transpose()?, surface, wet);
    let source_id = format!("{}-{day}", bike.facts.label.as_str());
    let said = RideSaid {
        identity: RideIdentity { source: Source::new("yard-log")?, source_id: SourceId::new(&source_id)? },
        ids: RideIds::OfBike,
        started_at: at(day, 9, random.random_range(0..60))?,
        facts,
    };
    let base = with_load(said.clone(), bike).load.base_reference_mm as f64 / 1e6;
    let context = Context::of(surface, wet);
    let before_care = base * ContextMultipliers::default().get(context).median;
    let segment = if context.is_wet() {
        Segment { dry: 0.0, wet: before_care }
    } else {
        Segment { dry: before_care, wet: 0.0 }
    };
    let (reference_km, after) = CareModel::default().accrue(chain.care, segment);
    chain.care = after;
    chain.ride(reference_km, random);
    history.rides.push(said);
    Ok(())
}

/// What the instrument says of the chain as it is.
pub(super) fn measure(
    instrument: Instrument,
    chain: &TrueChain,
    random: &mut ChaCha8Rng,
) -> Result<Measured, Invalid> {
    let calibration = instrument.default_calibration();
    let noise = Normal::new(0.0, calibration.sd()).map_or(0.0, |it| it.sample(random));
    let seen = chain.elongation() + calibration.bias() + noise;
    Measured::new(if instrument.is_gauge() {
        // For a gauge the bias is on the mark.
        let drops_in = chain.elongation() + calibration.bias() + noise > 0.5;
        Entry::Gauge { instrument, mark: GaugeMark::new(0.5)?, drops_in }
    } else {
        let percent = ((seen * 100.0).round() / 100.0).clamp(-0.3, 3.0);
        Entry::Percent { instrument, percent: ElongationReading::new(percent)? }
    })
}

fn swap(place: Place, swapped_at: Timestamp) -> EnterSwap {
    EnterSwap {
        swapped_at,
        place,
        position: Position::default(),
        model_id: None,
        reading: None,
        note: None,
        checklist: None,
        odometer: None,
        reason: None,
        mismatch: Mismatch::Refused,
    }
}

pub(super) fn at(day: NaiveDate, hour: u32, minute: u32) -> Result<Timestamp, Invalid> {
    let time = day.and_hms_opt(hour, minute, 0);
    time.map_or(Ok(Timestamp::EPOCH), |time| Timestamp::new(time.and_utc()))
}
