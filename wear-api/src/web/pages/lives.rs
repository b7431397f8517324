//! What each part went through, across bikes.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use actix_web::{get, web};
use askama::Template;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Frame, Viewer};
use super::{Answer, html};
use crate::domain::{BikeId, Cursor, PageRequest, PageSize, PartModelId, Place};
use crate::service::parts::PartWithLife;
use crate::service::{Services, bikes, part_models, parts};
use crate::web::auth::Mechanic;

#[derive(Template)]
#[template(path = "lives.html")]
struct LivesPage {
    f: Frame,
    places: Vec<(&'static str, String, bool)>,
    parts: Vec<LifeShown>,
    next: Option<String>,
}

struct LifeShown {
    name: String,
    detail: String,
    distance: String,
    reference: String,
    stays: Vec<StayShown>,
}

struct StayShown {
    bike: String,
    says: String,
}

#[derive(Deserialize)]
struct Query {
    place: Option<String>,
    after: Option<String>,
}

#[get("/parts/lives")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let place: Option<Place> = query.place.as_deref().and_then(|word| word.parse().ok());
    let after: Option<Cursor> = query.after.as_deref().and_then(|cursor| cursor.parse().ok());
    let size = PageSize::new(25).map_err(|_| Failure::Internal)?;
    let page = parts::list(&services, &actor, place, &PageRequest { after, size }).await?;
    let mut labels: HashMap<BikeId, String> = HashMap::new();
    let mut models: HashMap<PartModelId, String> = HashMap::new();
    for PartWithLife { part, stays } in &page.items {
        if let Some(id) = part.facts.model_id
            && !models.contains_key(&id)
        {
            models.insert(id, part_models::get(&services, &actor, id).await?.facts.name.to_string());
        }
        for stay in stays {
            let id = stay.fitting.bike_id;
            if let Entry::Vacant(vacant) = labels.entry(id) {
                vacant.insert(bikes::get(&services, &actor, id).await?.facts.label.to_string());
            }
        }
    }
    let parts = page.items.iter().map(|life| shown(&f, life, &models, &labels)).collect();
    html(&LivesPage {
        places: Place::ALL.iter().map(|&it| (it.as_str(), f.place(it), place == Some(it))).collect(),
        parts,
        next: page.next.map(|cursor| {
            let place = place.map(|place| format!("&place={place}")).unwrap_or_default();
            format!("/parts/lives?after={cursor}{place}")
        }),
        f,
    })
}

fn shown(
    f: &Frame,
    life: &PartWithLife,
    models: &HashMap<PartModelId, String>,
    labels: &HashMap<BikeId, String>,
) -> LifeShown {
    let PartWithLife { part, stays } = life;
    let sum = |value: fn(&crate::service::outlook::Stay) -> f64| stays.iter().map(value).sum::<f64>();
    let mut detail: Vec<String> = part.facts.label.iter().map(ToString::to_string).collect();
    detail.extend(part.facts.model_id.and_then(|id| models.get(&id).cloned()));
    detail.extend(part.retired_at.map(|_| f.lives_done()));
    LifeShown {
        name: f.place(part.facts.place),
        detail: detail.join(", "),
        distance: f.ridden(sum(|stay| stay.distance_km)),
        reference: f.ridden(sum(|stay| stay.reference_km)),
        stays: stays
            .iter()
            .map(|stay| {
                let fitting = &stay.fitting;
                let from = f.medium_date(f.day_of(fitting.fitted_at));
                let when = match fitting.removed_at {
                    Some(to) => f.fitting_until(from, f.medium_date(f.day_of(to))),
                    None => f.fitting_since(from),
                };
                let label = labels.get(&fitting.bike_id).cloned().unwrap_or_default();
                StayShown { bike: fitting.bike_id.to_string(), says: f.lives_stay(label, when) }
            })
            .collect(),
    }
}
