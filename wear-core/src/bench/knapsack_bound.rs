//! A bound that knows that days are filled with whole jobs.
//!
//! The linear relaxation fills each day to the last minute with parts of jobs. Here "each job once" is priced instead
//! (λ), and each day takes the set of whole jobs that gains most: a knapsack, solved exactly by dynamic programming
//! (Fisher, Jaikumar and Van Wassenhove 1986 for the generalised assignment problem, M). Prices rise by the
//! subgradient method with Polyak's step (Held, Wolfe and Crowder 1974, M), starting from those of the relaxation. Any
//! prices give a bound, so it holds wherever the ascent ends. On the way the sets of whole jobs are made into plans, as
//! they are nearly ones.

use super::cover::{Cover, CoverTable};
use super::improve::improve;
use super::model::{Model, Work};
use super::prices::Prices;
use super::schedule::Schedule;

/// Most cells of a day's table; longer days are counted in coarser minutes, job lengths rounded down.
const MOST_CELLS: usize = 2_500;

/// Steps without a better bound after which the step is halved.
const PATIENCE: usize = 20;

/// Rows of parts are priced with this share of the step: their claims are larger than one.
const PART_STEP: f64 = 0.2;

/// Relative allowance for rounding in a bound's sums.
const ROUNDING: f64 = 1e-11;

/// Steps between two plans made of the sets.
const PLAN_EVERY: usize = 12;

/// Most work of the local search on one of them.
const IMPROVEMENT: u64 = 400_000;

/// Prices to start from.
#[derive(Debug, Clone)]
pub(super) struct Start {
    /// Of each job.
    job: Vec<f64>,
    /// Of each row of parts.
    part: Vec<f64>,
}

/// What an ascent found.
#[derive(Debug)]
pub(super) struct DualAscent {
    /// No plan costs less.
    pub bound: f64,
    /// By job and choice: no plan with that choice costs less than the bound and this.
    pub above: Vec<Vec<f64>>,
    /// A plan that costs less than the given one.
    pub chosen: Option<Vec<usize>>,
    /// The prices of the bound.
    pub prices: Start,
}

/// A job that may be on a day.
struct Item {
    job: usize,
    choice: usize,
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

/// Prices of the jobs that the relaxation's prices of the rows, one for each row, come down to.
pub(super) fn start(model: &Model, row_price: &[f64]) -> Start {
    let rows: Vec<usize> = (0..model.row_count()).collect();
    let price: Vec<f64> = row_price.iter().map(|price| price.max(0.0)).collect();
    let prices = Prices::new(model, &rows, &price);
    let job = model.jobs.iter().enumerate().map(|(job, entry)| {
        let priced = entry.choices.iter().map(|choice| choice.cost + prices.of(model, job, choice.day));
        priced.fold(f64::INFINITY, f64::min)
    });
    Start { job: job.collect(), part: price[model.left_out_day()..].to_vec() }
}

/// Days with the items that may be on them, and what each job's being left out costs.
struct Days {
    days: Vec<Day>,
    out: Vec<f64>,
    cover: Cover,
    part_rows: Vec<usize>,
}

/// One look at the prices.
struct Look {
    bound: f64,
    /// By job: one less the times that it is taken or left out.
    slope: Vec<f64>,
    /// By row of parts: what is used beyond what there is.
    over: Vec<f64>,
}

impl Days {
    fn of(model: &Model) -> Self {
        let grid = Grid::of(model);
        let out_day = model.left_out_day();
        let day =
            |(index, &capacity): (usize, &f64)| Day { index, cells: grid.cells(capacity), items: Vec::new() };
        let mut days: Vec<Day> = model.capacity.iter().enumerate().map(day).collect();
        let mut out = vec![f64::INFINITY; model.jobs.len()];
        let cover = Cover::of(model);
        for (job, entry) in model.jobs.iter().enumerate() {
            let length = grid.cells(entry.minutes);
            for (choice, &super::model::Choice { day, cost }) in entry.choices.iter().enumerate() {
                match days.get_mut(day) {
                    Some(day) => day.items.push(Item { job, choice, cost, length }),
                    None => out[job] = cost,
                }
            }
        }
        Self { days, out, cover, part_rows: (out_day..model.row_count()).collect() }
    }

    /// The bound at some prices. `taken` is told each item taken.
    fn look(
        &self,
        model: &Model,
        prices: &Start,
        Tables { table, cover }: &mut Tables,
        work: &mut Work,
        mut taken: impl FnMut(&Item),
    ) -> Look {
        let out_day = model.left_out_day();
        let parts = Prices::new(model, &self.part_rows, &prices.part);
        let mut slope = vec![1.0; prices.job.len()];
        let mut over: Vec<f64> = self.part_rows.iter().map(|&row| -model.available(row)).collect();
        let mut total = 0.0;
        let mut size = 0.0;
        let mut add = |x: f64| {
            total += x;
            size += x.abs();
        };
        prices.job.iter().for_each(|&price| add(price));
        let dearer = |job: usize| self.out[job] - prices.job[job];
        add(cover.fill(&self.cover, dearer, |job| slope[job] -= 1.0));
        work.spend(cover.cells_filled / 2);
        for day in &self.days {
            let gain = |item: &Item| prices.job[item.job] - item.cost - parts.of(model, item.job, day.index);
            add(-table.fill(day, gain, false));
            work.spend(table.cells_filled / 2);
            for &at in &table.taken {
                let item = &day.items[at];
                taken(item);
                slope[item.job] -= 1.0;
                model.claims(item.job, day.index, |row, claim| {
                    if row >= out_day {
                        over[row - out_day] += claim;
                    }
                });
            }
        }
        for (&row, &price) in self.part_rows.iter().zip(&prices.part) {
            add(-price * model.available(row));
        }
        Look { bound: total - ROUNDING * size, slope, over }
    }

    /// For each choice what the bound rises by at least when it is made: of a day, the best set less the best set
    /// with the item in it.
    fn above(&self, model: &Model, prices: &Start, tables: &mut Tables, work: &mut Work) -> Vec<Vec<f64>> {
        let Tables { table, cover } = tables;
        let mut above: Vec<Vec<f64>> = model.jobs.iter().map(|job| vec![0.0; job.choices.len()]).collect();
        let parts = Prices::new(model, &self.part_rows, &prices.part);
        let dearer = |job: usize| self.out[job] - prices.job[job];
        let least = cover.fill(&self.cover, dearer, |_| ());
        work.spend(cover.cells_filled / 2);
        for (job, entry) in model.jobs.iter().enumerate() {
            for (choice, entry) in entry.choices.iter().enumerate() {
                let rise = if entry.day == model.left_out_day() {
                    cover.with(&self.cover, job, dearer(job)) - least
                } else {
                    -dearer(job)
                };
                above[job][choice] = rise.max(0.0);
            }
        }
        for day in &self.days {
            let gain = |item: &Item| prices.job[item.job] - item.cost - parts.of(model, item.job, day.index);
            let best = table.fill(day, gain, true);
            work.spend(table.cells_filled / 2);
            for item in &day.items {
                let with = day.cells.checked_sub(item.length).map_or(f64::NEG_INFINITY, |cell| {
                    gain(item) + table.value.get(cell).copied().unwrap_or(best)
                });
                above[item.job][item.choice] += (best - with).max(0.0);
            }
        }
        above
    }
}

/// Climbs for at most `rounds` steps, given the cost of a plan.
pub(super) fn ascend(model: &Model, start: Start, cost: f64, rounds: usize, work: &mut Work) -> DualAscent {
    let days = Days::of(model);
    let mut prices = start;
    let mut best = (f64::NEG_INFINITY, prices.clone());
    let mut cheapest = (cost, None);
    let mut pace = 1.0;
    let mut stale = 0;
    let mut tables = Tables::default();
    let mut since_plan = PLAN_EVERY;
    for _ in 0..rounds {
        let mut wanted = vec![usize::MAX; model.jobs.len()];
        let Look { bound, slope, over } = days.look(model, &prices, &mut tables, work, |item| {
            wanted[item.job] = wanted[item.job].min(item.choice);
        });
        let least = cheapest.0;
        since_plan += 1;
        if bound > best.0 {
            stale = if bound > best.0 + 1e-4 * (least - best.0).abs() { 0 } else { stale + 1 };
            best = (bound, prices.clone());
            if since_plan >= PLAN_EVERY {
                since_plan = 0;
                let (found, chosen) = plan_of(model, &wanted, work);
                if found < least {
                    cheapest = (found, Some(chosen));
                }
            }
        } else {
            stale += 1;
        }
        if best.0 >= cheapest.0 - 1e-6 * cheapest.0.abs() {
            break;
        }
        if stale >= PATIENCE {
            stale = 0;
            pace *= 0.5;
            prices.clone_from(&best.1);
            if pace < 0.01 {
                break;
            }
            continue;
        }
        let part_norm: f64 = over
            .iter()
            .zip(&prices.part)
            .filter(|&(&over, &price)| over > 0.0 || price > 0.0)
            .map(|(over, _)| PART_STEP * over * over)
            .sum();
        let norm: f64 = slope.iter().map(|x| x * x).sum::<f64>() + part_norm;
        if norm < 0.5 {
            break;
        }
        let step = pace * (cheapest.0 - bound).max(0.0) / norm;
        for (price, slope) in prices.job.iter_mut().zip(&slope) {
            *price += step * slope;
        }
        for (price, over) in prices.part.iter_mut().zip(&over) {
            *price = (*price + PART_STEP * step * over).max(0.0);
        }
    }
    let (bound, prices) = best;
    let above = days.above(model, &prices, &mut tables, work);
    DualAscent { bound, above, chosen: cheapest.1, prices }
}

/// A plan near to the wanted choices, and its cost; a job without one goes where there is room.
fn plan_of(model: &Model, wanted: &[usize], work: &mut Work) -> (f64, Vec<usize>) {
    let choice = |job: usize| if wanted[job] == usize::MAX { 0 } else { wanted[job] };
    let wanted_choices: Vec<usize> = (0..wanted.len()).map(choice).collect();
    let (none, some): (Vec<usize>, Vec<usize>) =
        (0..wanted.len()).partition(|&job| wanted[job] == usize::MAX);
    let mut schedule = Schedule::from_choices(model, &wanted_choices, some.into_iter().chain(none));
    let limit = work.limit;
    work.limit = limit.min(work.done + IMPROVEMENT);
    improve(&mut schedule, work);
    work.limit = limit;
    (schedule.cost(), schedule.chosen().to_vec())
}

/// Tables that are kept for the next look.
#[derive(Default)]
struct Tables {
    table: Table,
    cover: CoverTable,
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
    /// Fills a day with the items that gain most together; the gain. The values of fewer cells are there when
    /// `whole` asks for them.
    fn fill(&mut self, day: &Day, gain: impl Fn(&Item) -> f64, whole: bool) -> f64 {
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
        if needed <= day.cells && !whole {
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
            let begin = start(&model, &root.row_prices());
            let DualAscent { bound, above, chosen, .. } = ascend(&model, begin, least * 1.02, 80, &mut work);
            assert!(bound <= least + 1e-9, "{bound} above {least}");
            assert!(chosen.is_none_or(|chosen| model.cost(&chosen) >= least - 1e-9));
            for (job, above) in above.iter().enumerate() {
                for (choice, above) in above.iter().enumerate() {
                    let mut forced = model.clone();
                    let kept = forced.jobs[job].choices[choice];
                    forced.jobs[job].choices = vec![kept];
                    let least = least_cost(&forced, &mut Vec::new());
                    assert!(bound + above <= least + 1e-9, "{bound} and {above} above {least}");
                }
            }
            better += usize::from(bound > linear + 1e-3);
            exact += usize::from(bound > least - 1e-3);
        }
        assert!(better > 200 && exact > 500, "{better} better, {exact} exact");
    }
}
