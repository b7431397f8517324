use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;
use wear_core::drivetrain::symptom::Lead;

use crate::domain::{NewReport, Once, Report, Voiding};
use crate::service::symptoms::Heard;
use crate::web::api::outlooks::OutlookDocument;
use crate::web::schema;

/// What a rider reported.
#[derive(Serialize, ToSchema)]
#[schema(as = SymptomReport)]
pub(super) struct SymptomDocument {
    /// Its id.
    id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// When it was reported.
    reported_at: DateTime<Utc>,
    /// What.
    #[schema(value_type = schema::Symptom)]
    symptom: &'static str,
    /// The cog that skips; null when none is named.
    cog_teeth: Option<u16>,
    /// Whether the mechanic saw it with a new chain.
    new_chain: bool,
    /// A remark; null when there is none.
    note: Option<String>,
    /// Since when it doesn't count; null when it does.
    voided_at: Option<DateTime<Utc>>,
    /// Why it doesn't count.
    voided_reason: Option<String>,
}

impl From<Report> for SymptomDocument {
    fn from(Report { facts, voided }: Report) -> Self {
        let NewReport { id, bike_id, reported_at, symptom, cog, new_chain, note } = facts;
        let (voided_at, voided_reason) = match voided {
            Some(Voiding { at, reason }) => (Some(at.datetime()), Some(reason.to_string())),
            None => (None, None),
        };
        Self {
            id: id.uuid(),
            bike_id: bike_id.uuid(),
            reported_at: reported_at.datetime(),
            symptom: symptom.as_str(),
            cog_teeth: cog.map(|cog| cog.get()),
            new_chain,
            note: note.map(|note| note.to_string()),
            voided_at,
            voided_reason,
        }
    }
}

/// A cause to look at.
#[derive(Serialize, ToSchema)]
#[schema(as = Lead)]
struct LeadDocument {
    /// The cause.
    #[schema(value_type = schema::Cause)]
    cause: &'static str,
    /// How to look.
    look: String,
    /// What can hurt someone; null where nothing much can.
    caution: Option<String>,
    /// What the outlook says of it; null where it says nothing.
    probability: Option<f64>,
}

impl From<Lead> for LeadDocument {
    fn from(Lead { cause, look, caution, probability }: Lead) -> Self {
        Self {
            cause: cause.as_str(),
            look: look.to_string(),
            caution: caution.map(|caution| caution.to_string()),
            probability,
        }
    }
}

/// A report with what follows from it.
#[derive(Serialize, ToSchema)]
#[schema(as = SymptomHeard)]
pub(super) struct HeardDocument {
    /// The report.
    symptom: SymptomDocument,
    /// Whether the outlook counts it: a skip on a cog that is known.
    is_evidence: bool,
    /// Where to look, in order: what the outlook holds likely first, then by common practice.
    leads: Vec<LeadDocument>,
    /// What the order of the leads rests on.
    leads_source: &'static str,
    /// The bike's outlook with the report.
    outlook: OutlookDocument,
}

/// Takes apart what was heard: whether it is new, and the answer.
pub(super) fn answer(heard: Heard) -> (bool, HeardDocument) {
    let Heard { report, is_evidence, leads, outlook } = heard;
    let is_new = report.is_new();
    let (Once::New(report) | Once::Again(report)) = report;
    let document = HeardDocument {
        symptom: report.into(),
        is_evidence,
        leads: leads.into_iter().map(LeadDocument::from).collect(),
        leads_source: "common practice",
        outlook: outlook.into(),
    };
    (is_new, document)
}
