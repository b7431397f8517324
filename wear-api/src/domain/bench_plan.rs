//! A bench plan as it was computed: who is on the bench on which day, and what it rests on.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{
    Advice, BenchPlanId, BikeId, Label, Money, PartId, PartModelId, Place, PlanAssumption, PlanReason,
    Position, Timestamp,
};

/// Days from–to, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlanWindow {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
}

/// One part to be swapped while the bike is on the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VisitTask {
    /// Where on the bike.
    pub place: String,
    /// Which of several equal places.
    pub position: u8,
    /// The part that comes off.
    pub part_id: PartId,
    /// Model of the part that goes on, where the old one's is known.
    pub part_model_id: Option<PartModelId>,
    /// What people call the model.
    pub part_model: Option<String>,
    /// Why.
    pub reason: PlanReason,
}

/// For what a worn part waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WaitsFor {
    /// The new part isn't to be had in time.
    Part,
    /// A day that is long enough for all that the bike needs.
    Day,
}

/// A worn part that a visit leaves on, so that the chain needn't wait for it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaitingPart {
    /// The swap that is put off.
    pub task: VisitTask,
    /// Why it is put off.
    pub waits_for: WaitsFor,
}

/// One bike's turn on the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Visit {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: String,
    /// What is done; the chain comes first.
    pub tasks: Vec<VisitTask>,
    /// What is worn and stays on.
    #[serde(default)]
    pub waiting: Vec<WaitingPart>,
    /// Minutes on the bench, setting up once.
    pub minutes: u32,
    /// Minutes saved by setting up once.
    pub setup_minutes_saved: u32,
    /// The day on which it costs least.
    pub due: NaiveDate,
    /// The day of the plan; none when it is left out.
    pub date: Option<NaiveDate>,
    /// The day that an accepted plan promised.
    pub pinned: Option<NaiveDate>,
    /// Whether somebody chose its day; else a plan did.
    #[serde(default)]
    pub by_hand: bool,
    /// Life thrown away for each day before `due`, minor units.
    pub cost_early_per_day_minor: f64,
    /// Risk and knock-on for each day after `due`, minor units.
    pub cost_late_per_day_minor: f64,
    /// Cost of being left out of this plan, minor units.
    pub cost_left_out_minor: f64,
    /// What it costs as planned, minor units.
    pub cost_minor: f64,
}

/// A day of the bench and what it is used for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedDay {
    /// The date.
    pub date: NaiveDate,
    /// Minutes that the bench works.
    pub minutes: u32,
    /// Minutes used.
    pub minutes_used: u32,
    /// Who is on.
    pub visits: Vec<Visit>,
}

/// What a constraint is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ConstraintKind {
    /// Minutes of a bench day.
    Minutes,
    /// The length of the longest bench day.
    Length,
    /// Parts that have arrived.
    Part,
    /// Days on which the bike is not away.
    Away,
    /// Days on which the bench works.
    Days,
}

/// What late or left-out bikes would have needed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShortOf {
    /// Of what there is too little.
    pub constraint: ConstraintKind,
    /// The day by which, where it is one day's.
    pub date: Option<NaiveDate>,
    /// The part model, where it is parts.
    pub part_model_id: Option<PartModelId>,
    /// How many minutes or parts are missing.
    pub missing: f64,
    /// Labels of the bikes that are late or left out for it.
    pub bikes: Vec<String>,
    /// What people call the part model, where it is parts.
    #[serde(default)]
    pub part_model: Option<String>,
    /// All of that in a sentence, as plans of an earlier version were stored with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub message: Option<String>,
}

/// A bike that an accepted plan had on another day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MovedVisit {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: String,
    /// The promised day.
    pub from: NaiveDate,
    /// The new day; none when it is left out.
    pub to: Option<NaiveDate>,
    /// Why.
    pub reason: PlanReason,
}

/// A bike that is not planned, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotPlanned {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: String,
    /// Why.
    pub reason: PlanReason,
}

/// A bike whose chain may have to come off before the plan's last day, which a reading decides.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeasureFirst {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: String,
    /// By when the reading pays.
    pub by: NaiveDate,
    /// Why.
    pub reason: PlanReason,
}

/// Minutes asked for against minutes there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct BenchLoad {
    /// Minutes of all visits due in the window.
    pub minutes_needed: u32,
    /// Minutes of all bench days.
    pub minutes_available: u32,
    /// Minutes needed beyond those available.
    pub minutes_over: u32,
}

/// What was computed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanResult {
    /// Is no plan cheaper, up to rounding? Otherwise none is below the bound.
    pub is_optimal: bool,
    /// Currency of the costs.
    pub currency: String,
    /// Cost of the plan, minor units.
    pub cost_minor: f64,
    /// Proven lower bound on the cost of any plan that keeps the same promises, minor units.
    pub bound_minor: f64,
    /// The bench days in order.
    pub days: Vec<PlannedDay>,
    /// Who isn't on any day.
    pub left_out: Vec<Visit>,
    /// What late and left-out bikes would have needed.
    pub short_of: Vec<ShortOf>,
    /// Bikes that an accepted plan had on another day.
    pub moved: Vec<MovedVisit>,
    /// Bikes that someone has to look at first.
    pub not_planned: Vec<NotPlanned>,
    /// Bikes that are measured before they are given a day.
    #[serde(default)]
    pub to_measure: Vec<MeasureFirst>,
    /// Need against capacity.
    pub load: BenchLoad,
    /// The plan in sentences, as plans of an earlier version were stored with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub summary: Vec<String>,
    /// What was assumed for want of data.
    pub assumed: Vec<PlanAssumption>,
}

/// A plan.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchPlan {
    /// Its id.
    pub id: BenchPlanId,
    /// The days it is for.
    pub window: PlanWindow,
    /// When it was computed.
    pub computed_at: Timestamp,
    /// When it was accepted; none while it is a proposal.
    pub accepted_at: Option<Timestamp>,
    /// What was computed.
    pub result: PlanResult,
}

/// A promise of an accepted plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BenchPin {
    /// The chain that comes off.
    pub part_id: PartId,
    /// Its bike.
    pub bike_id: BikeId,
    /// The day.
    pub date: NaiveDate,
    /// Whether somebody chose it; else a plan did.
    pub by_hand: bool,
}

wear_core::vocabulary! {
    /// Which of the workshop's plans is asked for.
    PlanState, "state" {
        /// The one accepted last.
        Accepted = "accepted",
        /// The one computed last that isn't accepted.
        Proposed = "proposed",
    }
}

/// A bike that a plan looks at, with its outlook as computed last.
#[derive(Debug, Clone, PartialEq)]
pub struct DueOutlook {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: Label,
    /// What to do about it.
    pub advice: Advice,
    /// The whole outlook.
    pub payload: serde_json::Value,
}

/// A part that is on a bike now.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedPart {
    /// The bike.
    pub bike_id: BikeId,
    /// The part.
    pub part_id: PartId,
    /// Where on the bike.
    pub place: Place,
    /// Which of several equal places.
    pub position: Position,
    /// Its model, where it is known.
    pub model_id: Option<PartModelId>,
    /// What people call the model.
    pub model_name: Option<Label>,
    /// Price of the model.
    pub price: Option<Money>,
}
