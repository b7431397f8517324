//! Entering a bike.

use actix_web::{get, post, web};
use askama::Template;
use chrono::NaiveDate;
use serde::Deserialize;

use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Viewer};
use super::work::ACCEPT;
use super::{Answer, again, encoded, html, see};
use crate::domain::{
    BikeFilter, BikeSort, Drivetrain, DrivetrainChoice, DrivetrainFacts, Field as What, FieldErrors, Form,
    Gearing, GroupName, Invalid, KindChoice, KmBefore, Label, PageRequest, PageSize, Use,
};
use crate::service::bikes::{EnterBike, EnterStart};
use crate::service::{Actor, Mismatch, ServiceError, Services, bike_kinds, bikes};
use crate::web::auth::Mechanic;
use crate::words::{Words, parse_number};

/// What stays as it was for the bike before.
#[derive(Deserialize)]
struct Query {
    kind: Option<String>,
    group: Option<String>,
    entered: Option<String>,
}

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
    kinds: Vec<Named>,
    like: Vec<Named>,
    speeds: String,
    /// The bike that was entered just before.
    entered: Option<String>,
    errors: Vec<String>,
    /// Whether the form asks if a chain that geometry doesn't allow is meant so.
    mismatch: bool,
}

/// A kind or a bike to choose.
struct Named {
    value: String,
    text: String,
    chosen: bool,
}

struct Field {
    name: &'static str,
    text: String,
    typed: String,
}

async fn form(
    f: Frame,
    services: &Services,
    actor: &Actor,
    fields: &Fields,
    (errors, mismatch): (Vec<String>, bool),
) -> Result<NewBikePage, Failure> {
    let kinds = bike_kinds::all(services, actor).await?;
    let most = PageRequest { size: PageSize::LARGEST, after: None };
    let like = bikes::list(services, actor, &BikeFilter::default(), BikeSort::Label, &most).await?.items;
    let named = |name: &str, value: String, text: String| {
        let chosen = fields.get(name) == value;
        Named { value, text, chosen }
    };
    let field = |name, text| Field { name, text, typed: fields.get(name).to_owned() };
    Ok(NewBikePage {
        kinds: kinds
            .into_iter()
            .map(|kind| named("kind", kind.id.to_string(), kind.facts.name.to_string()))
            .collect(),
        like: like
            .into_iter()
            .map(|bike| named("like_bike_id", bike.id.to_string(), bike.facts.label.to_string()))
            .collect(),
        speeds: fields.get("speeds").to_owned(),
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
        entered: None,
        errors,
        mismatch: mismatch || fields.filled(ACCEPT).is_some(),
        f,
    })
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
pub(super) async fn page(
    viewer: Viewer<Mechanic>,
    services: web::Data<Services>,
    query: web::Query<Query>,
) -> Answer {
    let Viewer { actor, frame, .. } = viewer;
    let Query { kind, group, entered } = query.into_inner();
    let mut typed = Fields::default();
    for (name, value) in [("kind", kind), ("group", group)] {
        typed = typed.with(name, value.unwrap_or_default());
    }
    let entered = entered.filter(|label| Label::new(label).is_ok());
    let blank = form(frame, &services, &actor, &typed, (Vec::new(), false)).await?;
    html(&NewBikePage { entered, ..blank })
}

/// The whole numbers in what was typed, whatever stands between them.
pub(super) fn numbers(text: &str) -> Vec<u32> {
    text.split(|c: char| !c.is_ascii_digit()).filter_map(|part| part.parse().ok()).collect()
}

/// What the form says of the drivetrain: all of it, how many cogs, or that it is another bike's.
fn drivetrain(fields: &Fields, errors: &mut FieldErrors) -> Option<DrivetrainChoice> {
    if ["rings", "cogs", "links"].iter().any(|name| fields.filled(name).is_some()) {
        let facts = DrivetrainFacts {
            rings: numbers(fields.get("rings")),
            cogs: numbers(fields.get("cogs")),
            links: fields.get("links").parse().unwrap_or_default(),
            gearing: fields.filled("gearing").and_then(|word| word.parse().ok()),
            ..DrivetrainFacts::default()
        };
        return match Drivetrain::new(&facts) {
            Ok(drivetrain) => Some(DrivetrainChoice::Whole(drivetrain)),
            Err(error) => {
                errors.push(error.into());
                None
            }
        };
    }
    if let Some(id) = fields.filled("like_bike_id") {
        return errors.keep("/drivetrain/like_bike_id", id.parse()).map(DrivetrainChoice::LikeBike);
    }
    let typed = fields.filled("speeds")?;
    let wrong = || Invalid::unparsed(What::Number, typed, Form::WholeNumber);
    let speeds = errors.keep("/drivetrain/speeds", typed.parse().map_err(|_| wrong()));
    speeds.map(|speeds| DrivetrainChoice::Usual(Some(speeds)))
}

fn parse(frame: &Frame, fields: &Fields) -> Result<EnterBike, FieldErrors> {
    let mut errors = FieldErrors::new();
    let label = errors.keep("/label", Label::new(fields.get("label")));
    let group = fields.filled("group").and_then(|group| errors.keep("/group", GroupName::new(group)));
    let usage = fields.filled("use").and_then(|word| errors.keep("/use", word.parse::<Use>()));
    let kind = fields.filled("kind").and_then(|id| errors.keep("/kind_id", id.parse()).map(KindChoice::Id));
    let drivetrain = drivetrain(fields, &mut errors);
    let fitted_on: Option<NaiveDate> = match fields.filled("fitted_on") {
        Some(text) => errors.keep("/fitted_on", crate::input::parse::date(text)),
        None => None,
    };
    let ridden = km_before(frame, fields, &mut errors);
    let start = errors.keep("/chain_km", EnterStart::new(fitted_on, ridden));
    match (label, start) {
        (Some(label), Some(start)) if errors.is_empty() => {
            let mismatch = Mismatch::of(Some(fields.filled(ACCEPT).is_some()));
            Ok(EnterBike {
                label,
                group,
                usage,
                drivetrain,
                limit: None,
                care: None,
                kind,
                external_id: None,
                start,
                mismatch,
            })
        }
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
        Ok((bike, _)) if fields.filled("next").is_some() => {
            let (kind, group) = (encoded(fields.get("kind")), encoded(fields.get("group")));
            let label = encoded(bike.facts.label.as_str());
            Ok(see(format!("/bikes/new?entered={label}&kind={kind}&group={group}")))
        }
        Ok((bike, _)) => Ok(see(format!("/bikes/{}", bike.id))),
        Err(error) => {
            let mismatch = Words::is_mismatch(&error);
            let errors = frame.refused(error)?;
            again(&form(frame, &services, &actor, &fields, (errors, mismatch)).await?)
        }
    }
}
