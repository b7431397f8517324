//! What a night's learning of a large fleet takes, with all that it learns: rates of twenty groups, six tools, four people, bikes,
//! three models of chain, two lubricants, drift, and what rain and gravel do.
//!
//!     cargo run --release -p wear-core --example night -- 20000

use std::time::Instant;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use wear_core::degradation::TimedReading;
use wear_core::exposure::care::CareModel;
use wear_core::exposure::{Context, ContextMultipliers};
use wear_core::fleet::calibration::ChainHistory;
use wear_core::fleet::multipliers::ContextExposure;
use wear_core::fleet::{Days, LubricantShare, ReadWith};
use wear_core::units::{Probability, ReferenceKilometres};
use wear_core::{Fleet, Reading};

fn normal(mean: f64, sd: f64, random: &mut ChaCha8Rng) -> f64 {
    Normal::new(mean, sd).expect("a spread").sample(random)
}

/// Adds one chain of bike `number / 2`, read two or three times.
fn add(fleet: &mut Fleet, number: u32, random: &mut ChaCha8Rng) {
    let bike = number / 2;
    let (group, model) = (format!("group-{}", bike % 20), format!("model-{}", number % 3));
    let rate = 0.2e-3 * normal(-0.05 * f64::from(number % 3), 0.25, random).exp();
    let wet: f64 = random.random_range(0.0..0.6);
    let gravel: f64 = if number.is_multiple_of(4) { random.random_range(0.0..0.5) } else { 0.0 };
    let (priors, care) = (ContextMultipliers::default(), CareModel::default());
    let (mut timed, mut contexts, mut with, mut days) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for reading in 1..=2 + number % 2 {
        let km = 550.0 * f64::from(reading);
        let dry = km * (1.0 - wet - gravel).max(0.0);
        let contexts_now = ContextExposure::kept([
            (Context::PavedDry, dry, 0.1 * dry),
            (Context::PavedWet, km * wet, 0.15 * km * wet),
            (Context::GravelDry, km * gravel, 0.1 * km * gravel),
        ]);
        let at = contexts_now.reference_km(&priors, &care);
        let percent = (100.0 * (0.05 + rate * at + normal(0.0, 0.03, random))).round() / 100.0;
        let read = Reading::dial(&[percent.clamp(-0.3, 3.0)]).expect("a reading");
        timed.push(TimedReading::new(ReferenceKilometres::new(at).expect("km"), *read.measurement()));
        contexts.push(contexts_now);
        let tool = format!("dial-{}", random.random_range(0..6));
        with.push(ReadWith { tool: Some(tool), person: Some(format!("person-{}", number % 4)) });
        days.push(19_300 + (number % 300 + 60 * reading) as i32);
    }
    let lubricants = [LubricantShare {
        lubricant: (if bike.is_multiple_of(2) { "oil" } else { "wax" }).to_owned(),
        share: Probability::saturating(1.0),
    }];
    let bike = bike.to_string();
    let history = ChainHistory::new(&group, &timed)
        .on_bike(&bike)
        .of_model(&model)
        .lubricated(&lubricants)
        .read_with(&with)
        .on_days(Days::of_readings(&days));
    fleet.add_history_by_context(&history, &contexts);
}

/// The most memory that this process has held, MiB; none where the system doesn't tell.
fn peak_mib() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

fn main() {
    let chains: u32 = std::env::args().nth(1).and_then(|count| count.parse().ok()).unwrap_or(20_000);
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let mut fleet = Fleet::default();
    (0..chains).for_each(|number| add(&mut fleet, number, &mut random));
    let began = Instant::now();
    let learned = fleet.learn_conditions();
    let seconds = began.elapsed().as_secs_f64();
    println!("{chains} chains: {seconds:.1} s by the clock, peak {:.0} MiB", peak_mib().unwrap_or(f64::NAN));
    for it in learned.covariates.iter().filter(|it| it.learned) {
        println!("{}: {:+.3} ± {:.3} of {} chains", it.covariate.as_str(), it.ln_shift, it.ln_sd, it.chains);
    }
    println!(
        "{} groups, {} tools, drift {:?}",
        learned.fleet.groups.len(),
        learned.fleet.tools.tools().count(),
        learned.fleet.drift
    );
}
