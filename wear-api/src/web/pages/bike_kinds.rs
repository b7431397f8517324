//! Kinds of bike: what there is, one to be made, one to be changed or deleted.

use actix_web::{get, post, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::{Answer, again, html, kind_form, see};
use crate::domain::{BikeKind, BikeKindId, PageRequest, PageSize, PartModel, Place};
use crate::service::{Actor, ServiceError, Services, bike_kinds, part_models};
use crate::web::auth::{Manager, Mechanic};
use crate::words::Words;

use kind_form::KindForm;

#[derive(Template)]
#[template(path = "bike_kinds.html")]
struct KindsPage {
    f: Frame,
    rows: Vec<Row>,
    form: KindForm,
    open: bool,
    errors: Vec<String>,
    done: Option<String>,
}

#[derive(Template)]
#[template(path = "bike_kind.html")]
struct KindPage {
    f: Frame,
    id: String,
    name: String,
    revision: i64,
    bikes: i64,
    form: KindForm,
    follow: Option<bool>,
    asked: Option<String>,
    errors: Vec<String>,
}

/// A kind in the list.
struct Row {
    id: String,
    name: String,
    drivetrain: String,
    usage: String,
    limit: String,
    group: String,
    models: Vec<String>,
    bikes: String,
}

impl Row {
    fn of(f: &Frame, (kind, bikes): &(BikeKind, i64), models: &[PartModel]) -> Self {
        let BikeKind { id, facts, .. } = kind;
        let sprockets = if facts.drivetrain.cogs().len() == 1 { Place::Cog } else { Place::Cassette };
        let named = [
            (Place::Chain, facts.models.chain),
            (sprockets, facts.models.cassette),
            (Place::Ring, facts.models.ring),
        ];
        let named = named.into_iter().filter_map(|(place, id)| {
            let model = models.iter().find(|model| Some(model.id) == id)?;
            Some(format!("{}: {}", f.place(place), model.facts.name.as_str()))
        });
        Self {
            id: id.to_string(),
            name: facts.name.to_string(),
            drivetrain: drivetrain(f, kind),
            usage: f.usage(facts.usage),
            limit: facts.limit.map_or_else(|| f.kinds_usual_limit(), |limit| f.percent(limit.get(), 2)),
            group: facts.group_of_bikes().map(|group| group.to_string()).unwrap_or_default(),
            models: named.collect(),
            bikes: f.kinds_bikes(*bikes),
        }
    }
}

fn drivetrain(f: &Frame, kind: &BikeKind) -> String {
    let drivetrain = &kind.facts.drivetrain;
    if kind.facts.is_assumed {
        return f.kinds_typical(drivetrain.cogs().len());
    }
    let (rings, cogs) = (kind_form::teeth(drivetrain.rings()), kind_form::teeth(drivetrain.cogs()));
    f.kinds_by_teeth(drivetrain.rings().len(), rings, cogs, drivetrain.links().get())
}

#[derive(Deserialize)]
struct Query {
    done: Option<String>,
}

/// The workshop's part models, with those that a kind names wherever they stand in the list.
async fn models(
    services: &Services,
    actor: &Actor,
    kinds: &[(BikeKind, i64)],
) -> Result<Vec<PartModel>, Failure> {
    let mut all = part_models::list(services, actor, &PageRequest::first(PageSize::LARGEST)).await?.items;
    let named = kinds.iter().flat_map(|(kind, _)| {
        let models = kind.facts.models;
        [models.chain, models.cassette, models.ring].into_iter().flatten()
    });
    for id in named {
        if !all.iter().any(|model| model.id == id) {
            all.push(part_models::get(services, actor, id).await?);
        }
    }
    Ok(all)
}

async fn list(
    services: &Services,
    actor: &Actor,
    f: Frame,
    refused: Option<(&Fields, Vec<String>)>,
) -> Result<KindsPage, Failure> {
    let kinds = bike_kinds::all_with_counts(services, actor).await?;
    let models = models(services, actor, &kinds).await?;
    let typed = refused.as_ref().map(|(fields, _)| *fields);
    Ok(KindsPage {
        rows: kinds.iter().map(|kind| Row::of(&f, kind, &models)).collect(),
        form: KindForm::of(&f, None, typed, &models),
        open: kinds.is_empty() || typed.is_some(),
        errors: refused.map(|(_, errors)| errors).unwrap_or_default(),
        done: None,
        f,
    })
}

#[get("/bike-kinds")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let done = match query.done.as_deref() {
        Some("made") => Some(frame.kinds_made()),
        Some("changed") => Some(frame.kinds_changed()),
        Some("deleted") => Some(frame.kinds_deleted()),
        _ => None,
    };
    html(&KindsPage { done, ..list(&services, &actor, frame, None).await? })
}

#[post("/bike-kinds")]
pub(super) async fn make(posted: Posted<Manager>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let made = match kind_form::entered(&fields) {
        Ok(enter) => {
            services.change(&actor, async |work| bike_kinds::create(&services, work, enter).await).await
        }
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    match made {
        Ok(_) => Ok(see("/bike-kinds?done=made")),
        Err(error) => {
            let mismatch = Words::is_mismatch(&error);
            let errors = frame.refused(error)?;
            let mut shown = list(&services, &actor, frame, Some((&fields, errors))).await?;
            shown.form.mismatch |= mismatch;
            again(&shown)
        }
    }
}

async fn one(
    services: &Services,
    actor: &Actor,
    f: Frame,
    id: BikeKindId,
    refused: Option<(&Fields, Vec<String>)>,
) -> Result<KindPage, Failure> {
    let kind = bike_kinds::get_with_count(services, actor, id).await?;
    let kinds = [kind];
    let models = models(services, actor, &kinds).await?;
    let [(kind, bikes)] = &kinds;
    let typed = refused.as_ref().map(|(fields, _)| *fields);
    Ok(KindPage {
        id: id.to_string(),
        name: kind.facts.name.to_string(),
        revision: kind.revision,
        bikes: *bikes,
        form: KindForm::of(&f, Some(kind), typed, &models),
        follow: typed.and_then(kind_form::follow),
        asked: None,
        errors: refused.map(|(_, errors)| errors).unwrap_or_default(),
        f,
    })
}

#[get("/bike-kinds/{kind_id}")]
pub(super) async fn edit(
    viewer: Viewer<Manager>,
    services: web::Data<Services>,
    id: web::Path<BikeKindId>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    html(&one(&services, &actor, frame, *id, None).await?)
}

#[post("/bike-kinds/{kind_id}")]
pub(super) async fn change(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<BikeKindId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let id = *id;
    let kind = bike_kinds::get(&services, &actor, id).await?;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let changed = match kind_form::changed(&frame, &kind, &fields) {
        Ok(patch) => {
            services
                .change(&actor, async |work| {
                    bike_kinds::change(&services, work, id, revision, patch.clone()).await
                })
                .await
        }
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    let error = match changed {
        Ok(_) => return Ok(see("/bike-kinds?done=changed")),
        Err(error) => error,
    };
    if let ServiceError::Invalid(errors) = &error
        && errors.as_slice().iter().all(|error| error.pointer == "/apply_to_bikes")
    {
        let asked = frame.wrongs(errors).into_iter().next();
        let shown = one(&services, &actor, frame, id, Some((&fields, Vec::new()))).await?;
        return again(&KindPage { asked, ..shown });
    }
    let mismatch = Words::is_mismatch(&error);
    let errors = frame.refused(error)?;
    let mut shown = one(&services, &actor, frame, id, Some((&fields, errors))).await?;
    shown.form.mismatch |= mismatch;
    again(&shown)
}

#[post("/bike-kinds/{kind_id}/delete")]
pub(super) async fn delete(
    posted: Posted<Manager>,
    services: web::Data<Services>,
    id: web::Path<BikeKindId>,
) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let id = *id;
    let revision = fields.get("revision").parse().unwrap_or_default();
    let deleted =
        services.change(&actor, async |work| bike_kinds::delete(&services, work, id, revision).await).await;
    match deleted {
        Ok(()) => Ok(see("/bike-kinds?done=deleted")),
        Err(error) => {
            let errors = frame.refused(error)?;
            let shown = one(&services, &actor, frame, id, None).await?;
            again(&KindPage { errors, ..shown })
        }
    }
}
