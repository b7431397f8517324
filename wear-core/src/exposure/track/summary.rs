//! What a track says, in one place.

use std::fmt;

use super::Track;
use super::ascent::{AscentBand, Heights};
use super::gear_use::{gear_share, pedalling_share};
use super::legs::{Kind, Path, moving_seconds, untimed_m};
use super::work::{RoadSettings, TrackEnergy, by_road, measured};
use crate::bounds::OutOfRange;
use crate::drivetrain::Drivetrain;
use crate::exposure::{EnergySd, EnergySource, GearShare, RideFacts, Surface, Use};
use crate::units::{PedallingShare, RideAscent, RideDistance, RideEnergy};
use crate::vocabulary::vocabulary;

/// The device's count is taken where at least this share of the points have one (A).
const LEAST_COUNTED: f64 = 0.9;

/// Two distances differ when they are further apart than this, as a share and in m (A).
const LARGEST_DIFFERENCE: (f64, f64) = (0.05, 200.0);

/// Moved during a pause, m (A): more than noise.
const NOTABLE_MOVE_M: f64 = 100.0;

vocabulary! {
    /// Where a track's distance comes from.
    DistanceSource, "distance source" {
        /// What the device counted: by a wheel sensor, or by its own filter.
        Counted = "counted",
        /// The geodesic from position to position.
        Positions = "positions",
        /// The speed that the device showed, integrated.
        Speed = "speed",
    }
}

/// What judging a track takes from outside it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackSettings {
    /// What the bike is used for.
    pub usage: Use,
    /// What the ride was on. Indoors there is no climb and no road.
    pub surface: Surface,
    /// For the road-power model.
    pub road: RoadSettings,
}

impl TrackSettings {
    /// Settings of which only use and surface are known.
    #[must_use]
    pub fn new(usage: Use, surface: Surface) -> Self {
        Self { usage, surface, road: RoadSettings::default() }
    }
}

/// What looked odd in a track, and what was made of it.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum TrackWarning {
    /// Points that were not later than the one before were left out.
    OutOfOrder {
        /// How many.
        count: usize,
    },
    /// Single positions that nobody could have been at were left out.
    Spikes {
        /// How many.
        count: usize,
    },
    /// Legs that nobody could have ridden in the time were not counted.
    Jumps {
        /// How many.
        count: usize,
        /// How far in all, m.
        metres: f64,
    },
    /// Legs of more than a minute were counted straight.
    Gaps {
        /// How many.
        count: usize,
        /// How long in all, s.
        seconds: f64,
    },
    /// The bike moved while recording was paused; that was not counted.
    MovedWhilePaused {
        /// How far, straight, m.
        metres: f64,
    },
    /// What the device counted differs from the positions.
    DistancesDiffer {
        /// By the device, km.
        counted_km: f64,
        /// By positions, km.
        positions_km: f64,
    },
    /// Points without a time; their distance counts.
    WithoutTime {
        /// How many.
        count: usize,
        /// Length of the stretches whose speed stays unknown, m.
        metres: f64,
    },
    /// Too few points know their height, or it never changes.
    NoAscent {
        /// Share of the points with a height, 0 to 1.
        share: f64,
        /// Whether it never changes.
        level: bool,
    },
    /// Power covers too little of the ride to count as measured, or a part was filled in.
    PowerIncomplete {
        /// Share of the moving time that it covers, 0 to 1.
        share: f64,
    },
    /// Not a single leg was ridden.
    NothingRidden,
}

impl TrackWarning {
    /// One `snake_case` word for its kind.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::OutOfOrder { .. } => "points_out_of_order",
            Self::Spikes { .. } => "position_spikes",
            Self::Jumps { .. } => "position_jumps",
            Self::Gaps { .. } => "recording_gaps",
            Self::MovedWhilePaused { .. } => "moved_while_paused",
            Self::DistancesDiffer { .. } => "distances_differ",
            Self::WithoutTime { .. } => "points_without_time",
            Self::NoAscent { .. } => "climb_unknown",
            Self::PowerIncomplete { .. } => "power_incomplete",
            Self::NothingRidden => "nothing_ridden",
        }
    }
}

impl fmt::Display for TrackWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::OutOfOrder { count } => {
                write!(f, "{count} points were not later than the one before and were left out")
            }
            Self::Spikes { count } => write!(f, "{count} positions could not be reached and were left out"),
            Self::Jumps { count, metres } => {
                write!(f, "{count} jumps over {:.1} km in all were not counted", metres / 1000.0)
            }
            Self::Gaps { count, seconds } => {
                write!(f, "{count} gaps of {:.0} minutes in all were counted straight", seconds / 60.0)
            }
            Self::MovedWhilePaused { metres } => {
                write!(f, "{:.1} km lie between pause and return and were not counted", metres / 1000.0)
            }
            Self::DistancesDiffer { counted_km, positions_km } => {
                write!(f, "the device counted {counted_km:.2} km, the positions make {positions_km:.2} km")
            }
            Self::WithoutTime { count, metres } => write!(
                f,
                "{count} points have no time: {:.1} km count by their positions, without a speed",
                metres / 1000.0
            ),
            Self::NoAscent { level: true, .. } => {
                f.write_str("the height never changes, so the climb is unknown")
            }
            Self::NoAscent { share, .. } => {
                write!(f, "{:.0} % of the points know their height, so the climb is unknown", 100.0 * share)
            }
            Self::PowerIncomplete { share } => {
                write!(f, "power covers {:.0} % of the moving time", 100.0 * share)
            }
            Self::NothingRidden => f.write_str("nothing in the track was ridden"),
        }
    }
}

/// What a track says.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct TrackSummary {
    /// Points given.
    pub points: usize,
    /// Points that counted.
    pub points_used: usize,
    /// From the first time to the last, s; `None` where not even two points have one.
    pub elapsed_seconds: Option<f64>,
    /// Time in motion, s, of the stretches that have times.
    pub moving_seconds: f64,
    /// Distance, km.
    pub distance_km: f64,
    /// The part of it whose points have no times, and so no speed, km.
    pub untimed_km: f64,
    /// Where the distance comes from.
    pub distance_source: DistanceSource,
    /// Climb; `None` where heights are unknown, and indoors.
    pub climb: Option<AscentBand>,
    /// Work at the pedals; `None` where there is neither power nor a road to work it out from.
    pub energy: Option<TrackEnergy>,
    /// Share of the distance that was pedalled; `None` without a cadence.
    pub pedalling_share: Option<f64>,
    /// What looked odd.
    pub warnings: Vec<TrackWarning>,
}

impl Track {
    /// Judges the track. Every number is finite, whatever the points say.
    #[must_use]
    pub fn summary(&self, settings: &TrackSettings) -> TrackSummary {
        let path = Path::of(self);
        let mut warnings = oddities(&path);
        let (distance_source, along_m) = distance(&path, &mut warnings);
        let indoors = settings.surface == Surface::Indoor;
        let heights = (!indoors).then(|| Heights::of(&path, &along_m));
        if let Some(Err(missing)) = &heights {
            warnings.push(TrackWarning::NoAscent { share: missing.share, level: missing.level });
        }
        let heights = heights.and_then(Result::ok);
        let climb = heights.as_ref().map(Heights::climb);
        let measured = measured(&path);
        let share = measured.as_ref().map_or_else(|share| *share, |energy| energy.measured_share);
        if share > 0.0 && share < 0.99 {
            warnings.push(TrackWarning::PowerIncomplete { share });
        }
        let energy = measured.ok().or_else(|| {
            let (heights, climb) = (heights.as_ref()?, climb.as_ref()?);
            let ridden = (settings.usage, settings.surface);
            path.placed.then(|| by_road(&path, heights, climb, &settings.road, ridden)).flatten()
        });
        let mut times = path.points.iter().filter_map(|point| point.seconds);
        let ends = times.next().zip(times.next_back());
        TrackSummary {
            points: self.points().len(),
            points_used: path.points.len() - path.spikes,
            elapsed_seconds: ends.map(|(first, last)| last - first),
            moving_seconds: moving_seconds(&path.legs),
            distance_km: along_m.last().copied().unwrap_or(0.0) / 1000.0,
            untimed_km: untimed_m(&path.legs) / 1000.0,
            distance_source,
            climb,
            energy,
            pedalling_share: pedalling_share(&path),
            warnings,
        }
    }

    /// Shares of the gears, from cadence and speed; `None` where they don't tell enough. A ring and cog that make the
    /// same development as another pair can't be told apart: the first of the two is taken.
    #[must_use]
    pub fn gear_share(&self, drivetrain: &Drivetrain) -> Option<GearShare> {
        gear_share(&Path::of(self), drivetrain)
    }
}

impl TrackSummary {
    /// The ride as exposure takes it, dry; set `wet`, motor and gears on it.
    ///
    /// # Errors
    /// [`OutOfRange`] when distance, climb or work is more than a ride may have.
    pub fn facts(&self, settings: &TrackSettings) -> Result<RideFacts, OutOfRange> {
        let mut ride = RideFacts::new(RideDistance::new(self.distance_km)?, settings.usage, settings.surface);
        ride.climb = self.climb.map(|climb| RideAscent::new(climb.likely_m)).transpose()?;
        ride.mass = settings.road.mass;
        ride.pedalling_share = self.pedalling_share.and_then(|share| PedallingShare::new(share).ok());
        if let Some(energy) = self.energy {
            let kj = RideEnergy::new(energy.kj)?;
            match energy.source {
                EnergySource::Measured => ride.rider_energy = Some(kj),
                // The ride's own distance and climb say the same.
                EnergySource::DistanceAndClimb | EnergySource::Distance => return Ok(ride),
                EnergySource::RoadPower => ride.road_power_energy = Some(kj),
            }
            ride.energy_sd = Some(EnergySd { own: energy.own_ln_sd, shared: energy.shared_ln_sd });
        }
        Ok(ride)
    }
}

fn oddities(path: &Path) -> Vec<TrackWarning> {
    let mut warnings = Vec::new();
    if path.out_of_order > 0 {
        warnings.push(TrackWarning::OutOfOrder { count: path.out_of_order });
    }
    if path.spikes > 0 {
        warnings.push(TrackWarning::Spikes { count: path.spikes });
    }
    if path.untimed > 0 {
        warnings.push(TrackWarning::WithoutTime { count: path.untimed, metres: untimed_m(&path.legs) });
    }
    let jumps = path.legs.iter().filter(|leg| leg.kind == Kind::Jump);
    let (count, metres) = jumps.fold((0, 0.0), |(count, metres), leg| (count + 1, metres + leg.metres));
    if count > 0 {
        warnings.push(TrackWarning::Jumps { count, metres });
    }
    let gaps = path.legs.iter().filter(|leg| leg.gap && leg.kind == Kind::Moving);
    let (count, seconds) = gaps.fold((0, 0.0), |(count, seconds), leg| (count + 1, seconds + leg.seconds));
    if count > 0 {
        warnings.push(TrackWarning::Gaps { count, seconds });
    }
    let paused = path.legs.iter().filter(|leg| leg.kind == Kind::Paused);
    let moved: f64 = paused.map(|leg| leg.metres).filter(|&metres| metres > NOTABLE_MOVE_M).sum();
    if moved > 0.0 {
        warnings.push(TrackWarning::MovedWhilePaused { metres: moved });
    }
    if !path.legs.iter().any(|leg| matches!(leg.kind, Kind::Moving | Kind::Untimed)) {
        warnings.push(TrackWarning::NothingRidden);
    }
    warnings
}

/// The source of the distance, and the distance up to each point, m.
fn distance(path: &Path, warnings: &mut Vec<TrackWarning>) -> (DistanceSource, Vec<f64>) {
    let counts = path.points.iter().filter(|point| point.distance_m.is_some()).count();
    let by_legs = |metres: &dyn Fn(&super::legs::Leg) -> f64| {
        let mut along = vec![0.0; path.points.len()];
        let (mut sum, mut next) = (0.0, 0);
        for leg in &path.legs {
            along[next..leg.to].fill(sum);
            sum += metres(leg);
            next = leg.to;
        }
        along[next..].fill(sum);
        along
    };
    let straight = |leg: &super::legs::Leg| match leg.kind {
        Kind::Moving | Kind::Resting | Kind::Untimed => leg.metres,
        Kind::Paused | Kind::Jump => 0.0,
    };
    let positions = by_legs(&straight);
    if counts as f64 >= LEAST_COUNTED * path.points.len() as f64 {
        let counted = by_legs(&|leg| match leg.kind {
            Kind::Paused => 0.0,
            _ => path.counted_m(leg).unwrap_or_else(|| path.alone_m(leg)),
        });
        let (by_count, by_position) = (total(&counted), total(&positions));
        if by_count > 0.0 {
            let apart = (by_count - by_position).abs();
            if path.placed && apart > LARGEST_DIFFERENCE.1 && apart > LARGEST_DIFFERENCE.0 * by_count {
                warnings.push(TrackWarning::DistancesDiffer {
                    counted_km: by_count / 1000.0,
                    positions_km: by_position / 1000.0,
                });
            }
            return (DistanceSource::Counted, counted);
        }
    }
    (if path.placed { DistanceSource::Positions } else { DistanceSource::Speed }, positions)
}

fn total(along: &[f64]) -> f64 {
    along.last().copied().unwrap_or(0.0)
}
