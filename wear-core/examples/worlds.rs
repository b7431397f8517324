//! What learning is worth on fleets that break one assumption at a time.
//!
//! `cargo run --release -p wear-core --example worlds [SEEDS] [WORD]` prints, for each world, coverage of the 80 % interval of
//! remaining life, shares of lives that end before P10 and beyond P90, and the pinball loss (mean over P10, P50, P90)
//! over that of a filter that is told the truth: of what is learned and of what is learned when tools, people and bikes
//! aren't named.

#[path = "../tests/world/mod.rs"]
mod world;

use wear_core::degradation::FastPhase;
use wear_core::fleet::calibration::FleetFit;
use wear_core::reading::Instrument;
use world::{
    GOOD_DIAL, GOOD_RULE, Tried, TrueCalendar, World, answered, learned, plain, simulate, tool, tried,
};

fn worlds() -> Vec<World> {
    let rule = |bias| tool(Instrument::Rule, Some("workshop"), bias, 0.06);
    let isolating_as_the_other = tool(Instrument::DropIn, Some("gauge"), 0.0, 0.05);
    let early = |onset: f64, gain: f64| FastPhase::new(onset, gain).expect("fast phase");
    vec![
        plain(),
        World { name: "one rule", tools: vec![rule(0.0)], seed: 12, ..plain() },
        World { name: "a rule 0.08 low, alone", tools: vec![rule(-0.08)], seed: 2, ..plain() },
        World { name: "a rule 0.08 high, alone", tools: vec![rule(0.08)], seed: 3, ..plain() },
        World { name: "0.08 low beside a dial", tools: vec![rule(-0.08), GOOD_DIAL], seed: 4, ..plain() },
        World { name: "0.08 high beside a dial", tools: vec![rule(0.08), GOOD_DIAL], seed: 5, ..plain() },
        World {
            name: "isolating gauge as the other kind",
            tools: vec![isolating_as_the_other],
            seed: 6,
            ..plain()
        },
        World {
            name: "that gauge beside a rule",
            tools: vec![isolating_as_the_other, GOOD_RULE],
            seed: 14,
            ..plain()
        },
        World {
            name: "two mechanics",
            persons: vec![("m1", 0.05, 1.0), ("m2", -0.05, 1.0)],
            seed: 7,
            ..plain()
        },
        World {
            name: "the bike keeps 85 %",
            kappa: 0.85,
            tau: 0.35,
            bikes: 40,
            chains_a_bike: 4,
            seed: 8,
            ..plain()
        },
        World { name: "fast from 0.5, limit 0.75", fast: early(0.5, 3.0), readings: 6, seed: 9, ..plain() },
        World {
            name: "fast from 0.5, limit 1.0",
            fast: early(0.5, 3.0),
            limit: 1.0,
            readings: 6,
            seed: 10,
            ..plain()
        },
        World {
            name: "five unequal groups",
            groups: vec![(1.0, 0.6), (1.8, 0.2), (0.6, 0.1), (1.3, 0.06), (2.2, 0.04)],
            seed: 11,
            ..plain()
        },
        World { name: "twelve bikes, two readings", bikes: 12, readings: 2, seed: 13, ..plain() },
        drifting("plain, with days", 1.0, false, 15),
        drifting("40 % harder in a year, then so", 1.4, false, 16),
        drifting("40 % harder in a year, and on", 1.4, true, 17),
        drifting("40 % kinder in a year, then so", 1.0 / 1.4, false, 18),
    ]
}

/// Three chains of each bike, one after the other, over two years to today.
fn drifting(name: &'static str, a_year: f64, goes_on: bool, seed: u64) -> World {
    let calendar = TrueCalendar { per_year: a_year.ln(), km_a_day: 10.0, goes_on };
    World { name, calendar: Some(calendar), chains_a_bike: 3, seed, ..plain() }
}

fn found(fit: &FleetFit) -> String {
    let tools = fit.tools.tools().map(|(tool, bias)| {
        let name = tool.name.as_deref().unwrap_or("unnamed");
        format!("{} {name} {:+.3} ± {:.3}", tool.instrument, bias.bias, bias.sd)
    });
    let persons = fit
        .tools
        .persons()
        .map(|(name, bias)| format!("{name} {:+.3} ± {:.3}, spread {:.2}", bias.bias, bias.sd, bias.spread));
    let fast = match fit.fast_phase {
        FastPhase::NONE => "no fast phase".into(),
        fast => format!("fast from {:.2}, gain {:.1}", fast.onset(), fast.gain()),
    };
    let all: Vec<String> = tools.chain(persons).collect();
    let drift = fit.drift.map_or_else(String::new, |drift| {
        format!(", {:+.3} ± {:.3} in ln θ a year", drift.per_year, drift.sd)
    });
    format!("κ {:.2}, {fast}{drift}; {}", fit.bike_share, all.join("; "))
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let seeds: u64 = arguments.next().and_then(|count| count.parse().ok()).unwrap_or(3);
    let only = arguments.next().unwrap_or_default();
    println!("| world | covers | before P10 | beyond P90 | loss | unnamed |");
    println!("|---|---|---|---|---|---|");
    for world in worlds().iter().filter(|world| world.name.contains(&only)) {
        let (mut sum, mut unnamed, mut first) = (Tried::default(), 0.0, String::new());
        for seed in 0..seeds {
            let world = World { seed: 100 * world.seed + seed, ..world.clone() };
            let chains = simulate(&world);
            let fit = learned(&chains, true);
            if seed == 0 {
                first = found(&fit);
            }
            let one = tried(&world, &chains, &fit);
            for (sum, one) in [(&mut sum.oracle, one.oracle), (&mut sum.learned, one.learned)] {
                sum.loss += one.loss;
                sum.before += one.before / seeds as f64;
                sum.beyond += one.beyond / seeds as f64;
            }
            unnamed += answered(&world, &chains, &learned(&chains, false), false).loss;
        }
        let Tried { oracle, learned } = sum;
        println!(
            "| {} | {:.1} | {:.1} ({:.1}) | {:.1} ({:.1}) | {:.3} | {:.3} |",
            world.name,
            100.0 - learned.before - learned.beyond,
            learned.before,
            oracle.before,
            learned.beyond,
            oracle.beyond,
            learned.loss / oracle.loss,
            unnamed / oracle.loss
        );
        eprintln!("{}: {first}", world.name);
    }
}
