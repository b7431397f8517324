//! The stages of a solve, cheapest first.

use super::anneal::{Cooling, Scale, anneal};
use super::branch::{Reach, branch, dive, round_up};
use super::improve::improve;
use super::knapsack_bound::{DualAscent, ascend, start};
use super::model::{Choice, Model, ModelJob, Stream, Work};
use super::neighbourhood::{Relaxed, search_neighbourhoods};
use super::relaxation::Relaxation;
use super::schedule::Schedule;

/// A plan of the model and what is proven about it.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub chosen: Vec<usize>,
    pub cost: f64,
    pub bound: f64,
}

/// One stage: a tree search when `nodes` is positive, else cycles of annealing and neighbourhoods.
struct Stage {
    /// The stage is left out when the relative gap is at most this, and a search ends at half of it.
    unless_gap: f64,
    nodes: usize,
    cycles: u64,
    /// Most work.
    work: u64,
    /// Work for each open choice beyond a job's first.
    work_per_choice: u64,
    /// Is the work for a choice counted once for each such choice of a typical job? Then a problem with
    /// little left open takes little, and a wide-open one much. Such stages search twice, side by side.
    more_when_open: bool,
    /// Choices that cost more than this share of the gap at the bound's prices are not looked at; 1 leaves out none
    /// that could be in a cheaper plan. Less than 1 proves nothing and finds plans faster (core problem, Balas and
    /// Zemel 1980, M).
    core: f64,
}

/// Found by measuring: a problem whose relaxation is near to its best plan ends within the first stages; the
/// last ones are for days that are packed like knapsacks.
const STAGES: &[Stage] = &[
    Stage { unless_gap: 1e-4, nodes: 60, work: 15_000_000, work_per_choice: 100_000, ..SEARCH },
    Stage { unless_gap: 1e-3, cycles: 1, work: 8_000_000, core: 0.1, ..SEARCH },
    Stage { unless_gap: 1e-3, cycles: 1, work: 12_000_000, core: 0.3, ..SEARCH },
    Stage { unless_gap: 1.5e-3, cycles: 2, work: 60_000_000, core: 0.1, ..SEARCH },
    Stage { unless_gap: 2e-3, nodes: 500, work: 60_000_000, work_per_choice: 60_000, ..SEARCH },
    Stage { unless_gap: 4e-3, cycles: 2, work: 120_000_000, core: 0.2, ..SEARCH },
    Stage {
        unless_gap: 4e-3,
        cycles: 6,
        work: 800_000_000,
        work_per_choice: 120_000,
        core: 0.4,
        more_when_open: true,
        ..SEARCH
    },
    Stage { unless_gap: 4e-3, nodes: 500, work: 60_000_000, work_per_choice: 60_000, ..SEARCH },
    Stage {
        unless_gap: 4e-3,
        cycles: 6,
        work: 800_000_000,
        work_per_choice: 120_000,
        core: 1.0,
        more_when_open: true,
        ..SEARCH
    },
    Stage { unless_gap: 4e-3, nodes: 1000, work: 40_000_000, work_per_choice: 40_000, ..SEARCH },
];

/// What most stages have in common.
const SEARCH: Stage = Stage {
    unless_gap: 4e-3,
    nodes: 0,
    cycles: 0,
    work: 0,
    work_per_choice: 20_000,
    more_when_open: false,
    core: 1.0,
};

/// Mild: who is where.
const MILD: Cooling = Cooling { scale: Scale::Day, hot: 0.6, cold: 0.02, longest_chain: 6 };
/// Hot: who is left out.
const HOT: Cooling = Cooling { scale: Scale::Day, hot: 2.0, cold: 0.1, longest_chain: 20 };
/// For days on which few jobs cost much.
const BY_JOB: Cooling = Cooling { scale: Scale::Job, hot: 0.7, cold: 0.02, longest_chain: 12 };
/// The same, from less heat.
const COOLER: Cooling = Cooling { hot: 0.35, ..BY_JOB };

/// One of the searches that go on side by side, with luck of its own.
#[derive(Debug)]
struct Search {
    /// Annealing of successive cycles.
    coolings: &'static [Cooling],
    stream: Stream,
    cycle: usize,
}

/// Most work of the local search on the rounded relaxation.
const FIRST_IMPROVEMENT: u64 = 10_000_000;

/// The bound is not raised when the relative gap is at most this.
const NEAR_ENOUGH: f64 = 1e-4;

/// Steps of raising the bound the first time, and each further time.
const BOUND_STEPS: [usize; 2] = [400, 80];

/// Most work of a dive, beyond that of its stage.
const DIVE: u64 = 1_000_000_000;

struct Solver<'m> {
    model: &'m Model,
    root: Relaxation<'m>,
    /// Price of each choice above the job's cheapest, and the bound that these prices give.
    above: Vec<Vec<f64>>,
    priced_bound: f64,
    /// The bound that knows whole jobs, and what it rises by with each choice.
    ascent: Option<DualAscent>,
    /// The cost that it aimed at.
    ascended_for: f64,
    step: f64,
    chosen: Vec<usize>,
    cost: f64,
    bound: f64,
    searches: [Search; 2],
    work: Work,
}

/// A plan of `model` and a bound, by a fixed amount of work.
pub(super) fn solve(model: &Model) -> Solved {
    let mut work = Work::new(model);
    let mut root = Relaxation::new(model);
    root.solve(f64::INFINITY, &mut work);
    let step = model.cost_step();
    let priced = root.best_bound();

    let mut schedule = root.rounded();
    work.limit = work.done + FIRST_IMPROVEMENT;
    improve(&mut schedule, &mut work);

    let mut solver = Solver {
        model,
        root,
        above: priced.above,
        priced_bound: priced.bound,
        ascent: None,
        ascended_for: f64::INFINITY,
        step,
        chosen: schedule.chosen().to_vec(),
        cost: schedule.cost(),
        bound: round_up(priced.bound.max(0.0), step),
        searches: [
            Search { coolings: &[MILD, HOT, BY_JOB], stream: Stream(11), cycle: 0 },
            Search { coolings: &[BY_JOB, MILD, COOLER], stream: Stream(12), cycle: UNHEATED },
        ],
        work,
    };
    for stage in STAGES {
        solver.raise_bound();
        if solver.cost - solver.bound > stage.unless_gap * solver.cost {
            solver.run(stage);
        }
    }
    let Solver { chosen, cost, bound, .. } = solver;
    Solved { chosen, cost, bound: bound.min(cost) }
}

/// What a search goes for.
#[derive(Debug, Clone, Copy)]
struct Goal {
    /// The cost at which it ends.
    target: f64,
    step: f64,
    cycles: u64,
    units: u64,
}

/// Cycles that work on the relaxation's own plan, which heat would forget.
const UNHEATED: usize = 2;

impl Search {
    /// Cycles of annealing, local search and neighbourhoods; ends early when four heated ones find the same.
    fn run(
        &mut self,
        reduced: &Model,
        relaxed: &Relaxed,
        start: &[usize],
        goal: Goal,
        mut work: Work,
    ) -> (Vec<usize>, Work) {
        let Goal { target, step, cycles, units } = goal;
        let mut schedule = Schedule::from_choices(reduced, start, 0..start.len());
        let mut best = schedule.clone();
        let mut same = 0;
        let end = work.limit;
        for left in (0..cycles).rev() {
            work.limit = end - left * (units / cycles);
            let heated = self.cycle >= UNHEATED;
            if heated {
                let cooling = self.coolings[(self.cycle - UNHEATED) % self.coolings.len()];
                let anneal_units = work.limit.saturating_sub(work.done) * 6 / 10;
                anneal(&mut schedule, cooling, anneal_units, &mut self.stream, &mut work);
            }
            self.cycle += 1;
            improve(&mut schedule, &mut work);
            search_neighbourhoods(&mut schedule, relaxed, target, step, &mut self.stream, &mut work);
            let (cost, least) = (schedule.cost(), best.cost());
            if (cost - least).abs() <= 1e-9 * least {
                same += u32::from(heated);
            } else if cost < least {
                same = 0;
                best = schedule.clone();
            } else {
                schedule = best.clone();
            }
            if same == 4 || best.cost() <= target {
                break;
            }
        }
        (best.chosen().to_vec(), work)
    }
}

impl Solver<'_> {
    fn raise_bound(&mut self) {
        let unchanged = self.ascent.as_ref().is_some_and(|_| self.cost >= self.ascended_for);
        if unchanged || self.cost - self.bound <= NEAR_ENOUGH * self.cost {
            return;
        }
        let (begin, steps) = match self.ascent.take() {
            Some(ascent) => (ascent.prices, BOUND_STEPS[1]),
            None => (start(self.model, &self.root.row_prices()), BOUND_STEPS[0]),
        };
        self.work.limit = u64::MAX;
        let found = ascend(self.model, begin, self.cost, steps, &mut self.work);
        if let Some(chosen) = &found.chosen {
            let cost = self.model.cost(chosen);
            if cost < self.cost {
                self.cost = cost;
                self.chosen.clone_from(chosen);
            }
        }
        self.bound = self.bound.max(round_up(found.bound, self.step)).min(self.cost);
        self.ascent = Some(found);
        self.ascended_for = self.cost;
    }

    fn run(&mut self, stage: &Stage) {
        let (reduced, original) = self.reduced(stage.core);
        let spare: usize = reduced.jobs.iter().map(|job| job.choices.len() - 1).sum();
        let per_job =
            if stage.more_when_open { spare as f64 / reduced.jobs.len().max(1) as f64 } else { 1.0 };
        let units = stage.work.min((stage.work_per_choice as f64 * spare as f64 * per_job) as u64);
        self.work.limit = self.work.done + units;
        let start: Vec<usize> = self
            .chosen
            .iter()
            .zip(&original)
            .map(|(choice, kept)| kept.iter().position(|other| other == choice).unwrap_or(0))
            .collect();
        let found = if stage.nodes > 0 {
            let reach = Reach { cutoff: self.cost, step: self.step, nodes: stage.nodes, round_every: 16 };
            let root = self.root.on_fewer_choices(&reduced, &original);
            let root = root.unwrap_or_else(|| Relaxation::new(&reduced));
            self.work.limit += DIVE;
            let dived = dive(&reduced, root.clone(), self.cost, &mut self.work);
            self.work.limit = self.work.done + units;
            let reach = Reach { cutoff: self.cost.min(reduced.cost(&dived)), ..reach };
            let found = branch(&reduced, root, reach, &mut self.work);
            self.bound = self.bound.max(found.bound.min(self.cost));
            vec![found.chosen.unwrap_or(dived)]
        } else {
            self.search(&reduced, &start, stage, units)
        };
        for found in found {
            let chosen: Vec<usize> =
                found.iter().zip(&original).map(|(&choice, kept)| kept[choice]).collect();
            let cost = self.model.cost(&chosen);
            if cost < self.cost {
                self.cost = cost;
                self.chosen = chosen;
            }
        }
        self.bound = self.bound.min(self.cost);
    }

    /// What the searches of a stage find, each on a thread of its own.
    fn search(&mut self, reduced: &Model, start: &[usize], stage: &Stage, units: u64) -> Vec<Vec<usize>> {
        let relaxed = Relaxed::of(reduced, &mut self.work);
        let target = self.bound * (1.0 + 0.5 * stage.unless_gap);
        let goal = Goal { target, step: self.step, cycles: stage.cycles, units };
        let work = self.work;
        let side_by_side = if stage.more_when_open { self.searches.len() } else { 1 };
        let searches = &mut self.searches[..side_by_side];
        let found: Vec<(Vec<usize>, Work)> = std::thread::scope(|scope| {
            let run = |search| {
                let relaxed = &relaxed;
                scope.spawn(move || Search::run(search, reduced, relaxed, start, goal, work))
            };
            let running: Vec<_> = searches.iter_mut().map(run).collect();
            let joined = running.into_iter().map(std::thread::ScopedJoinHandle::join);
            joined.map(|found| found.unwrap_or_else(|panic| std::panic::resume_unwind(panic))).collect()
        });
        // They ran at the same time.
        self.work.done = found.iter().map(|(_, work)| work.done).fold(work.done, u64::max);
        found.into_iter().map(|(chosen, _)| chosen).collect()
    }

    /// The model without choices that no plan cheaper than the present one can have: those priced more than
    /// the gap above their job's cheapest (reduced-cost fixing). For each job the kept choices.
    fn reduced(&self, core: f64) -> (Model, Vec<Vec<usize>>) {
        let model = self.model;
        let out = model.left_out_day();
        let gap = core * (self.cost - self.priced_bound);
        let rises_too_far = |job: usize, choice: usize| {
            self.ascent.as_ref().is_some_and(|ascent| {
                let gap = core * (self.cost - ascent.bound);
                ascent.above[job][choice] > gap + 1e-9 * self.cost.abs()
            })
        };
        let mut original = Vec::with_capacity(model.jobs.len());
        let mut jobs = Vec::with_capacity(model.jobs.len());
        for (job, entry) in model.jobs.iter().enumerate() {
            let kept: Vec<usize> = (0..entry.choices.len())
                .filter(|&choice| {
                    choice == self.chosen[job]
                        || entry.choices[choice].day == out
                        || (self.above[job][choice] <= gap + 1e-9 * gap.abs() && !rises_too_far(job, choice))
                })
                .collect();
            let choices: Vec<Choice> = kept.iter().map(|&choice| entry.choices[choice]).collect();
            jobs.push(ModelJob { minutes: entry.minutes, needs: entry.needs.clone(), choices });
            original.push(kept);
        }
        (Model::new(model.capacity.clone(), model.part_count, model.limits.clone(), jobs), original)
    }
}
