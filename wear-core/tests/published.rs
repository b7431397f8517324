//! Published and independently computed values. Each row carries its source.
//!
//! Marks: S published, M from memory, C computed with a reference library, T common practice of the trade.

#[path = "published/table.rs"]
mod table;

use std::f64::consts::PI;
use std::path::Path;

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use serde::Deserialize;
use wear_core::degradation::{Posterior, WearParameters};
use wear_core::drivetrain::chain_length::{
    centre_for_pitches, pitches_for_centre, tangent_pitches_for_centre,
};
use wear_core::drivetrain::sprocket_load::{
    INDUSTRIAL_LIMIT_FIXED_CENTRES_PERCENT, industrial_limit_percent, tension_ratio, tooth_share,
};
use wear_core::drivetrain::{
    Drivetrain, DrivetrainFacts, PITCH_MM, Teeth, chordal_variation, length_mm, micrometres_per_joint,
    pitch_circle_diameter_mm,
};
use wear_core::exposure::power::{DEFAULT_EFFICIENCY, PowerParts, RoadLoad, Stretch, head_wind_m_s};
use wear_core::exposure::track::{Position, ascent_by_hysteresis, geodesic_m};
use wear_core::exposure::{
    Context, ContextMultipliers, ExposureModel, RideExposure, RideFacts, Surface, Use,
};
use wear_core::fleet::demand::Demand;
use wear_core::policy::{AgePolicy, age_replacement, age_replacement_rate};
use wear_core::reading::{Calibration, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{GaugeMark, Limit, Probability, ReferenceKilometres, RideDistance, RideEnergy};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    name: String,
    check: String,
    source: String,
    mark: Provenance,
    inputs: Vec<f64>,
    value: f64,
    tolerance: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
enum Provenance {
    S,
    M,
    C,
    T,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rows {
    row: Vec<Row>,
}

/// A row with what comes out here.
struct Found {
    row: Row,
    ours: f64,
}

fn teeth(count: f64) -> Teeth {
    Teeth::new(count as u32).unwrap()
}

fn computed(check: &str, inputs: &[f64]) -> f64 {
    match (check, inputs) {
        ("pitch", []) => PITCH_MM,
        ("pitch_circle", &[z]) => pitch_circle_diameter_mm(teeth(z)),
        ("pitch_circle_in_pitches", &[z]) => pitch_circle_diameter_mm(teeth(z)) / PITCH_MM,
        ("chordal", &[z]) => 100.0 * chordal_variation(teeth(z)),
        ("pitches_for_centre", &[small, large, centre]) => {
            pitches_for_centre(centre, teeth(small), teeth(large))
        }
        ("centre_for_pitches", &[small, large, pitches]) => {
            centre_for_pitches(pitches, teeth(small), teeth(large)).unwrap()
        }
        ("tangent_pitches", &[small, large, centre]) => {
            tangent_pitches_for_centre(centre, teeth(small), teeth(large)).unwrap()
        }
        ("rule_percent", &[pitches, mm]) => {
            let read = Measurement::length(Instrument::Rule, pitches as u32, mm).unwrap();
            read.as_spots().unwrap().mean()
        }
        ("rule_length", &[pitches, percent]) => length_mm(percent, pitches),
        ("joint_growth", &[percent]) => micrometres_per_joint(percent),
        ("industrial_limit", &[z]) => industrial_limit_percent(teeth(z)),
        ("industrial_limit_fixed", []) => INDUSTRIAL_LIMIT_FIXED_CENTRES_PERCENT,
        ("tension_ratio", &[z]) => tension_ratio(teeth(z)),
        ("first_tooth_percent", &[z]) => 100.0 * tooth_share(teeth(z), 0),
        ("road_air_speed", []) => {
            let stretch = road_stretch();
            stretch.speed_m_s + stretch.head_wind_m_s
        }
        ("road_air", []) => road_power().air,
        ("road_rolling", []) => road_power().rolling,
        ("road_bearings", []) => road_power().bearings,
        ("road_potential", []) => road_power().potential,
        ("road_kinetic", []) => road_power().kinetic,
        ("road_sum", []) => road_power().at_road(),
        ("road_pedals", []) => road_power().at_pedals(),
        ("head_wind", &[wind, from, heading]) => head_wind_m_s(wind, from, heading),
        ("gamma_first_passage", &[shape, scale, limit, at]) => first_passage(shape, scale, limit, at),
        ("interval_censored", &[mean, sd]) => interval_censored(mean, sd),
        ("friction_path", &[kj, ring, cog, links, pin_mm]) => friction_path(kj, ring, cog, links, pin_mm),
        ("load_doubling", &[exponent]) => {
            let model = ExposureModel::default().with_load_exponent(exponent).unwrap();
            let wear = |kj| exposure(&model.with_slack_tension(0.0).unwrap(), kj, (42.0, 17.0, 114.0));
            wear(1_000.0) / wear(500.0)
        }
        ("replacement_age", &[beta, eta, planned, failed]) => {
            weibull_policy(beta, eta, planned, failed).age.unwrap()
        }
        ("replacement_rate", &[beta, eta, planned, failed]) => {
            weibull_policy(beta, eta, planned, failed).rate
        }
        ("run_to_failure_rate", &[beta, eta, planned, failed]) => {
            weibull_policy(beta, eta, planned, failed).run_to_failure_rate
        }
        ("replacement_rate_at", &[age, beta, eta, planned, failed]) => {
            age_replacement_rate(|t| (-(t / eta).powf(beta)).exp(), age, planned, failed)
        }
        ("uniform_rate_at", &[age, longest, planned, failed]) => {
            age_replacement_rate(|t| uniform_survival(t, longest), age, planned, failed)
        }
        ("uniform_age", &[longest, planned, failed]) => {
            age_replacement(|t| uniform_survival(t, longest), planned, failed, longest).age.unwrap()
        }
        ("gauge_share", &[mark, sd, elongation, tries]) => tries * drops_in_share(mark, sd, elongation),
        ("gauge_deviance", [mark, sd, trials @ ..]) => gauge_deviance(*mark, *sd, trials),
        ("gamma_remaining", &[shape, scale, now, limit, ahead]) => {
            gamma_passage(shape, scale, now, limit, ahead)
        }
        ("gamma_quantile", &[shape, scale, now, limit, level]) => {
            gamma_quantile(shape, scale, now, limit, level)
        }
        ("swaps_exactly", [count, probabilities @ ..]) => swaps(probabilities).probability(*count as usize),
        ("swaps_quantile", [level, probabilities @ ..]) => {
            swaps(probabilities).quantile(Probability::new(*level).unwrap()) as f64
        }
        ("geodesic", &[north, east, to_north, to_east]) => geodesic_m(
            Position { latitude: north, longitude: east },
            Position { latitude: to_north, longitude: to_east },
        ),
        ("climb", [hysteresis, heights @ ..]) => ascent_by_hysteresis(heights, *hysteresis),
        ("noise_climb", &[samples]) => {
            let mut random = ChaCha8Rng::seed_from_u64(1);
            let noise = Normal::new(0.0, 1.0).unwrap();
            let heights: Vec<f64> = (0..samples as usize).map(|_| noise.sample(&mut random)).collect();
            ascent_by_hysteresis(&heights, 0.0) / samples
        }
        ("new_chain_over", &[limit, km]) => new_chain_over(limit, km),
        ("wear_rate", []) => 1000.0 * WearParameters::default().mean_log_rate().exp(),
        ("wet_factor", []) => ContextMultipliers::default().get(Context::PavedWet).median,
        ("gauge_early", []) => Instrument::DropIn.default_calibration().bias(),
        ("new_chain", []) => WearParameters::default().initial_mean(),
        _ => panic!("no check {check} with {} inputs", inputs.len()),
    }
}

fn weibull_policy(beta: f64, eta: f64, planned: f64, failed: f64) -> AgePolicy {
    age_replacement(|t| (-(t / eta).powf(beta)).exp(), planned, failed, 8.0 * eta)
}

fn swaps(probabilities: &[f64]) -> Demand {
    let probabilities: Vec<_> = probabilities.iter().map(|&p| Probability::new(p).unwrap()).collect();
    Demand::of_swaps(&probabilities)
}

fn road_stretch() -> Stretch {
    Stretch {
        speed_m_s: 471.8 / 56.42,
        speed_at_start_m_s: 8.28,
        speed_at_end_m_s: 8.45,
        seconds: 56.42,
        grade: 0.003,
        head_wind_m_s: head_wind_m_s(2.94, 310.0, 340.0),
    }
}

fn road_power() -> PowerParts {
    RoadLoad {
        mass_kg: 90.0,
        drag_area_m2: 0.2565,
        wheel_drag_area_m2: 0.0044,
        rolling: 0.0032,
        wheel_inertia_kg_m2: 0.14,
        tyre_radius_m: 0.311,
        air_density_kg_m3: 1.2234,
        efficiency: DEFAULT_EFFICIENCY,
    }
    .power(&road_stretch())
}

/// `P(T ≤ at)` of a gamma process that starts at nothing.
fn first_passage(shape: f64, scale: f64, limit: f64, at: f64) -> f64 {
    gamma_passage(shape, scale, 0.0, limit, at)
}

/// What lies ahead of a gamma process that is known as well as the posterior can be told: with a spread of 0.1 % in the
/// rate and of 0.002 percent in the start, the least that is legal. A gamma process scales through, so the limit becomes
/// 0.5 percent and the scale follows.
fn gamma_process(shape: f64, scale: f64, now: f64, limit: f64) -> Posterior {
    let shrunk = 0.5 / limit;
    let parameters = WearParameters::default()
        .with_scale(scale * shrunk)
        .and_then(|p| p.with_log_rate((shape * scale * shrunk).ln(), 0.001))
        .and_then(|p| p.with_initial(now * shrunk, 0.002))
        .and_then(|p| p.with_running_in(0.0, 1.0))
        .unwrap();
    Posterior::new(&parameters, &InstrumentCalibrations::default())
}

/// `P(R ≤ ahead)`.
fn gamma_passage(shape: f64, scale: f64, now: f64, limit: f64, ahead: f64) -> f64 {
    gamma_process(shape, scale, now, limit)
        .outlook(ReferenceKilometres::new(ahead).unwrap(), Limit::new(0.5).unwrap())
        .probability_over_limit
}

/// The remaining life that isn't passed with probability `level`.
fn gamma_quantile(shape: f64, scale: f64, now: f64, limit: f64, level: f64) -> f64 {
    let level = Probability::new(level).unwrap();
    gamma_process(shape, scale, now, limit).remaining_quantile(
        ReferenceKilometres::ZERO,
        Limit::new(0.5).unwrap(),
        level,
    )
}

/// Lives up to `longest`, each as likely.
/// A chain of the default parameters, never read.
fn new_chain_over(limit: f64, km: f64) -> f64 {
    let posterior = Posterior::of(&WearParameters::default(), &InstrumentCalibrations::default(), &[]);
    let at = ReferenceKilometres::new(km).unwrap();
    posterior.outlook(at, Limit::new(limit).unwrap()).probability_over_limit
}

fn uniform_survival(age: f64, longest: f64) -> f64 {
    (1.0 - age / longest).max(0.0)
}

/// How often a gauge of this mark and spread drops in at an elongation.
fn drops_in_share(mark: f64, sd: f64, elongation: f64) -> f64 {
    let calibrations = InstrumentCalibrations::default()
        .with(Instrument::DropInIsolating, Calibration::parse(0.0, sd).unwrap());
    Measurement::gauge(Instrument::DropInIsolating, GaugeMark::new(mark).unwrap(), true)
        .unwrap()
        .likelihood(&calibrations)
        .relative(elongation)
}

/// `2 Σ o ln(o/e)` over what happened and what didn't, of trials as elongation, tries, times that it dropped in.
fn gauge_deviance(mark: f64, sd: f64, trials: &[f64]) -> f64 {
    let term = |seen: f64, expected: f64| if seen > 0.0 { seen * (seen / expected).ln() } else { 0.0 };
    let of = |trial: &[f64]| {
        let (tries, seen) = (trial[1], trial[2]);
        let expected = tries * drops_in_share(mark, sd, trial[0]);
        term(seen, expected) + term(tries - seen, tries - expected)
    };
    2.0 * trials.chunks_exact(3).map(of).sum::<f64>()
}

/// The probability of an interval is that a gauge drops in at its lower mark less that it does at its upper.
fn interval_censored(mean: f64, sd: f64) -> f64 {
    let calibrations = InstrumentCalibrations::default()
        .with(Instrument::DropInIsolating, Calibration::parse(0.0, sd).unwrap());
    let drops_in = |mark: f64| {
        Measurement::gauge(Instrument::DropInIsolating, GaugeMark::new(mark).unwrap(), true)
            .unwrap()
            .likelihood(&calibrations)
            .relative(mean)
    };
    [(0.25, 0.5, 2.0), (0.5, 0.75, 3.0), (0.75, 1.0, 1.0)]
        .map(|(low, high, count)| -count * (drops_in(low) - drops_in(high)).ln())
        .iter()
        .sum()
}

fn exposure(model: &ExposureModel, kj: f64, (ring, cog, links): (f64, f64, f64)) -> f64 {
    let facts = DrivetrainFacts {
        rings: vec![ring as u32],
        cogs: vec![cog as u32],
        links: links as u32,
        ..DrivetrainFacts::default()
    };
    let mut ride = RideFacts::new(RideDistance::new(100.0).unwrap(), Use::Town, Surface::Paved);
    ride.rider_energy = Some(RideEnergy::new(kj).unwrap());
    RideExposure::of(&ride, &Drivetrain::new(&facts).unwrap(), model).reference_km_before_care
}

/// Exposure without slack tension, times the friction-path work of one reference kilometre: 20 kJ on 42/17 with 114
/// links, every joint bending by 2π/N as it runs on and as it runs off each sprocket.
fn friction_path(kj: f64, ring: f64, cog: f64, links: f64, pin_mm: f64) -> f64 {
    let model = ExposureModel::default().with_slack_tension(0.0).unwrap();
    let reference_km = 3.0 * exposure(&model, kj / 3.0, (ring, cog, links));
    let pull_per_trip = 20_000.0 / (114.0 * PITCH_MM);
    reference_km * pull_per_trip * (pin_mm / 2.0) * 2.0 * (2.0 * PI / 42.0 + 2.0 * PI / 17.0)
}

/// Every row of every file, in order.
fn found() -> Vec<Found> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.extension().is_some_and(|kind| kind == "toml"));
    files.sort();
    assert!(!files.is_empty());
    let mut found = Vec::new();
    for file in files {
        let rows: Rows = toml::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        assert!(!rows.row.is_empty(), "{}", file.display());
        found.extend(rows.row.into_iter().map(|row| Found { ours: computed(&row.check, &row.inputs), row }));
    }
    found
}

#[test]
fn published_values() {
    let found = found();
    let mut wrong = Vec::new();
    for Found { row, ours } in &found {
        assert!(!row.source.trim().is_empty(), "{}", row.name);
        let difference = ours - row.value;
        println!("{difference:+9.2e}  {} = {} [{:?}: {}]", row.name, row.value, row.mark, row.source);
        let holds = difference.abs() <= row.tolerance;
        if !holds {
            wrong.push(format!("{}: {difference:e}, tolerance {:e}", row.name, row.tolerance));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    table::check(&found);
}
