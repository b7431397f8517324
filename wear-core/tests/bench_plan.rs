//! The bench plan against full enumeration, and its promises on random problems.

use std::collections::BTreeMap;

use proptest::prelude::*;
use wear_core::bench::{
    Arrival, BenchDay, Day, Job, Plan, PlanStatus, Problem, ProblemError, Shortage, plan,
};

fn job(id: &str, minutes: f64, due: i32) -> Job {
    Job {
        id: id.to_owned(),
        minutes,
        bike: None,
        parts: BTreeMap::new(),
        earliest: None,
        away: Vec::new(),
        due: Day(due),
        cost_early_per_day: 1.0,
        cost_late_per_day: 3.0,
        cost_left_out: 50.0,
        pinned: None,
    }
}

fn days(list: &[(i32, f64)]) -> Vec<BenchDay> {
    list.iter().map(|&(day, minutes)| BenchDay { day: Day(day), minutes }).collect()
}

/// Minutes of jobs on one day, each bike set up once, counted anew.
fn true_minutes(problem: &Problem, on: &[usize]) -> f64 {
    let jobs = problem.jobs();
    let alone: f64 = on.iter().map(|&job| jobs[job].minutes).sum();
    let saved = on.iter().enumerate().filter(|&(at, &job)| {
        jobs[job].bike.is_some() && on[..at].iter().any(|&other| jobs[other].bike == jobs[job].bike)
    });
    alone - saved.count() as f64 * problem.setup_minutes()
}

/// The cost of a plan, after checking every constraint from the problem alone.
fn checked_cost(problem: &Problem, plan: &Plan) -> f64 {
    let jobs = problem.jobs();
    let mut seen = vec![0; jobs.len()];
    let mut cost = 0.0;
    for placement in &plan.placements {
        seen[placement.job] += 1;
        let job = &jobs[placement.job];
        assert!(job.may_be_on(placement.day), "{} before its earliest day", job.id);
        assert!(problem.days().iter().any(|day| day.day == placement.day), "not a bench day");
        cost += job.cost_on(placement.day);
    }
    for &job in &plan.left_out {
        seen[job] += 1;
        cost += jobs[job].cost_left_out;
    }
    assert!(seen.iter().all(|&times| times == 1), "every job exactly once: {seen:?}");
    for day in problem.days() {
        let on = plan.placements.iter().filter(|placement| placement.day == day.day);
        let on: Vec<usize> = on.map(|placement| placement.job).collect();
        let minutes = true_minutes(problem, &on);
        assert!(minutes <= day.minutes * (1.0 + 1e-8) + 1e-8, "{minutes} of {}", day.minutes);
        for part in jobs.iter().flat_map(|job| job.parts.keys()) {
            let used: u32 = plan
                .placements
                .iter()
                .filter(|placement| placement.day <= day.day)
                .filter_map(|placement| jobs[placement.job].parts.get(part))
                .sum();
            let arrived: u32 = problem
                .arrivals()
                .iter()
                .filter(|arrival| arrival.part == *part && arrival.day <= day.day)
                .map(|arrival| arrival.count)
                .sum();
            assert!(used <= arrived, "{part}: {used} of {arrived}");
        }
    }
    let rounding = 1e-9 * cost.max(1.0);
    assert!((cost - plan.cost).abs() <= rounding, "cost {} adds up to {cost}", plan.cost);
    assert!(plan.bound >= 0.0 && plan.bound <= plan.cost);
    assert_eq!(plan.status == PlanStatus::Optimal, plan.cost - plan.bound <= 1e-7 * plan.cost);
    cost
}

/// Fewest moved pins and least cost among these, by trying everything.
fn enumerated(problem: &Problem) -> (usize, f64) {
    fn descend(
        problem: &Problem,
        on: &mut Vec<Option<usize>>,
        moved: usize,
        cost: f64,
        best: &mut (usize, f64),
    ) {
        let Some(job) = problem.jobs().get(on.len()) else {
            if (moved, cost) < *best {
                *best = (moved, cost);
            }
            return;
        };
        let moves = |day: Option<Day>| usize::from(job.pinned.is_some() && job.pinned != day);
        on.push(None);
        descend(problem, on, moved + moves(None), cost + job.cost_left_out, best);
        on.pop();
        for (index, day) in problem.days().iter().enumerate() {
            on.push(Some(index));
            if job.may_be_on(day.day) && is_feasible(problem, on) {
                descend(problem, on, moved + moves(Some(day.day)), cost + job.cost_on(day.day), best);
            }
            on.pop();
        }
    }
    let mut best = (usize::MAX, f64::INFINITY);
    descend(problem, &mut Vec::new(), 0, 0.0, &mut best);
    best
}

fn is_feasible(problem: &Problem, on: &[Option<usize>]) -> bool {
    let jobs = problem.jobs();
    problem.days().iter().enumerate().all(|(index, day)| {
        let here: Vec<usize> = (0..on.len()).filter(|&job| on[job] == Some(index)).collect();
        let minutes = true_minutes(problem, &here);
        let parts = jobs.iter().flat_map(|job| job.parts.keys()).all(|part| {
            let used: u32 = (0..on.len())
                .filter(|&job| on[job].is_some_and(|at| at <= index))
                .filter_map(|job| jobs[job].parts.get(part))
                .sum();
            let arrivals = problem.arrivals().iter();
            let arrived: u32 = arrivals
                .filter(|arrival| arrival.part == *part && arrival.day <= day.day)
                .map(|arrival| arrival.count)
                .sum();
            used <= arrived
        });
        minutes <= day.minutes + 1e-9 && parts
    })
}

prop_compose! {
    fn any_job(index: usize)(
        minutes in prop_oneof![(1..9_u32).prop_map(|m| f64::from(m) * 10.0), 0.0..70.0],
        parts in prop::collection::btree_map("[ab]", 0..3_u32, 0..3),
        earliest in prop::option::weighted(0.4, -2..8_i32),
        due in -2..9_i32,
        early in prop_oneof![Just(0.0), Just(1.0), 0.0..3.0],
        late in prop_oneof![Just(0.0), Just(2.0), 0.0..9.0],
        left_out in prop_oneof![Just(0.0), Just(7.0), 0.0..40.0, Just(1e9)],
        pinned in prop::option::weighted(0.3, 0..7_i32),
        bike in prop::option::weighted(0.6, "[xy]"),
        away in prop::collection::vec((0..7_i32, 0..3_i32), 0..2),
    ) -> Job {
        Job {
            id: format!("j{index}"),
            minutes,
            bike,
            parts,
            earliest: earliest.map(Day),
            away: away.into_iter().map(|(first, days)| (Day(first), Day(first + days))).collect(),
            due: Day(due),
            cost_early_per_day: early,
            cost_late_per_day: late,
            cost_left_out: left_out,
            pinned: pinned.map(Day),
        }
    }
}

fn any_problem(most_jobs: usize, most_days: usize) -> impl Strategy<Value = Problem> {
    let jobs = (0..=most_jobs).prop_flat_map(|count| (0..count).map(any_job).collect::<Vec<_>>());
    let days =
        prop::collection::btree_map(0..7_i32, prop_oneof![Just(0.0), Just(60.0), 0.0..150.0], 0..=most_days);
    let arrivals = prop::collection::vec(("[ab]", -2..8_i32, 0..3_u32), 0..5);
    (days, arrivals, jobs).prop_map(|(days, arrivals, jobs)| {
        let days = days.into_iter().map(|(day, minutes)| BenchDay { day: Day(day), minutes }).collect();
        let arrivals =
            arrivals.into_iter().map(|(part, day, count)| Arrival { part, day: Day(day), count }).collect();
        Problem::new(days, arrivals, jobs).expect("all numbers are legal")
    })
}

/// The same with ten minutes of setting up, and no job shorter than that.
fn with_setup(problem: &Problem) -> Problem {
    let jobs =
        problem.jobs().iter().map(|job| Job { minutes: job.minutes.max(10.0), ..job.clone() }).collect();
    let problem = Problem::new(problem.days().to_vec(), problem.arrivals().to_vec(), jobs).expect("legal");
    problem.with_setup_minutes(10.0).expect("every job is long enough")
}

fn without_pins(problem: &Problem) -> Problem {
    let jobs = problem.jobs().iter().map(|job| Job { pinned: None, ..job.clone() }).collect();
    Problem::new(problem.days().to_vec(), problem.arrivals().to_vec(), jobs).expect("was legal")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn small_plans_are_the_best_there_are(problem in any_problem(6, 4)) {
        let problem = without_pins(&problem);
        let plan = plan(&problem);
        let cost = checked_cost(&problem, &plan);
        let (_, least) = enumerated(&problem);
        let rounding = 1e-7 * least.max(1e-9);
        prop_assert!(plan.bound <= least + rounding, "bound {} above {least}", plan.bound);
        prop_assert!(cost >= least - rounding);
        prop_assert!(plan.status != PlanStatus::Optimal || cost <= least + rounding, "{cost}, best {least}");
        prop_assert!(cost <= 1.005 * least + rounding, "{cost}, best {least}");
    }

    #[test]
    fn jobs_of_one_bike_set_up_once(problem in any_problem(5, 4)) {
        let problem = with_setup(&without_pins(&problem));
        let plan = plan(&problem);
        let cost = checked_cost(&problem, &plan);
        let (_, least) = enumerated(&problem);
        let rounding = 1e-7 * least.max(1e-9);
        prop_assert!(plan.bound <= least + rounding, "bound {} above {least}", plan.bound);
        prop_assert!(cost >= least - rounding);
        // No proof that it is the best, but on problems this small it nearly always is.
        prop_assert!(cost <= 1.25 * least + rounding, "{cost}, best {least}");
    }

    #[test]
    fn pinned_jobs_move_only_when_they_must(problem in any_problem(5, 3)) {
        let plan = plan(&problem);
        checked_cost(&problem, &plan);
        let (moved, least) = enumerated(&problem);
        prop_assert_eq!(plan.moved.len(), moved);
        if moved == 0 {
            prop_assert!(plan.bound <= least * (1.0 + 1e-7) + 1e-9);
            prop_assert!(plan.cost >= least * (1.0 - 1e-7) - 1e-9);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn larger_plans_keep_every_limit_and_are_repeatable(problem in any_problem(40, 7)) {
        let first = plan(&problem);
        checked_cost(&problem, &first);
        prop_assert_eq!(&first, &plan(&problem));
    }
}

#[test]
fn empty_problems_have_empty_plans() {
    let empty = plan(&Problem::new(vec![], vec![], vec![]).expect("legal"));
    assert_eq!((empty.status, empty.cost, empty.bound), (PlanStatus::Optimal, 0.0, 0.0));
    assert!(empty.cost.is_sign_positive());
    let no_days = Problem::new(vec![], vec![], vec![job("a", 30.0, 1)]).expect("legal");
    assert_eq!(plan(&no_days).left_out, [0]);
    let no_jobs = Problem::new(days(&[(1, 100.0)]), vec![], vec![]).expect("legal");
    assert_eq!(plan(&no_jobs).placements, []);
}

#[test]
fn shortages_name_the_limit_and_the_amount() {
    let mut needs_part = job("part", 10.0, 2);
    needs_part.parts.insert("chain-8s".to_owned(), 2);
    let mut too_late = job("later", 10.0, 2);
    too_late.earliest = Some(Day(9));
    let jobs = vec![job("long", 130.0, 1), needs_part, too_late];
    let arrivals = vec![Arrival { part: "chain-8s".to_owned(), day: Day(0), count: 1 }];
    let problem = Problem::new(days(&[(1, 100.0), (2, 100.0)]), arrivals, jobs).expect("legal");
    let plan = plan(&problem);
    assert_eq!(plan.left_out, [0, 1, 2]);
    assert_eq!(
        plan.short_of,
        [
            Shortage::Length { job: 0, day: Day(1), minutes: 30.0 },
            Shortage::Earliest { job: 2, day: Day(9), days: 7 },
            Shortage::Part { part: "chain-8s".to_owned(), day: Day(2), count: 1, jobs: vec![1] },
        ]
    );
}

#[test]
fn a_job_longer_than_the_days_it_may_be_on_is_not_counted_as_their_minutes() {
    let mut late = job("late", 80.0, 1);
    late.earliest = Some(Day(2));
    let jobs = vec![late, job("fits", 60.0, 1), job("crowded out", 60.0, 1)];
    let problem = Problem::new(days(&[(1, 90.0), (2, 70.0)]), Vec::new(), jobs).expect("legal");
    let plan = plan(&problem);
    assert_eq!(plan.left_out, [0]);
    assert_eq!(
        plan.short_of,
        [
            Shortage::Length { job: 0, day: Day(2), minutes: 10.0 },
            Shortage::Minutes { day: Day(1), minutes: 30.0, jobs: vec![2] },
        ]
    );
}

#[test]
fn three_pins_and_room_for_two_move_one() {
    let mut jobs = vec![job("a", 50.0, 1), job("b", 50.0, 1), job("c", 50.0, 1)];
    for job in &mut jobs {
        job.pinned = Some(Day(1));
    }
    jobs[1].cost_late_per_day = 0.5;
    let problem = Problem::new(days(&[(1, 100.0), (2, 100.0)]), vec![], jobs).expect("legal");
    let plan = plan(&problem);
    checked_cost(&problem, &plan);
    assert_eq!(plan.moved.len(), 1);
    assert!(plan.left_out.is_empty());
}

#[test]
fn refusals_name_place_and_field() {
    let twice = Problem::new(vec![], vec![], vec![job("a", 1.0, 1), job("a", 1.0, 1)]);
    assert_eq!(twice, Err(ProblemError::JobTwice { index: 1, first: 0, id: "a".to_owned() }));
    let day_twice = Problem::new(days(&[(4, 1.0), (4, 2.0)]), vec![], vec![]);
    assert_eq!(day_twice, Err(ProblemError::DayTwice { index: 1, first: 0, day: Day(4) }));
    let negative = Problem::new(vec![], vec![], vec![job("a", -1.0, 1)]).expect_err("negative");
    assert_eq!(
        negative.to_string(),
        "jobs[0].minutes (id \"a\"): job minutes is -1 minutes, allowed 0 to 1000000 minutes"
    );
    let not_a_number =
        Problem::new(vec![], vec![], vec![Job { cost_left_out: f64::NAN, ..job("a", 1.0, 1) }]);
    assert!(not_a_number.is_err());
}

#[test]
fn two_jobs_of_one_bike_fit_where_two_of_two_bikes_do_not() {
    let two = |bikes: [&str; 2]| {
        let jobs = ["a", "b"]
            .iter()
            .zip(bikes)
            .map(|(id, bike)| Job { bike: Some(bike.to_owned()), ..job(id, 30.0, 1) });
        let problem = Problem::new(days(&[(1, 50.0)]), vec![], jobs.collect()).expect("legal");
        plan(&problem.with_setup_minutes(10.0).expect("long enough"))
    };
    assert!(two(["041", "041"]).left_out.is_empty());
    let apart = two(["041", "042"]);
    assert_eq!(
        (apart.left_out.len(), &apart.short_of[..]),
        (1, &[Shortage::Minutes { day: Day(1), minutes: 10.0, jobs: apart.left_out.clone() }][..])
    );
    let short = Problem::new(
        vec![],
        vec![],
        vec![
            Job { bike: Some("041".to_owned()), ..job("a", 5.0, 1) },
            Job { bike: Some("041".to_owned()), ..job("b", 30.0, 1) },
        ],
    )
    .expect("legal");
    assert!(matches!(short.with_setup_minutes(10.0), Err(ProblemError::SetUp { index: 0, .. })));
}

/// Costs from a thousandth to a thousand million, on days that are nearly full.
fn far_apart(seed: u64) -> Problem {
    let mut state = seed + 1;
    let mut unit = || {
        state = state * 48_271 % 2_147_483_647;
        state as f64 / 2_147_483_647.0
    };
    let jobs: Vec<Job> = (0..60)
        .map(|at| {
            let minutes = 15.0 + 5.0 * (16.0 * unit()).floor();
            let due = (14.0 * unit()) as i32;
            let early = 1e-3 * (0.1 + unit());
            let late = 1e5 * (1.0 + 5.0 * unit());
            // The stream is one further: the seeds are those that were found to matter with it.
            unit();
            Job {
                cost_early_per_day: early,
                cost_late_per_day: late,
                cost_left_out: 1e9,
                ..job(&format!("job-{at}"), minutes, due)
            }
        })
        .collect();
    let share = jobs.iter().map(|job| job.minutes).sum::<f64>() / 0.8 / 14.0;
    let list: Vec<(i32, f64)> = (0..14).map(|day| (day, (share * (0.6 + 0.8 * unit())).floor())).collect();
    Problem::new(days(&list), Vec::new(), jobs).unwrap()
}

#[test]
fn costs_far_apart_still_give_plans_that_can_be_done() {
    for seed in 0..12 {
        let problem = far_apart(seed);
        checked_cost(&problem, &plan(&problem));
    }
}
