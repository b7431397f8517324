//! Work that waits for the worker.

use chrono::Duration;

use super::{BikeId, JobId, Timestamp, WorkshopId};

wear_core::vocabulary! {
    /// What there is to do.
    JobKind, "job kind" {
        /// Fit the fleet's groups anew.
        CalibrateFleet = "calibrate_fleet",
        /// Score forecasts whose truth has arrived.
        ScoreForecasts = "score_forecasts",
        /// Hold forecasts of kilometres, dates, swaps and skips against what came.
        KeepRecord = "keep_record",
        /// Tell hooks of parts to order and of a record that drifts.
        TellOfFleet = "tell_of_fleet",
        /// Deliver one message to one hook.
        DeliverHook = "deliver_hook",
        /// Send one message of a digest.
        SendDigest = "send_digest",
        /// Compute the bench plan.
        PlanBench = "plan_bench",
    }
}

/// A job to be done. One that waits already with the same kind and key takes on the new payload.
#[derive(Debug, Clone, PartialEq)]
pub struct NewJob<P = ()> {
    /// What there is to do.
    pub kind: JobKind,
    /// Jobs of one workshop with the same kind and key are one job.
    pub key: String,
    /// What the job needs to know.
    pub payload: P,
    /// Not before.
    pub due_at: Timestamp,
    /// When it is asked for.
    pub created_at: Timestamp,
}

/// What finishing a claimed thing did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Finished {
    /// It is done with.
    Cleared,
    /// It was asked for again while it was worked on, and waits again.
    Again,
    /// The lease had ended and someone else has taken over: what was computed is not to be stored.
    Lost,
}

/// A job that this worker holds until its lease ends.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimedJob {
    /// Its id.
    pub id: JobId,
    /// The workshop it is for.
    pub workshop_id: WorkshopId,
    /// What there is to do.
    pub kind: JobKind,
    /// Jobs of one workshop with the same kind and key are one job.
    pub key: String,
    /// What the job needs to know.
    pub payload: serde_json::Value,
    /// How often it was claimed, this time counted: proof that the lease is still ours.
    pub attempts: i64,
    /// Counts the requests for this job: one that came while it ran makes it run again.
    pub sequence: i64,
}

/// A bike whose outlook this worker is to compute before its lease ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClaimedBike {
    /// The workshop.
    pub workshop_id: WorkshopId,
    /// The bike.
    pub bike_id: BikeId,
    /// Counts the events on the bike since it was last clear: one that came while the outlook was
    /// computed keeps the mark.
    pub sequence: i64,
    /// How often it was claimed since it was last clear, this time counted.
    pub attempts: i64,
    /// Since when it has been waiting.
    pub marked_at: Timestamp,
}

/// What waits for the worker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Backlog {
    /// Bikes that wait for a new outlook.
    pub bikes: i64,
    /// How long the first of them has waited, s.
    pub oldest_bike_seconds: f64,
    /// Jobs that are due; e-mails aside, which wait where no mail server is set.
    pub jobs: i64,
    /// How long the first of them has been due, s.
    pub oldest_job_seconds: f64,
    /// Jobs that a worker holds, or that failed and are tried again later; deliveries to hooks aside.
    pub begun: i64,
}

/// How many and for how long to claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Claim {
    /// The present.
    pub now: Timestamp,
    /// After this long another worker may have it.
    pub lease: Duration,
    /// At most so many.
    pub most: i64,
}
