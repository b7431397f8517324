//! What learning is worth for cassettes: fleets whose thresholds are known.
//!
//! `cargo run --release -p wear-core --example cassettes [SEEDS]` prints, for each world and size of fleet, what is learned of
//! median, σ and common share; how often the number of chains to come lies from P10 to P90; and the Brier score of the
//! probability that the next chain skips: by the assumed thresholds, by the learned ones, and by the true ones.

#[path = "../tests/cassette_world/mod.rs"]
mod cassette_world;

use cassette_world::{PLAIN, Score, World, learned, score, simulate};
use wear_core::knock_on::SkipThreshold;

/// Cassettes of the fleet that is told of.
const TOLD: usize = 150;

fn main() {
    let seeds: u64 = std::env::args().nth(1).and_then(|word| word.parse().ok()).unwrap_or(8);
    let worlds = [
        World { name: "σ 0.3", sigma: 0.3, ..PLAIN },
        World { name: "σ 0.6, as assumed", ..PLAIN },
        World { name: "σ 0.8", sigma: 0.8, ..PLAIN },
        World { name: "median 2.5, σ 0.4", median: 2.5, sigma: 0.4, ..PLAIN },
        World { name: "median 0.5, σ 0.4", median: 0.5, sigma: 0.4, ..PLAIN },
        World { name: "nothing in common", common_share: 0.02, ..PLAIN },
        World { name: "six in ten skips reported", reported: 0.6, ..PLAIN },
        World { name: "one in twenty false reports", false_reports: 0.05, ..PLAIN },
        World { name: "gears 0.5 off", gears_ln_sd: 0.5, ..PLAIN },
    ];
    println!("| world | cassettes | median | σ | common | in P10 to P90 | oracle | Brier | oracle |");
    println!("|---|---|---|---|---|---|---|---|---|");
    for world in worlds {
        for cassettes in [20, 60, 200] {
            let mut sums = [Score::default(); 3];
            let (mut median, mut sigma, mut common) = (0.0, 0.0, 0.0);
            for seed in 0..seeds {
                let fit = learned(&simulate(&world, cassettes, 100 + seed));
                let told = simulate(&world, TOLD, 9_000 + seed);
                let ways = [SkipThreshold::ASSUMED, fit.threshold(), world.truth()];
                for (sum, way) in sums.iter_mut().zip(ways) {
                    let one = score(&told, way);
                    sum.swaps += one.swaps;
                    sum.brier += one.brier;
                    sum.asked += one.asked;
                    sum.inside += one.inside;
                }
                median += fit.ln_median.0.exp() / seeds as f64;
                sigma += fit.sigma.0 / seeds as f64;
                common += fit.common_share.0 / seeds as f64;
            }
            let [assumed, learned, truth] = sums;
            println!(
                "| {} | {cassettes} | {median:.2} | {sigma:.2} | {common:.2} | {:.2} → {:.2} | {:.2} | {:.3} → {:.3} | {:.3} |",
                world.name,
                assumed.inside(),
                learned.inside(),
                truth.inside(),
                assumed.brier(),
                learned.brier(),
                truth.brier(),
            );
        }
    }
}
