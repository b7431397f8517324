//! `plan`: a bench problem in, a bench plan out, both JSON.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use thiserror::Error;
use wear_core::bench::{
    self, Arrival, BenchDay, Day, Job, Plan, PlanStatus, Problem, ProblemError, Shortage,
};

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
    /// The input is not JSON.
    #[error("the problem is not JSON: {0}")]
    Json(#[source] serde_json::Error),
    /// An object lacks a field or has one that is not known, or is no object at all.
    #[error("{path}: {source}")]
    Shape {
        /// Where: `problem` or, for example, `jobs[3]`.
        path: String,
        /// Which field, and the known ones.
        source: serde_json::Error,
    },
    /// A field has a value of the wrong kind.
    #[error("{path} is {value}, allowed is {allowed}")]
    Field {
        /// The field: for example `jobs[3].due`.
        path: String,
        /// The value as JSON.
        value: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A day is listed twice.
    #[error("days[{index}].date is {date}, as days[{first}].date is; each date is allowed once")]
    DateTwice {
        /// Place of the second.
        index: usize,
        /// Place of the first.
        first: usize,
        /// The date.
        date: NaiveDate,
    },
    /// A number is out of range or a job's id is not unique.
    #[error(transparent)]
    Problem(ProblemError),
}

impl PlanCommandError {
    /// 2 when the input is refused, 1 when reading or writing failed.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Read(_) | Self::Write(_) => 1,
            _ => 2,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawProblem {
    days: Value,
    #[serde(default)]
    arrivals: Value,
    jobs: Value,
    #[serde(default)]
    setup_minutes: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDay {
    date: Value,
    minutes: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawArrival {
    part: Value,
    date: Value,
    count: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawJob {
    id: Value,
    minutes: Value,
    #[serde(default)]
    bike: Value,
    #[serde(default)]
    parts: Value,
    #[serde(default)]
    earliest: Value,
    #[serde(default)]
    away: Value,
    due: Value,
    cost_early_per_day: Value,
    cost_late_per_day: Value,
    cost_left_out: Value,
    #[serde(default)]
    pinned: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawAway {
    from: Value,
    to: Value,
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
    let problem = parse(&text)?;
    let plan = bench::plan(&problem);
    let mut text = serde_json::to_vec(&answer(&problem, &plan)).map_err(PlanCommandError::Json)?;
    text.push(b'\n');
    output.write_all(&text).and_then(|()| output.flush()).map_err(PlanCommandError::Write)
}

fn parse(text: &[u8]) -> Result<Problem, PlanCommandError> {
    let value: Value = serde_json::from_slice(text).map_err(PlanCommandError::Json)?;
    let RawProblem { days, arrivals, jobs, setup_minutes } = shape(value, "problem")?;
    let days = each(days, "days", |value, path| {
        let RawDay { date, minutes } = shape(value, path)?;
        Ok(BenchDay {
            day: date_field(&date, &field(path, "date"))?,
            minutes: number(&minutes, &field(path, "minutes"))?,
        })
    })?;
    let arrivals = match arrivals {
        Value::Null => Vec::new(),
        list => each(list, "arrivals", |value, path| {
            let RawArrival { part, date, count } = shape(value, path)?;
            Ok(Arrival {
                part: text_field(part, &field(path, "part"))?,
                day: date_field(&date, &field(path, "date"))?,
                count: whole(&count, &field(path, "count"))?,
            })
        })?,
    };
    let jobs = each(jobs, "jobs", job)?;
    let setup_minutes = match &setup_minutes {
        Value::Null => 0.0,
        given => number(given, "setup_minutes")?,
    };
    let problem = Problem::new(days, arrivals, jobs);
    problem.and_then(|problem| problem.with_setup_minutes(setup_minutes)).map_err(|error| match error {
        ProblemError::DayTwice { index, first, day } => {
            PlanCommandError::DateTwice { index, first, date: date_of(day) }
        }
        other => PlanCommandError::Problem(other),
    })
}

fn job(value: Value, path: &str) -> Result<Job, PlanCommandError> {
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
    } = shape(value, path)?;
    let parts_path = field(path, "parts");
    let parts: Map<String, Value> = match parts {
        Value::Null => Map::new(),
        Value::Object(parts) => parts,
        other => return Err(wrong(&other, &parts_path, "an object of part names with counts")),
    };
    let parts = parts
        .iter()
        .map(|(part, count)| Ok((part.clone(), whole(count, &field(&parts_path, part))?)))
        .collect::<Result<BTreeMap<_, _>, PlanCommandError>>()?;
    let optional = |value: &Value, name| match value {
        Value::Null => Ok(None),
        value => date_field(value, &field(path, name)).map(Some),
    };
    Ok(Job {
        id: text_field(id, &field(path, "id"))?,
        minutes: number(&minutes, &field(path, "minutes"))?,
        bike: match bike {
            Value::Null => None,
            bike => Some(text_field(bike, &field(path, "bike"))?),
        },
        parts,
        earliest: optional(&earliest, "earliest")?,
        away: match away {
            Value::Null => Vec::new(),
            list => each(list, &field(path, "away"), |value, path| {
                let RawAway { from, to } = shape(value, path)?;
                let to_path = field(path, "to");
                let (from, last) = (date_field(&from, &field(path, "from"))?, date_field(&to, &to_path)?);
                if last < from {
                    Err(wrong(&to, &to_path, "a date not before from"))
                } else {
                    Ok((from, last))
                }
            })?,
        },
        due: date_field(&due, &field(path, "due"))?,
        cost_early_per_day: number(&cost_early_per_day, &field(path, "cost_early_per_day"))?,
        cost_late_per_day: number(&cost_late_per_day, &field(path, "cost_late_per_day"))?,
        cost_left_out: number(&cost_left_out, &field(path, "cost_left_out"))?,
        pinned: optional(&pinned, "pinned")?,
    })
}

fn field(path: &str, name: &str) -> String {
    format!("{path}.{name}")
}

fn wrong(value: &Value, path: &str, allowed: &'static str) -> PlanCommandError {
    PlanCommandError::Field { path: path.to_owned(), value: value.to_string(), allowed }
}

fn shape<T: for<'de> Deserialize<'de>>(value: Value, path: &str) -> Result<T, PlanCommandError> {
    if !value.is_object() {
        return Err(wrong(&value, path, "an object"));
    }
    serde_json::from_value(value).map_err(|source| PlanCommandError::Shape { path: path.to_owned(), source })
}

fn each<T>(
    value: Value,
    path: &str,
    mut parse: impl FnMut(Value, &str) -> Result<T, PlanCommandError>,
) -> Result<Vec<T>, PlanCommandError> {
    match value {
        Value::Array(items) => items
            .into_iter()
            .enumerate()
            .map(|(index, item)| parse(item, &format!("{path}[{index}]")))
            .collect(),
        other => Err(wrong(&other, path, "a list")),
    }
}

fn number(value: &Value, path: &str) -> Result<f64, PlanCommandError> {
    value.as_f64().ok_or_else(|| wrong(value, path, "a number"))
}

fn whole(value: &Value, path: &str) -> Result<u32, PlanCommandError> {
    let number = value.as_f64().filter(|x| x.fract() == 0.0 && (0.0..=1e9).contains(x));
    number.map(|x| x as u32).ok_or_else(|| wrong(value, path, "a whole number from 0 to 1000000000"))
}

fn text_field(value: Value, path: &str) -> Result<String, PlanCommandError> {
    match value {
        Value::String(text) => Ok(text),
        other => Err(wrong(&other, path, "a text")),
    }
}

fn date_field(value: &Value, path: &str) -> Result<Day, PlanCommandError> {
    value
        .as_str()
        .and_then(|text| NaiveDate::parse_from_str(text, "%Y-%m-%d").ok())
        .map(|date| Day(date.num_days_from_ce()))
        .ok_or_else(|| wrong(value, path, "a date as YYYY-MM-DD"))
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

    fn answered(problem: &str) -> Result<Value, PlanCommandError> {
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
            ("\"minutes\":100", "\"minutes\":\"100\"", "days[1].minutes is \"100\", allowed is a number"),
            (
                "\"minutes\":100",
                "\"minutes\":-5",
                "days[1].minutes: bench minutes is -5 minutes, allowed 0 to",
            ),
            ("2026-12-01\",\n", "2026-13-01\",\n", "jobs[0].due is \"2026-13-01\", allowed is a date"),
            (
                "\"date\":\"2026-12-02\"",
                "\"date\":\"2026-12-01\"",
                "days[1].date is 2026-12-01, as days[0].date",
            ),
            ("\"id\":\"b\"", "\"id\":\"a\"", "jobs[1].id: \"a\" is the id of jobs[0] too"),
            ("\"id\":\"b\"", "\"name\":\"b\"", "jobs[1]: unknown field `name`"),
            ("\"id\":\"b\",", "", "jobs[1]: missing field `id`"),
            (
                "\"chain-8s\":1}",
                "\"chain-8s\":1.5}",
                "jobs[0].parts.chain-8s is 1.5, allowed is a whole number",
            ),
            ("\"count\":1", "\"count\":-1", "arrivals[0].count is -1, allowed is a whole number"),
            ("\"cost_late_per_day\":4", "\"cost_late_per_day\":null", "jobs[1].cost_late_per_day is null"),
            ("\"cost_left_out\":40}]", "\"cost_left_out\":40}", "the problem is not JSON"),
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
