//! Entering a bike.

use actix_web::{get, post, web};
use askama::Template;
use chrono::NaiveDate;

use super::frame::{Fields, Frame, Posted, Viewer};
use super::words::parse_number;
use super::{Answer, again, html, see};
use crate::domain::{
    BikeFacts, Drivetrain, DrivetrainFacts, Field as What, FieldErrors, Form, Gearing, GroupName, Invalid,
    KmBefore, Label, Use,
};
use crate::service::bikes::{EnterBike, EnterStart};
use crate::service::{ServiceError, Services, bikes};
use crate::web::auth::Mechanic;

struct Choice {
    value: &'static str,
    text: String,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "new_bike.html")]
struct NewBikePage {
    f: Frame,
    fields: Vec<Field>,
    uses: Vec<Choice>,
    gearings: Vec<Choice>,
    fitted_on: String,
    chain_km: String,
    errors: Vec<String>,
}

struct Field {
    name: &'static str,
    text: String,
    typed: String,
}

fn form(f: Frame, fields: &Fields, errors: Vec<String>) -> NewBikePage {
    let field = |name, text| Field { name, text, typed: fields.get(name).to_owned() };
    NewBikePage {
        fields: vec![
            field("label", f.new_bike_label()),
            field("group", f.new_bike_group()),
            field("rings", f.new_bike_rings()),
            field("cogs", f.new_bike_cogs()),
            field("links", f.new_bike_links()),
        ],
        uses: Use::ALL
            .iter()
            .map(|&it| Choice {
                value: it.as_str(),
                text: f.usage(it),
                chosen: fields.get("use") == it.as_str(),
            })
            .collect(),
        gearings: Gearing::ALL
            .iter()
            .map(|&it| Choice {
                value: it.as_str(),
                text: f.gearing(it),
                chosen: fields.get("gearing") == it.as_str(),
            })
            .collect(),
        fitted_on: fields.get("fitted_on").to_owned(),
        chain_km: fields.get("chain_km").to_owned(),
        errors,
        f,
    }
}

/// About so far the chain has run, as it was typed in the workshop's unit.
pub(super) fn km_before(frame: &Frame, fields: &Fields, errors: &mut FieldErrors) -> Option<KmBefore> {
    let typed = fields.filled("chain_km")?;
    let Some(distance) = parse_number(typed) else {
        let cause = Invalid::unparsed(What::Number, typed, Form::Number);
        errors.push(cause.at("/chain_km"));
        return None;
    };
    errors.keep("/chain_km", KmBefore::new(frame.km_of(distance)))
}

#[get("/bikes/new")]
pub(super) async fn page(viewer: Viewer<Mechanic>) -> Answer {
    html(&form(viewer.frame, &Fields::default(), Vec::new()))
}

/// The whole numbers in what was typed, whatever stands between them.
pub(super) fn numbers(text: &str) -> Vec<u32> {
    text.split(|c: char| !c.is_ascii_digit()).filter_map(|part| part.parse().ok()).collect()
}

fn parse(frame: &Frame, fields: &Fields) -> Result<EnterBike, FieldErrors> {
    let mut errors = FieldErrors::new();
    let label = errors.keep("/label", Label::new(fields.get("label")));
    let group = errors.keep("/group", GroupName::new(fields.get("group")));
    let usage: Use = fields.get("use").parse().unwrap_or(Use::Town);
    let facts = DrivetrainFacts {
        rings: numbers(fields.get("rings")),
        cogs: numbers(fields.get("cogs")),
        links: fields.get("links").parse().unwrap_or_default(),
        gearing: fields.filled("gearing").and_then(|word| word.parse().ok()),
        ..DrivetrainFacts::default()
    };
    let drivetrain = match Drivetrain::new(&facts) {
        Ok(drivetrain) => Some(drivetrain),
        Err(error) => {
            errors.push(error.into());
            None
        }
    };
    let fitted_on: Option<NaiveDate> = match fields.filled("fitted_on") {
        Some(text) => errors.keep("/fitted_on", crate::input::parse::date(text)),
        None => None,
    };
    let ridden = km_before(&frame, fields, &mut errors);
    let start = errors.keep("/chain_km", EnterStart::new(fitted_on, ridden));
    match (label, group, drivetrain, start) {
        (Some(label), Some(group), Some(drivetrain), Some(start)) if errors.is_empty() => Ok(EnterBike {
            facts: BikeFacts { label, group, usage, drivetrain, limit: None, care: None },
            start,
        }),
        _ => Err(errors),
    }
}

#[post("/bikes/new")]
pub(super) async fn enter(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer: Viewer { actor, frame, .. }, fields } = posted;
    let created = match parse(&frame, &fields) {
        Ok(enter) => services.change(&actor, async |work| bikes::create(&services, work, enter).await).await,
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    match created {
        Ok((bike, _)) => Ok(see(format!("/bikes/{}", bike.id))),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&form(frame, &fields, errors))
        }
    }
}
