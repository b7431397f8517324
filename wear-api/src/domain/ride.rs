//! A ride, and what the rollup keeps of it.

use chrono::NaiveDate;
use chrono_tz::Tz;
use wear_core::bounds::{self, OutOfRange};
use wear_core::units::{ReferenceKilometres, RideAscent, RideDistance, RideEnergy};

use super::{BikeId, Field, FieldErrors, Invalid, RideId, Source, SourceId, Surface, Telling, Timestamp};

/// What makes two reports of a bike's ride one ride: who logged it and the logger's own id.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RideIdentity {
    /// The device, app or file.
    pub source: Source,
    /// Its own id of the ride.
    pub source_id: SourceId,
}

wear_core::vocabulary! {
    /// Within what a source's ids tell rides apart.
    RideIdScope, "id scope" {
        /// Within a bike: the same id on another bike is another ride.
        Bike = "bike",
        /// Within the workshop: the same id on another bike is the same ride.
        Workshop = "workshop",
    }
}

/// Which of a workshop's rides a list holds.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RideFilter {
    /// Those of a source, or the one that it gave this id on each bike.
    pub source: Option<(Source, Option<SourceId>)>,
    /// Those of a bike.
    pub bike_id: Option<BikeId>,
    /// Those that began then or later.
    pub from: Option<Timestamp>,
    /// Those that began before.
    pub until: Option<Timestamp>,
}

/// What is known of a ride, in whole millimetres and joules: what was sent is rounded once, here, so
/// that sums are exact in any order and taking a ride away undoes adding it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RideFacts {
    distance_mm: i64,
    climb_mm: Option<i64>,
    energy_j: Option<i64>,
    /// What it was on.
    pub surface: Surface,
    /// Whether it was wet.
    pub wet: bool,
}

impl RideFacts {
    /// Facts of a ride. Work of nought over a way counts as not measured: devices without a power meter send it.
    #[must_use]
    pub fn new(
        distance: RideDistance,
        climb: Option<RideAscent>,
        energy: Option<RideEnergy>,
        surface: Surface,
        wet: bool,
    ) -> Self {
        let energy = energy.filter(|energy| !is_unmeasured(distance, *energy, surface));
        Self {
            distance_mm: (distance.get() * 1e6).round() as i64,
            climb_mm: climb.map(|climb| (climb.get() * 1e3).round() as i64),
            energy_j: energy.map(|energy| (energy.get() * 1e3).round() as i64),
            surface,
            wet,
        }
    }

    /// Whether climb and work are possible over the distance.
    ///
    /// # Errors
    /// Each that isn't, at its field, with the range that the ride allows.
    pub fn check(&self) -> Result<(), FieldErrors> {
        let mut errors = FieldErrors::new();
        let distance_km = self.distance_mm as f64 / 1e6;
        if self.surface == Surface::Indoor || distance_km < STATIONARY_KM {
            return Ok(());
        }
        let climb_m = self.climb_mm.map(|mm| mm as f64 / 1e3);
        let mut check = |what, field: &str, given: Option<f64>, maximum: f64, unit| {
            if let Some(given) = given.filter(|given| *given > maximum) {
                let cause = Invalid::TooMuchForRide { what, given, maximum, unit, distance_km };
                errors.push(cause.at(field));
            }
        };
        let energy_kj = self.energy_j.map(|joules| joules as f64 / 1e3);
        check(Field::RideClimb, "/climb_m", climb_m, bounds::most_climb_m(distance_km), "m");
        check(Field::RideEnergy, "/energy_kj", energy_kj, bounds::most_energy_kj(distance_km, climb_m), "kJ");
        if errors.is_empty() { Ok(()) } else { Err(errors) }
    }

    /// Facts as they are stored, in mm and J.
    ///
    /// # Errors
    /// [`OutOfRange`] when a number is outside its range.
    pub fn stored(
        distance_mm: i64,
        climb_mm: Option<i64>,
        energy_j: Option<i64>,
        surface: Surface,
        wet: bool,
    ) -> Result<Self, OutOfRange> {
        RideDistance::new(distance_mm as f64 / 1e6)?;
        climb_mm.map(|climb| RideAscent::new(climb as f64 / 1e3)).transpose()?;
        energy_j.map(|energy| RideEnergy::new(energy as f64 / 1e3)).transpose()?;
        Ok(Self { distance_mm, climb_mm, energy_j, surface, wet })
    }

    /// The ride as the library takes it.
    #[must_use]
    pub fn ride(&self) -> wear_core::Ride {
        // Whole millimetres and joules of a legal ride are legal again, up to rounding at the very ends.
        let distance = RideDistance::new(self.distance_mm as f64 / 1e6).unwrap_or(RideDistance::ZERO);
        wear_core::Ride::of(distance)
            .with_ascent(self.climb_mm.and_then(|mm| RideAscent::new(mm as f64 / 1e3).ok()))
            .with_energy(self.energy_j.and_then(|joules| RideEnergy::new(joules as f64 / 1e3).ok()))
            .surface(self.surface)
            .wet(self.wet)
    }

    /// Distance, mm.
    #[must_use]
    pub const fn distance_mm(&self) -> i64 {
        self.distance_mm
    }

    /// Climb, mm.
    #[must_use]
    pub const fn climb_mm(&self) -> Option<i64> {
        self.climb_mm
    }

    /// Work at the pedals as it was measured, J.
    #[must_use]
    pub const fn energy_j(&self) -> Option<i64> {
        self.energy_j
    }
}

/// A ride that gets less far is one on the spot, km (A): a trainer that counts no distance.
const STATIONARY_KM: f64 = 0.1;

fn is_unmeasured(distance: RideDistance, energy: RideEnergy, surface: Surface) -> bool {
    energy.get() <= 0.0 && surface != Surface::Indoor && distance.get() >= STATIONARY_KM
}

/// What is odd about a ride that was taken all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RideWarning {
    /// Work of nought over a way: it counts as not measured.
    EnergyNotMeasured,
    /// Another ride of the same bike began before this one can have ended, or the other way round.
    Overlaps {
        /// How many others.
        others: usize,
    },
    /// It began before the bike's first chain was fitted.
    BeforeFitting {
        /// When that chain was fitted.
        fitted_at: Timestamp,
    },
    /// No chain was on the bike then, and none is known that was taken off later.
    NoChain,
    /// Another source told of the same ride, which counts in its place.
    CountedWith {
        /// The ride that counts.
        ride: RideId,
    },
    /// Another source told of the same ride, which doesn't count beside this one.
    CountsFor {
        /// The ride that doesn't count.
        ride: RideId,
    },
    /// It was deleted, and was sent again.
    Deleted {
        /// When it was deleted.
        deleted_at: Timestamp,
    },
    /// It began after the bike had left the fleet.
    AfterRetirement {
        /// When the bike left it.
        retired_at: Timestamp,
    },
}

impl RideWarning {
    /// One word for its kind.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::EnergyNotMeasured => "energy_not_measured",
            Self::Overlaps { .. } => "rides_overlap",
            Self::CountedWith { .. } => "counted_with",
            Self::CountsFor { .. } => "counts_for",
            Self::BeforeFitting { .. } => "before_fitting",
            Self::NoChain => "no_chain",
            Self::AfterRetirement { .. } => "after_retirement",
            Self::Deleted { .. } => "deleted",
        }
    }

    /// The other ride that it is about.
    #[must_use]
    pub const fn ride(self) -> Option<RideId> {
        match self {
            Self::CountedWith { ride } | Self::CountsFor { ride } => Some(ride),
            _ => None,
        }
    }

    /// What is odd about these facts, as they were sent.
    #[must_use]
    pub fn of(distance: RideDistance, energy: Option<RideEnergy>, surface: Surface) -> Vec<Self> {
        let unmeasured = energy.is_some_and(|energy| is_unmeasured(distance, energy, surface));
        if unmeasured { vec![Self::EnergyNotMeasured] } else { Vec::new() }
    }
}

impl std::fmt::Display for RideWarning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::EnergyNotMeasured => f.write_str("work of 0 kJ over a distance counts as not measured"),
            Self::BeforeFitting { fitted_at } => write!(
                f,
                "no chain on record then, the first was fitted at {fitted_at}; the ride counts for nothing until that \
                 date is corrected"
            ),
            Self::NoChain => f.write_str("no chain on record then; the ride wears none"),
            Self::AfterRetirement { retired_at } => {
                write!(
                    f,
                    "the bike left the fleet at {retired_at}; the ride is kept and counts for nothing unless the bike comes back"
                )
            }
            Self::CountedWith { ride } => write!(
                f,
                "another source sent the same ride, which counts: {ride}; say separate: true if they are two rides"
            ),
            Self::CountsFor { ride } => write!(
                f,
                "another source sent the same ride, which doesn't count beside this one: {ride}; say separate: true if \
                 they are two rides"
            ),
            Self::Deleted { deleted_at } => {
                write!(f, "the ride was deleted at {deleted_at} and stays so; restore it if it is to count")
            }
            Self::Overlaps { others: 1 } => f.write_str(
                "another ride of this bike is at the same time, even at 60 km/h: one of the two may be wrong",
            ),
            Self::Overlaps { others } => write!(
                f,
                "{others} other rides of this bike are at the same time, even at 60 km/h: some may be wrong"
            ),
        }
    }
}

/// A time on a bike that a ride needs at least: when it began, and when it can have ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RideSpan {
    from: Timestamp,
    to: i64,
}

impl RideSpan {
    /// The least span of a ride.
    #[must_use]
    pub fn of(started_at: Timestamp, facts: &RideFacts) -> Self {
        let micros = Self::least_micros(facts.distance_mm);
        Self { from: started_at, to: started_at.micros().saturating_add(micros) }
    }

    /// Least time over a distance in mm, in microseconds.
    #[must_use]
    pub fn least_micros(distance_mm: i64) -> i64 {
        (bounds::least_seconds(distance_mm as f64 / 1e6) * 1e6) as i64
    }

    /// For how long the bike would have to be on both rides at once, in microseconds.
    #[must_use]
    pub fn at_once_micros(self, other: Self) -> i64 {
        let from = self.from.micros().max(other.from.micros());
        self.to.min(other.to).saturating_sub(from).max(0)
    }

    /// When it began.
    #[must_use]
    pub const fn started_at(self) -> Timestamp {
        self.from
    }

    /// Whether the bike would have to be on both rides at once.
    #[must_use]
    pub const fn overlaps(self, other: Self) -> bool {
        self.from.micros() < other.to && other.from.micros() < self.to
    }
}

/// What a ride did to the drivetrain, before surface, wet and care are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RideLoad {
    /// Reference distance, mm.
    pub base_reference_mm: i64,
    /// Work through the chain, measured or estimated, J.
    pub energy_j: i64,
}

impl RideLoad {
    /// A load from the core's numbers, rounded to whole millimetres and joules.
    #[must_use]
    pub fn new(base: ReferenceKilometres, energy: RideEnergy) -> Self {
        Self {
            base_reference_mm: (base.get() * 1e6).round() as i64,
            energy_j: (energy.get() * 1e3).round() as i64,
        }
    }
}

/// A ride.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ride {
    /// Its id.
    pub id: RideId,
    /// The bike.
    pub bike_id: BikeId,
    /// Who logged it.
    pub identity: RideIdentity,
    /// When it began.
    pub started_at: Timestamp,
    /// What is known of it.
    pub facts: RideFacts,
    /// What it did to the drivetrain.
    pub load: RideLoad,
    /// Counts its changes, from 1.
    pub revision: i64,
    /// Since when it is deleted: it counts for nothing and isn't listed, and the same sent again doesn't bring it back.
    pub deleted_at: Option<Timestamp>,
    /// Whether it counts, or is another one that a second source told of.
    pub telling: Telling,
}

impl Ride {
    /// The least time that it took.
    #[must_use]
    pub fn span(&self) -> RideSpan {
        RideSpan::of(self.started_at, &self.facts)
    }
}

/// A ride to be stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewRide {
    /// The bike.
    pub bike_id: BikeId,
    /// Who logged it.
    pub identity: RideIdentity,
    /// When it began.
    pub started_at: Timestamp,
    /// What is known of it.
    pub facts: RideFacts,
    /// What it did to the drivetrain.
    pub load: RideLoad,
    /// The bike that it is moved from: it is there under the same identity.
    pub moved_from: Option<BikeId>,
}

impl NewRide {
    /// Whether `ride` already says the same.
    #[must_use]
    pub fn says_the_same(&self, ride: &Ride) -> bool {
        let Self { bike_id, identity, started_at, facts, load: _, moved_from: _ } = self;
        *bike_id == ride.bike_id
            && *identity == ride.identity
            && *started_at == ride.started_at
            && *facts == ride.facts
    }
}

/// What storing a ride did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RideOutcome {
    /// It is new.
    Inserted(Ride),
    /// It was there and said the same.
    Unchanged(Ride),
    /// It was deleted, and stays so.
    Deleted(Ride),
    /// It was there and said something else.
    Replaced {
        /// What it said before; of another bike where it was moved.
        old: Ride,
        /// What it says now.
        new: Ride,
    },
}

impl RideOutcome {
    /// The ride as it stands now, to be brought up to date.
    pub const fn ride_mut(&mut self) -> &mut Ride {
        match self {
            Self::Inserted(ride)
            | Self::Unchanged(ride)
            | Self::Deleted(ride)
            | Self::Replaced { new: ride, .. } => ride,
        }
    }

    /// The ride as it stands now.
    #[must_use]
    pub const fn ride(&self) -> &Ride {
        match self {
            Self::Inserted(ride)
            | Self::Unchanged(ride)
            | Self::Deleted(ride)
            | Self::Replaced { new: ride, .. } => ride,
        }
    }

    /// What the rollup has to add for it, given the zone whose days each bike's rides are summed over: nothing, one ride, or
    /// one taken away and one added.
    #[must_use]
    pub fn day_changes(&self, zone_of: impl Fn(BikeId) -> Tz) -> Vec<BikeDay> {
        let of = |ride: &Ride| ride.telling.counts().then(|| BikeDay::of(ride, zone_of(ride.bike_id)));
        match self {
            Self::Inserted(ride) => of(ride).into_iter().collect(),
            Self::Unchanged(_) | Self::Deleted(_) => Vec::new(),
            Self::Replaced { old, new } => of(old).map(BikeDay::negated).into_iter().chain(of(new)).collect(),
        }
    }
}

/// What makes a row of the rollup.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BikeDayKey {
    /// The bike.
    pub bike_id: BikeId,
    /// The date where the workshop is.
    pub day: NaiveDate,
    /// What the rides were on.
    pub surface: Surface,
    /// Whether it was wet.
    pub wet: bool,
}

/// Sums over a bike's rides of one date in one context; also a change of such sums.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BikeDay {
    /// Which rides.
    pub key: BikeDayKey,
    /// Number of rides.
    pub rides: i64,
    /// Distance, mm.
    pub distance_mm: i64,
    /// Climb where it is known, mm.
    pub climb_mm: i64,
    /// Work through the chain, measured or estimated, J.
    pub energy_j: i64,
    /// Reference distance before surface, wet and care are counted, mm.
    pub base_reference_mm: i64,
    /// The part of it whose energy was measured, mm.
    pub measured_reference_mm: i64,
    /// The part of it whose energy was estimated from distance and climb, mm. What is left was
    /// estimated from distance alone.
    pub climb_reference_mm: i64,
}

impl BikeDay {
    /// No ride.
    #[must_use]
    pub const fn empty(key: BikeDayKey) -> Self {
        Self {
            key,
            rides: 0,
            distance_mm: 0,
            climb_mm: 0,
            energy_j: 0,
            base_reference_mm: 0,
            measured_reference_mm: 0,
            climb_reference_mm: 0,
        }
    }

    /// One ride, on its date in `zone`.
    #[must_use]
    pub fn of(ride: &Ride, zone: Tz) -> Self {
        let RideFacts { distance_mm, climb_mm, energy_j, surface, wet } = ride.facts;
        let base = ride.load.base_reference_mm;
        let measured = energy_j.is_some();
        Self {
            key: BikeDayKey { bike_id: ride.bike_id, day: ride.started_at.date_in(zone), surface, wet },
            rides: 1,
            distance_mm,
            climb_mm: climb_mm.unwrap_or(0),
            energy_j: ride.load.energy_j,
            base_reference_mm: base,
            measured_reference_mm: if measured { base } else { 0 },
            climb_reference_mm: if !measured && climb_mm.is_some() { base } else { 0 },
        }
    }

    /// The change that undoes this one.
    #[must_use]
    pub const fn negated(self) -> Self {
        Self {
            key: self.key,
            rides: -self.rides,
            distance_mm: -self.distance_mm,
            climb_mm: -self.climb_mm,
            energy_j: -self.energy_j,
            base_reference_mm: -self.base_reference_mm,
            measured_reference_mm: -self.measured_reference_mm,
            climb_reference_mm: -self.climb_reference_mm,
        }
    }

    /// Adds the sums of another with the same key.
    pub const fn add(&mut self, other: &Self) {
        self.rides += other.rides;
        self.distance_mm += other.distance_mm;
        self.climb_mm += other.climb_mm;
        self.energy_j += other.energy_j;
        self.base_reference_mm += other.base_reference_mm;
        self.measured_reference_mm += other.measured_reference_mm;
        self.climb_reference_mm += other.climb_reference_mm;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ride(distance_km: f64, climb_m: Option<f64>, energy_kj: Option<f64>) -> Result<Ride, Invalid> {
        let climb = climb_m.map(RideAscent::new).transpose()?;
        let energy = energy_kj.map(RideEnergy::new).transpose()?;
        Ok(Ride {
            id: RideId::generate(),
            bike_id: BikeId::generate(),
            identity: RideIdentity { source: Source::new("log")?, source_id: SourceId::new("r1")? },
            started_at: "2026-03-01T23:59:59.999999Z".parse()?,
            facts: RideFacts::new(RideDistance::new(distance_km)?, climb, energy, Surface::Paved, true),
            load: RideLoad { base_reference_mm: 7, energy_j: 5 },
            revision: 1,
            deleted_at: None,
            telling: Telling::Counted,
        })
    }

    #[test]
    fn a_ride_is_kept_in_whole_millimetres_and_joules() {
        let facts = ride(18.4, Some(120.0), Some(350.0)).unwrap().facts;
        assert_eq!(
            (facts.distance_mm(), facts.climb_mm(), facts.energy_j()),
            (18_400_000, Some(120_000), Some(350_000))
        );
    }

    #[test]
    fn what_a_ride_cannot_have_is_refused_with_what_it_can() {
        for (km, climb, energy, wrong) in [
            (20.0, Some(8_200.0), None, None),
            (20.0, Some(30_000.0), None, Some(("/climb_m", "0 to 8200 m on 20 km"))),
            (20.0, Some(300.0), Some(40_000.0), Some(("/energy_kj", "0 to 5280 kJ on 20 km"))),
            (1_000.0, Some(20_000.0), Some(40_000.0), None),
            (0.0, None, Some(4_000.0), None),
        ] {
            let refused = ride(km, climb, energy).unwrap().facts.check().err();
            let found = refused.map(|errors| errors.into_vec().remove(0));
            let found = found.as_ref().map(|error| (error.pointer.as_str(), error.allowed()));
            assert_eq!(found, wrong.map(|(pointer, allowed)| (pointer, allowed.to_owned())));
        }
    }

    #[test]
    fn work_of_nought_over_a_way_is_not_measured() {
        assert_eq!(ride(20.0, None, Some(0.0)).unwrap().facts.energy_j(), None);
        assert_eq!(ride(0.0, None, Some(0.0)).unwrap().facts.energy_j(), Some(0));
    }

    #[test]
    fn a_bike_is_on_one_ride_at_a_time() {
        let facts = ride(200.0, None, None).unwrap().facts;
        let span = |at: &str| RideSpan::of(at.parse().unwrap(), &facts);
        let first = span("2026-03-01T08:00:00Z");
        assert!(first.overlaps(first) && first.overlaps(span("2026-03-01T11:19:00Z")));
        assert!(
            !first.overlaps(span("2026-03-01T11:20:00Z")) && !first.overlaps(span("2026-03-01T04:40:00Z"))
        );
    }

    #[test]
    fn the_rollup_tells_where_the_energy_came_from() {
        for (climb, energy, expected) in [
            (None, None, (0, 0)),
            (Some(1.0), None, (0, 7)),
            (None, Some(1.0), (7, 0)),
            (Some(1.0), Some(1.0), (7, 0)),
        ] {
            let day = BikeDay::of(&ride(1.0, climb, energy).unwrap(), Tz::UTC);
            assert_eq!((day.measured_reference_mm, day.climb_reference_mm), expected);
            assert_eq!(day.key.day.to_string(), "2026-03-01");
        }
    }

    #[test]
    fn taking_a_ride_away_undoes_adding_it() {
        let day = BikeDay::of(&ride(18.4, Some(120.0), None).unwrap(), Tz::UTC);
        let mut sum = BikeDay::empty(day.key);
        sum.add(&day);
        assert_eq!(sum, day);
        sum.add(&day.negated());
        assert_eq!(sum, BikeDay::empty(day.key));
    }
}
