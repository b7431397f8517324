//! Gears from cadence and speed.

use super::legs::{Kind, Leg, Path};
use crate::drivetrain::{Drivetrain, Teeth};
use crate::exposure::GearShare;

/// Slower turns are starting off, or a sensor's faults, per minute (A).
const LEAST_CADENCE_RPM: f64 = 30.0;

/// Speed is averaged over this much time on both sides, s (A).
const HALF_WINDOW_S: f64 = 4.0;

/// A development further off than this, in its logarithm, belongs to no gear (A; gears are 0.1 to 0.2 apart).
const LARGEST_MISS: f64 = 0.12;

/// Distance that has to be told by gear before the shares count as measured: in all, m, and of what was pedalled (A).
const LEAST_METRES: f64 = 3_000.0;
const LEAST_SHARE: f64 = 0.5;

/// Share of the ridden distance that was pedalled; `None` without a cadence.
pub(super) fn pedalling_share(path: &Path) -> Option<f64> {
    let (mut pedalled, mut known) = (0.0, 0.0);
    let ridden = |leg: &&Leg| matches!(leg.kind, Kind::Moving | Kind::Untimed);
    for leg in path.legs.iter().filter(ridden) {
        let (a, b) = (&path.points[leg.from], &path.points[leg.to]);
        if let (Some(a), Some(b)) = (a.cadence_rpm, b.cadence_rpm) {
            known += leg.metres;
            pedalled += leg.metres * if a > 0.0 || b > 0.0 { 1.0 } else { 0.0 };
        }
    }
    let all: f64 = path.legs.iter().filter(ridden).map(|leg| leg.metres).sum();
    (known > 0.8 * all && known > 0.0).then(|| pedalled / known)
}

/// Shares by gear: each ridden leg goes to the gear whose development, distance per turn of the crank, is nearest.
pub(super) fn gear_share(path: &Path, drivetrain: &Drivetrain) -> Option<GearShare> {
    let wheel_m = drivetrain.wheel().get() / 1000.0;
    let gears: Vec<(Teeth, Teeth, f64)> = drivetrain
        .rings()
        .iter()
        .flat_map(|&ring| drivetrain.cogs().iter().map(move |&cog| (ring, cog)))
        .map(|(ring, cog)| (ring, cog, (ring.as_f64() / cog.as_f64() * wheel_m).ln()))
        .collect();
    let mut metres = vec![0.0; gears.len()];
    let (mut pedalled, mut told) = (0.0, 0.0);
    for (k, leg) in path.legs.iter().enumerate() {
        let (a, b) = (&path.points[leg.from], &path.points[leg.to]);
        let (Kind::Moving, Some(a_turns), Some(b_turns)) = (leg.kind, a.cadence_rpm, b.cadence_rpm) else {
            continue;
        };
        if a_turns.min(b_turns) < LEAST_CADENCE_RPM {
            continue;
        }
        pedalled += leg.metres;
        let speed = match (a.speed_m_s, b.speed_m_s) {
            (Some(a), Some(b)) => 0.5 * (a + b),
            _ => speed_around(path, k),
        };
        let development = (speed * 60.0 / (0.5 * (a_turns + b_turns))).ln();
        let miss = |gear: usize| (gears[gear].2 - development).abs();
        let nearest = (0..gears.len()).min_by(|&a, &b| miss(a).total_cmp(&miss(b)));
        if let Some(gear) = nearest.filter(|&gear| miss(gear) <= LARGEST_MISS) {
            metres[gear] += leg.metres;
            told += leg.metres;
        }
    }
    if told < LEAST_METRES || told < LEAST_SHARE * pedalled {
        return None;
    }
    let shares: Vec<(Teeth, Teeth, f64)> =
        gears.iter().zip(metres).map(|(&(ring, cog, _), metres)| (ring, cog, metres)).collect();
    GearShare::measured(drivetrain, &shares).ok()
}

/// Mean speed over the legs round leg `k`, m/s.
fn speed_around(path: &Path, k: usize) -> f64 {
    // A leg in motion has times at both ends.
    let time = |i: usize| path.points[i].seconds.unwrap_or(f64::NAN);
    let middle = 0.5 * (time(path.legs[k].from) + time(path.legs[k].to));
    let near = |leg: &&Leg| {
        leg.kind == Kind::Moving
            && (time(leg.from) - middle).abs() <= HALF_WINDOW_S
            && (time(leg.to) - middle).abs() <= HALF_WINDOW_S
    };
    let before = path.legs[..k].iter().rev().take_while(near);
    let after = path.legs[k + 1..].iter().take_while(near);
    let (mut metres, mut seconds) = (path.legs[k].metres, path.legs[k].seconds);
    for leg in before.chain(after) {
        metres += leg.metres;
        seconds += leg.seconds;
    }
    metres / seconds
}
