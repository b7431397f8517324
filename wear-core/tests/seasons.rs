//! Dates and demand over a year in yards that don't follow the model: what `examples/seasons` prints, in small, with what
//! has to hold.

#[path = "../examples/seasons/score.rs"]
#[allow(dead_code, reason = "the example prints more than is held here")]
mod score;
#[path = "../examples/seasons/yard.rs"]
#[allow(dead_code, reason = "the example prints more than is held here")]
mod yard;

use score::{Alone, ORIGINS, Pooled, Score, Way, score};
use yard::{Yard, drawn_yards, known_yards};

fn of_yards<W: Way>(way: &W, yards: &[Yard], seeds: u64) -> (Score, [Score; 6]) {
    let mut all = Score::default();
    let mut by_origin = [Score::default(); 6];
    for yard in yards {
        for (place, origin) in ORIGINS.into_iter().enumerate() {
            for seed in 0..seeds {
                let found = score(way, yard, origin, 5_000 + 1_000 * seed + origin as u64);
                all.add(&found);
                by_origin[place].add(&found);
            }
        }
    }
    (all, by_origin)
}

/// Dates cover, few limits come before P10 at any time of the year, `swap_by` keeps its word, and demand is what was said.
#[track_caller]
fn holds((all, by_origin): &(Score, [Score; 6]), demand: f64) {
    assert!((0.75..0.87).contains(&all.coverage()), "inside {:.3}", all.coverage());
    assert!((0.14..0.26).contains(&all.share_over()), "over at swap_by {:.3}", all.share_over());
    assert!(all.demand_coverage() > demand, "demand inside {:.3}", all.demand_coverage());
    for (origin, score) in ORIGINS.iter().zip(by_origin) {
        assert!(score.share_before() < 0.20, "before P10 from day {origin}: {:.3}", score.share_before());
        assert!(score.coverage() > 0.70, "inside from day {origin}: {:.3}", score.coverage());
    }
    let announced = all.announced / all.came;
    assert!((0.93..1.07).contains(&announced), "announced over came {announced:.3}");
}

fn with_a_year(yards: Vec<Yard>) -> Vec<Yard> {
    yards.into_iter().filter(|yard| yard.history_days >= 365).collect()
}

#[test]
fn yards_with_a_year_and_more_on_record() {
    holds(&of_yards(&Pooled, &with_a_year(known_yards()), 1), 0.70);
}

#[test]
fn yards_drawn_at_random_with_a_year_and_more_on_record() {
    holds(&of_yards(&Pooled, &with_a_year(drawn_yards(60, 77)), 1), 0.70);
}

#[test]
fn the_yard_is_worth_its_bikes_memory() {
    let yards: Vec<Yard> = drawn_yards(24, 78).into_iter().filter(|yard| yard.joining > 0.3).collect();
    let (alone, pooled) = (of_yards(&Alone, &yards, 1).0, of_yards(&Pooled, &yards, 1).0);
    assert!(pooled.mean_loss() < 0.93 * alone.mean_loss(), "{} {}", pooled.mean_loss(), alone.mean_loss());
}

/// Half a year on record doesn't tell what the other half is like, and is said to.
#[test]
fn short_records_are_wide_rather_than_wrong() {
    let yards: Vec<Yard> = known_yards().into_iter().filter(|yard| yard.history_days < 365).collect();
    let (all, _) = of_yards(&Pooled, &yards, 2);
    assert!((0.72..0.90).contains(&all.coverage()), "inside {:.3}", all.coverage());
    assert!(all.share_over() < 0.25, "over {:.3}", all.share_over());
}
