//! `plan`: a bench problem in, a bench plan out, both JSON.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};

use chrono::{Datelike, NaiveDate};
use serde::de::{Error as _, Unexpected};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;
use wear_core::bench::{
    self, Arrival, BenchDay, Day, Job, Plan, PlanStatus, Problem, ProblemError, Shortage,
};

use crate::domain::Invalid;
use crate::input::{JsonError, Place, WrongField, parse_json};

/// Why the command gave no plan.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PlanCommandError {
    /// The input could not be read.
    #[error("cannot read the problem: {0}")]
    Read(#[source] io::Error),
    /// The plan could not be written.
    #[error("cannot write the plan: {0}")]
    Write(#[source] io::Error),
    /// The input is not JSON, or a field of it is wrong.
    #[error("{0}")]
    Problem(WrongField),
}

impl PlanCommandError {
    /// 2 when the input is refused, 1 when reading or writing failed.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Read(_) | Self::Write(_) => 1,
            Self::Problem(_) => 2,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawProblem {
    days: Vec<RawDay>,
    arrivals: Option<Vec<RawArrival>>,
    jobs: Vec<RawJob>,
    setup_minutes: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDay {
    date: RawDate,
    minutes: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawArrival {
    part: String,
    date: RawDate,
    count: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawJob {
    id: String,
    minutes: f64,
    bike: Option<String>,
    parts: Option<BTreeMap<String, u32>>,
    earliest: Option<RawDate>,
    away: Option<Vec<RawAway>>,
    due: RawDate,
    cost_early_per_day: f64,
    cost_late_per_day: f64,
    cost_left_out: f64,
    pinned: Option<RawDate>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawAway {
    from: RawDate,
    to: RawDate,
}

#[derive(Clone, Copy)]
struct RawDate(NaiveDate);

impl RawDate {
    fn day(self) -> Day {
        Day(self.0.num_days_from_ce())
    }
}

impl<'de> Deserialize<'de> for RawDate {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        NaiveDate::parse_from_str(&text, "%Y-%m-%d")
            .map(Self)
            .map_err(|_| D::Error::invalid_value(Unexpected::Str(&text), &"a date as YYYY-MM-DD"))
    }
}

#[derive(Serialize)]
struct Answer<'p> {
    status: &'static str,
    cost: f64,
    bound: f64,
    assignments: Vec<Assignment<'p>>,
    left_out: Vec<&'p str>,
    short_of: Vec<ShortOf<'p>>,
    moved: Vec<Moved<'p>>,
}

#[derive(Serialize)]
struct Assignment<'p> {
    id: &'p str,
    date: NaiveDate,
}

#[derive(Serialize)]
struct Moved<'p> {
    id: &'p str,
    from: NaiveDate,
    to: Option<NaiveDate>,
}

#[derive(Serialize)]
#[serde(tag = "constraint", rename_all = "snake_case")]
enum ShortOf<'p> {
    Minutes { date: NaiveDate, minutes: f64, jobs: Vec<&'p str> },
    Part { part: &'p str, date: NaiveDate, count: u64, jobs: Vec<&'p str> },
    Earliest { id: &'p str, date: NaiveDate, days: i64 },
    Length { id: &'p str, date: NaiveDate, minutes: f64 },
    Away { id: &'p str },
}

/// Reads a problem, plans it, writes the plan and a line end.
///
/// `arrivals`, `parts`, `earliest`, `away` (stretches `from`–`to`, both days included), `bike`, `pinned` and the
/// problem's `setup_minutes` (part of each job's minutes; jobs of one bike on one day take them once) may be left out
/// or null; everything else is needed, and
/// unknown fields are refused. Days may come in any order, each date once; arrivals of one part add up; a
/// part that no arrival names is not there.
///
/// # Errors
/// [`PlanCommandError`] naming the field, the value and what is allowed.
pub fn run(mut input: impl Read, mut output: impl Write) -> Result<(), PlanCommandError> {
    let mut text = Vec::new();
    input.read_to_end(&mut text).map_err(PlanCommandError::Read)?;
    let problem = parse(&text).map_err(PlanCommandError::Problem)?;
    let plan = bench::plan(&problem);
    let written = serde_json::to_vec(&answer(&problem, &plan)).map_err(io::Error::from);
    written
        .and_then(|mut text| {
            text.push(b'\n');
            output.write_all(&text)
        })
        .and_then(|()| output.flush())
        .map_err(PlanCommandError::Write)
}

fn parse(text: &[u8]) -> Result<Problem, WrongField> {
    let RawProblem { days, arrivals, jobs, setup_minutes } =
        parse_json(text).map_err(JsonError::into_wrong_field)?;
    let days = days.into_iter().map(|RawDay { date, minutes }| BenchDay { day: date.day(), minutes });
    let arrivals = arrivals.unwrap_or_default().into_iter();
    let arrivals = arrivals.map(|RawArrival { part, date, count }| Arrival { part, day: date.day(), count });
    let jobs = jobs.into_iter().enumerate().map(|(index, raw)| job(index, raw));
    Problem::new(days.collect(), arrivals.collect(), jobs.collect::<Result<_, _>>()?)
        .and_then(|problem| problem.with_setup_minutes(setup_minutes.unwrap_or(0.0)))
        .map_err(wrong_field)
}

fn job(index: usize, raw: RawJob) -> Result<Job, WrongField> {
    let RawJob {
        id,
        minutes,
        bike,
        parts,
        earliest,
        away,
        due,
        cost_early_per_day,
        cost_late_per_day,
        cost_left_out,
        pinned,
    } = raw;
    let away = away.unwrap_or_default().into_iter().enumerate().map(|(stretch, RawAway { from, to })| {
        if to.0 < from.0 {
            return Err(wrong(
                format!("/jobs/{index}/away/{stretch}/to"),
                format!("is {}", to.0),
                format!("a date from {} on", from.0),
            ));
        }
        Ok((from.day(), to.day()))
    });
    Ok(Job {
        id,
        minutes,
        bike,
        parts: parts.unwrap_or_default(),
        earliest: earliest.map(RawDate::day),
        away: away.collect::<Result<_, _>>()?,
        due: due.day(),
        cost_early_per_day,
        cost_late_per_day,
        cost_left_out,
        pinned: pinned.map(RawDate::day),
    })
}

fn wrong(pointer: String, message: String, allowed: impl Into<String>) -> WrongField {
    WrongField { place: Place::Body(pointer), message, allowed: allowed.into() }
}

/// What the planner refuses, at the field where it stands.
fn wrong_field(error: ProblemError) -> WrongField {
    match error {
        ProblemError::BenchDay { index, field, source } => {
            Invalid::from(source).at(format!("/days/{index}/{field}")).into()
        }
        ProblemError::Arrival { index, field, source, .. } => {
            Invalid::from(source).at(format!("/arrivals/{index}/{field}")).into()
        }
        ProblemError::Job { index, field, source, .. } => {
            Invalid::from(source).at(format!("/jobs/{index}/{field}")).into()
        }
        ProblemError::SetUpRange(source) => Invalid::from(source).at("/setup_minutes").into(),
        ProblemError::DayTwice { index, first, day } => wrong(
            format!("/days/{index}/date"),
            format!("is {}, as /days/{first}/date is", date_of(day)),
            "each date once",
        ),
        ProblemError::JobTwice { index, first, id } => {
            wrong(format!("/jobs/{index}/id"), format!("is {id:?}, as /jobs/{first}/id is"), "each id once")
        }
        ProblemError::SetUp { setup, index, minutes, .. } => wrong(
            "/setup_minutes".to_owned(),
            format!("is {setup}, and /jobs/{index}/minutes is {minutes}"),
            "at most the minutes of each job that shares its bike",
        ),
        ProblemError::NoName { list, index, field } => {
            wrong(format!("/{list}/{index}/{field}"), "is empty".to_owned(), "any other text")
        }
        other => wrong(String::new(), other.to_string(), "a problem that can be planned"),
    }
}

/// Every [`Day`] here comes from a date, so it is one again.
fn date_of(day: Day) -> NaiveDate {
    NaiveDate::from_num_days_from_ce_opt(day.0).unwrap_or_default()
}

fn answer<'p>(problem: &'p Problem, plan: &'p Plan) -> Answer<'p> {
    let jobs = problem.jobs();
    let id = |job: usize| jobs[job].id.as_str();
    let ids = |list: &[usize]| list.iter().map(|&job| id(job)).collect::<Vec<_>>();
    let Plan { status, cost, bound, placements, left_out, short_of, moved, .. } = plan;
    Answer {
        status: match status {
            PlanStatus::Optimal => "optimal",
            PlanStatus::WithinGap => "within_gap",
        },
        cost: *cost,
        bound: *bound,
        assignments: placements
            .iter()
            .map(|placement| Assignment { id: id(placement.job), date: date_of(placement.day) })
            .collect(),
        left_out: ids(left_out),
        short_of: short_of
            .iter()
            .map(|short| match short {
                Shortage::Minutes { day, minutes, jobs } => {
                    ShortOf::Minutes { date: date_of(*day), minutes: *minutes, jobs: ids(jobs) }
                }
                Shortage::Part { part, day, count, jobs } => {
                    ShortOf::Part { part, date: date_of(*day), count: *count, jobs: ids(jobs) }
                }
                Shortage::Earliest { job, day, days } => {
                    ShortOf::Earliest { id: id(*job), date: date_of(*day), days: *days }
                }
                Shortage::Length { job, day, minutes } => {
                    ShortOf::Length { id: id(*job), date: date_of(*day), minutes: *minutes }
                }
                Shortage::Away { job } => ShortOf::Away { id: id(*job) },
            })
            .collect(),
        moved: moved
            .iter()
            .filter_map(|&job| {
                let to = placements.iter().find(|placement| placement.job == job);
                let from = date_of(jobs[job].pinned?);
                Some(Moved { id: id(job), from, to: to.map(|placement| date_of(placement.day)) })
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PROBLEM: &str = r#"{"days":[{"date":"2026-12-02","minutes":60},{"date":"2026-12-01","minutes":100}],
        "arrivals":[{"part":"chain-8s","date":"2026-11-20","count":1}],
        "jobs":[{"id":"a","minutes":60,"parts":{"chain-8s":1},"earliest":"2026-12-01","due":"2026-12-01",
                 "cost_early_per_day":1,"cost_late_per_day":2.5,"cost_left_out":40},
                {"id":"b","minutes":60,"due":"2026-12-01",
                 "cost_early_per_day":1,"cost_late_per_day":4,"cost_left_out":40}]}"#;

    fn answered(problem: &str) -> Result<serde_json::Value, PlanCommandError> {
        let mut output = Vec::new();
        run(problem.as_bytes(), &mut output)?;
        Ok(serde_json::from_slice(&output).expect("the answer is JSON"))
    }

    #[test]
    fn the_answer_has_the_fields_of_the_contract() {
        let answer = answered(PROBLEM).expect("a plan");
        let expected = serde_json::json!({
            "status": "optimal", "cost": 2.5, "bound": 2.5,
            "assignments": [{"id": "b", "date": "2026-12-01"}, {"id": "a", "date": "2026-12-02"}],
            "left_out": [],
            "short_of": [{"constraint": "minutes", "date": "2026-12-01", "minutes": 20.0, "jobs": ["a"]}],
            "moved": [],
        });
        assert_eq!(answer, expected);
    }

    #[test]
    fn jobs_of_one_bike_set_up_once() {
        let both = PROBLEM.replace("\"minutes\":60", "\"minutes\":60,\"bike\":\"041\"");
        let both = both.replace(
            "{\"date\":\"2026-12-02\",\"minutes\":60,\"bike\":\"041\"}",
            "{\"date\":\"2026-12-02\",\"minutes\":60}",
        );
        assert_eq!(answered(&both).expect("a plan")["cost"], 2.5);
        let once = both.replacen("{\"days\"", "{\"setup_minutes\":20,\"days\"", 1);
        assert_eq!(answered(&once).expect("a plan")["cost"], 0.0);
    }

    #[test]
    fn whole_counts_and_what_is_left_out_may_be_written_in_several_ways() {
        let same = PROBLEM.replace("\"count\":1", "\"count\":1.0").replace(
            "\"id\":\"b\"",
            "\"id\":\"b\",\"parts\":null,\"earliest\":null,\"away\":null,\"pinned\":null,\"bike\":null",
        );
        let same = same.replacen("{\"days\"", "{\"setup_minutes\":null,\"days\"", 1);
        assert_eq!(answered(&same).expect("a plan"), answered(PROBLEM).expect("a plan"));
        let none = PROBLEM.replace(
            "\"arrivals\":[{\"part\":\"chain-8s\",\"date\":\"2026-11-20\",\"count\":1}]",
            "\"arrivals\":null",
        );
        assert_eq!(answered(&none).expect("a plan")["left_out"], serde_json::json!(["a"]));
    }

    #[test]
    fn a_pinned_job_stays_and_a_job_that_cannot_is_named() {
        let pinned = PROBLEM.replace(r#""id":"b","#, r#""id":"b","pinned":"2026-12-02","#);
        let answer = answered(&pinned).expect("a plan");
        assert_eq!((&answer["cost"], &answer["moved"]), (&4.0.into(), &serde_json::json!([])));
        let gone = PROBLEM.replace(r#""id":"b","#, r#""id":"b","pinned":"2026-12-24","#);
        let moved = &answered(&gone).expect("a plan")["moved"];
        assert_eq!(moved, &serde_json::json!([{"id": "b", "from": "2026-12-24", "to": "2026-12-01"}]));
    }

    #[test]
    fn what_is_wrong_is_named_with_what_is_allowed() {
        for (from, to, message) in [
            (
                "\"minutes\":100",
                "\"minutes\":\"100\"",
                "/days/1/minutes is string \"100\"; allowed: a number",
            ),
            ("\"minutes\":100", "\"minutes\":-5", "/days/1/minutes is -5; allowed: 0 to 1000000 minutes"),
            (
                "2026-12-01\",\n",
                "2026-13-01\",\n",
                "/jobs/0/due is string \"2026-13-01\"; allowed: a date as YYYY-MM-DD",
            ),
            (
                "\"date\":\"2026-12-02\"",
                "\"date\":\"2026-12-01\"",
                "/days/1/date is 2026-12-01, as /days/0/date is; allowed: each date once",
            ),
            ("\"id\":\"b\"", "\"id\":\"a\"", "/jobs/1/id is \"a\", as /jobs/0/id is; allowed: each id once"),
            ("\"id\":\"b\"", "\"id\":\"\"", "/jobs/1/id is empty; allowed: any other text"),
            (
                "\"id\":\"b\"",
                "\"name\":\"b\"",
                "/jobs/1/name is not a known field: \"name\"; allowed: one of id,",
            ),
            ("\"id\":\"b\",", "", "/jobs/1/id is missing"),
            (
                "\"id\":\"b\"",
                "\"id\":\"b\",\"away\":[{\"from\":\"2026-12-03\",\"to\":\"2026-12-02\"}]",
                "/jobs/1/away/0/to is 2026-12-02; allowed: a date from 2026-12-03 on",
            ),
            (
                "\"chain-8s\":1}",
                "\"chain-8s\":1.5}",
                "/jobs/0/parts/chain-8s is floating point 1.5; allowed: a whole number",
            ),
            ("\"count\":1", "\"count\":-1", "/arrivals/0/count is integer -1; allowed: a whole number"),
            (
                "\"cost_late_per_day\":4",
                "\"cost_late_per_day\":null",
                "/jobs/1/cost_late_per_day is null; allowed: a number",
            ),
            (
                "{\"days\"",
                "{\"setup_minutes\":-1,\"days\"",
                "/setup_minutes is -1; allowed: 0 to 1000000 minutes",
            ),
            (
                "\"cost_left_out\":40}]",
                "\"cost_left_out\":40}",
                "/jobs is not JSON at line 6 column 82: expected `,` or `]`",
            ),
        ] {
            let broken = PROBLEM.replacen(from, to, 1);
            assert_ne!(broken, PROBLEM, "{from}");
            let error = answered(&broken).expect_err(message);
            assert!(error.to_string().starts_with(message), "{error}");
            assert_eq!(error.exit_code(), 2);
        }
        assert!(answered("[]").is_err());
    }
}
