//! Dates and demand over a year, held against what came, in simulated yards: `cargo run --release --example seasons`.
//!
//! With an argument, that many yards drawn at random; a second one is their seed.

mod score;
mod yard;

use score::{Alone, ORIGINS, Pooled, Score, Way, score};
use yard::{Yard, drawn_yards, known_yards};

const SEEDS: u64 = 8;

fn of_yard<W: Way>(way: &W, yard: &Yard, seeds: u64) -> (Score, [Score; 6]) {
    let mut all = Score::default();
    let mut by_origin = [Score::default(); 6];
    for (place, origin) in ORIGINS.into_iter().enumerate() {
        for seed in 0..seeds {
            let found = score(way, yard, origin, 1_000 * seed + origin as u64);
            all.add(&found);
            by_origin[place].add(&found);
        }
    }
    (all, by_origin)
}

fn row(name: &str, (all, by_origin): &(Score, [Score; 6])) {
    let worst = by_origin.iter().map(Score::share_before).fold(0.0, f64::max);
    let demand: Vec<String> =
        by_origin.iter().map(|score| format!("{:.0}/{:.0}", score.announced, score.came)).collect();
    println!(
        "{name:<30} {:.2}  {:.2} (worst {:.2})  {:.2}  {:.2}  {:5.1}  {:.2}  {:.2} {:.2}  {}",
        all.coverage(),
        all.share_before(),
        worst,
        all.share_after(),
        all.share_over(),
        all.mean_loss(),
        all.demand_coverage(),
        all.announced / all.came,
        all.not_in_use / (all.asked + all.not_in_use),
        demand.join(" "),
    );
}

fn table<W: Way>(name: &str, way: &W, yards: &[Yard], seeds: u64) {
    println!("\n{name}");
    println!(
        "yard                           inside before P10       after over  loss  demand said/came unused  by origin"
    );
    let mut all = (Score::default(), [Score::default(); 6]);
    for yard in yards {
        let found = of_yard(way, yard, seeds);
        row(&yard.name, &found);
        all.0.add(&found.0);
        all.1.iter_mut().zip(&found.1).for_each(|(sum, one)| sum.add(one));
    }
    row("all", &all);
    for (origin, score) in ORIGINS.iter().zip(&all.1) {
        println!(
            "  from day {origin:<3}  inside {:.2}, before {:.2}, over {:.2}, demand {:.2}",
            score.coverage(),
            score.share_before(),
            score.share_over(),
            score.demand_coverage()
        );
    }
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|word| word.parse::<u64>().ok());
    let (yards, seeds) = match arguments.next() {
        Some(count) => (drawn_yards(count as usize, arguments.next().unwrap_or(1)), 3),
        None => (known_yards(), SEEDS),
    };
    table("each bike alone", &Alone, &yards, seeds);
    table("with the yard's usual year", &Pooled, &yards, seeds);
}
