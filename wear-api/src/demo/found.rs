//! A corner of the yard of whose bikes little is recorded: they came with an old boathouse, with whatever chains were on
//! them, and nobody writes down their rides or their care.

use chrono::Days;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use wear_core::exposure::{Surface, Use};
use wear_core::units::{ElongationReading, RideDistance};

use super::history::{TrueChain, at, measure};
use super::shelf::Models;
use crate::domain::{
    Bike, CareSetting, DaysOfUse, DistanceAWeek, DrivetrainChoice, Entry, GroupName, Instrument, Invalid,
    KindChoice, KmBefore, Label, Measured, ModelsOfKind, OdometerTotal, ReadWith, RideFacts, RideIdentity,
    Source, SourceId, Timestamp,
};
use crate::service::bike_kinds::EnterKind;
use crate::service::bikes::{EnterBike, EnterStart};
use crate::service::declared_use::Declare;
use crate::service::ride_batches::BatchRide;
use crate::service::rides::{RideIds, RideSaid};
use crate::service::{
    Actor, Mismatch, ServiceError, Services, UnitOfWork, bike_kinds, bikes, declared_use, odometer, readings,
    ride_batches,
};

/// The bikes' group.
pub const GROUP: &str = "boathouse-found";

/// The kind that the yard keeps for those of them that are alike.
pub const KIND: &str = "Boathouse roadster, 8 cogs";

/// Apart from the yard's own, so that the rest of the yard is the same with and without this corner.
const SEED: u64 = 0xB0A7;

/// Reference kilometres to a kilometre of a bike that goes out in all weathers and is oiled now and then.
const REFERENCE_KM_PER_KM: f64 = 1.3;

/// Something that is known of a bike; days are counted back from today.
#[derive(Debug, Clone, Copy)]
enum Known {
    /// A steel rule, percent, with what the odometer showed, km, where somebody looked.
    Read { days_ago: u64, percent: f64, shown_km: Option<f64> },
    /// The odometer by itself, km.
    Shown { days_ago: u64, km: f64 },
    /// About so far a week, until further notice, km.
    AWeek(f64),
    /// A ride, km.
    Ridden { days_ago: u64, km: f64 },
}

use Known::{AWeek, Read, Ridden, Shown};

const fn read(days_ago: u64, percent: f64) -> Known {
    Read { days_ago, percent, shown_km: None }
}

const fn read_at(days_ago: u64, percent: f64, km: f64) -> Known {
    Read { days_ago, percent, shown_km: Some(km) }
}

/// What is said of a bike's use and drivetrain.
#[derive(Debug, Clone, Copy)]
enum Said {
    Nothing,
    Cogs(Use, u32),
    Kind,
}

#[derive(Debug, Clone, Copy)]
enum Record {
    Told(&'static [Known]),
    /// Each month the odometer and a rule, for a year.
    YearByOdometer,
    /// A ride every third day, and one reading.
    Rides,
}

struct Found {
    label: &'static str,
    said: Said,
    /// About so far the chain had run, where somebody says so, km.
    ridden_km: Option<f64>,
    record: Record,
}

const fn found(label: &'static str, said: Said, record: Record) -> Found {
    Found { label, said, ridden_km: None, record }
}

const BIKES: [Found; 8] = [
    // Read once, on the day it was found.
    found("Plover", Said::Cogs(Use::Town, 7), Record::Told(&[read(1, 0.40)])),
    // Never measured.
    found("Dunlin", Said::Nothing, Record::Told(&[])),
    found("Curlew", Said::Cogs(Use::Touring, 9), Record::YearByOdometer),
    Found {
        ridden_km: Some(1_500.0),
        ..found("Avocet", Said::Cogs(Use::Town, 7), Record::Told(&[AWeek(60.0), read(63, 0.31)]))
    },
    // Nobody counted more than the cogs.
    found("Knot", Said::Cogs(Use::Gravel, 10), Record::Rides),
    found(
        "Whimbrel",
        Said::Kind,
        Record::Told(&[Shown { days_ago: 120, km: 3_110.0 }, read_at(2, 0.28, 3_905.0)]),
    ),
    // Somebody put a new chain on and told nobody.
    found(
        "Redshank",
        Said::Kind,
        Record::Told(&[read_at(160, 0.31, 4_020.0), read_at(49, 0.45, 4_890.0), read_at(7, 0.12, 5_180.0)]),
    ),
    // Read at its limit, which the readings before don't say.
    found(
        "Godwit",
        Said::Kind,
        Record::Told(&[
            read_at(150, 0.55, 8_200.0),
            read_at(60, 0.60, 8_640.0),
            read_at(21, 0.62, 8_830.0),
            read_at(1, 0.75, 8_900.0),
        ]),
    ),
];

/// Enters the corner.
///
/// # Errors
/// [`ServiceError`].
pub async fn fill(services: &Services, actor: &Actor, models: &Models) -> Result<(), ServiceError> {
    let now = services.now();
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let kind = kind(models).map_err(field)?;
    services.change(actor, async |work| bike_kinds::create(services, work, kind).await).await?;
    for bike in &BIKES {
        let enter = enter(bike).map_err(field)?;
        let entered = services.change(actor, async |work| bikes::create(services, work, enter).await).await;
        let (entered, _) = entered?;
        for known in known_of(bike.record, &mut random).map_err(field)? {
            tell(services, actor, &entered, known, now).await?;
        }
    }
    Ok(())
}

fn field(cause: Invalid) -> ServiceError {
    ServiceError::field("", cause)
}

fn kind(models: &Models) -> Result<EnterKind, Invalid> {
    Ok(EnterKind {
        name: Label::new(KIND)?,
        usage: Use::Town,
        drivetrain: DrivetrainChoice::Usual(Some(8)),
        limit: None,
        group: Some(GroupName::new(GROUP)?),
        models: ModelsOfKind { chain: models.named("Chain, 8 sprockets"), cassette: None, ring: None },
        mismatch: Mismatch::Refused,
    })
}

fn enter(bike: &Found) -> Result<EnterBike, Invalid> {
    let ridden = bike.ridden_km.map(KmBefore::new).transpose()?;
    let group = Some(GroupName::new(GROUP)?);
    let (group, usage, drivetrain, kind) = match bike.said {
        Said::Nothing => (group, None, None, None),
        Said::Cogs(usage, count) => (group, Some(usage), Some(DrivetrainChoice::Usual(Some(count))), None),
        Said::Kind => (None, None, None, Some(KindChoice::Named(Label::new(KIND)?))),
    };
    Ok(EnterBike {
        label: Label::new(bike.label)?,
        group,
        usage,
        drivetrain,
        limit: None,
        care: Some(CareSetting::Unrecorded),
        kind,
        external_id: None,
        start: EnterStart::AsFound { ridden },
        mismatch: Mismatch::Refused,
    })
}

fn known_of(record: Record, random: &mut ChaCha8Rng) -> Result<Vec<Known>, Invalid> {
    match record {
        Record::Told(known) => Ok(known.to_vec()),
        Record::YearByOdometer => year_by_odometer(random),
        Record::Rides => {
            let days = (1..=40).rev().map(|third| 3 * third);
            let rides =
                days.map(|days_ago| Ridden { days_ago, km: f64::from(random.random_range(60..240)) / 10.0 });
            let mut known: Vec<Known> = rides.collect();
            known.push(read(46, 0.22));
            Ok(known)
        }
    }
}

/// The chain wears as the model has it.
fn year_by_odometer(random: &mut ChaCha8Rng) -> Result<Vec<Known>, Invalid> {
    let mut chain = TrueChain::new(1.0, random);
    chain.ride(600.0, random);
    let mut shown = 2_460.0;
    let mut known = Vec::new();
    for month in 0..=12 {
        let measured = measure(Instrument::Rule, &chain, random)?;
        if let Some(spots) = measured.measurement().as_spots() {
            known.push(read_at(362 - 30 * month, spots.mean(), shown));
        }
        let km = f64::from(random.random_range(90..220));
        shown += km;
        chain.ride(km * REFERENCE_KM_PER_KM, random);
    }
    Ok(known)
}

async fn tell(
    services: &Services,
    actor: &Actor,
    bike: &Bike,
    known: Known,
    now: Timestamp,
) -> Result<(), ServiceError> {
    match known {
        Read { days_ago, percent, shown_km } => {
            let taken_at = days_before(now, days_ago).map_err(field)?;
            let measured = by_rule(percent).map_err(field)?;
            let shown = shown_km.map(OdometerTotal::from_km).transpose().map_err(field)?;
            let post = async |work: &mut UnitOfWork| {
                let read = (measured, ReadWith::default());
                readings::post(services, work, bike.id, taken_at, read, shown).await
            };
            services.change(actor, post).await?;
        }
        Shown { days_ago, km } => {
            let read_at = days_before(now, days_ago).map_err(field)?;
            let total = OdometerTotal::from_km(km).map_err(field)?;
            let post =
                async |work: &mut UnitOfWork| odometer::post(services, work, bike.id, read_at, total).await;
            services.change(actor, post).await?;
        }
        AWeek(km) => {
            let per_week = DistanceAWeek::from_km(km).map_err(field)?;
            let declare = Declare { days: DaysOfUse::ALWAYS, per_week };
            let post = async |work: &mut UnitOfWork| {
                declared_use::post_of_bike(services, work, bike.id, declare).await
            };
            services.change(actor, post).await?;
        }
        Ridden { days_ago, km } => {
            let ride = ride(bike, days_before(now, days_ago).map_err(field)?, km).map_err(field)?;
            let ride = BatchRide::new(0, bike.id, ride);
            let post = async |work: &mut UnitOfWork| ride_batches::post(services, work, vec![ride]).await;
            services.change(actor, post).await?;
        }
    }
    Ok(())
}

fn days_before(now: Timestamp, days_ago: u64) -> Result<Timestamp, Invalid> {
    let today = now.utc_date();
    at(today.checked_sub_days(Days::new(days_ago)).unwrap_or(today), 17, 30)
}

fn by_rule(percent: f64) -> Result<Measured, Invalid> {
    let percent = ElongationReading::new(percent)?;
    Measured::new(Entry::Percent { instrument: Instrument::Rule, percent })
}

fn ride(bike: &Bike, started_at: Timestamp, km: f64) -> Result<RideSaid, Invalid> {
    let source_id = format!("{}-{}", bike.facts.label.as_str(), started_at.utc_date());
    Ok(RideSaid {
        identity: RideIdentity { source: Source::new("yard-log")?, source_id: SourceId::new(&source_id)? },
        ids: RideIds::OfBike,
        started_at,
        facts: RideFacts::new(RideDistance::new(km)?, None, None, Surface::Paved, false),
    })
}
