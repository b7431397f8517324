//! Prices on shared rows, and the proven bound they give.

use super::model::Model;

/// What a minute and a part cost on each day, given one price for each row.
#[derive(Debug, Clone)]
pub(super) struct Prices {
    /// By day; the last entry, of being left out, is 0.
    day: Vec<f64>,
    /// By part and day, the last day of each part being "left out" and 0.
    part: Vec<f64>,
}

impl Prices {
    /// From prices of some of the rows.
    pub fn new(model: &Model, rows: &[usize], price: &[f64]) -> Self {
        let days = model.capacity.len();
        let mut prices = Self { day: vec![0.0; days + 1], part: vec![0.0; model.part_count * (days + 1)] };
        for (&row, &price) in rows.iter().zip(price) {
            if row < days {
                prices.day[row] = price;
            } else {
                let limit = &model.limits[row - days];
                prices.part[limit.part * (days + 1) + limit.last_day] += price;
            }
        }
        for part in prices.part.chunks_exact_mut(days + 1) {
            for day in (0..days).rev() {
                part[day] += part[day + 1];
            }
        }
        prices
    }

    /// Price of everything that `job` takes when it is on `day`.
    pub fn of(&self, model: &Model, job: usize, day: usize) -> f64 {
        let width = self.day.len();
        let job = &model.jobs[job];
        let parts: f64 = job.needs.iter().map(|&(part, count)| count * self.part[part * width + day]).sum();
        job.minutes * self.day[day] + parts
    }
}

/// A Lagrangian bound and what each job's choices cost in it.
#[derive(Debug, Clone)]
pub(super) struct PricedBound {
    /// No plan costs less.
    pub bound: f64,
    /// Price of each job's choice above the job's cheapest, in the order of the choices.
    pub above: Vec<Vec<f64>>,
}

/// Relative allowance for rounding in a bound's sums.
const ROUNDING: f64 = 1e-13;

/// The bound of [`priced_bound`] alone.
pub(super) fn bound_of(
    model: &Model,
    rows: &[usize],
    price: &[f64],
    usable: impl Fn(usize, usize) -> bool,
) -> f64 {
    let price: Vec<f64> = price.iter().map(|&x| if x > 0.0 { x } else { 0.0 }).collect();
    let prices = Prices::new(model, rows, &price);
    let mut sum = Sum::default();
    for (job, entry) in model.jobs.iter().enumerate() {
        let mut least = f64::INFINITY;
        for (index, choice) in entry.choices.iter().enumerate() {
            if choice.cost < least && usable(job, index) {
                least = least.min(choice.cost + prices.of(model, job, choice.day));
            }
        }
        if least.is_infinite() {
            return f64::INFINITY;
        }
        sum.add(least);
    }
    for (&row, &price) in rows.iter().zip(&price) {
        sum.add(-price * model.available(row));
    }
    sum.below(model.jobs.len())
}

/// A sum and its size, to bound its rounding.
#[derive(Default)]
struct Sum {
    total: f64,
    size: f64,
}

impl Sum {
    fn add(&mut self, x: f64) {
        self.total += x;
        self.size += x.abs();
    }

    fn below(&self, terms: usize) -> f64 {
        self.total - ROUNDING * self.size * (terms as f64).sqrt()
    }
}

/// L(u) = Σᵢ minₒ (cᵢₒ + u·aᵢₒ) − u·b with u ≥ 0: a lower bound for any u (Lagrangian relaxation,
/// Geoffrion 1974, M), so it holds however inexact the prices are.
///
/// `usable` says which choices are still open.
pub(super) fn priced_bound(
    model: &Model,
    rows: &[usize],
    price: &[f64],
    usable: impl Fn(usize, usize) -> bool,
) -> PricedBound {
    let price: Vec<f64> = price.iter().map(|&x| if x > 0.0 { x } else { 0.0 }).collect();
    let prices = Prices::new(model, rows, &price);
    let mut sum = Sum::default();
    let mut above = Vec::with_capacity(model.jobs.len());
    for (job, entry) in model.jobs.iter().enumerate() {
        let mut priced: Vec<f64> = entry
            .choices
            .iter()
            .enumerate()
            .map(|(index, choice)| {
                if usable(job, index) {
                    choice.cost + prices.of(model, job, choice.day)
                } else {
                    f64::INFINITY
                }
            })
            .collect();
        let least = priced.iter().copied().fold(f64::INFINITY, f64::min);
        if least.is_infinite() {
            return PricedBound { bound: f64::INFINITY, above: Vec::new() };
        }
        for x in &mut priced {
            *x -= least;
        }
        sum.add(least);
        above.push(priced);
    }
    for (&row, &price) in rows.iter().zip(&price) {
        sum.add(-price * model.available(row));
    }
    PricedBound { bound: sum.below(model.jobs.len()), above }
}

#[cfg(test)]
mod tests {
    use super::super::model::{Choice, ModelJob, PartLimit, Stream};
    use super::*;

    fn random_model(stream: &mut Stream) -> Model {
        let days = 1 + stream.below(3);
        let mut jobs = Vec::new();
        for _ in 0..1 + stream.below(4) {
            let mut choices: Vec<Choice> =
                (0..days).map(|day| Choice { day, cost: 10.0 * stream.unit() }).collect();
            choices.push(Choice { day: days, cost: 15.0 * stream.unit() });
            choices.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            let needs = if stream.below(2) == 0 { vec![(0, 1.0)] } else { vec![] };
            jobs.push(ModelJob { minutes: 1.0 + stream.unit(), needs, choices });
        }
        let capacity = (0..days).map(|_| 3.0 * stream.unit()).collect();
        let mut available = 0.0;
        let limits = (0..days)
            .map(|last_day| {
                available += stream.below(2) as f64;
                PartLimit { part: 0, last_day, available }
            })
            .collect();
        Model::new(capacity, 1, limits, jobs)
    }

    /// Least cost over all feasible choices, by enumeration.
    fn least_cost(model: &Model, chosen: &mut Vec<usize>) -> f64 {
        let job = chosen.len();
        if job < model.jobs.len() {
            return (0..model.jobs[job].choices.len())
                .map(|choice| {
                    chosen.push(choice);
                    let least = least_cost(model, chosen);
                    chosen.pop();
                    least
                })
                .fold(f64::INFINITY, f64::min);
        }
        let feasible = (0..model.row_count()).all(|row| {
            let claim = |job: usize| model.claim(job, model.jobs[job].choices[chosen[job]].day, row);
            (0..job).map(claim).sum::<f64>() <= model.available(row) + 1e-12
        });
        if feasible { model.cost(chosen) } else { f64::INFINITY }
    }

    #[test]
    fn no_prices_give_a_bound_above_the_best_plan() {
        let mut stream = Stream(3);
        let mut near = 0;
        for _ in 0..2_000 {
            let model = random_model(&mut stream);
            let rows: Vec<usize> = (0..model.row_count()).collect();
            let price: Vec<f64> = rows.iter().map(|_| 6.0 * stream.unit() - 1.0).collect();
            let least = least_cost(&model, &mut Vec::new());
            let whole = priced_bound(&model, &rows, &price, |_, _| true).bound;
            let alone = bound_of(&model, &rows, &price, |_, _| true);
            assert!((whole - alone).abs() <= 1e-9, "{whole} {alone}");
            assert!(whole <= least + 1e-9, "{whole} above {least}");
            near += usize::from(whole > 0.8 * least);
        }
        assert!(near > 50, "the bounds are far from the plans: {near}");
    }

    #[test]
    fn the_relaxation_reaches_the_best_bound_of_many_prices() {
        use super::super::model::Work;
        use super::super::relaxation::{Outcome, Relaxation};
        let mut stream = Stream(5);
        for _ in 0..500 {
            let model = random_model(&mut stream);
            let rows: Vec<usize> = (0..model.row_count()).collect();
            let mut relaxation = Relaxation::new(&model);
            assert_eq!(relaxation.solve(f64::INFINITY, &mut Work::new(&model)), Outcome::Solved);
            let solved = relaxation.best_bound().bound;
            assert!(solved <= least_cost(&model, &mut Vec::new()) + 1e-9);
            for _ in 0..30 {
                let price: Vec<f64> = rows.iter().map(|_| 6.0 * stream.unit() - 2.0).collect();
                assert!(bound_of(&model, &rows, &price, |_, _| true) <= solved + 1e-6);
            }
        }
    }
}
