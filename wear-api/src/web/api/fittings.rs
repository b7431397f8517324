//! Parts put on bikes and taken off, where that isn't a swap.

use actix_web::{HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::outlooks::OutlookDocument;
use super::voiding::{self, VoidQuery};
use crate::domain::{
    BikeId, Cursor, Field, FieldErrors, Fitting, FittingId, Form, Invalid, KmBefore, PartId, PartModelId,
    Place, Position, Ride, Timestamp,
};
use crate::input::parse;
use crate::service::fittings::{self, CorrectFitting, Corrected, WhatGoesOn};
use crate::service::{Mismatch, Services};
use crate::web::answer;
use crate::web::auth::{App, As};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Query};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_fitting)
        .service(list_fittings)
        .service(get_fitting)
        .service(change_fitting)
        .service(void_fitting)
        .service(remove_fitting);
}

/// A part's stay on a bike.
#[derive(Serialize, ToSchema)]
#[schema(as = Fitting)]
struct FittingDocument {
    /// Its id.
    id: Uuid,
    /// The part.
    part_id: Uuid,
    /// The bike.
    bike_id: Uuid,
    /// Where on the bike.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0.
    #[schema(minimum = 0, maximum = 15)]
    position: u8,
    /// Since when.
    fitted_at: DateTime<Utc>,
    /// Until when; null while it is on.
    removed_at: Option<DateTime<Utc>>,
    /// `new`, or `as_found`: on the bike when it was entered, and nobody knows since when.
    #[schema(example = "new")]
    start: &'static str,
    /// About so far a chain as found had run before; null when nobody said.
    chain_km: Option<f64>,
}

impl From<Fitting> for FittingDocument {
    fn from(fitting: Fitting) -> Self {
        let Fitting { id, part_id, bike_id, place, position, fitted_at, removed_at, start } = fitting;
        Self {
            id: id.uuid(),
            part_id: part_id.uuid(),
            bike_id: bike_id.uuid(),
            place: place.as_str(),
            position: position.get(),
            fitted_at: fitted_at.datetime(),
            removed_at: removed_at.map(|at| at.datetime()),
            start: start.as_str(),
            chain_km: start.ridden().map(KmBefore::km),
        }
    }
}

/// A part to be put on an empty place: `part_id` names one on record, `place` asks for a new one.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewFitting {
    /// A part on record; its own place is where it goes.
    part_id: Option<Uuid>,
    /// Where a new part goes.
    #[schema(value_type = Option<Place>)]
    place: Option<String>,
    /// Model of the new part.
    part_model_id: Option<Uuid>,
    /// Which of several equal places: rings from the largest, cogs from the smallest, from 0; 0 when left out.
    #[schema(minimum = 0, maximum = 15)]
    position: Option<i64>,
    /// When; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    fitted_at: Option<String>,
    /// `true` where a part that doesn't go with the bike is meant so; refused when left out.
    accept_mismatch: Option<bool>,
}

impl NewFitting {
    fn parse(self, now: Timestamp) -> Result<(WhatGoesOn, (Position, Mismatch), Timestamp), FieldErrors> {
        const ALLOWED: Form = Form::PartOrPlace;
        let Self { part_id, place, part_model_id, position, fitted_at, accept_mismatch } = self;
        let mut errors = FieldErrors::new();
        let place = place.and_then(|place| errors.keep("/place", parse::text::<Place>(&place)));
        let what = match (part_id, place, part_model_id) {
            (Some(part_id), None, None) => Some(WhatGoesOn::Part(PartId::from_uuid(part_id))),
            (None, Some(place), model_id) => {
                Some(WhatGoesOn::New { place, model_id: model_id.map(PartModelId::from_uuid) })
            }
            (Some(_), _, _) => {
                let what = Field::PartAndNewPart;
                errors.push(Invalid::Together { what, allowed: ALLOWED }.at("/part_id"));
                None
            }
            (None, None, _) if errors.is_empty() => {
                errors.push(Invalid::Missing { what: Field::Place, allowed: ALLOWED }.at("/place"));
                None
            }
            (None, None, _) => None,
        };
        let position = errors.keep("/position", Position::new(position.unwrap_or(0)));
        let fitted_at = match fitted_at {
            Some(at) => errors.keep("/fitted_at", parse::text::<Timestamp>(&at)),
            None => Some(now),
        };
        match (what, position, fitted_at) {
            (Some(what), Some(position), Some(fitted_at)) => {
                Ok((what, (position, Mismatch::of(accept_mismatch)), fitted_at))
            }
            _ => Err(errors),
        }
    }
}

/// A page of fittings.
#[derive(ToSchema)]
#[allow(dead_code)]
struct FittingList {
    /// Fittings of this page, oldest first.
    items: Vec<FittingDocument>,
}

/// A change of a fitting; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FittingChange {
    /// Since when the part has been on, as a new one. What was found on the bike counts as new from then on.
    #[schema(value_type = Option<String>, format = DateTime)]
    fitted_at: Option<String>,
    /// When it came off; null when it is still on.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = DateTime)]
    removed_at: Option<Option<String>>,
}

impl FittingChange {
    fn parse(self) -> Result<CorrectFitting, FieldErrors> {
        let Self { fitted_at, removed_at } = self;
        let mut errors = FieldErrors::new();
        let mut time = |field: &str, at: String| errors.keep(field, parse::text::<Timestamp>(&at));
        let fitted_at = fitted_at.and_then(|at| time("/fitted_at", at));
        let removed_at = removed_at.map(|at| at.and_then(|at| time("/removed_at", at)));
        if errors.is_empty() { Ok(CorrectFitting { fitted_at, removed_at }) } else { Err(errors) }
    }
}

/// Rides that fall outside of a stay since it was corrected.
#[derive(Serialize, ToSchema)]
pub(super) struct RidesOutside {
    /// How many.
    #[schema(minimum = 0)]
    rides: usize,
    /// How far they went together.
    distance_km: f64,
}

impl RidesOutside {
    pub(super) fn of(outside: &[Ride]) -> Self {
        let distance_mm: i64 = outside.iter().map(|ride| ride.facts.distance_mm()).sum();
        Self { rides: outside.len(), distance_km: distance_mm as f64 / 1e6 }
    }
}

/// A corrected fitting.
#[derive(Serialize, ToSchema)]
struct FittingAnswer {
    /// The fitting after the change.
    fitting: FittingDocument,
    /// Rides between its old and its new beginning or end: they no longer count for the part.
    outside: RidesOutside,
    /// The bike's outlook after the change.
    outlook: OutlookDocument,
}

impl From<Corrected> for FittingAnswer {
    fn from(Corrected { fitting, revision: _, outside, outlook }: Corrected) -> Self {
        Self { fitting: fitting.into(), outside: RidesOutside::of(&outside), outlook: outlook.into() }
    }
}

/// When a part came off.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Removal {
    /// When; now when left out.
    #[schema(value_type = Option<String>, format = DateTime)]
    removed_at: Option<String>,
}

impl Removal {
    fn parse(self, now: Timestamp) -> Result<Timestamp, FieldErrors> {
        let Some(at) = self.removed_at else { return Ok(now) };
        parse::text::<Timestamp>(&at).map_err(|error| error.at("/removed_at").into())
    }
}

/// Put a part on an empty place
///
/// Where a part is on, enter a swap instead. A place that the bike's drivetrain lacks is refused; a part that doesn't go with
/// the bike is too, unless `accept_mismatch` says that it is meant so.
#[utoipa::path(
    operation_id = "create_fitting",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewFitting, example = json!({"place": "chain", "fitted_at": "2026-06-02T09:00:00Z"})),
    responses((status = 201, description = "The fitting", body = FittingDocument))
)]
#[post("/v1/bikes/{bike_id}/fittings")]
async fn create_fitting(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    body: Json<NewFitting>,
) -> Result<HttpResponse, Problem> {
    let (what, position, fitted_at) = body.0.parse(services.now())?;
    let fitting = fittings::fit(&services, &mut change, *bike_id, what, position, fitted_at).await?;
    Ok(HttpResponse::Created().json(FittingDocument::from(fitting)))
}

/// List a bike's fittings
#[utoipa::path(
    operation_id = "list_fittings",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of fittings", body = FittingList))
)]
#[get("/v1/bikes/{bike_id}/fittings")]
async fn list_fittings(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let fittings = fittings::list(&services, &actor, *bike_id).await?;
    let key = |stay: &Fitting| (stay.fitted_at.micros(), stay.id.uuid());
    let shown = match listing.page.after {
        Some(Cursor::Number(at, id)) => Some((at, id)),
        _ => None,
    };
    let rest = fittings.into_iter().filter(|stay| shown.is_none_or(|last| key(stay) > last)).collect();
    let page = listing.page.cut(rest, |stay| {
        let (at, id) = key(stay);
        Cursor::Number(at, id)
    });
    Ok(listing.answer(page, FittingDocument::from))
}

/// Get a fitting
#[utoipa::path(
    operation_id = "get_fitting",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("fitting_id" = Uuid, Path, description = "The fitting")),
    responses((status = 200, description = "The fitting", body = FittingDocument))
)]
#[get("/v1/bikes/{bike_id}/fittings/{fitting_id}")]
async fn get_fitting(
    services: web::Data<Services>,
    actor: As<App>,
    path: web::Path<(BikeId, FittingId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let (fitting, revision) = fittings::get(&services, &actor, bike_id, id).await?;
    Ok(answer::current(revision, FittingDocument::from(fitting)))
}

/// Correct since when and until when a part has been on
///
/// Everything follows as if it had been entered so: the outlook, the part's kilometres, what is learned. What a swap put
/// on is corrected by voiding that swap and entering it anew; how a bike's record begins as a whole, by the bike itself.
#[utoipa::path(
    operation_id = "change_fitting",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("fitting_id" = Uuid, Path, description = "The fitting"),
        ("If-Match" = String, Header, description = "`ETag` of the fitting as you read it", example = "\"1\"")),
    request_body(content = FittingChange, example = json!({"fitted_at": "2026-02-10T09:00:00Z"})),
    responses((status = 200, description = "The fitting after the change", body = FittingAnswer))
)]
#[patch("/v1/bikes/{bike_id}/fittings/{fitting_id}")]
async fn change_fitting(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, FittingId)>,
    seen: IfMatch,
    body: Json<FittingChange>,
) -> Result<HttpResponse, Problem> {
    let wanted = body.0.parse()?;
    let (bike_id, id) = path.into_inner();
    let revision =
        seen.revision(async || Ok(fittings::get(&services, change.actor(), bike_id, id).await?.1)).await?;
    let corrected = fittings::correct(&services, &mut change, bike_id, id, revision, wanted).await?;
    Ok(answer::current(corrected.revision, FittingAnswer::from(corrected)))
}

/// Take a part off
///
/// Its place stays empty until another is fitted.
#[utoipa::path(
    operation_id = "remove_fitting",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("fitting_id" = Uuid, Path, description = "The fitting")),
    request_body(content = Removal, example = json!({"removed_at": "2026-06-01T16:00:00Z"})),
    responses((status = 200, description = "The fitting with its end", body = FittingDocument))
)]
#[post("/v1/bikes/{bike_id}/fittings/{fitting_id}/removal")]
async fn remove_fitting(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, FittingId)>,
    body: Json<Removal>,
) -> Result<HttpResponse, Problem> {
    let removed_at = body.0.parse(services.now())?;
    let (bike_id, id) = path.into_inner();
    let fitting = fittings::remove(&services, &mut change, bike_id, id, removed_at).await?;
    Ok(HttpResponse::Ok().json(FittingDocument::from(fitting)))
}

/// Void a fitting
///
/// For a part that was never on the bike, or not then: everything follows as if it had not been. The audit keeps what it
/// said, with the reason. What a swap put on or took off is voided with its swap.
#[utoipa::path(
    operation_id = "void_fitting",
    tag = "parts",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("fitting_id" = Uuid, Path, description = "The fitting"), VoidQuery,
        ("If-Match" = String, Header, description = "`ETag` of the fitting as you read it", example = "\"1\"")),
    responses((status = 200, description = "The outlook without the fitting", body = OutlookDocument))
)]
#[delete("/v1/bikes/{bike_id}/fittings/{fitting_id}")]
async fn void_fitting(
    services: web::Data<Services>,
    mut change: Change<App>,
    path: web::Path<(BikeId, FittingId)>,
    seen: IfMatch,
    query: Query<VoidQuery>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    let reason = voiding::reason(&query.0.reason)?;
    let revision =
        seen.revision(async || Ok(fittings::get(&services, change.actor(), bike_id, id).await?.1)).await?;
    let outlook = fittings::void(&services, &mut change, bike_id, id, revision, reason).await?;
    Ok(HttpResponse::Ok().json(OutlookDocument::from(outlook)))
}
