//! What riders report: evidence where the model has a likelihood, and where to look for the cause.

use serde_json::Value;
use wear_core::drivetrain::symptom::{KnownOfBike, Lead, Symptom, leads};

use super::{Actor, BikeChange, ServiceError, Services, UnitOfWork, read_of_bike};
use crate::domain::{
    Bike, BikeId, Field, Form, Invalid, NewReport, Note, Once, Outlook, Page, PageRequest, Report, SymptomId,
    Teeth, Timestamp, Voiding,
};

/// A report to be entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnterReport {
    /// When it was reported.
    pub reported_at: Timestamp,
    /// What.
    pub symptom: Symptom,
    /// The cog that skips.
    pub cog: Option<Teeth>,
    /// Whether the mechanic saw it with a new chain.
    pub new_chain: bool,
    /// A remark.
    pub note: Option<Note>,
}

/// A report with what follows from it.
#[derive(Debug, Clone)]
pub struct Heard {
    /// The report.
    pub report: Once<Report>,
    /// Whether the outlook counts it: a skip, on whichever cog.
    pub is_evidence: bool,
    /// Where to look, in order.
    pub leads: Vec<Lead>,
    /// The outlook with it.
    pub outlook: Outlook,
}

/// Enters a report. The same symptom on the same cog at the same instant is one.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Invalid`] for a time in the future, a cog that the bike doesn't have, and
/// a cog or a new chain with anything but a skip.
pub async fn post(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    enter: EnterReport,
) -> Result<Heard, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let EnterReport { reported_at, symptom, cog, new_chain, note } = enter;
    reported_at.not_after(change.now).map_err(|cause| ServiceError::field("/reported_at", cause))?;
    change.in_fleet("/reported_at", reported_at)?;
    if symptom != Symptom::SkipsUnderLoad && (cog.is_some() || new_chain) {
        let pointer = if cog.is_some() { "/cog_teeth" } else { "/new_chain" };
        let cause = Invalid::Together { what: Field::SymptomAndSkip, allowed: Form::CogWithSkip };
        return Err(ServiceError::field(pointer, cause));
    }
    if let Some(cog) = cog
        && !change.bike.facts.drivetrain.cogs().contains(&cog)
    {
        return Err(ServiceError::field("/cog_teeth", Invalid::NoSuch { what: Field::CogOnThisBike }));
    }
    let report = NewReport { id: SymptomId::generate(), bike_id, reported_at, symptom, cog, new_chain, note };
    let stored = change.tx.insert_report(&report).await?;
    let id = match &stored {
        Once::New(id) | Once::Again(id) => *id,
    };
    let report = change.tx.report(bike_id, id).await?;
    let (is_new, subject) = (stored.is_new(), format!("/symptoms/{id}"));
    let outlook = change.end_entered((is_new, None), "symptom.create", &subject, Value::Null).await?;
    Ok(Heard {
        is_evidence: is_evidence(&report.facts),
        report: if stored.is_new() { Once::New(report) } else { Once::Again(report) },
        leads: leads_of(&change.bike, &outlook, symptom),
        outlook,
    })
}

/// Whether the outlook counts a report: a skip, on whichever cog.
#[must_use]
pub fn is_evidence(report: &NewReport) -> bool {
    report.symptom == Symptom::SkipsUnderLoad
}

/// Where to look on a bike, in order.
#[must_use]
pub fn leads_of(bike: &Bike, outlook: &Outlook, symptom: Symptom) -> Vec<Lead> {
    leads(symptom, &known_of(bike, outlook))
}

fn known_of(bike: &Bike, outlook: &Outlook) -> KnownOfBike {
    KnownOfBike {
        gearing: bike.facts.drivetrain.gearing(),
        rings: bike.facts.drivetrain.rings().len(),
        chain_over: outlook.probability_over_limit.unwrap_or(0.0),
        cog_worn: outlook.cassette.as_ref().map_or(0.0, |cassette| cassette.probability_skips),
        ring_worn: outlook.rings.iter().map(|ring| ring.probability_worn).fold(0.0, f64::max),
    }
}

/// A page of a bike's reports, newest first.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn list(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    page: &PageRequest,
) -> Result<Page<Report>, ServiceError> {
    read_of_bike(services, actor, bike_id, async |tx| tx.reports(bike_id, page).await).await
}

/// Takes a report out of account; the outlook without it.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when it is voided already.
pub async fn void(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: SymptomId,
    reason: Note,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    let voiding = Voiding { at: change.now, reason };
    change.tx.void_report(bike_id, id, &voiding).await.map_err(ServiceError::or_voided("symptom"))?;
    change.end("symptom.void", &format!("/symptoms/{id}")).await
}

/// Takes the voiding of a report back; the outlook with it.
///
/// # Errors
/// [`ServiceError::NotFound`]; [`ServiceError::Conflict`] when it counts, or the same was entered again since.
pub async fn restore(
    services: &Services,
    work: &mut UnitOfWork,
    bike_id: BikeId,
    id: SymptomId,
) -> Result<Outlook, ServiceError> {
    let mut change = BikeChange::begin(services, work, bike_id).await?;
    change.tx.restore_report(bike_id, id).await.map_err(ServiceError::or_counts("symptom"))?;
    change.end("symptom.restore", &format!("/symptoms/{id}")).await
}
