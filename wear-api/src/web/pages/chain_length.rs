//! How long a new chain has to be, worked out from the sprockets and the chainstay.

use actix_web::{get, web};
use askama::Template;
use serde::Deserialize;
use uuid::Uuid;
use wear_core::drivetrain::chain_length::{DERAILLEUR_PAIR, chain_length, needed_capacity};
use wear_core::units::Chainstay;

use super::frame::{Frame, Viewer};
use super::new_bike::numbers;
use super::{Answer, again, html};
use crate::domain::{Bike, BikeId, Drivetrain, DrivetrainFacts, FieldErrors, Gearing, Teeth};
use crate::service::{Services, bikes};
use crate::web::auth::Mechanic;
use crate::words::parse_number;

/// Any legal length: it is what is asked, and the rest of the drivetrain doesn't hang on it.
const ANY_LINKS: u32 = 114;

struct Choice {
    value: &'static str,
    text: String,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "chain_length.html")]
struct LengthPage {
    f: Frame,
    rings: String,
    cogs: String,
    stay: String,
    gearings: Vec<Choice>,
    bike: Option<BikeShown>,
    answer: Option<Worked>,
    errors: Vec<String>,
}

struct BikeShown {
    id: String,
    label: String,
    links: u16,
}

struct Worked {
    links: String,
    lines: Vec<String>,
}

/// What was typed, and the bike whose sprockets fill the form.
#[derive(Deserialize)]
struct Query {
    bike: Option<Uuid>,
    rings: Option<String>,
    cogs: Option<String>,
    stay: Option<String>,
    gearing: Option<String>,
}

fn listed(teeth: &[Teeth]) -> String {
    teeth.iter().map(|teeth| teeth.get().to_string()).collect::<Vec<_>>().join(" ")
}

#[get("/chain-length")]
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame: f, .. } = viewer;
    let bike: Option<Bike> = match query.bike {
        Some(id) => Some(bikes::get(&services, &actor, BikeId::from_uuid(id)).await?),
        None => None,
    };
    let own = bike.as_ref().map(|bike| &bike.facts.drivetrain);
    let typed = |field: &Option<String>| field.as_deref().map(|typed| typed.trim().to_owned());
    let rings = typed(&query.rings).unwrap_or_else(|| own.map(|own| listed(own.rings())).unwrap_or_default());
    let cogs = typed(&query.cogs).unwrap_or_else(|| own.map(|own| listed(own.cogs())).unwrap_or_default());
    let stay = typed(&query.stay).unwrap_or_default();
    let gearing: Option<Gearing> = match typed(&query.gearing) {
        Some(word) => word.parse().ok(),
        None => own.map(Drivetrain::gearing),
    };
    let (answer, errors) = match worked(&f, (&rings, &cogs), gearing, &stay) {
        _ if query.stay.is_none() => (None, Vec::new()),
        Ok(worked) => (Some(worked), Vec::new()),
        Err(errors) => (None, errors),
    };
    let choice =
        |&it: &Gearing| Choice { value: it.as_str(), text: f.gearing(it), chosen: gearing == Some(it) };
    let page = LengthPage {
        gearings: Gearing::ALL.iter().map(choice).collect(),
        rings,
        cogs,
        stay,
        bike: bike.as_ref().map(|bike| BikeShown {
            id: bike.id.to_string(),
            label: bike.facts.label.as_str().to_owned(),
            links: bike.facts.drivetrain.links().get(),
        }),
        answer,
        errors,
        f,
    };
    if page.errors.is_empty() { html(&page) } else { again(&page) }
}

fn worked(
    f: &Frame,
    (rings, cogs): (&str, &str),
    gearing: Option<Gearing>,
    stay: &str,
) -> Result<Worked, Vec<String>> {
    let mut errors = FieldErrors::new();
    let facts = DrivetrainFacts {
        rings: numbers(rings),
        cogs: numbers(cogs),
        links: ANY_LINKS,
        gearing,
        ..DrivetrainFacts::default()
    };
    let drivetrain = Drivetrain::new(&facts).map_err(|error| errors.push(error.into())).ok();
    let chainstay = match parse_number(stay) {
        Some(mm) => errors.keep("/stay", Chainstay::new(mm)),
        None => None,
    };
    let mut wrong = f.wrongs(&errors);
    if parse_number(stay).is_none() {
        wrong.push(f.length_bad_stay(stay));
    }
    let (Some(drivetrain), Some(chainstay)) = (drivetrain, chainstay) else { return Err(wrong) };
    let length = chain_length(&drivetrain, chainstay);
    let links = length.links.get();
    let has_derailleur = drivetrain.gearing() == Gearing::Derailleur;
    let even = if has_derailleur { links - DERAILLEUR_PAIR } else { links };
    let mut lines = vec![f.length_exact(f.number(length.exact_pitches, 2), even)];
    if has_derailleur {
        lines.push(f.length_pair());
        lines.push(f.length_capacity(needed_capacity(&drivetrain)));
    } else {
        lines.push(f.length_straight(f.number(length.straight_chainstay_mm, 0)));
    }
    Ok(Worked { links: f.length_links(links), lines })
}
