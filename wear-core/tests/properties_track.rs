//! Invariants of recorded tracks, and tracks whose truth is known.

use proptest::prelude::*;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use wear_core::drivetrain::{Drivetrain, DrivetrainFacts};
use wear_core::exposure::track::{
    AscentBand, DistanceSource, Position, RoadSettings, Track, TrackError, TrackPoint, TrackSettings,
    TrackSummary, TrackWarning, Wind, ascent_by_hysteresis, geodesic_m, path_m,
};
use wear_core::exposure::{EnergySource, Surface, Use};
use wear_core::units::{Bearing, TotalMass, WindSpeed};

const METRES_PER_DEGREE: f64 = 111_195.0;

fn town() -> TrackSettings {
    TrackSettings::new(Use::Town, Surface::Paved)
}

fn summary(points: Vec<TrackPoint>) -> TrackSummary {
    Track::new(points).unwrap().summary(&town())
}

/// A point so many metres north and east of a place near 47° N.
fn at(seconds: f64, north_m: f64, east_m: f64) -> TrackPoint {
    let latitude = 47.0 + north_m / METRES_PER_DEGREE;
    let longitude = 8.0 + east_m / METRES_PER_DEGREE / 47.0_f64.to_radians().cos();
    TrackPoint {
        seconds: Some(seconds),
        position: Some(Position { latitude, longitude }),
        ..TrackPoint::default()
    }
}

/// Straight north at a steady speed, a point a second.
fn northwards(seconds: u32, speed_m_s: f64) -> Vec<TrackPoint> {
    (0..=seconds).map(|s| at(f64::from(s), speed_m_s * f64::from(s), 0.0)).collect()
}

fn time(point: &TrackPoint) -> f64 {
    point.seconds.unwrap()
}

fn with_heights(mut points: Vec<TrackPoint>, height: impl Fn(f64) -> f64) -> Vec<TrackPoint> {
    for point in &mut points {
        point.elevation_m = Some(height(time(point)));
    }
    points
}

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs()).max(1e-9)
}

fn any_point() -> impl Strategy<Value = TrackPoint> {
    let sample = |largest: f64| prop::option::weighted(0.7, 0.0..=largest);
    (
        prop::option::weighted(0.8, 0_u32..5_000),
        prop::option::weighted(0.9, (-90.0..=90.0_f64, -180.0..=180.0_f64)),
        prop::option::weighted(0.8, -1_000.0..=10_000.0_f64),
        (sample(5_000.0), sample(300.0), sample(60.0), sample(1e6)),
        prop::bool::weighted(0.05),
    )
        .prop_map(
            |(seconds, place, elevation_m, (power_w, cadence_rpm, speed_m_s, distance_m), after_pause)| {
                TrackPoint {
                    seconds: seconds.map(f64::from),
                    position: place.map(|(latitude, longitude)| Position { latitude, longitude }),
                    elevation_m,
                    power_w,
                    cadence_rpm,
                    speed_m_s,
                    distance_m,
                    after_pause,
                }
            },
        )
}

/// A ride with noise, stops and a hill.
fn plausible_ride() -> impl Strategy<Value = Vec<TrackPoint>> {
    prop::collection::vec((1_u32..8, 0.0..15.0_f64, -1.0..1.0_f64, -0.1..0.1_f64), 3..200).prop_map(|steps| {
        let (mut seconds, mut north, mut east, mut height, mut counted) = (0, 0.0, 0.0, 400.0, 0.0);
        let mut heading: f64 = 0.0;
        let mut points = vec![TrackPoint { elevation_m: Some(height), ..at(0.0, 0.0, 0.0) }];
        for (dt, speed, turn, grade) in steps {
            let metres = if speed < 3.0 { 0.0 } else { speed * f64::from(dt) };
            seconds += dt;
            heading += turn;
            north += metres * heading.cos();
            east += metres * heading.sin();
            height += metres * grade;
            counted += metres;
            points.push(TrackPoint {
                elevation_m: Some(height),
                power_w: Some(20.0 * speed),
                distance_m: Some(counted),
                ..at(f64::from(seconds), north, east)
            });
        }
        points
    })
}

fn finite(summary: &TrackSummary) -> bool {
    let climb =
        summary.climb.map_or([0.0; 3], |AscentBand { low_m, likely_m, high_m }| [low_m, likely_m, high_m]);
    let energy = summary.energy.map_or([0.0; 3], |energy| [energy.kj, energy.own_ln_sd, energy.shared_ln_sd]);
    let all = [summary.distance_km, summary.moving_seconds, summary.elapsed_seconds.unwrap_or(0.0)];
    all.iter().chain(&climb).chain(&energy).all(|number| number.is_finite() && *number >= 0.0)
}

proptest! {
    #[test]
    fn any_points_in_any_order_have_a_finite_summary(
        points in prop::collection::vec(any_point(), 2..120),
        surface in prop::sample::select(Surface::ALL),
        usage in prop::sample::select(Use::ALL),
    ) {
        let track = Track::new(points).unwrap();
        let found = track.summary(&TrackSettings::new(usage, surface));
        prop_assert!(finite(&found), "{found:?}");
        prop_assert!(found.moving_seconds <= found.elapsed_seconds.unwrap_or(0.0) + 1e-6);
        prop_assert!(found.points_used <= found.points);
        if let Some(AscentBand { low_m, likely_m, high_m }) = found.climb {
            prop_assert!(low_m <= likely_m && likely_m <= high_m);
        }
        if let Some(share) = found.pedalling_share {
            prop_assert!((0.0..=1.0).contains(&share));
        }
        let facts = Drivetrain::new(&DrivetrainFacts {
            rings: vec![50, 34], cogs: vec![11, 13, 15, 17, 20, 24, 28], links: 112, ..DrivetrainFacts::default()
        });
        let _shares = track.gear_share(&facts.unwrap());
    }

    #[test]
    fn a_number_that_is_none_is_refused(
        points in prop::collection::vec(any_point(), 2..20),
        which in 0..20_usize, field in 0..8_usize,
        wrong in prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e13, -1e13]),
    ) {
        let mut points = points;
        let index = which % points.len();
        let point = &mut points[index];
        match field {
            0 => point.seconds = Some(wrong),
            1 => point.position = Some(Position { latitude: wrong, longitude: 0.0 }),
            2 => point.position = Some(Position { latitude: 0.0, longitude: wrong }),
            3 => point.elevation_m = Some(wrong),
            4 => point.power_w = Some(wrong),
            5 => point.cadence_rpm = Some(wrong),
            6 => point.speed_m_s = Some(wrong),
            _ => point.distance_m = Some(wrong),
        }
        let refused = matches!(Track::new(points), Err(TrackError::OutOfRange { index: at, .. }) if at == index);
        prop_assert!(refused);
    }

    #[test]
    fn a_ride_back_is_as_far_and_as_long(points in plausible_ride()) {
        let end = points[points.len() - 1];
        let total = end.distance_m.unwrap_or(0.0);
        let mut back: Vec<TrackPoint> = points.iter().rev().copied().collect();
        for point in &mut back {
            point.seconds = Some(time(&end) - time(point));
            point.distance_m = point.distance_m.map(|metres| total - metres);
        }
        for counted in [true, false] {
            let strip = |mut points: Vec<TrackPoint>| {
                points.iter_mut().filter(|_| !counted).for_each(|point| point.distance_m = None);
                summary(points)
            };
            let (there, again) = (strip(points.clone()), strip(back.clone()));
            prop_assert!(close(there.distance_km, again.distance_km, 1e-9), "{there:?} {again:?}");
            prop_assert!(close(there.moving_seconds, again.moving_seconds, 1e-12));
        }
    }

    #[test]
    fn time_moved_and_points_repeated_change_nothing(points in plausible_ride(), shift in -100_000..100_000_i32) {
        let mut doubled = Vec::new();
        for point in &points {
            let moved = TrackPoint { seconds: Some(time(point) + f64::from(shift)), ..*point };
            doubled.extend([moved, moved]);
        }
        let (once, twice) = (summary(points.clone()), summary(doubled));
        prop_assert!(close(once.distance_km, twice.distance_km, 1e-12));
        prop_assert!(close(once.moving_seconds, twice.moving_seconds, 1e-12));
        prop_assert_eq!(once.climb, twice.climb);
        let left_out = TrackWarning::OutOfOrder { count: points.len() };
        prop_assert!(twice.warnings.contains(&left_out));
    }

    #[test]
    fn units_scale_through(points in plausible_ride(), factor in 0.2..3.0_f64) {
        let power = |points: &[TrackPoint]| {
            let found = summary(points.to_vec()).energy;
            found.filter(|energy| energy.source == EnergySource::Measured).map(|energy| energy.kj)
        };
        let mut stronger = points.clone();
        stronger.iter_mut().for_each(|point| point.power_w = point.power_w.map(|power| power * factor));
        match (power(&points), power(&stronger)) {
            (Some(weak), Some(strong)) => prop_assert!(close(strong, weak * factor, 1e-9)),
            (weak, strong) => prop_assert_eq!(weak, strong),
        }
        let heights: Vec<f64> = points.iter().filter_map(|point| point.elevation_m).collect();
        let taller: Vec<f64> = heights.iter().map(|height| height * factor).collect();
        let climb = ascent_by_hysteresis(&heights, 5.0);
        prop_assert!(close(ascent_by_hysteresis(&taller, 5.0 * factor), climb * factor, 1e-6));
    }

    #[test]
    fn more_hysteresis_never_climbs_more(
        heights in prop::collection::vec(-50.0..50.0_f64, 0..80), a in 0.0..60.0_f64, b in 0.0..60.0_f64,
    ) {
        let (low, high) = (a.min(b), a.max(b));
        let raw: f64 = heights.windows(2).map(|pair| (pair[1] - pair[0]).max(0.0)).sum();
        prop_assert!(ascent_by_hysteresis(&heights, high) <= ascent_by_hysteresis(&heights, low) + 1e-9);
        prop_assert!((ascent_by_hysteresis(&heights, 0.0) - raw).abs() < 1e-9);
    }
}

#[test]
fn rounding_leaves_the_climbs_in_order() {
    // Found by fuzzing: the larger threshold once summed to 138.64042114900406 m, the smaller to 138.640421149004 m.
    let heights = [
        336.2249179827573,
        436.47058823529414,
        339.21568627450984,
        436.0921644922561,
        445.88235294117646,
        436.47058823529414,
        445.88235294117646,
        308.3802548256657,
        411.4702067597467,
        436.47058823529414,
        445.88235294117646,
        436.47058823529414,
        436.7177843900206,
        436.47058823529414,
        337.6470588235294,
    ];
    for spread in 1..200 {
        let points = heights.iter().cycle().take(60).enumerate().map(|(i, height)| TrackPoint {
            elevation_m: Some(height / f64::from(spread)),
            ..at(20.0 * i as f64, 120.0 * i as f64, 0.0)
        });
        let AscentBand { low_m, likely_m, high_m } = summary(points.collect()).climb.unwrap();
        assert!(low_m <= likely_m && likely_m <= high_m, "{low_m} {likely_m} {high_m}");
    }
}

#[test]
fn what_was_not_counted_at_the_edge_of_a_rest_is_not_lost() {
    let step = |seconds, north_m, counted| TrackPoint { distance_m: counted, ..at(seconds, north_m, 0.0) };
    let there = |s: f64| (s - 16.0).max(0.0) * 9.0 + 4.5;
    let mut points = vec![step(0.0, 0.0, None)];
    points.extend((1..18).map(|s| step(f64::from(s), there(f64::from(s)), Some(there(f64::from(s))))));
    assert!((summary(points).distance_km - 0.0135).abs() < 1e-4);
}

#[test]
fn noise_at_rest_is_no_distance_and_no_time() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let noise = Normal::new(0.0, 3.0).unwrap();
    // Ten minutes north at 6 m/s, ten minutes at rest with 3 m of noise, ten minutes on.
    let points: Vec<TrackPoint> = (0..=1800)
        .map(|s| {
            let ridden = if s <= 600 { s } else { 600.max(s - 600) };
            let rests = (600..=1200).contains(&s);
            let mut off = || if rests { noise.sample(&mut random) } else { 0.0 };
            at(f64::from(s), 6.0 * f64::from(ridden) + off(), off())
        })
        .collect();
    let places: Vec<Position> = points.iter().filter_map(|point| point.position).collect();
    let found = summary(points);
    let naive = path_m(&places) / 1000.0;
    println!(
        "7.2 km, ten minutes of rest: {:.3} km, {} s; summed as it stands {naive:.2} km",
        found.distance_km, found.moving_seconds
    );
    assert!(naive > 9.0, "{naive}");
    assert!((found.distance_km - 7.2).abs() < 0.1, "{}", found.distance_km);
    assert!((found.moving_seconds - 1200.0).abs() < 25.0, "{}", found.moving_seconds);
}

#[test]
fn gaps_pauses_jumps_and_spikes_are_told_apart() {
    let mut points = northwards(600, 5.0);
    // 300 m in a tunnel without a point.
    points.retain(|point| !(200.0..260.0).contains(&time(point)) || time(point) == 200.0);
    points
        .iter_mut()
        .filter(|point| time(point) > 200.0)
        .for_each(|point| point.seconds = Some(time(point) + 30.0));
    let gap = summary(points);
    assert!((gap.distance_km - 3.0).abs() < 0.01, "{gap:?}");
    assert!(
        matches!(gap.warnings[0], TrackWarning::Gaps { count: 1, seconds } if (seconds - 90.0).abs() < 1e-6)
    );

    let mut points = northwards(600, 5.0);
    let by_train = 20_000.0;
    for point in points.iter_mut().filter(|point| time(point) > 300.0) {
        *point = at(time(point) + 1800.0, 5.0 * time(point) + by_train, 0.0);
    }
    points[301].after_pause = true;
    let train = summary(points.clone());
    assert!((train.distance_km - 2.995).abs() < 0.01, "{train:?}");
    assert!(
        matches!(train.warnings[0], TrackWarning::MovedWhilePaused { metres } if (metres - 20_000.0).abs() < 100.0)
    );
    assert!((train.moving_seconds - 599.0).abs() < 2.0);

    // 20 km in one second, never to return; and one point far out at sea.
    let mut points = northwards(600, 5.0);
    points.iter_mut().skip(301).for_each(|point| *point = at(time(point), 5.0 * time(point) + by_train, 0.0));
    points[100] = at(100.0, 0.0, 90_000.0);
    let odd = summary(points);
    assert!((odd.distance_km - 2.995).abs() < 0.01, "{odd:?}");
    assert!(odd.warnings.contains(&TrackWarning::Spikes { count: 1 }));
    assert!(odd.warnings.iter().any(|warning| matches!(warning, TrackWarning::Jumps { count: 1, .. })));
}

#[test]
fn noisy_heights_on_a_level_road_are_no_climb_and_a_hill_is_one() {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    for sd in [0.5, 1.0, 3.0] {
        let noise = Normal::new(0.0, sd).unwrap();
        let level: Vec<f64> = (0..=3600).map(|_| 400.0 + noise.sample(&mut random)).collect();
        let raw = ascent_by_hysteresis(&level, 0.0);
        // White noise of σ adds 0.5642 σ a sample.
        assert!((raw / 3600.0 - 0.5642 * sd).abs() < 0.03 * sd, "{raw}");
        let flat = summary(with_heights(northwards(3600, 6.0), |s| level[s as usize]));
        let hilly = summary(with_heights(northwards(3600, 6.0), |s| {
            level[s as usize] + 60.0 * (1.0 - (s / 3600.0 * 8.0 * std::f64::consts::PI).cos())
        }));
        let (flat, hilly) = (flat.climb.unwrap(), hilly.climb.unwrap());
        println!("noise {sd} m: raw {raw:.0} m, level {flat:.0?}, four hills of 120 m {hilly:.0?}");
        assert!(flat.low_m == 0.0 && flat.likely_m < 0.01 * raw, "{flat:?}");
        assert!(hilly.low_m <= 480.0 * 1.05 && hilly.high_m >= 480.0 * 0.97, "{hilly:?}");
        assert!((hilly.likely_m / 480.0 - 1.0).abs() < 0.05, "{hilly:?}");
    }
}

#[test]
fn measured_power_is_integrated_and_patched_only_where_little_is_missing() {
    let ride = |missing: u32| {
        let mut points = northwards(1000, 6.0);
        points.iter_mut().for_each(|point| point.power_w = Some(180.0));
        points.iter_mut().take(missing as usize).for_each(|point| point.power_w = None);
        summary(
            with_heights(points, |_| 300.0)
                .into_iter()
                .enumerate()
                .map(|(i, mut point)| {
                    point.elevation_m = Some(300.0 + (i % 2) as f64 * 0.01);
                    point
                })
                .collect(),
        )
        .energy
        .unwrap()
    };
    let whole = ride(0);
    assert_eq!(whole.source, EnergySource::Measured);
    assert!((whole.kj - 180.0).abs() < 1e-6);
    let patched = ride(100);
    assert_eq!(patched.source, EnergySource::Measured);
    assert!((patched.kj - 180.0).abs() < 0.5 && patched.own_ln_sd > whole.own_ln_sd, "{patched:?}");
    assert_eq!(ride(500).source, EnergySource::RoadPower);
}

/// A hill at a steady speed, worked out by hand: 90 kg up 5 % at 4 m/s.
#[test]
fn road_work_is_that_of_the_formula() {
    let mut settings = town();
    settings.road.mass = Some(TotalMass::new(90.0).unwrap());
    let points = with_heights(northwards(3000, 4.0), |s| 400.0 + 0.2 * s);
    let found = Track::new(points.clone()).unwrap().summary(&settings).energy.unwrap();
    // Per metre: ½·1.2·(0.55 + 0.0044)·16 + 0.006·90·9.81·cos + (91 + 8.7·4)/1000 + 90·9.81·sin, over 0.97698.
    let slope = 0.05_f64.atan();
    let per_metre = 0.5 * 1.2 * 0.5544 * 16.0 + 90.0 * 9.81 * (0.006 * slope.cos() + slope.sin()) + 0.1258;
    let expected = per_metre * 12.0 / 0.97698;
    println!(
        "road {:.1} kJ, by hand {expected:.1} kJ, sd {:.3} own {:.3} shared",
        found.kj, found.own_ln_sd, found.shared_ln_sd
    );
    assert_eq!(found.source, EnergySource::RoadPower);
    assert!(close(found.kj, expected, 0.01), "{} {expected}", found.kj);
    // Down the same hill nobody pedals.
    let down = with_heights(northwards(3000, 4.0), |s| 1_000.0 - 0.2 * s);
    let down = Track::new(down).unwrap().summary(&settings).energy;
    assert!(down.is_none_or(|energy| energy.kj < 0.02 * found.kj), "{down:?}");
    let blown = |from: f64| {
        let wind = Wind { speed: WindSpeed::new(5.0).unwrap(), from: Bearing::new(from).unwrap() };
        let road = RoadSettings { wind: Some(wind), ..settings.road };
        Track::new(points.clone()).unwrap().summary(&TrackSettings { road, ..settings }).energy.unwrap()
    };
    let (against, behind) = (blown(0.0), blown(180.0));
    assert!(against.kj > found.kj && found.kj > behind.kj);
    assert!(against.own_ln_sd < found.own_ln_sd + 0.05);
    let unknown = Track::new(points.clone()).unwrap().summary(&town()).energy.unwrap();
    assert!(unknown.shared_ln_sd > found.shared_ln_sd, "what nobody weighed is less sure");
}

#[test]
fn a_trainer_counts_work_and_what_it_says_of_distance() {
    let mut points: Vec<TrackPoint> = (0..=1200)
        .map(|s| TrackPoint {
            seconds: Some(f64::from(s)),
            power_w: Some(200.0),
            cadence_rpm: Some(85.0),
            distance_m: Some(9.0 * f64::from(s)),
            ..TrackPoint::default()
        })
        .collect();
    let indoors = TrackSettings::new(Use::Road, Surface::Indoor);
    let of = |points: &[TrackPoint]| Track::new(points.to_vec()).unwrap().summary(&indoors);
    let found = of(&points);
    assert_eq!(found.distance_source, DistanceSource::Counted);
    assert!((found.distance_km - 10.8).abs() < 1e-9 && found.climb.is_none());
    assert!((found.energy.unwrap().kj - 240.0).abs() < 1e-9);
    assert_eq!(found.pedalling_share, Some(1.0));
    assert!(found.warnings.is_empty(), "{:?}", found.warnings);
    points.iter_mut().for_each(|point| point.distance_m = None);
    let silent = of(&points);
    assert!(silent.distance_km == 0.0 && (silent.moving_seconds - 1200.0).abs() < 1e-9);
    let ride = silent.facts(&indoors).unwrap();
    assert!((ride.rider_energy.unwrap().get() - 240.0).abs() < 1e-9);
}

#[test]
fn gears_come_back_from_cadence_and_speed() {
    let facts = DrivetrainFacts {
        rings: vec![42],
        cogs: vec![11, 13, 15, 17, 20, 23, 26, 30],
        links: 114,
        ..DrivetrainFacts::default()
    };
    let drivetrain = Drivetrain::new(&facts).unwrap();
    let wheel_m = drivetrain.wheel().get() / 1000.0;
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let (mut north, mut points) = (0.0, Vec::new());
    let plan = [(17_u32, 600_u32, 85.0), (13, 300, 90.0), (26, 300, 70.0)];
    let mut seconds = 0;
    let mut metres = Vec::new();
    for (cog, duration, cadence) in plan {
        let speed = 42.0 / f64::from(cog) * wheel_m * cadence / 60.0;
        metres.push((cog, speed * f64::from(duration)));
        for _ in 0..duration {
            let noise = random.random_range(-1.0..1.0);
            points.push(TrackPoint {
                cadence_rpm: Some(cadence + noise),
                ..at(f64::from(seconds), north, 0.0)
            });
            north += speed;
            seconds += 1;
        }
    }
    let all: f64 = metres.iter().map(|(_, metres)| metres).sum();
    let shares = Track::new(points.clone()).unwrap().gear_share(&drivetrain).unwrap();
    assert!(shares.is_measured());
    let by_cog = shares.by_cog(drivetrain.cogs());
    for (cog, metres) in metres {
        let place = drivetrain.cogs().iter().position(|teeth| u32::from(teeth.get()) == cog).unwrap();
        assert!((by_cog[place] - metres / all).abs() < 0.02, "{cog}: {by_cog:?}");
    }
    points.iter_mut().for_each(|point| point.cadence_rpm = None);
    assert_eq!(Track::new(points).unwrap().gear_share(&drivetrain), None);
}

#[test]
fn across_the_date_line_and_the_pole_is_not_round_the_world() {
    let place = |latitude, longitude| Position { latitude, longitude };
    assert!(geodesic_m(place(0.0, 179.999), place(0.0, -179.999)) < 223.0);
    assert!(geodesic_m(place(89.999, 0.0), place(89.999, 180.0)) < 224.0);
    let points: Vec<TrackPoint> = (0..=100)
        .map(|s| {
            let east = f64::from(s) * 5e-5 + 179.9975;
            let longitude = if east > 180.0 { east - 360.0 } else { east };
            TrackPoint {
                seconds: Some(f64::from(s)),
                position: Some(place(-17.0, longitude)),
                ..TrackPoint::default()
            }
        })
        .collect();
    assert!((summary(points).distance_km - 0.5324).abs() < 0.001);
}

/// 14.9 km at 5 m/s in 871 points over a hill of 60 m.
fn with_all_times() -> Vec<TrackPoint> {
    // The 513 points in the middle are a second or two apart, the rest twice as far.
    let step = |i: usize| if (180..692).contains(&i) { 6_100.0 / 512.0 } else { 8_800.0 / 358.0 };
    let mut metres = 0.0;
    (0..871)
        .map(|i| {
            let here: f64 = metres;
            metres += step(i);
            let height = 400.0 + 30.0 * (1.0 - (here / 14_900.0 * std::f64::consts::TAU).cos());
            TrackPoint { elevation_m: Some(height), ..at(here / 5.0, here, 0.0) }
        })
        .collect()
}

/// The same, with times on 513 of the points.
fn partly_timed() -> Vec<TrackPoint> {
    let mut points = with_all_times();
    points[..180].iter_mut().for_each(|point| point.seconds = None);
    points[693..].iter_mut().for_each(|point| point.seconds = None);
    points
}

#[test]
fn points_without_a_time_count_their_way() {
    let mut points = partly_timed();
    points.iter_mut().for_each(|point| point.power_w = Some(150.0));
    assert_eq!(points.iter().filter(|point| point.seconds.is_some()).count(), 513);
    let timed_only: Vec<TrackPoint> =
        points.iter().copied().filter(|point| point.seconds.is_some()).collect();
    let (found, before) = (summary(points.clone()), summary(timed_only));
    println!(
        "{:.1} km with every point, {:.1} km with timed points alone",
        found.distance_km, before.distance_km
    );
    assert!(close(found.distance_km, 14.9, 2e-3) && close(before.distance_km, 6.1, 2e-3));
    assert!(close(found.untimed_km, 14.9 - before.distance_km, 2e-3));
    assert_eq!(
        (found.elapsed_seconds, found.moving_seconds),
        (before.elapsed_seconds, before.moving_seconds)
    );
    assert!(
        matches!(found.warnings[0], TrackWarning::WithoutTime { count: 358, .. }),
        "{:?}",
        found.warnings
    );
    // Power covers 41 % of the way: too little, so the road tells.
    let energy = found.energy.unwrap();
    assert_eq!(energy.source, EnergySource::RoadPower);
    let climb = found.climb.unwrap();
    assert!((climb.likely_m - 60.0).abs() < 1.5, "{climb:?}");
    let timed = summary(with_all_times()).energy.unwrap();
    assert!(close(energy.kj, timed.kj, 0.25), "{} {}", energy.kj, timed.kj);
    assert!(energy.own_ln_sd > 0.07 && energy.shared_ln_sd > 0.07, "{energy:?}");
}

#[test]
fn a_track_without_any_times_is_distance_and_climb() {
    let mut points = partly_timed();
    points.iter_mut().for_each(|point| point.seconds = None);
    let found = summary(points);
    assert!(close(found.distance_km, 14.9, 2e-3), "{}", found.distance_km);
    assert_eq!((found.elapsed_seconds, found.moving_seconds), (None, 0.0));
    let energy = found.energy.unwrap();
    assert_eq!(energy.source, EnergySource::DistanceAndClimb);
    let ride = found.facts(&town()).unwrap();
    let exposure = wear_core::exposure::RideExposure::of(
        &ride,
        &Drivetrain::new(&DrivetrainFacts {
            rings: vec![42],
            cogs: vec![11, 13, 15, 17, 20, 23, 26, 30],
            links: 114,
            ..DrivetrainFacts::default()
        })
        .unwrap(),
        &wear_core::exposure::ExposureModel::default(),
    );
    assert!(close(exposure.energy.kj, energy.kj, 1e-9), "{} {}", exposure.energy.kj, energy.kj);
}

#[test]
fn a_missing_time_between_two_times_is_filled_in_by_the_way() {
    let mut points = northwards(600, 5.0);
    let whole = summary(points.clone());
    for i in (1..600).filter(|i| i % 3 != 0) {
        points[i].seconds = None;
    }
    let found = summary(points);
    assert!(close(found.distance_km, whole.distance_km, 1e-9));
    assert!(close(found.moving_seconds, whole.moving_seconds, 1e-6) && found.untimed_km == 0.0);
    assert_eq!(found.warnings[0], TrackWarning::WithoutTime { count: 400, metres: 0.0 });
}

#[test]
fn a_stretch_without_times_that_nobody_could_have_ridden_is_a_jump() {
    let mut points: Vec<TrackPoint> =
        (0..100).map(|i| at(f64::from(i) * 2.0, f64::from(i) * 500.0, 0.0)).collect();
    points[1..99].iter_mut().for_each(|point| point.seconds = None);
    let found = summary(points);
    assert_eq!(found.distance_km, 0.0, "{:?}", found.warnings);
    assert!(found.warnings.iter().any(|warning| matches!(warning, TrackWarning::Jumps { .. })));
}
