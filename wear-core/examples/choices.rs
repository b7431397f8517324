//! What a fleet is told of two models of chain and two lubricants after 20, 60 and 200 chains.
//!
//! `cargo run --release -p wear-core --example choices [SEEDS]` prints, for each, the difference in ln wear as it is told
//! (mean over the seeds, with the mean of the stated standard deviations), how often the truth lies between P10 and P90,
//! what changing costs per 1,000 reference km, the probability that it is cheaper, and how many more chains would tell. The last
//! row of each size is of the same fleets where nobody named the lubricant of every other chain.

#[path = "../tests/choosing/mod.rs"]
mod choosing;
#[allow(dead_code, reason = "shared with the worlds, which need more of it")]
#[path = "../tests/world/mod.rs"]
mod world;

use choosing::{COATED, Told, WAX, of_lubricant, of_model, yard};
use wear_core::policy::MOST_CHAINS_TO_TELL;
use world::{learned, simulate};

fn row(name: &str, chains: usize, truth: f64, told: &[Told]) {
    let count = told.len() as f64;
    let mean = |of: &dyn Fn(&Told) -> f64| told.iter().map(of).sum::<f64>() / count;
    let share =
        |of: &dyn Fn(&Told) -> bool| 100.0 * told.iter().filter(|told| of(told)).count() as f64 / count;
    let inside = |told: &Told| (told.ln_mean - truth.ln()).abs() < 1.281_55 * told.ln_sd;
    let cost_inside = |told: &Told| {
        let more = told.cost.more_than_in_use;
        (more.p10..=more.p90).contains(&told.truly_more)
    };
    let mut more: Vec<u32> =
        told.iter().map(|told| told.cost.chains_to_tell.unwrap_or(MOST_CHAINS_TO_TELL)).collect();
    more.sort_unstable();
    println!(
        "| {name} | {chains} | {:+.3} ± {:.3} ({:+.3}) | {:.0} % | {:+.2} ({:+.2} to {:+.2}; truly {:+.2}) | {:.0} % | {:.2} | {} |",
        mean(&|told| told.ln_mean),
        mean(&|told| told.ln_sd),
        truth.ln(),
        share(&inside),
        mean(&|told| told.cost.more_than_in_use.p50),
        mean(&|told| told.cost.more_than_in_use.p10),
        mean(&|told| told.cost.more_than_in_use.p90),
        mean(&|told| told.truly_more),
        share(&cost_inside),
        mean(&|told| told.cost.cheaper_probability),
        more[more.len() / 2],
    );
}

fn main() {
    let seeds: u64 = std::env::args().nth(1).and_then(|count| count.parse().ok()).unwrap_or(10);
    println!(
        "| instead | chains | ln wear | holds | costs more per 1,000 km | holds | cheaper | more chains |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for chains in [20, 60, 200] {
        let (mut models, mut lubricants, mut half_named) = (Vec::new(), Vec::new(), Vec::new());
        for seed in 0..seeds {
            let world = yard(chains, 7_000 + seed);
            let mut fleet = simulate(&world);
            let fit = learned(&fleet, true);
            models.push(of_model(&world, &fit));
            lubricants.push(of_lubricant(&world, &fit));
            fleet.iter_mut().step_by(2).for_each(|chain| chain.lubricants.clear());
            half_named.push(of_lubricant(&world, &learned(&fleet, true)));
        }
        row("coated for bare", chains, COATED, &models);
        row("wax for oil", chains, WAX, &lubricants);
        row("wax for oil, half unnamed", chains, WAX, &half_named);
    }
}
