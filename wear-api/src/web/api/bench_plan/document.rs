use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::words;
use crate::domain::{
    self, BenchPlan, ConstraintKind, Place, PlanResult, PlanWindow, PlannedDay, Visit, VisitTask,
    WaitingPart, WaitsFor,
};
use crate::web::schema;

/// Who is on the bench on which day.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchPlan)]
pub(super) struct BenchPlanDocument {
    /// Its id.
    id: Uuid,
    /// First day.
    from: NaiveDate,
    /// Last day.
    to: NaiveDate,
    /// When it was computed.
    computed_at: DateTime<Utc>,
    /// When it was accepted; null while it is a proposal.
    accepted_at: Option<DateTime<Utc>>,
    /// `optimal`: no plan costs less, up to rounding; `within_gap`: none costs less than `bound_minor`.
    #[schema(value_type = schema::PlanStatus)]
    status: &'static str,
    /// Currency of all costs.
    #[schema(example = "EUR", pattern = "^[A-Z]{3}$")]
    currency: String,
    /// Cost of the plan, minor units.
    cost_minor: i64,
    /// Proven lower bound on the cost of any plan that keeps the same promises, minor units.
    bound_minor: i64,
    /// The plan in sentences.
    summary: Vec<String>,
    /// The bench days in order.
    days: Vec<DayDocument>,
    /// Bikes that are due and on no day.
    left_out: Vec<VisitDocument>,
    /// What late and left-out bikes would have needed.
    short_of: Vec<ShortOfDocument>,
    /// Bikes that an accepted plan had on another day.
    moved: Vec<MovedDocument>,
    /// Bikes that someone has to look at first, and bikes promised a later day.
    not_planned: Vec<NotPlannedDocument>,
    /// Bikes whose chain may have to come off before the last day: a reading decides, so they are measured before they
    /// are given a day.
    to_measure: Vec<MeasureFirstDocument>,
    /// Minutes asked for against minutes there are.
    load: LoadDocument,
    /// What was assumed for want of data.
    assumed: Vec<String>,
}

/// A bench day of a plan.
#[derive(Serialize, ToSchema)]
#[schema(as = PlannedDay)]
struct DayDocument {
    /// The date.
    date: NaiveDate,
    /// Minutes that the bench works.
    minutes: u32,
    /// Minutes used.
    minutes_used: u32,
    /// Who is on.
    visits: Vec<VisitDocument>,
}

/// One bike's turn on the bench.
#[derive(Serialize, ToSchema)]
#[schema(as = Visit)]
struct VisitDocument {
    /// The bike.
    bike_id: Uuid,
    /// What people call it.
    label: String,
    /// What is done; the chain comes first.
    tasks: Vec<TaskDocument>,
    /// What is worn and stays on, so that the chain needn't wait for it.
    waiting: Vec<WaitingDocument>,
    /// Minutes on the bench, setting up once.
    minutes: u32,
    /// Minutes saved by setting up once for all tasks.
    setup_minutes_saved: u32,
    /// The day on which it costs least.
    due: NaiveDate,
    /// The day of the plan; null when it is left out.
    date: Option<NaiveDate>,
    /// The day that an accepted plan promised; null when none did.
    pinned: Option<NaiveDate>,
    /// Whether somebody chose the day on the bench's page; else a plan did.
    by_hand: bool,
    /// Life thrown away for each day before `due`, minor units and fractions of them.
    cost_early_per_day_minor: f64,
    /// Risk and knock-on for each day after `due`, minor units and fractions of them.
    cost_late_per_day_minor: f64,
    /// Cost of being left out of this plan, minor units.
    cost_left_out_minor: i64,
    /// What it costs as planned, minor units.
    cost_minor: i64,
}

/// Why the plan treats a bike or a part as it does.
#[derive(Serialize, ToSchema)]
#[schema(as = PlanReason)]
struct WhyDocument {
    /// In words and numbers.
    reason: String,
    /// As a stable word for programs: one of an outlook's, or the plan's own; `said` in plans of an earlier version.
    #[schema(example = "day_too_short")]
    reason_code: String,
    /// The numbers of `reason` by name; empty where it has none.
    #[schema(value_type = Object)]
    reason_parameters: serde_json::Map<String, serde_json::Value>,
}

impl From<domain::PlanReason> for WhyDocument {
    fn from(given: domain::PlanReason) -> Self {
        let (reason_code, reason_parameters) = given.by_code();
        Self { reason: words::reason(given), reason_code, reason_parameters }
    }
}

/// One part to be swapped.
#[derive(Serialize, ToSchema)]
#[schema(as = VisitTask)]
struct TaskDocument {
    /// Where on the bike.
    #[schema(value_type = Place)]
    place: String,
    /// Which of several equal places.
    #[schema(minimum = 0, maximum = 15)]
    position: u8,
    /// The part that comes off.
    part_id: Uuid,
    /// Model of the part that goes on; null when the old one's isn't known.
    part_model_id: Option<Uuid>,
    /// What people call the model.
    part_model: Option<String>,
    #[serde(flatten)]
    why: WhyDocument,
}

/// A worn part that a visit leaves on.
#[derive(Serialize, ToSchema)]
#[schema(as = WaitingPart)]
struct WaitingDocument {
    /// The swap that is put off.
    task: TaskDocument,
    /// For what: the new part, or a day that is long enough for all that the bike needs.
    #[schema(value_type = schema::WaitsFor)]
    waits_for: &'static str,
}

/// What late or left-out bikes would have needed.
#[derive(Serialize, ToSchema)]
#[schema(as = ShortOf)]
struct ShortOfDocument {
    /// Of what there is too little: minutes of a day, parts, days on which the bike isn't away, bench days.
    #[schema(value_type = schema::Constraint)]
    constraint: &'static str,
    /// The day by which, where it is one day's.
    date: Option<NaiveDate>,
    /// The part model, where it is parts.
    part_model_id: Option<Uuid>,
    /// How many minutes, parts or days are missing.
    missing: f64,
    /// Labels of the bikes that are late or left out for it.
    bikes: Vec<String>,
    /// All of that in a sentence.
    message: String,
}

/// A bike that an accepted plan had on another day.
#[derive(Serialize, ToSchema)]
#[schema(as = MovedVisit)]
struct MovedDocument {
    /// The bike.
    bike_id: Uuid,
    /// What people call it.
    label: String,
    /// The promised day.
    from: NaiveDate,
    /// The new day; null when it is left out.
    to: Option<NaiveDate>,
    #[serde(flatten)]
    why: WhyDocument,
}

/// A bike that is not planned, and why.
#[derive(Serialize, ToSchema)]
#[schema(as = NotPlanned)]
struct NotPlannedDocument {
    /// The bike.
    bike_id: Uuid,
    /// What people call it.
    label: String,
    #[serde(flatten)]
    why: WhyDocument,
}

/// A bike that is measured before it is given a day.
#[derive(Serialize, ToSchema)]
#[schema(as = MeasureFirst)]
struct MeasureFirstDocument {
    /// The bike.
    bike_id: Uuid,
    /// What people call it.
    label: String,
    /// By when the reading pays.
    by: NaiveDate,
    #[serde(flatten)]
    why: WhyDocument,
}

/// Minutes asked for against minutes there are.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchLoad)]
struct LoadDocument {
    /// Minutes of all bikes that are due.
    minutes_needed: u32,
    /// Minutes of all bench days.
    minutes_available: u32,
    /// Minutes needed beyond those available.
    minutes_over: u32,
}

impl From<VisitTask> for TaskDocument {
    fn from(task: VisitTask) -> Self {
        let VisitTask { place, position, part_id, part_model_id, part_model, reason } = task;
        let part_model_id = part_model_id.map(domain::PartModelId::uuid);
        Self { place, position, part_id: part_id.uuid(), part_model_id, part_model, why: reason.into() }
    }
}

impl From<WaitingPart> for WaitingDocument {
    fn from(WaitingPart { task, waits_for }: WaitingPart) -> Self {
        let waits_for = match waits_for {
            WaitsFor::Part => "part",
            WaitsFor::Day => "day",
        };
        Self { task: task.into(), waits_for }
    }
}

impl From<Visit> for VisitDocument {
    fn from(visit: Visit) -> Self {
        let Visit {
            bike_id,
            label,
            tasks,
            waiting,
            minutes,
            setup_minutes_saved,
            due,
            date,
            pinned,
            by_hand,
            cost_early_per_day_minor,
            cost_late_per_day_minor,
            cost_left_out_minor,
            cost_minor,
        } = visit;
        Self {
            bike_id: bike_id.uuid(),
            label,
            tasks: tasks.into_iter().map(TaskDocument::from).collect(),
            waiting: waiting.into_iter().map(WaitingDocument::from).collect(),
            minutes,
            setup_minutes_saved,
            due,
            date,
            pinned,
            by_hand,
            cost_early_per_day_minor,
            cost_late_per_day_minor,
            cost_left_out_minor: cost_left_out_minor.round() as i64,
            cost_minor: cost_minor.round() as i64,
        }
    }
}

impl ShortOfDocument {
    fn of(short: domain::ShortOf, window: PlanWindow) -> Self {
        let message = words::shortage(&short, window);
        let domain::ShortOf { constraint, date, part_model_id, part_model: _, missing, bikes, message: _ } =
            short;
        Self {
            constraint: match constraint {
                ConstraintKind::Minutes => "minutes",
                ConstraintKind::Length => "length",
                ConstraintKind::Part => "part",
                ConstraintKind::Away => "away",
                ConstraintKind::Days => "days",
            },
            date,
            part_model_id: part_model_id.map(domain::PartModelId::uuid),
            missing,
            bikes,
            message,
        }
    }
}

impl From<BenchPlan> for BenchPlanDocument {
    fn from(plan: BenchPlan) -> Self {
        let summary = words::summary(&plan);
        let BenchPlan { id, window, computed_at, accepted_at, result } = plan;
        let PlanWindow { from, to } = window;
        let PlanResult {
            is_optimal,
            currency,
            cost_minor,
            bound_minor,
            days,
            left_out,
            short_of,
            moved,
            not_planned,
            to_measure,
            load,
            summary: _,
            assumed,
        } = result;
        let domain::BenchLoad { minutes_needed, minutes_available, minutes_over } = load;
        Self {
            id: id.uuid(),
            from,
            to,
            computed_at: computed_at.datetime(),
            accepted_at: accepted_at.map(domain::Timestamp::datetime),
            status: if is_optimal { "optimal" } else { "within_gap" },
            currency,
            cost_minor: cost_minor.round() as i64,
            bound_minor: bound_minor.floor() as i64,
            summary,
            days: days
                .into_iter()
                .map(|PlannedDay { date, minutes, minutes_used, visits }| DayDocument {
                    date,
                    minutes,
                    minutes_used,
                    visits: visits.into_iter().map(VisitDocument::from).collect(),
                })
                .collect(),
            left_out: left_out.into_iter().map(VisitDocument::from).collect(),
            short_of: short_of.into_iter().map(|short| ShortOfDocument::of(short, window)).collect(),
            moved: moved
                .into_iter()
                .map(|domain::MovedVisit { bike_id, label, from, to, reason }| MovedDocument {
                    bike_id: bike_id.uuid(),
                    label,
                    from,
                    to,
                    why: reason.into(),
                })
                .collect(),
            not_planned: not_planned
                .into_iter()
                .map(|domain::NotPlanned { bike_id, label, reason }| NotPlannedDocument {
                    bike_id: bike_id.uuid(),
                    label,
                    why: reason.into(),
                })
                .collect(),
            to_measure: to_measure
                .into_iter()
                .map(|domain::MeasureFirst { bike_id, label, by, reason }| MeasureFirstDocument {
                    bike_id: bike_id.uuid(),
                    label,
                    by,
                    why: reason.into(),
                })
                .collect(),
            load: LoadDocument { minutes_needed, minutes_available, minutes_over },
            assumed: assumed.into_iter().map(words::assumption).collect(),
        }
    }
}
