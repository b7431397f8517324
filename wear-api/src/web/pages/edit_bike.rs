//! Correcting what is on record of a bike: label, group, use, kind, limit, drivetrain.

use actix_web::{get, post, web};
use askama::Template;
use wear_core::units::Limit;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::kind_form::limit;
use super::new_bike::numbers;
use super::work::{ACCEPT, Choice};
use super::{Answer, again, html, see};
use crate::domain::{
    Bike, BikeId, BikePatch, Drivetrain, DrivetrainFacts, FieldErrors, Gearing, GroupName, Label, Teeth, Use,
};
use crate::service::{Actor, ServiceError, Services, bike_kinds, bikes};
use crate::web::auth::Mechanic;
use crate::words::Words;

#[derive(Template)]
#[template(path = "edit_bike.html")]
struct EditPage {
    f: Frame,
    id: String,
    title: String,
    revision: String,
    label: String,
    group: String,
    groups: Vec<String>,
    rings: String,
    cogs: String,
    links: String,
    limit: String,
    is_assumed: bool,
    uses: Vec<Choice>,
    gearings: Vec<Choice>,
    kinds: Vec<Choice>,
    errors: Vec<String>,
    mismatch: bool,
}

fn teeth(all: &[Teeth]) -> String {
    all.iter().map(|teeth| teeth.get().to_string()).collect::<Vec<_>>().join(" ")
}

/// What stands in the fields before anybody types.
fn stored(f: &Frame, bike: &Bike, name: &str) -> String {
    let facts = &bike.facts;
    match name {
        "label" => facts.label.as_str().to_owned(),
        "group" => facts.group.as_str().to_owned(),
        "use" => facts.usage.as_str().to_owned(),
        "kind" => facts.kind.map(|kind| kind.to_string()).unwrap_or_default(),
        "rings" => teeth(facts.drivetrain.rings()),
        "cogs" => teeth(facts.drivetrain.cogs()),
        "links" => facts.drivetrain.links().get().to_string(),
        "gearing" => facts.drivetrain.gearing().as_str().to_owned(),
        "limit" => facts.limit.map(|limit| f.typed(Limit::get(limit), 2)).unwrap_or_default(),
        "revision" => bike.revision.to_string(),
        _ => String::new(),
    }
}

async fn form(
    f: Frame,
    (services, actor): (&Services, &Actor),
    bike: &Bike,
    typed: Option<&Fields>,
    (errors, mismatch): (Vec<String>, bool),
) -> Result<EditPage, Failure> {
    let value =
        |name: &str| typed.map_or_else(|| stored(&f, bike, name), |fields| fields.get(name).to_owned());
    let choice =
        |name: &str, word: String, text: String| Choice { chosen: value(name) == word, value: word, text };
    let kinds = bike_kinds::all(services, actor).await?;
    let groups = bikes::group_names(services, actor).await?;
    Ok(EditPage {
        id: bike.id.to_string(),
        title: bike.facts.label.as_str().to_owned(),
        revision: value("revision"),
        label: value("label"),
        group: value("group"),
        groups: groups.iter().map(|group| group.as_str().to_owned()).collect(),
        rings: value("rings"),
        cogs: value("cogs"),
        links: value("links"),
        limit: value("limit"),
        is_assumed: bike.facts.is_assumed,
        uses: Use::ALL.iter().map(|&it| choice("use", it.as_str().to_owned(), f.usage(it))).collect(),
        gearings: Gearing::ALL
            .iter()
            .map(|&it| choice("gearing", it.as_str().to_owned(), f.gearing(it)))
            .collect(),
        kinds: kinds
            .into_iter()
            .map(|kind| choice("kind", kind.id.to_string(), kind.facts.name.to_string()))
            .collect(),
        errors,
        mismatch: mismatch || typed.is_some_and(|fields| fields.filled(ACCEPT).is_some()),
        f,
    })
}

#[get("/bikes/{bike_id}/edit")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    html(&form(frame, (&services, &actor), &bike, None, (Vec::new(), false)).await?)
}

/// What differs from what is stored: the rest stays as it is, so that an assumed drivetrain stays assumed.
fn changes(f: &Frame, bike: &Bike, fields: &Fields) -> Result<BikePatch, FieldErrors> {
    let is_new = |name: &str| fields.get(name) != stored(f, bike, name);
    let mut errors = FieldErrors::new();
    let mut patch = BikePatch::default();
    if is_new("label") {
        patch.label = errors.keep("/label", Label::new(fields.get("label")));
    }
    if is_new("group") {
        patch.group = errors.keep("/group", GroupName::new(fields.get("group")));
    }
    if is_new("use") {
        patch.usage = errors.keep("/use", fields.get("use").parse::<Use>());
    }
    if is_new("kind") {
        patch.kind = match fields.filled("kind") {
            Some(id) => errors.keep("/kind_id", id.parse()).map(Some),
            None => Some(None),
        };
    }
    if is_new("limit") {
        patch.limit = Some(limit(fields, &mut errors));
    }
    if ["rings", "cogs", "links", "gearing"].iter().any(|name| is_new(name)) {
        let old = &bike.facts.drivetrain;
        let facts = DrivetrainFacts {
            rings: numbers(fields.get("rings")),
            cogs: numbers(fields.get("cogs")),
            links: fields.get("links").parse().unwrap_or_default(),
            // Where only teeth were changed, they say what drives the wheel.
            gearing: fields
                .filled("gearing")
                .filter(|_| is_new("gearing"))
                .and_then(|word| word.parse().ok()),
            wheel_circumference_mm: Some(old.wheel().get().round() as u32),
            jockey_teeth: old.jockey().map(|jockey| u32::from(jockey.get())),
            light_metal_cogs: old.has_light_metal_cogs(),
        };
        match Drivetrain::new(&facts) {
            Ok(drivetrain) => patch.drivetrain = Some(drivetrain),
            Err(error) => errors.push(error.into()),
        }
    }
    patch.accept_mismatch = fields.filled(ACCEPT).map(|_| true);
    if errors.is_empty() { Ok(patch) } else { Err(errors) }
}

#[post("/bikes/{bike_id}/edit")]
pub(super) async fn save(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    bike_id: web::Path<BikeId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let bike = bikes::get(&services, &actor, *bike_id).await?;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let saved = match changes(&frame, &bike, &fields) {
        Ok(patch) => {
            let change = services
                .change(&actor, async |work| bikes::patch(&services, work, bike.id, revision, patch).await);
            change.await.map(|_| ())
        }
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    match saved {
        Ok(()) => Ok(see(format!("/bikes/{}?done=edited", bike.id))),
        Err(error) => {
            let mismatch = Words::is_mismatch(&error);
            let errors = frame.refused(error)?;
            again(&form(frame, (&services, &actor), &bike, Some(&fields), (errors, mismatch)).await?)
        }
    }
}
