//! From points to legs: which were ridden, which were rest, and which never happened.

use super::geodesic::geodesic_m;
use super::{Position, Track, TrackPoint};

/// Nobody rides faster, m/s (A; 144 km/h).
const LARGEST_SPEED_M_S: f64 = 40.0;

/// Slower than walking, m/s (A): the bike stands, and what moves is noise.
const RESTING_SPEED_M_S: f64 = 0.8;

/// Speed over the ground is judged over this much time on both sides of a leg, s (A). Noise of 3 m then looks like
/// 0.3 m/s; between points a second apart it would look like 4 m/s.
const HALF_WINDOW_S: f64 = 10.0;

/// A longer leg is a gap: nobody knows what happened in it, s (A).
const LONGEST_LEG_S: f64 = 60.0;

/// A longer leg between points without a time isn't part of a ride, m (A).
const LONGEST_UNTIMED_LEG_M: f64 = 10_000.0;

/// What happened between two points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Moving,
    Resting,
    /// Ridden, but one end or both have no time.
    Untimed,
    Paused,
    /// Too far for the time: a fault of the receiver, or a journey by other means.
    Jump,
}

/// From one point to the next one that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leg {
    /// Places in [`Path::points`].
    pub(super) from: usize,
    pub(super) to: usize,
    /// How long; 0 where an end has no time.
    pub(super) seconds: f64,
    /// Straight from one to the other.
    pub(super) metres: f64,
    pub(super) kind: Kind,
    pub(super) gap: bool,
}

/// The points that are left after the first look, and the legs between them.
pub(super) struct Path {
    pub(super) points: Vec<TrackPoint>,
    pub(super) legs: Vec<Leg>,
    /// Whether the legs go from position to position; otherwise they follow what the device counted.
    pub(super) placed: bool,
    /// Points that were not later than the one before.
    pub(super) out_of_order: usize,
    /// Points that came without a time.
    pub(super) untimed: usize,
    /// Positions that nobody could have been at.
    pub(super) spikes: usize,
}

impl Path {
    pub(super) fn of(track: &Track) -> Self {
        let mut points: Vec<TrackPoint> = Vec::with_capacity(track.points().len());
        let mut paused = false;
        let mut latest = f64::NEG_INFINITY;
        for &point in track.points() {
            if point.seconds.is_none_or(|seconds| seconds > latest) {
                latest = point.seconds.unwrap_or(latest);
                points.push(TrackPoint { after_pause: point.after_pause || paused, ..point });
                paused = false;
            } else {
                paused |= point.after_pause;
            }
        }
        let out_of_order = track.points().len() - points.len();
        let untimed = points.iter().filter(|point| point.seconds.is_none()).count();
        fill_in_times(&mut points);
        let spikes = drop_spikes(&mut points);
        let places: Vec<usize> = (0..points.len()).filter(|&i| points[i].position.is_some()).collect();
        let placed = places.len() > 1;
        let mut legs = if placed { placed_legs(&points, &places) } else { counted_legs(&points) };
        drop_untimed_jumps(&points, &mut legs);
        Self { points, legs, placed, out_of_order, untimed, spikes }
    }

    /// Distance by what the device counted over a leg, m; `None` where it counted nothing, backwards, or the
    /// impossible.
    pub(super) fn counted_m(&self, leg: &Leg) -> Option<f64> {
        counted(&self.points[leg.from], &self.points[leg.to])
    }

    /// Straight from end to end of this leg alone, m, where [`Leg::metres`] of a rest speaks for all its legs.
    pub(super) fn alone_m(&self, leg: &Leg) -> f64 {
        match (self.points[leg.from].position, self.points[leg.to].position) {
            _ if leg.kind == Kind::Jump => 0.0,
            (Some(from), Some(to)) if self.placed => geodesic_m(from, to),
            _ => leg.metres,
        }
    }
}

/// Seconds between two points; `None` where one of them has no time.
pub(super) fn seconds_between(from: &TrackPoint, to: &TrackPoint) -> Option<f64> {
    Some(to.seconds? - from.seconds?)
}

/// Gives a time to points between two times up to [`LONGEST_LEG_S`] apart, in proportion to the way, or evenly where
/// a position is missing.
fn fill_in_times(points: &mut [TrackPoint]) {
    let timed: Vec<usize> = (0..points.len()).filter(|&i| points[i].seconds.is_some()).collect();
    for pair in timed.windows(2).filter(|pair| pair[1] > pair[0] + 1) {
        let run = &mut points[pair[0]..=pair[1]];
        let last = run.len() - 1;
        let (Some(start), Some(seconds)) = (run[0].seconds, seconds_between(&run[0], &run[last])) else {
            continue;
        };
        if seconds > LONGEST_LEG_S || run[1..].iter().any(|point| point.after_pause) {
            continue;
        }
        let mut way = vec![0.0];
        for pair in run.windows(2) {
            let step = pair[0].position.zip(pair[1].position).map(|(from, to)| geodesic_m(from, to));
            way.push(way[way.len() - 1] + step.unwrap_or(f64::NAN));
        }
        let metres = way[last];
        for (i, point) in run.iter_mut().enumerate().take(last).skip(1) {
            let share = if metres > 0.0 { way[i] / metres } else { i as f64 / last as f64 };
            point.seconds = Some(start + share * seconds);
        }
    }
}

/// Stretches without times that nobody could have ridden between the times at their ends are jumps.
fn drop_untimed_jumps(points: &[TrackPoint], legs: &mut [Leg]) {
    for run in legs.chunk_by_mut(|a, b| a.kind == b.kind && a.to == b.from) {
        if run[0].kind != Kind::Untimed {
            continue;
        }
        let metres: f64 = run.iter().map(|leg| leg.metres).sum();
        let within = seconds_between(&points[run[0].from], &points[run[run.len() - 1].to]);
        if within.is_some_and(|seconds| too_fast(metres, seconds)) {
            run.iter_mut().for_each(|leg| leg.kind = Kind::Jump);
        }
    }
}

fn too_fast(metres: f64, seconds: f64) -> bool {
    metres > LARGEST_SPEED_M_S * seconds
}

fn counted(from: &TrackPoint, to: &TrackPoint) -> Option<f64> {
    let metres = to.distance_m? - from.distance_m?;
    let possible = seconds_between(from, to).is_none_or(|seconds| !too_fast(metres, seconds));
    (metres >= 0.0 && possible).then_some(metres)
}

/// Takes away positions that can't be reached from the one before nor left for the next, while those two go together.
fn drop_spikes(points: &mut [TrackPoint]) -> usize {
    let places: Vec<(usize, Position)> =
        points.iter().enumerate().filter_map(|(i, point)| Some((i, point.position?))).collect();
    let impossible = |a: (usize, Position), b: (usize, Position)| {
        seconds_between(&points[a.0], &points[b.0])
            .is_some_and(|seconds| too_fast(geodesic_m(a.1, b.1), seconds))
    };
    let spikes: Vec<usize> = places
        .windows(3)
        .filter(|three| impossible(three[0], three[1]) && impossible(three[1], three[2]))
        .filter(|three| !impossible(three[0], three[2]))
        .map(|three| three[1].0)
        .collect();
    for &spike in &spikes {
        points[spike].position = None;
        points[spike].elevation_m = None;
    }
    spikes.len()
}

fn leg(points: &[TrackPoint], from: usize, to: usize, metres: f64) -> Leg {
    let between = seconds_between(&points[from], &points[to]);
    let seconds = between.unwrap_or(0.0);
    let kind = if points[from + 1..=to].iter().any(|point| point.after_pause) {
        Kind::Paused
    } else if between.is_none() {
        if metres > LONGEST_UNTIMED_LEG_M { Kind::Jump } else { Kind::Untimed }
    } else if too_fast(metres, seconds) {
        Kind::Jump
    } else if metres >= RESTING_SPEED_M_S * seconds {
        Kind::Moving
    } else {
        Kind::Resting
    };
    Leg { from, to, seconds, metres, kind, gap: seconds > LONGEST_LEG_S && kind != Kind::Paused }
}

fn placed_legs(points: &[TrackPoint], places: &[usize]) -> Vec<Leg> {
    let at = |i: usize| points[i].position;
    let mut legs: Vec<Leg> = places
        .windows(2)
        .map(|pair| {
            let metres = match (at(pair[0]), at(pair[1])) {
                (Some(from), Some(to)) => geodesic_m(from, to),
                _ => 0.0,
            };
            leg(points, pair[0], pair[1], metres)
        })
        .collect();
    let breaks = |leg: &Leg| leg.gap || matches!(leg.kind, Kind::Paused | Kind::Jump | Kind::Untimed);
    let mut start = 0;
    while start < legs.len() {
        let end = legs[start..].iter().position(breaks).map_or(legs.len(), |length| start + length);
        tell_rest_from_motion(points, &mut legs[start..end]);
        start = end + 1;
    }
    legs
}

/// Rest is where the speed over a wider window is below walking pace.
fn tell_rest_from_motion(points: &[TrackPoint], legs: &mut [Leg]) {
    let (Some(first), Some(last)) = (legs.first().map(|leg| leg.from), legs.last().map(|leg| leg.to)) else {
        return;
    };
    let nodes: Vec<usize> =
        legs.iter().map(|leg| leg.from).chain([last]).filter(|&node| node >= first).collect();
    // Stretches without times are split off before, so each of these points has one.
    let time = |point: usize| points[point].seconds.unwrap_or(f64::NAN);
    let seconds = |node: usize| time(nodes[node]);
    let (mut left, mut right) = (0, 0);
    for (k, leg) in legs.iter_mut().enumerate() {
        let middle = 0.5 * (time(leg.from) + time(leg.to));
        while left < k && seconds(left + 1) <= middle - HALF_WINDOW_S {
            left += 1;
        }
        right = right.max(k + 1);
        while right + 1 < nodes.len() && seconds(right) < middle + HALF_WINDOW_S {
            right += 1;
        }
        let (a, b) = (&points[nodes[left]], &points[nodes[right]]);
        let (Some(from), Some(to)) = (a.position, b.position) else { continue };
        let rests = geodesic_m(from, to) < RESTING_SPEED_M_S * (seconds(right) - seconds(left));
        leg.kind = if rests { Kind::Resting } else { Kind::Moving };
    }
    gather_rest(points, legs);
}

/// A stretch of rest is as long as from where it began to where it ended, all of it in its last leg.
fn gather_rest(points: &[TrackPoint], legs: &mut [Leg]) {
    let mut start = 0;
    while start < legs.len() {
        if legs[start].kind != Kind::Resting {
            start += 1;
            continue;
        }
        let length = legs[start..].iter().take_while(|leg| leg.kind == Kind::Resting).count();
        let rest = &mut legs[start..start + length];
        if let (Some(from), Some(to)) = (points[rest[0].from].position, points[rest[length - 1].to].position)
        {
            rest.iter_mut().for_each(|leg| leg.metres = 0.0);
            rest[length - 1].metres = geodesic_m(from, to);
        }
        start += length;
    }
}

/// Without positions: what the device counted, else the speed that it showed. A bike on a trainer may give neither
/// and still be ridden.
fn counted_legs(points: &[TrackPoint]) -> Vec<Leg> {
    (1..points.len())
        .map(|to| {
            let (a, b) = (&points[to - 1], &points[to]);
            let shown = a.speed_m_s.zip(b.speed_m_s).zip(seconds_between(a, b));
            let shown = shown
                .map(|((a_speed, b_speed), seconds)| 0.5 * (a_speed + b_speed) * seconds.min(LONGEST_LEG_S));
            let mut leg = leg(points, to - 1, to, counted(a, b).or(shown).unwrap_or(0.0));
            let turns = |point: &TrackPoint| {
                point.power_w.is_some_and(|power| power > 0.0)
                    || point.cadence_rpm.is_some_and(|cadence| cadence > 0.0)
            };
            if leg.kind == Kind::Resting && !leg.gap && (turns(a) || turns(b)) {
                leg.kind = Kind::Moving;
            }
            leg
        })
        .collect()
}

/// Time that was ridden, s: all but rest, pauses and jumps.
pub(super) fn moving_seconds(legs: &[Leg]) -> f64 {
    legs.iter().filter(|leg| leg.kind == Kind::Moving).map(|leg| leg.seconds).sum()
}

/// Way between points without times, m.
pub(super) fn untimed_m(legs: &[Leg]) -> f64 {
    legs.iter().filter(|leg| leg.kind == Kind::Untimed).fold(0.0, |sum, leg| sum + leg.metres)
}
