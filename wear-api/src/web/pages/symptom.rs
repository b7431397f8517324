//! Noting what a rider reports, and what it means.

use actix_web::{get, post, web};
use askama::Template;
use wear_core::drivetrain::symptom::{Cause, Lead, Symptom};

use super::failure::Failure;
use super::frame::{Frame, Posted, Viewer};
use super::steps::said;
use super::work::{TWICE, tapped_at};
use super::{Answer, html, see};
use crate::domain::{Bike, BikeId, NewReport, Note, PageRequest, PageSize, SymptomId, Teeth};
use crate::service::symptoms::EnterReport;
use crate::service::{ServiceError, Services, bikes, outlook, symptoms};
use crate::web::auth::Mechanic;
use crate::words::Words;

#[derive(Template)]
#[template(path = "symptom.html")]
struct SymptomPage {
    f: Frame,
    id: String,
    label: String,
    now: String,
    cogs: Vec<u16>,
    others: Vec<(&'static str, String)>,
}

#[derive(Template)]
#[template(path = "symptom_noted.html")]
struct NotedPage {
    f: Frame,
    id: String,
    label: String,
    report: String,
    noted: String,
    means: String,
    caution: String,
    voided: bool,
    leads: Vec<LeadShown>,
}

struct LeadShown {
    cause: String,
    look: String,
    caution: Option<String>,
    says: Option<String>,
}

#[get("/bikes/{bike_id}/symptom")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    html(&SymptomPage {
        id: bike.id.to_string(),
        label: bike.facts.label.as_str().to_owned(),
        now: services.now().to_string(),
        cogs: bike.facts.drivetrain.cogs().iter().map(|cog| cog.get()).collect(),
        others: Symptom::ALL
            .iter()
            .filter(|symptom| **symptom != Symptom::SkipsUnderLoad)
            .map(|symptom| (symptom.as_str(), f.symptom(*symptom)))
            .collect(),
        f,
    })
}

#[post("/bikes/{bike_id}/symptom")]
pub(super) async fn hear(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, .. }, fields } = posted;
    let bike_id = *bike_id;
    // One button says both: `skips_under_load 17`.
    let (symptom, cog) = fields.get("symptom").split_once(' ').unwrap_or((fields.get("symptom"), ""));
    let symptom: Symptom = symptom.parse().map_err(|_| Failure::Garbled)?;
    let skips = symptom == Symptom::SkipsUnderLoad;
    let cog = match cog.parse() {
        Ok(teeth) if skips => Some(Teeth::new(teeth).map_err(|_| Failure::Garbled)?),
        _ => None,
    };
    let note = fields.filled("note").map(|text| Note::new(&text.replace("\r\n", "\n")));
    let note = note.transpose().map_err(|cause| ServiceError::field("/note", cause))?;
    let new_chain = skips && !fields.get("new_chain").is_empty();
    let now = services.now();
    let reported_at = tapped_at(&fields, now);
    if reported_at == now {
        // Tapped twice without a script, it came twice within the minute.
        let latest = symptoms::list(&services, &actor, bike_id, &PageRequest::default()).await?.items;
        let same = latest.iter().find(|it| {
            let facts = &it.facts;
            it.voided.is_none()
                && facts.reported_at > now.plus(-TWICE)
                && (facts.symptom, facts.cog, facts.new_chain) == (symptom, cog, new_chain)
        });
        if let Some(same) = same {
            return Ok(see(format!("/bikes/{bike_id}/symptoms/{}", same.facts.id)));
        }
    }
    let enter = EnterReport { reported_at, symptom, cog, new_chain, note };
    let heard =
        services.change(&actor, async |work| symptoms::post(&services, work, bike_id, enter).await).await?;
    let (crate::domain::Once::New(report) | crate::domain::Once::Again(report)) = heard.report;
    Ok(see(format!("/bikes/{bike_id}/symptoms/{}", report.facts.id)))
}

#[get("/bikes/{bike_id}/symptoms/{symptom_id}")]
pub(super) async fn noted(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, SymptomId)>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let (bike_id, id) = path.into_inner();
    let most = PageRequest::first(PageSize::LARGEST);
    let reports = symptoms::list(&services, &actor, bike_id, &most).await?.items;
    let report = reports.into_iter().find(|report| report.facts.id == id);
    let report = report.ok_or(Failure::NotFound("symptom"))?;
    let picture = outlook::picture(&services, &actor, bike_id).await?;
    let evidence = symptoms::is_evidence(&report.facts);
    html(&NotedPage {
        id: bike_id.to_string(),
        label: picture.bike.facts.label.as_str().to_owned(),
        report: id.to_string(),
        noted: reported(&f, &report.facts),
        means: if evidence { f.symptom_evidence() } else { f.symptom_lead() },
        caution: if report.facts.symptom == Symptom::SkipsUnderLoad {
            f.bike_skip_caution()
        } else {
            f.caution_general()
        },
        voided: report.voided.is_some(),
        leads: leads(&f, &picture.bike, &picture.outlook, report.facts.symptom),
        f,
    })
}

#[post("/bikes/{bike_id}/symptoms/{symptom_id}/void")]
pub(super) async fn void(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    path: web::Path<(BikeId, SymptomId)>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let (bike_id, id) = path.into_inner();
    let typed = fields.filled("reason").map_or_else(|| frame.symptom_taken_back(), str::to_owned);
    let reason = Note::new(&typed).map_err(|cause| ServiceError::field("/reason", cause))?;
    services.change(&actor, async |work| symptoms::void(&services, work, bike_id, id, reason).await).await?;
    Ok(see(format!("/bikes/{bike_id}#history")))
}

fn leads(f: &Words, bike: &Bike, outlook: &crate::domain::Outlook, symptom: Symptom) -> Vec<LeadShown> {
    symptoms::leads_of(bike, outlook, symptom)
        .into_iter()
        .map(|Lead { cause, look, caution, probability }| LeadShown {
            cause: f.cause(cause),
            look: said(f, &look),
            caution: caution.map(|caution| said(f, &caution)),
            says: probability.map(|probability| f.symptom_model_says(f.chance(probability))),
        })
        .collect()
}

/// A report in words.
pub(super) fn reported(f: &Words, report: &NewReport) -> String {
    let mut says = f.symptom(report.symptom);
    if let Some(cog) = report.cog {
        says = f.symptom_on_cog(says, cog.get());
    }
    if report.new_chain {
        says = f.symptom_with_new_chain(says);
    }
    match &report.note {
        Some(note) => format!("{says}: {}", note.as_str()),
        None => says,
    }
}

impl Words {
    /// A symptom.
    fn symptom(&self, symptom: Symptom) -> String {
        self.word("symptom", symptom.as_str())
    }

    /// What may be behind a symptom.
    fn cause(&self, cause: Cause) -> String {
        self.word("cause", cause.as_str())
    }
}
