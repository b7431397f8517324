//! Cost by swap limit over all that is not known, the best limit, and what else could be done.

use super::cost::Costs;
use super::limit::{
    LimitCost, LimitPolicy, cassette_by_cog, cost_of_limit, cost_of_rotation, cost_to_the_end,
};
use super::scenarios::{Scenario, Spread, spread};

/// Distances between looks that are tried, reference km. With longer ones a look comes at nearly the same place in every
/// life, and [`cost_of_limit`] does not hold.
pub const LOOK_INTERVALS_KM: [f64; 8] = [100.0, 150.0, 200.0, 300.0, 450.0, 650.0, 900.0, 1_300.0];

/// Numbers of chains in turn that are tried.
pub const ROTATIONS: [u32; 3] = [2, 3, 4];

/// A change is worth it when it saves at least this share of the cost (A) …
const WORTH_SHARE: f64 = 0.02;

/// … with at least this probability (A).
const WORTH_PROBABILITY: f64 = 0.8;

/// Limits that the trade's gauges have a mark for, percent (T).
const GAUGE_MARKS: [usize; 3] = [50, 75, 100];

/// Number of limits of the curve: 0.30 to 1.20 percent in steps of 0.05.
const LIMITS: usize = 19;

fn limit_at(index: usize) -> f64 {
    (30.0 + 5.0 * index as f64) / 100.0
}

/// One limit of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct CurvePoint {
    /// Elongation at which chains come off, percent.
    pub limit_percent: f64,
    /// Distance between looks that costs least with this limit, reference km.
    pub look_every_km: f64,
    /// Cost per 1,000 reference km.
    pub cost: Spread,
    /// The same by cause, the mean over the scenarios.
    pub mean: LimitCost,
}

/// Another policy against the best limit.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Alternative {
    /// Cost per 1,000 reference km.
    pub cost: Spread,
    /// The same by cause, the mean over the scenarios.
    pub mean: LimitCost,
    /// What it costs more than the best limit, per 1,000 reference km; negative when it costs less.
    pub more_than_best: Spread,
    /// Probability that it costs more than the best limit.
    pub dearer_probability: f64,
}

impl Alternative {
    /// Whether leaving this policy for the best limit is worth it: it is dearer by 2 percent or more in the median, and
    /// dearer at all with a probability of 80 percent or more (A).
    #[must_use]
    pub fn worth_leaving(&self) -> bool {
        self.more_than_best.p50 >= WORTH_SHARE * self.cost.p50 && self.dearer_probability >= WORTH_PROBABILITY
    }

    /// Whether leaving the best limit for this policy is worth it, by the same measure.
    #[must_use]
    pub fn worth_taking(&self) -> bool {
        -self.more_than_best.p50 >= WORTH_SHARE * self.cost.p50
            && 1.0 - self.dearer_probability >= WORTH_PROBABILITY
    }
}

/// One of the usual limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualLimit {
    /// Elongation at which chains come off, percent.
    pub limit_percent: f64,
    /// What it costs, with the looks that suit it.
    pub against_best: Alternative,
}

/// Chains in turn on one cassette.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rotation {
    /// Number of chains.
    pub chains: u32,
    /// Elongation at which all of them and the cassette have had it, percent, the median over the scenarios.
    pub off_percent: f64,
    /// What it costs.
    pub against_best: Alternative,
}

/// The curve of cost by limit, the best limit and the alternatives.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LimitCurve {
    /// Limits from 0.30 to 1.20 percent.
    pub points: Vec<CurvePoint>,
    /// Which of them has the least mean cost.
    pub best: usize,
    /// The best limit of each scenario, percent, and the best of all. Where the curve is flat most scenarios may have theirs on
    /// one side of the limit that costs least over all of them, as a few dear scenarios decide that one.
    pub best_by_scenario: Spread,
    /// The limit in force, with the looks that suit it.
    pub current: Alternative,
    /// The limits that gauges have a mark for: 0.50, 0.75 and 1.00 percent.
    pub usual: Vec<UsualLimit>,
    /// Chain, cassette and rings to the end together.
    pub to_the_end: Alternative,
    /// Chains in turn.
    pub rotations: Vec<Rotation>,
    /// The best limit with the cassette replaced whole, where single cogs are replaced otherwise; `None` where the
    /// cassette is replaced whole anyway.
    pub whole_cassette: Option<Alternative>,
    /// What costs more than it saves when chains come off earlier than the best limit, and when later, with its looks.
    causes: (Cause, Cause),
}

/// What the curve is asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question<'a> {
    /// Prices, labour, looks and failures.
    pub costs: &'a Costs,
    /// What is not known.
    pub scenarios: &'a [Scenario],
    /// The limit in force, percent.
    pub current_percent: f64,
    /// Mean overshoot of the process at its jumps, percent: half of its scale φ (C: mean over its jumps).
    pub jump_overshoot_percent: f64,
    /// Distance after which the next of several chains in turn goes on, reference km.
    pub turn_km: f64,
}

struct Judge<'a> {
    question: Question<'a>,
    whole: f64,
    best: Vec<LimitCost>,
}

impl Question<'_> {
    fn cost(&self, costs: &Costs, scenario: &Scenario, limit: f64, every: f64) -> LimitCost {
        let policy = LimitPolicy {
            inspection_interval_km: Some(every),
            jump_overshoot_percent: self.jump_overshoot_percent,
        };
        cost_of_limit(costs, &scenario.life, scenario.damage_scale, policy, limit)
    }

    fn over_scenarios(&self, value: impl Fn(usize) -> f64) -> Spread {
        spread(self.scenarios.iter().enumerate().map(|(i, scenario)| (value(i), scenario.weight)).collect())
    }

    fn mean(&self, whole: f64, rows: &[LimitCost]) -> LimitCost {
        let mut mean = LimitCost::default();
        for (scenario, row) in self.scenarios.iter().zip(rows) {
            mean.add(row, scenario.weight / whole);
        }
        mean
    }

    /// The distance between looks with the least mean cost, and the cost in each scenario.
    fn at_limit(&self, whole: f64, limit: f64) -> (f64, Vec<LimitCost>) {
        let rows = |every: f64| -> Vec<LimitCost> {
            self.scenarios.iter().map(|scenario| self.cost(self.costs, scenario, limit, every)).collect()
        };
        let mut best = (LOOK_INTERVALS_KM[0], rows(LOOK_INTERVALS_KM[0]));
        for every in LOOK_INTERVALS_KM.into_iter().skip(1) {
            let found = rows(every);
            if self.mean(whole, &found).total() < self.mean(whole, &best.1).total() {
                best = (every, found);
            }
        }
        best
    }
}

impl Judge<'_> {
    fn alternative(&self, rows: &[LimitCost]) -> Alternative {
        let more = |i: usize| rows[i].total() - self.best[i].total();
        let scenarios = self.question.scenarios.iter().enumerate();
        let dearer: f64 =
            scenarios.filter(|(i, _)| more(*i) > 0.0).map(|(_, scenario)| scenario.weight).sum();
        Alternative {
            cost: self.question.over_scenarios(|i| rows[i].total()),
            mean: self.question.mean(self.whole, rows),
            more_than_best: self.question.over_scenarios(more),
            dearer_probability: dearer / self.whole,
        }
    }
}

fn cheapest(total: impl Fn(usize) -> f64) -> usize {
    (0..LIMITS).min_by(|&a, &b| total(a).total_cmp(&total(b))).unwrap_or(0)
}

/// The spread, made wide enough to hold `percent`.
fn holding(spread: Spread, percent: f64) -> Spread {
    Spread { p10: spread.p10.min(percent), p50: spread.p50, p90: spread.p90.max(percent) }
}

impl LimitCurve {
    /// The curve. `None` when there is no scenario or no weight.
    #[must_use]
    pub fn of(question: Question<'_>) -> Option<Self> {
        let Question { costs, scenarios, current_percent, turn_km, .. } = question;
        let whole: f64 = scenarios.iter().map(|scenario| scenario.weight).sum();
        if !(whole.is_finite() && whole > 0.0) {
            return None;
        }
        let by_limit: Vec<(f64, Vec<LimitCost>)> =
            (0..LIMITS).map(|index| question.at_limit(whole, limit_at(index))).collect();
        let points: Vec<CurvePoint> = by_limit
            .iter()
            .enumerate()
            .map(|(index, (look_every_km, rows))| CurvePoint {
                limit_percent: limit_at(index),
                look_every_km: *look_every_km,
                cost: question.over_scenarios(|i| rows[i].total()),
                mean: question.mean(whole, rows),
            })
            .collect();
        let best = cheapest(|index| points[index].mean.total());
        let (best_percent, best_every) = (points[best].limit_percent, points[best].look_every_km);
        let judge = Judge { question, whole, best: by_limit[best].1.clone() };
        let usual = GAUGE_MARKS.map(|hundredths| {
            let index = (hundredths - 30) / 5;
            UsualLimit { limit_percent: limit_at(index), against_best: judge.alternative(&by_limit[index].1) }
        });
        let rotations = ROTATIONS
            .into_iter()
            .map(|chains| {
                let rows: Vec<(f64, LimitCost)> = scenarios
                    .iter()
                    .map(|scenario| {
                        cost_of_rotation(costs, &scenario.life, scenario.damage_scale, chains, turn_km)
                    })
                    .collect();
                let totals: Vec<LimitCost> = rows.iter().map(|(_, cost)| *cost).collect();
                let off_percent = question.over_scenarios(|i| rows[i].0).p50;
                Rotation { chains, off_percent, against_best: judge.alternative(&totals) }
            })
            .collect();
        let end: Vec<LimitCost> = scenarios
            .iter()
            .map(|scenario| cost_to_the_end(costs, &scenario.life, scenario.end_percent))
            .collect();
        let damage_at_best = scenarios.iter().map(|scenario| scenario.damage_scale).fold(0.0, f64::max);
        let whole_cassette = cassette_by_cog(costs, damage_at_best * crate::knock_on::accrued(best_percent))
            .map(|_| {
                let costs = Costs { cogs: None, ..costs.clone() };
                let rows: Vec<LimitCost> = scenarios
                    .iter()
                    .map(|scenario| question.cost(&costs, scenario, best_percent, best_every))
                    .collect();
                judge.alternative(&rows)
            });
        let cause = |index: usize| {
            let limit = limit_at(index);
            let rows: Vec<LimitCost> =
                scenarios.iter().map(|scenario| question.cost(costs, scenario, limit, best_every)).collect();
            question.mean(whole, &rows).rises_most_over(&points[best].mean)
        };
        let best_by_scenario =
            question.over_scenarios(|i| limit_at(cheapest(|index| by_limit[index].1[i].total())));
        Some(Self {
            causes: (cause(best.saturating_sub(2)), cause((best + 2).min(LIMITS - 1))),
            best,
            best_by_scenario: holding(best_by_scenario, best_percent),
            current: judge.alternative(&question.at_limit(whole, current_percent).1),
            usual: usual.into(),
            to_the_end: judge.alternative(&end),
            rotations,
            whole_cassette,
            points,
        })
    }

    /// The best limit with its cost.
    #[must_use]
    pub fn best_point(&self) -> &CurvePoint {
        &self.points[self.best]
    }

    /// Why the best limit is the best, or that it isn't worth having one.
    #[must_use]
    pub fn reason(&self) -> PolicyReason {
        if self.to_the_end.worth_taking() {
            return PolicyReason::ToTheEnd {
                percent: -100.0 * self.to_the_end.more_than_best.p50 / self.best_point().cost.p50,
            };
        }
        let limit_percent = self.best_point().limit_percent;
        let (earlier, later) = self.causes;
        if self.best == 0 {
            PolicyReason::Lowest { limit_percent, later }
        } else if self.best == self.points.len() - 1 {
            PolicyReason::Highest { limit_percent, earlier }
        } else {
            PolicyReason::Between { limit_percent, earlier, later }
        }
    }
}

/// What a cost comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Cause {
    /// Chains and their labour.
    Chains,
    /// Cassettes or cogs and their labour.
    Cassettes,
    /// Rings and their labour.
    Rings,
    /// Looks at the chain.
    Looks,
    /// Failures on the road.
    Failures,
}

impl std::fmt::Display for Cause {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Chains => "chains",
            Self::Cassettes => "cassettes",
            Self::Rings => "rings",
            Self::Looks => "looks",
            Self::Failures => "failures",
        })
    }
}

impl LimitCost {
    fn add(&mut self, other: &Self, share: f64) {
        let Self { chains, cassettes, rings, looks, failures } = other;
        self.chains += share * chains;
        self.cassettes += share * cassettes;
        self.rings += share * rings;
        self.looks += share * looks;
        self.failures += share * failures;
    }

    /// The cause that costs most more than in another policy.
    fn rises_most_over(&self, other: &Self) -> Cause {
        [
            (Cause::Chains, self.chains - other.chains),
            (Cause::Cassettes, self.cassettes - other.cassettes),
            (Cause::Rings, self.rings - other.rings),
            (Cause::Looks, self.looks - other.looks),
            (Cause::Failures, self.failures - other.failures),
        ]
        .into_iter()
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(Cause::Chains, |(cause, _)| cause)
    }
}

/// Why a policy is the cheapest, to be said in a sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum PolicyReason {
    /// A limit inside the range.
    Between {
        /// The limit, percent.
        limit_percent: f64,
        /// What costs more when chains come off earlier.
        earlier: Cause,
        /// What costs more when they come off later.
        later: Cause,
    },
    /// The lowest limits of the range.
    Lowest {
        /// The limit, percent.
        limit_percent: f64,
        /// What costs more when chains come off later.
        later: Cause,
    },
    /// The highest limits of the range.
    Highest {
        /// The limit, percent.
        limit_percent: f64,
        /// What costs more when chains come off earlier.
        earlier: Cause,
    },
    /// No limit at all.
    ToTheEnd {
        /// What it saves against the best limit, percent of that limit's cost.
        percent: f64,
    },
}

impl std::fmt::Display for PolicyReason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Between { limit_percent, earlier, later } => write!(
                f,
                "Taking chains off at {limit_percent:.2} % is the cheapest limit: earlier, {earlier} cost more than is saved; later, {later} do"
            ),
            Self::Lowest { limit_percent, later } => write!(
                f,
                "Taking chains off at {limit_percent:.2} %, as early as was looked at, is the cheapest limit: later, {later} cost more than is saved"
            ),
            Self::Highest { limit_percent, earlier } => write!(
                f,
                "Taking chains off at {limit_percent:.2} %, as late as was looked at, is the cheapest limit: earlier, {earlier} cost more than is saved"
            ),
            Self::ToTheEnd { percent } => write!(
                f,
                "Running chain, cassette and rings to their end together costs {percent:.0} % less than the best limit: cassette and rings are cheap beside the chains that would spare them"
            ),
        }
    }
}
