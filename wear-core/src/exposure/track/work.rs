//! Work at the pedals along a track: measured where there is power, else what the road asked for.

use super::ascent::{AscentBand, Heights};
use super::geodesic::length_and_bearing;
use super::legs::{Kind, Path, moving_seconds, seconds_between, untimed_m};
use crate::exposure::energy::distance_and_climb_kj;
use crate::exposure::power::{DEFAULT_EFFICIENCY, GRAVITY, RoadLoad, Stretch, head_wind_m_s};
use crate::exposure::{EnergySource, Surface, Use};
use crate::units::{AirDensity, Bearing, DragArea, RollingCoefficient, TotalMass, WindSpeed};

/// A power meter says nothing of longer gaps between its samples, s (A).
const LONGEST_SAMPLE_S: f64 = 15.0;

/// Share of the moving time that power has to cover to count as measured (A).
const LEAST_COVERAGE: f64 = 0.8;

/// The road's power is worked out over stretches of at least so long: shorter ones are mostly noise (A).
const STRETCH_S: f64 = 15.0;
const STRETCH_M: f64 = 40.0;

/// What is unknown of a setting nobody gave, and of one that somebody gave, as a standard deviation of its logarithm
/// (A).
const MASS_LN_SD: (f64, f64) = (0.12, 0.03);
const DRAG_LN_SD: (f64, f64) = (0.20, 0.08);
const ROLLING_LN_SD: (f64, f64) = (0.30, 0.12);

/// Wind that nobody recorded, m/s from any side (A), and the error of one that somebody gave.
const UNKNOWN_WIND_M_S: f64 = 2.5;
const GIVEN_WIND_SD_M_S: f64 = 1.0;

/// Error of the method itself: braking, drafting, smoothing, as a standard deviation of ln work (A).
const METHOD_LN_SD: f64 = 0.07;

/// Wind over the whole ride.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wind {
    /// Speed at the rider's height.
    pub speed: WindSpeed,
    /// Where it comes from.
    pub from: Bearing,
}

/// What the road-power model takes from outside the track. `None` is filled in by use and surface.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RoadSettings {
    /// Mass of rider, bike and load.
    pub mass: Option<TotalMass>,
    /// Drag area of bike and rider.
    pub drag_area: Option<DragArea>,
    /// Rolling force over weight.
    pub rolling: Option<RollingCoefficient>,
    /// The wind.
    pub wind: Option<Wind>,
    /// Density of the air; 1.2 kg/m³ when left out (A).
    pub air_density: Option<AirDensity>,
}

/// Work at the pedals over a track.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct TrackEnergy {
    /// Work, kJ.
    pub kj: f64,
    /// Measured, or by the road.
    pub source: EnergySource,
    /// Standard deviation of ln work that is this ride's own: wind, climb, gaps, method.
    pub own_ln_sd: f64,
    /// Standard deviation of ln work that all rides with these settings share: mass, drag, tyres.
    pub shared_ln_sd: f64,
    /// Share of the moving time that was measured, 0 to 1; times the share of the distance that has times.
    pub measured_share: f64,
}

impl Use {
    /// Drag area C_d·A of bike and rider, m² (A).
    #[must_use]
    pub const fn drag_area_m2(self) -> f64 {
        match self {
            Self::Town => 0.55,
            Self::Touring | Self::Mountain => 0.50,
            Self::Road => 0.36,
            Self::Gravel => 0.42,
            Self::Cargo => 0.75,
            Self::EBike => 0.58,
            Self::ECargo => 0.80,
        }
    }
}

/// Rolling force over weight on a surface, at least (A).
const fn least_rolling(surface: Surface) -> f64 {
    match surface {
        Surface::Paved | Surface::Indoor => 0.0,
        Surface::Gravel => 0.009,
        Surface::Mud => 0.020,
    }
}

impl RoadSettings {
    fn load(&self, usage: Use, surface: Surface) -> RoadLoad {
        let profile = usage.profile();
        RoadLoad {
            mass_kg: self.mass.map_or(profile.mass_kg, TotalMass::get),
            drag_area_m2: self.drag_area.map_or(usage.drag_area_m2(), DragArea::get),
            wheel_drag_area_m2: 0.0044,
            rolling: self
                .rolling
                .map_or(profile.rolling.max(least_rolling(surface)), RollingCoefficient::get),
            wheel_inertia_kg_m2: 0.14,
            tyre_radius_m: 0.34,
            air_density_kg_m3: self.air_density.map_or(1.2, AirDensity::get),
            efficiency: DEFAULT_EFFICIENCY,
        }
    }
}

/// The integral of power over time, where it covers enough of the ride; otherwise the share that it covers.
pub(super) fn measured(path: &Path) -> Result<TrackEnergy, f64> {
    let moving = moving_seconds(&path.legs);
    let (mut joules, mut covered) = (0.0, 0.0);
    let mut legs = path.legs.iter().peekable();
    for (i, pair) in path.points.windows(2).enumerate() {
        while legs.next_if(|leg| leg.to <= i).is_some() {}
        let (Some(before), Some(after), Some(seconds)) =
            (pair[0].power_w, pair[1].power_w, seconds_between(&pair[0], &pair[1]))
        else {
            continue;
        };
        if seconds > LONGEST_SAMPLE_S || pair[1].after_pause {
            continue;
        }
        joules += 0.5 * (before + after) * seconds;
        if legs.peek().is_some_and(|leg| leg.from <= i && leg.kind == Kind::Moving) {
            covered += seconds;
        }
    }
    let ridden: f64 = path.legs.iter().filter(|leg| leg.kind == Kind::Moving).map(|leg| leg.metres).sum();
    let untimed = untimed_m(&path.legs);
    let timed = if untimed > 0.0 { ridden / (ridden + untimed) } else { 1.0 };
    let share = if moving > 0.0 { (covered / moving).min(1.0) * timed } else { 0.0 };
    if share < LEAST_COVERAGE {
        return Err(share);
    }
    let (own, shared) = EnergySource::Measured.ln_sd();
    Ok(TrackEnergy {
        // The rest of the ride is taken to have been like the measured part, within half of it (A).
        kj: joules / share / 1000.0,
        source: EnergySource::Measured,
        own_ln_sd: f64::hypot(own, 0.5 * (1.0 - share)),
        shared_ln_sd: shared,
        measured_share: share,
    })
}

/// A stretch of road without what the settings give.
struct Piece {
    stretch: Stretch,
    bearing_degrees: f64,
}

/// Work that the road asked for.
///
/// Where points have no times, there is no speed: that part's work comes from distance and climb, as a ride's does that
/// was never recorded. A track without any times has nothing else.
///
/// The settings' errors are carried through by working it out again with each moved by one standard deviation.
pub(super) fn by_road(
    path: &Path,
    heights: &Heights,
    climb: &AscentBand,
    settings: &RoadSettings,
    (usage, surface): (Use, Surface),
) -> Option<TrackEnergy> {
    let pieces = pieces(path, heights);
    let load = settings.load(usage, surface);
    let blowing = settings.wind.map_or(AirFlow::default(), AirFlow::of);
    let untimed = Untimed::of(path, heights, usage);
    let kj = |load: &RoadLoad, wind: AirFlow| work_kj(&pieces, load, wind) + untimed.work_kj(load.mass_kg);
    let best = kj(&load, blowing);
    if best <= 0.0 {
        return None;
    }
    let (plain_own, plain_shared) = EnergySource::DistanceAndClimb.ln_sd();
    if pieces.is_empty() {
        return Some(TrackEnergy {
            kj: best,
            source: EnergySource::DistanceAndClimb,
            own_ln_sd: plain_own,
            shared_ln_sd: plain_shared,
            measured_share: 0.0,
        });
    }
    let plain = untimed.work_kj(load.mass_kg) / best;
    let ln_change = |changed: RoadLoad| (kj(&changed, blowing) / best).ln();
    let sd = |(unknown, given): (f64, f64), is_given: bool| if is_given { given } else { unknown };
    let mass = sd(MASS_LN_SD, settings.mass.is_some()).exp();
    let drag = sd(DRAG_LN_SD, settings.drag_area.is_some()).exp();
    let rolling = sd(ROLLING_LN_SD, settings.rolling.is_some()).exp();
    let shared = [
        ln_change(RoadLoad { mass_kg: load.mass_kg * mass, ..load }),
        ln_change(RoadLoad { drag_area_m2: load.drag_area_m2 * drag, ..load }),
        ln_change(RoadLoad { rolling: load.rolling * rolling, ..load }),
        plain * plain_shared,
    ];
    let gust = if settings.wind.is_some() { GIVEN_WIND_SD_M_S } else { UNKNOWN_WIND_M_S };
    let blown: f64 = [(gust, 0.0), (-gust, 0.0), (0.0, gust), (0.0, -gust)]
        .map(|(north, east)| {
            let added = AirFlow { north: blowing.north + north, east: blowing.east + east };
            (kj(&load, added) / best).ln().powi(2)
        })
        .iter()
        .sum::<f64>()
        / 4.0;
    // A band from low to high is taken for two standard deviations.
    let uphill =
        load.mass_kg * GRAVITY * 0.5 * (climb.high_m - climb.low_m) / 1000.0 / DEFAULT_EFFICIENCY / best;
    Some(TrackEnergy {
        kj: best,
        source: EnergySource::RoadPower,
        own_ln_sd: (blown + uphill * uphill + METHOD_LN_SD * METHOD_LN_SD + (plain * plain_own).powi(2))
            .sqrt()
            .min(2.0),
        shared_ln_sd: shared.iter().map(|change| change * change).sum::<f64>().sqrt().min(2.0),
        measured_share: 0.0,
    })
}

/// The part of a track that has no times.
struct Untimed {
    usage: Use,
    km: f64,
    climb_m: f64,
}

impl Untimed {
    fn of(path: &Path, heights: &Heights, usage: Use) -> Self {
        let runs = path.legs.chunk_by(|a, b| a.kind == b.kind && a.to == b.from);
        let climb_m = runs
            .filter(|run| run[0].kind == Kind::Untimed)
            .map(|run| heights.climb_between(run[0].from, run[run.len() - 1].to))
            .sum();
        Self { usage, km: untimed_m(&path.legs) / 1000.0, climb_m }
    }

    fn work_kj(&self, mass_kg: f64) -> f64 {
        distance_and_climb_kj(self.usage, mass_kg, self.km, self.climb_m)
    }
}

/// Where the wind comes from, m/s northwards and eastwards.
#[derive(Clone, Copy, Default)]
struct AirFlow {
    north: f64,
    east: f64,
}

impl AirFlow {
    fn of(wind: Wind) -> Self {
        let from = wind.from.get().to_radians();
        Self { north: wind.speed.get() * from.cos(), east: wind.speed.get() * from.sin() }
    }
}

fn work_kj(pieces: &[Piece], load: &RoadLoad, wind: AirFlow) -> f64 {
    let speed_m_s = f64::hypot(wind.north, wind.east);
    let from_degrees = wind.east.atan2(wind.north).to_degrees();
    let joules: f64 = pieces
        .iter()
        .map(|piece| {
            let head_wind_m_s = head_wind_m_s(speed_m_s, from_degrees, piece.bearing_degrees);
            let stretch = Stretch { head_wind_m_s, ..piece.stretch };
            load.power(&stretch).at_pedals() * stretch.seconds
        })
        .sum();
    joules / 1000.0
}

/// Ridden legs put together to stretches, each with its grade and its speeds at the ends.
fn pieces(path: &Path, heights: &Heights) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    for run in path.legs.chunk_by(|a, b| a.kind == b.kind && a.to == b.from) {
        if run[0].kind != Kind::Moving {
            continue;
        }
        let first = pieces.len();
        let mut start = 0;
        let (mut seconds, mut metres) = (0.0, 0.0);
        for (k, leg) in run.iter().enumerate() {
            seconds += leg.seconds;
            metres += leg.metres;
            if (seconds < STRETCH_S || metres < STRETCH_M) && k + 1 < run.len() {
                continue;
            }
            let (from, to) = (run[start].from, leg.to);
            let rise = match (heights.smooth_m[from], heights.smooth_m[to]) {
                (Some(from), Some(to)) => to - from,
                _ => 0.0,
            };
            let bearing_degrees = match (path.points[from].position, path.points[to].position) {
                (Some(from), Some(to)) => length_and_bearing(from, to).1,
                _ => 0.0,
            };
            let speed = metres / seconds;
            pieces.push(Piece {
                stretch: Stretch {
                    speed_m_s: speed,
                    speed_at_start_m_s: 0.0,
                    speed_at_end_m_s: 0.0,
                    seconds,
                    // Steeper than 1 in 3 is the height's error, not the road (A).
                    grade: if metres > 0.0 { (rise / metres).clamp(-0.33, 0.33) } else { 0.0 },
                    head_wind_m_s: 0.0,
                },
                bearing_degrees,
            });
            (start, seconds, metres) = (k + 1, 0.0, 0.0);
        }
        // A run begins and ends at rest; in between neighbours meet at the mean of their speeds.
        for k in first + 1..pieces.len() {
            let meet = 0.5 * (pieces[k - 1].stretch.speed_m_s + pieces[k].stretch.speed_m_s);
            pieces[k - 1].stretch.speed_at_end_m_s = meet;
            pieces[k].stretch.speed_at_start_m_s = meet;
        }
    }
    pieces
}
