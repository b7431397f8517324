//! A bound that knows that days are filled with whole jobs.
//!
//! The linear relaxation fills each day to the last minute with parts of jobs. Here "each job once" is priced instead
//! (λ), and each day takes the set of whole jobs that gains most: a knapsack, solved exactly by dynamic programming
//! (Fisher, Jaikumar and Van Wassenhove 1986 for the generalised assignment problem, M). Prices climb by the
//! subgradient method with Polyak's step (Held, Wolfe and Crowder 1974, M), starting from those of the relaxation. Any
//! prices give a bound, so it holds wherever the climb ends.

use super::model::{Model, Work};
use super::prices::Prices;

/// Most cells of a day's table; longer days are counted in coarser minutes, job lengths rounded down.
const MOST_CELLS: usize = 2_500;

/// Steps without a better bound after which the step is halved.
const PATIENCE: usize = 8;

/// Rows of parts are priced with this share of the step: their claims are larger than one.
const PART_STEP: f64 = 0.2;

/// Relative allowance for rounding in a bound's sums.
const ROUNDING: f64 = 1e-11;

/// A job that may be on a day.
struct Item {
    job: usize,
    cost: f64,
    length: usize,
}

struct Day {
    index: usize,
    cells: usize,
    items: Vec<Item>,
}

/// Lengths in whole cells: a factor, and how many steps of it make one cell.
struct Grid {
    factor: f64,
    step: usize,
}

impl Grid {
    /// Exact where the lengths are whole multiples of a power of two, coarse otherwise.
    fn of(model: &Model) -> Self {
        let longest = model.capacity.iter().copied().fold(0.0, f64::max);
        let lengths = || model.jobs.iter().map(|job| job.minutes).filter(|&length| length <= longest);
        let exact = (-4..=14).map(|power| f64::exp2(f64::from(power))).find(|factor| {
            lengths().all(|length| {
                let scaled = length * factor;
                scaled < 1e9 && (scaled - scaled.round()).abs() <= 1e-9 * scaled.max(1.0)
            })
        });
        if let Some(factor) = exact {
            let step =
                lengths().fold(0, |divisor, length| divide(divisor, (length * factor).round() as usize));
            let step = step.max(1);
            if longest * factor / step as f64 <= MOST_CELLS as f64 {
                return Self { factor, step };
            }
        }
        Self { factor: if longest > 0.0 { MOST_CELLS as f64 / longest } else { 1.0 }, step: 1 }
    }

    fn cells(&self, length: f64) -> usize {
        (length * self.factor + 1e-6).floor() as usize / self.step
    }
}

fn divide(mut a: usize, mut b: usize) -> usize {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// The best bound of `rounds` steps from the relaxation's prices (one for each row), given the cost of a plan.
pub(super) fn knapsack_bound(
    model: &Model,
    row_price: &[f64],
    cost: f64,
    rounds: usize,
    work: &mut Work,
) -> f64 {
    let grid = Grid::of(model);
    let out_day = model.left_out_day();
    let mut days: Vec<Day> = model
        .capacity
        .iter()
        .enumerate()
        .map(|(index, &capacity)| Day { index, cells: grid.cells(capacity), items: Vec::new() })
        .collect();
    let mut out = vec![f64::INFINITY; model.jobs.len()];
    for (job, entry) in model.jobs.iter().enumerate() {
        let length = grid.cells(entry.minutes);
        for choice in &entry.choices {
            if choice.day == out_day {
                out[job] = choice.cost;
            } else {
                days[choice.day].items.push(Item { job, cost: choice.cost, length });
            }
        }
    }
    // Prices of parts stay with their rows; those of minutes are replaced by the knapsacks.
    let part_rows: Vec<usize> = (out_day..model.row_count()).collect();
    let mut part_price: Vec<f64> = part_rows.iter().map(|&row| row_price[row].max(0.0)).collect();
    let all_rows: Vec<usize> = (0..model.row_count()).collect();
    let start: Vec<f64> = row_price.iter().map(|price| price.max(0.0)).collect();
    let start = Prices::new(model, &all_rows, &start);
    let mut price: Vec<f64> = model
        .jobs
        .iter()
        .enumerate()
        .map(|(job, entry)| {
            let priced = |day: usize| start.of(model, job, day);
            entry.choices.iter().map(|choice| choice.cost + priced(choice.day)).fold(f64::INFINITY, f64::min)
        })
        .collect();

    let mut best = f64::NEG_INFINITY;
    let mut best_prices = (price.clone(), part_price.clone());
    let mut pace = 1.0;
    let mut stale = 0;
    let mut table = Table::default();
    for _ in 0..rounds {
        let parts = Prices::new(model, &part_rows, &part_price);
        let mut slope = vec![1.0; price.len()];
        let mut used = vec![0.0; part_rows.len()];
        let mut total = 0.0;
        let mut size = 0.0;
        let mut add = |x: f64| {
            total += x;
            size += x.abs();
        };
        for (job, (&price, &out)) in price.iter().zip(&out).enumerate() {
            add(price.min(out));
            if out < price {
                slope[job] -= 1.0;
            }
        }
        for day in &days {
            let gain =
                table.fill(day, |item| price[item.job] - item.cost - parts.of(model, item.job, day.index));
            work.spend(table.cells_filled / 2);
            add(-gain);
            for &at in &table.taken {
                let job = day.items[at].job;
                slope[job] -= 1.0;
                model.claims(job, day.index, |row, claim| {
                    if row >= out_day {
                        used[row - out_day] += claim;
                    }
                });
            }
        }
        for (&row, &price) in part_rows.iter().zip(&part_price) {
            add(-price * model.available(row));
        }
        let bound = total - ROUNDING * size;
        if bound > best {
            stale = if bound > best + 1e-4 * (cost - best).abs() { 0 } else { stale + 1 };
            best = bound;
            best_prices = (price.clone(), part_price.clone());
        } else {
            stale += 1;
        }
        if best >= cost - 1e-6 * cost.abs() {
            break;
        }
        if stale >= PATIENCE {
            stale = 0;
            pace *= 0.5;
            (price, part_price) = best_prices.clone();
            if pace < 0.01 {
                break;
            }
            continue;
        }
        let over: Vec<f64> =
            part_rows.iter().zip(&used).map(|(&row, used)| used - model.available(row)).collect();
        let part_norm: f64 = over
            .iter()
            .zip(&part_price)
            .filter(|&(&over, &price)| over > 0.0 || price > 0.0)
            .map(|(over, _)| PART_STEP * over * over)
            .sum();
        let norm: f64 = slope.iter().map(|x| x * x).sum::<f64>() + part_norm;
        if norm < 0.5 {
            break;
        }
        let step = pace * (cost - bound).max(0.0) / norm;
        for (price, slope) in price.iter_mut().zip(&slope) {
            *price += step * slope;
        }
        for (price, over) in part_price.iter_mut().zip(&over) {
            *price = (*price + PART_STEP * step * over).max(0.0);
        }
    }
    best
}

/// The table of one knapsack, kept for the next.
#[derive(Default)]
struct Table {
    value: Vec<f64>,
    taking: Vec<bool>,
    /// Places of the items taken.
    taken: Vec<usize>,
    cells_filled: usize,
    open: Vec<(usize, f64)>,
}

impl Table {
    /// Fills a day with the items that gain most together; the gain.
    fn fill(&mut self, day: &Day, gain: impl Fn(&Item) -> f64) -> f64 {
        let Self { value, taking, taken, cells_filled, open } = self;
        taken.clear();
        open.clear();
        let mut sure = 0.0;
        let mut needed = 0;
        for (at, item) in day.items.iter().enumerate() {
            let gain = gain(item);
            if gain > 0.0 && item.length <= day.cells {
                open.push((at, gain));
                needed += item.length;
            }
        }
        if needed <= day.cells {
            *cells_filled = day.items.len();
            for &(at, gain) in open.iter() {
                taken.push(at);
                sure += gain;
            }
            return sure;
        }
        let width = day.cells + 1;
        value.clear();
        value.resize(width, 0.0);
        taking.clear();
        taking.resize(width * open.len(), false);
        *cells_filled = width * open.len() + day.items.len();
        for (&(at, gain), taking) in open.iter().zip(taking.chunks_exact_mut(width)) {
            let length = day.items[at].length;
            for cell in (length..width).rev() {
                let with = value[cell - length] + gain;
                if with > value[cell] {
                    value[cell] = with;
                    taking[cell] = true;
                }
            }
        }
        let mut cell = width - 1;
        for (&(at, _), taking) in open.iter().zip(taking.chunks_exact(width)).rev() {
            if taking[cell] {
                taken.push(at);
                cell -= day.items[at].length;
            }
        }
        value[width - 1]
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::{Choice, ModelJob, PartLimit, Stream};
    use super::super::relaxation::Relaxation;
    use super::*;

    fn random_model(stream: &mut Stream) -> Model {
        let days = 1 + stream.below(3);
        let coarse = stream.below(3) == 0;
        let mut jobs = Vec::new();
        for _ in 0..1 + stream.below(5) {
            let mut choices: Vec<Choice> =
                (0..days).map(|day| Choice { day, cost: 10.0 * stream.unit() }).collect();
            choices.push(Choice { day: days, cost: 15.0 * stream.unit() });
            choices.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            let needs = if stream.below(2) == 0 { vec![(0, 1.0)] } else { vec![] };
            let minutes = if coarse { 1.0 + stream.unit() } else { 0.5 * (2 + stream.below(4)) as f64 };
            jobs.push(ModelJob { minutes, needs, choices });
        }
        let capacity = (0..days).map(|_| 4.0 * stream.unit()).collect();
        let mut available = 0.0;
        let limits = (0..days)
            .map(|last_day| {
                available += stream.below(2) as f64;
                PartLimit { part: 0, last_day, available }
            })
            .collect();
        Model::new(capacity, 1, limits, jobs)
    }

    fn least_cost(model: &Model, chosen: &mut Vec<usize>) -> f64 {
        let job = chosen.len();
        if job < model.jobs.len() {
            let mut least = f64::INFINITY;
            for choice in 0..model.jobs[job].choices.len() {
                chosen.push(choice);
                least = least.min(least_cost(model, chosen));
                chosen.pop();
            }
            return least;
        }
        let feasible = (0..model.row_count()).all(|row| {
            let claim = |job: usize| model.claim(job, model.jobs[job].choices[chosen[job]].day, row);
            (0..job).map(claim).sum::<f64>() <= model.available(row) + 1e-12
        });
        if feasible { model.cost(chosen) } else { f64::INFINITY }
    }

    #[test]
    fn it_is_a_bound_and_no_worse_than_the_relaxations() {
        let mut stream = Stream(17);
        let mut better = 0;
        let mut exact = 0;
        for _ in 0..1_500 {
            let model = random_model(&mut stream);
            let mut work = Work::new(&model);
            let mut root = Relaxation::new(&model);
            root.solve(f64::INFINITY, &mut work);
            let linear = root.best_bound().bound;
            let least = least_cost(&model, &mut Vec::new());
            let bound = knapsack_bound(&model, &root.row_prices(), least * 1.02, 80, &mut work);
            assert!(bound <= least + 1e-9, "{bound} above {least}");
            better += usize::from(bound > linear + 1e-3);
            exact += usize::from(bound > least - 1e-3);
        }
        assert!(better > 200 && exact > 500, "{better} better, {exact} exact");
    }
}
