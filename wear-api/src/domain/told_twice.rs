//! Rides that two sources told of: which of a bike's rides are one, and which of them counts.
//!
//! Two rides of one bike, of different sources, are one ride told twice where the bike would have to be on both at once
//! for most of the shorter one, and they agree in distance. How long a ride lasts at least is known from its distance
//! ([`RideSpan`]), so that two rides one after the other never are one: what isn't sure to be the same counts, as
//! a chain that is believed to be newer than it is does more harm than one that comes off early.
//!
//! Which one counts is decided by what they say: one with measured work before one with climb before one with neither,
//! then by the source's name and its id. It counts for one ride of each other source, the one that began nearest in
//! time. A ride is taken for another's telling only where the two themselves agree; two rides of one source never are
//! one. So the same rides give the same result, in whatever order they came.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::{Ride, RideId, RideSpan, Source, Timestamp};

/// Share of the shorter ride's least time, in parts of 100, that both have to take place at once (A).
const AT_ONCE_PERCENT: i64 = 50;

/// How far two distances of one ride may be apart, in parts of 100 of the longer (A): wheel sizes and satellites err by less.
const APART_PERCENT: i64 = 5;

/// How far they may be apart in any case, mm (A): one of the two was started late.
const APART_MM: i64 = 500_000;

/// Whether a ride counts, or is another one that a second source told of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Telling {
    /// It counts.
    #[default]
    Counted,
    /// It counts, as somebody said that it is a ride by itself, whatever it looks like.
    Separate,
    /// It is this ride, which counts in its place.
    SameAs(RideId),
}

impl Telling {
    /// Whether the ride counts by itself.
    #[must_use]
    pub const fn counts(self) -> bool {
        !matches!(self, Self::SameAs(_))
    }

    /// The ride that counts in its place.
    #[must_use]
    pub const fn same_as(self) -> Option<RideId> {
        match self {
            Self::SameAs(id) => Some(id),
            Self::Counted | Self::Separate => None,
        }
    }
}

impl Ride {
    /// From when to when, both included, another ride may have begun that is the same as this one.
    #[must_use]
    pub fn reach(&self) -> (Timestamp, Timestamp) {
        let mm = self.facts.distance_mm();
        let longest = (mm * 100 / (100 - APART_PERCENT) + 1).max(mm + APART_MM);
        let micros = RideSpan::least_micros(longest) - RideSpan::least_micros(mm) * AT_ONCE_PERCENT / 100 + 1;
        let margin = chrono::Duration::microseconds(micros);
        (self.started_at.plus(-margin), self.started_at.plus(margin))
    }
}

/// Whether two rides of a bike are one that was told twice.
fn is_one(one: &Ride, other: &Ride) -> bool {
    let (mm, other_mm) = (one.facts.distance_mm(), other.facts.distance_mm());
    let apart = (APART_PERCENT * mm.max(other_mm) / 100).max(APART_MM);
    if one.identity.source == other.identity.source || (mm - other_mm).abs() > apart {
        return false;
    }
    let (span, other_span) = (one.span(), other.span());
    let at_once = span.at_once_micros(other_span);
    let shorter = RideSpan::least_micros(mm.min(other_mm));
    at_once > 0 && at_once * 100 >= shorter * AT_ONCE_PERCENT
}

/// The smaller, the sooner a ride counts.
fn rank(ride: &Ride) -> (Reverse<bool>, Reverse<bool>, &super::RideIdentity) {
    let facts = &ride.facts;
    (Reverse(facts.energy_j().is_some()), Reverse(facts.climb_mm().is_some()), &ride.identity)
}

/// What each of a bike's rides is, in their order. Deleted ones are not to be among them.
#[must_use]
pub fn tellings(rides: &[Ride]) -> Vec<Telling> {
    let mut by_start: Vec<usize> = (0..rides.len()).collect();
    by_start.sort_by_key(|&place| rides[place].started_at);
    let mut by_rank = by_start.clone();
    by_rank.sort_by_key(|&place| rank(&rides[place]));
    let separate = |ride: &Ride| (ride.telling == Telling::Separate).then_some(Telling::Separate);
    let mut told: Vec<Option<Telling>> = rides.iter().map(separate).collect();
    for counted in by_rank {
        if told[counted].is_some() {
            continue;
        }
        told[counted] = Some(Telling::Counted);
        let ride = &rides[counted];
        let (from, to) = ride.reach();
        let first = by_start.partition_point(|&place| rides[place].started_at < from);
        let near = by_start[first..].iter().take_while(|&&place| rides[place].started_at <= to);
        let mut nearest: BTreeMap<&Source, usize> = BTreeMap::new();
        let place_of = |place: usize| {
            let other = &rides[place];
            (other.started_at.micros().abs_diff(ride.started_at.micros()), rank(other))
        };
        for &place in near.filter(|&&place| told[place].is_none()) {
            let other = &rides[place];
            if is_one(ride, other) {
                let best = nearest.entry(&other.identity.source).or_insert(place);
                if place_of(place) < place_of(*best) {
                    *best = place;
                }
            }
        }
        for place in nearest.into_values() {
            told[place] = Some(Telling::SameAs(ride.id));
        }
    }
    told.into_iter().map(Option::unwrap_or_default).collect()
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng as _;
    use rand::seq::SliceRandom as _;
    use wear_core::units::{RideAscent, RideDistance, RideEnergy};

    use super::*;
    use crate::domain::{BikeId, RideFacts, RideIdentity, RideLoad, SourceId, Surface};

    fn ride(source: &str, id: &str, minute: i64, km: f64) -> Ride {
        let start: Timestamp = "2026-03-01T08:00:00Z".parse().unwrap();
        let distance = RideDistance::new(km).unwrap();
        Ride {
            id: RideId::generate(),
            bike_id: BikeId::from_uuid(uuid::Uuid::nil()),
            identity: RideIdentity {
                source: Source::new(source).unwrap(),
                source_id: SourceId::new(id).unwrap(),
            },
            started_at: start.plus(chrono::Duration::minutes(minute)),
            facts: RideFacts::new(distance, None, None, Surface::Paved, false),
            load: RideLoad::default(),
            revision: 1,
            deleted_at: None,
            telling: Telling::Counted,
        }
    }

    /// Each ride's name, and the name of the one that it is counted with.
    fn told(rides: &[Ride]) -> Vec<String> {
        let name = |ride: &Ride| format!("{}{}", ride.identity.source, ride.identity.source_id);
        let named = |id: RideId| rides.iter().find(|ride| ride.id == id).map(name).unwrap();
        let all = rides.iter().zip(tellings(rides));
        let mut told: Vec<String> = all
            .filter_map(|(ride, telling)| Some(format!("{} in {}", name(ride), named(telling.same_as()?))))
            .collect();
        told.sort();
        told
    }

    #[test]
    fn rides_at_once_and_as_far_are_one() {
        for (minute, km, same) in [
            (0, 20.0, true),
            (9, 20.0, true),
            (-10, 20.0, true),
            (11, 20.0, false),
            (0, 21.0, true),
            (0, 21.1, false),
            (0, 19.0, true),
            (0, 18.9, false),
            (60, 20.0, false),
        ] {
            let rides = [ride("a", "1", 0, 20.0), ride("b", "1", minute, km)];
            let expected: &[&str] = if same { &["b1 in a1"] } else { &[] };
            assert_eq!(told(&rides), expected, "{minute} min, {km} km");
        }
        // Short rides may differ by half a kilometre, and a ride on the spot is nobody else's.
        assert_eq!(told(&[ride("a", "1", 0, 2.0), ride("b", "1", 0, 2.5)]), ["b1 in a1"]);
        assert!(told(&[ride("a", "1", 0, 2.0), ride("b", "1", 0, 2.6)]).is_empty());
        assert!(told(&[ride("a", "1", 0, 0.0), ride("b", "1", 0, 0.0)]).is_empty());
    }

    #[test]
    fn a_source_knows_its_own_rides_apart() {
        assert!(told(&[ride("a", "1", 0, 20.0), ride("a", "2", 0, 20.0)]).is_empty());
        // Two of one source and one of another: the nearer is the other's.
        let rides = [ride("a", "1", 0, 20.0), ride("b", "1", 3, 20.0), ride("b", "2", 1, 20.0)];
        assert_eq!(told(&rides), ["b2 in a1"]);
    }

    #[test]
    fn what_was_measured_counts() {
        let plain = ride("a", "1", 0, 20.0);
        let mut climbed = ride("b", "1", 0, 20.0);
        let distance = RideDistance::new(20.0).unwrap();
        let climb = RideAscent::new(100.0).ok();
        climbed.facts = RideFacts::new(distance, climb, None, Surface::Paved, false);
        let mut measured = ride("c", "1", 0, 20.0);
        let energy = RideEnergy::new(400.0).ok();
        measured.facts = RideFacts::new(distance, None, energy, Surface::Paved, false);
        assert_eq!(told(&[plain.clone(), climbed.clone()]), ["a1 in b1"]);
        assert_eq!(told(&[plain, climbed, measured]), ["a1 in c1", "b1 in c1"]);
    }

    #[test]
    fn who_is_said_to_be_a_ride_by_itself_counts() {
        let mut rides = vec![ride("a", "1", 0, 20.0), ride("b", "1", 0, 20.0), ride("c", "1", 0, 20.0)];
        rides[1].telling = Telling::Separate;
        assert_eq!(told(&rides), ["c1 in a1"]);
        assert_eq!(tellings(&rides)[1], Telling::Separate);
    }

    #[test]
    fn the_order_of_rides_changes_nothing() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        // A chain: the first and the last don't agree, the one in between does with both.
        let chain = [ride("c", "1", 0, 10.0), ride("b", "1", 4, 10.4), ride("a", "1", 8, 10.8)];
        let mut many: Vec<Ride> = (0..60)
            .map(|n| {
                let source = ["a", "b", "c"][n % 3];
                ride(source, &n.to_string(), (7 * n as i64) % 90, 10.0 + (n % 5) as f64 * 0.3)
            })
            .collect();
        for rides in [&mut chain.to_vec(), &mut many] {
            let first = told(rides);
            assert!(!first.is_empty());
            for _ in 0..20 {
                rides.shuffle(&mut random);
                assert_eq!(told(rides), first);
            }
        }
    }

    #[test]
    fn whoever_is_the_same_is_within_reach() {
        for km in [0.1, 0.6, 1.0, 5.0, 20.0, 300.0] {
            for other in [km - 0.5, km * 0.95, km, km / 0.95, km + 0.5] {
                for second in (-20_000_i64..20_000).step_by(if km > 5.0 { 13 } else { 97 }) {
                    let (one, mut two) = (ride("a", "1", 0, km), ride("b", "1", 0, other.max(0.0)));
                    let second = if km > 5.0 { second } else { second / 40 };
                    two.started_at = one.started_at.plus(chrono::Duration::seconds(second));
                    let (from, to) = one.reach();
                    assert!(
                        !is_one(&one, &two) || (from <= two.started_at && two.started_at <= to),
                        "{km} {other} {second}"
                    );
                }
            }
        }
    }
}
