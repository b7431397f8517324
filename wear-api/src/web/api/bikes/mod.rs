//! Bikes with their drivetrain.

pub(super) mod drivetrain;
mod external;
mod start;

use actix_web::{HttpRequest, HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use self::drivetrain::{ChoiceBody, DrivetrainBody, DrivetrainDocument};
use self::start::StartDocument;
use crate::domain::{
    AppId, Bike, BikeFacts, BikeFilter, BikeId, BikeKindId, BikePatch, BikeSort, BikeStart, ExternalId,
    Field, FieldErrors, Form, GroupName, Invalid, KindChoice, KmBefore, Label, OwnersPatch, RiderId, Role,
    StartPatch, Use,
};
use crate::input::parse;
use crate::service::bikes::{self, EnterBike, EnterStart};
use crate::service::{Mismatch, Services};
use crate::web::api::care_setting::CareSettingDocument;
use crate::web::api::fittings::RidesOutside;
use crate::web::auth::{App, As};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::{Kind, Problem};
use crate::web::query::{Parameters, Query};
use crate::web::{answer, pagination, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    // Before addresses by id, of which an external id may be the last part.
    config
        .service(external::get_bike_by_external_id)
        .service(external::put_bike_by_external_id)
        .service(create_bike)
        .service(list_bikes)
        .service(get_bike)
        .service(change_bike)
        .service(retire_bike);
}

/// A bike.
#[derive(Serialize, ToSchema)]
#[schema(as = Bike)]
struct BikeDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    #[schema(example = "041")]
    label: String,
    /// The bikes that it wears like.
    #[schema(example = "town-8s")]
    group: String,
    /// What it is used for.
    #[serde(rename = "use")]
    #[schema(value_type = schema::Use)]
    usage: &'static str,
    /// Its rings, cogs and chain length.
    drivetrain: DrivetrainDocument,
    /// How far its care is told; null when it is as the workshop says.
    care: Option<CareSettingDocument>,
    /// Its kind; null without.
    kind_id: Option<Uuid>,
    /// What you call it; null without.
    external_id: Option<String>,
    /// The app that entered it, or that it was given to; null without.
    app_id: Option<Uuid>,
    /// Who rides it; null when nobody said.
    rider_id: Option<Uuid>,
    /// How its record begins; null while it never had a chain on record.
    start: Option<StartDocument>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// When it left the fleet; null while it is in it.
    retired_at: Option<DateTime<Utc>>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<(Bike, Option<BikeStart>)> for BikeDocument {
    fn from((bike, start): (Bike, Option<BikeStart>)) -> Self {
        let Bike { id, facts, app, rider, created_at, retired_at, revision, days_zone: _, rides_compared: _ } =
            bike;
        let BikeFacts { label, group, usage, drivetrain, is_assumed, limit, care, kind, external_id } = facts;
        Self {
            id: id.uuid(),
            label: label.to_string(),
            group: group.to_string(),
            usage: usage.as_str(),
            drivetrain: DrivetrainDocument::new(&drivetrain, limit, is_assumed),
            care: care.map(Into::into),
            kind_id: kind.map(BikeKindId::uuid),
            external_id: external_id.map(|id| id.to_string()),
            app_id: app.map(AppId::uuid),
            rider_id: rider.map(RiderId::uuid),
            start: start.map(StartDocument::from),
            created_at: created_at.datetime(),
            retired_at: retired_at.map(|at| at.datetime()),
            revision,
        }
    }
}

/// A page of bikes.
#[derive(ToSchema)]
#[allow(dead_code)]
struct BikeList {
    /// Bikes of this page.
    items: Vec<BikeDocument>,
}

/// A bike to be entered, with the drivetrain that is on it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewBike {
    /// What people call it: the number on its frame. No other bike of the fleet has it, in any case of letters.
    #[schema(min_length = 1, max_length = 64)]
    label: String,
    /// The bikes that it wears like; what is learned is learned by group. When left out its kind's, else its use.
    #[schema(min_length = 1, max_length = 64)]
    group: Option<String>,
    /// What it is used for; when left out as its kind, else `town`.
    #[serde(rename = "use")]
    #[schema(value_type = Option<schema::Use>)]
    usage: Option<String>,
    /// Its kind: what the call leaves out is as the kind says, and parts are of its models.
    kind_id: Option<Uuid>,
    /// Its kind by name, in place of `kind_id`.
    #[schema(min_length = 1, max_length = 64)]
    kind: Option<String>,
    /// When its chain, cassette and rings were fitted, new. When left out they are as found: of an age that nobody
    /// knows, with a record that begins today or at the bike's first event, whichever is earlier.
    #[schema(value_type = Option<String>, format = Date)]
    fitted_on: Option<String>,
    /// About so far the chain has run already, where somebody knows; only without `fitted_on`.
    #[schema(schema_with = schema::optional::chain_km, required = false)]
    chain_km: Option<f64>,
    /// Its rings, cogs and chain length, or how they are known. When left out its kind's, else the usual one of its use,
    /// which is assumed until all of it is said.
    drivetrain: Option<ChoiceBody>,
    /// How far its care is told; as the workshop says when left out.
    care: Option<CareSettingDocument>,
    /// What you call it: no other bike of the workshop is called so, in the fleet or not. It can be asked for and changed by
    /// it, and rides can name it so.
    #[schema(min_length = 1, max_length = 128)]
    external_id: Option<String>,
    /// `true` where a chain that is shorter or longer than geometry allows is meant so; refused when left out.
    accept_mismatch: Option<bool>,
}

impl TryFrom<NewBike> for EnterBike {
    type Error = FieldErrors;

    fn try_from(body: NewBike) -> Result<Self, FieldErrors> {
        let NewBike {
            label,
            group,
            usage,
            kind_id,
            kind,
            fitted_on,
            chain_km,
            drivetrain,
            care,
            external_id,
            accept_mismatch,
        } = body;
        let mut errors = FieldErrors::new();
        let external_id = external_id.and_then(|id| errors.keep("/external_id", ExternalId::new(&id)));
        let label = errors.keep("/label", Label::new(&label));
        let usage = usage.and_then(|usage| errors.keep("/use", parse::text::<Use>(&usage)));
        let group = group.and_then(|group| errors.keep("/group", GroupName::new(&group)));
        let kind = match (kind_id, kind) {
            (Some(_), Some(_)) => {
                let what = Field::KindIdAndName;
                errors.push(Invalid::Together { what, allowed: Form::OneOfThem }.at("/kind"));
                None
            }
            (Some(id), None) => Some(KindChoice::Id(BikeKindId::from_uuid(id))),
            (None, name) => {
                name.and_then(|name| errors.keep("/kind", Label::new(&name))).map(KindChoice::Named)
            }
        };
        let fitted_on = fitted_on.and_then(|date| errors.keep("/fitted_on", parse::date(&date)));
        let ridden = chain_km.and_then(|km| errors.keep("/chain_km", KmBefore::new(km)));
        let start = errors.keep("/chain_km", EnterStart::new(fitted_on, ridden));
        let (drivetrain, limit) = match drivetrain.map(ChoiceBody::parse) {
            None => (None, None),
            Some(Ok((choice, limit))) => (Some(choice), limit),
            Some(Err(nested)) => {
                errors.extend_under("/drivetrain", nested);
                (None, None)
            }
        };
        let care = CareSettingDocument::keep(care, &mut errors);
        match (label, start) {
            (Some(label), Some(start)) if errors.is_empty() => {
                let mismatch = Mismatch::of(accept_mismatch);
                Ok(Self { label, group, usage, drivetrain, limit, care, kind, external_id, start, mismatch })
            }
            _ => Err(errors),
        }
    }
}

/// Which bikes, in which order.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct BikeQuery {
    /// Part of the label or of the group, in any case.
    search: Option<String>,
    /// The whole name of a group.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: Option<String>,
    /// What you call the bike.
    #[param(min_length = 1, max_length = 128)]
    external_id: Option<String>,
    /// Whether bikes that left the fleet are in the list too; `false` when left out.
    #[param(value_type = Option<bool>)]
    retired: Option<String>,
    /// The order; `created` when left out.
    #[param(value_type = Option<BikeSort>)]
    sort: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// What to change of a bike; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BikeChange {
    /// What people call it. No other bike of the fleet has it, in any case of letters.
    #[schema(min_length = 1, max_length = 64)]
    label: Option<String>,
    /// The bikes that it wears like.
    #[schema(min_length = 1, max_length = 64)]
    group: Option<String>,
    /// What it is used for.
    #[serde(rename = "use")]
    #[schema(value_type = Option<schema::Use>)]
    usage: Option<String>,
    /// The whole drivetrain anew, with the bike's own limit; without `limit_percent` it has none.
    drivetrain: Option<DrivetrainBody>,
    /// How far its care is told; null leaves it to the workshop.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<CareSettingDocument>)]
    care: Option<Option<CareSettingDocument>>,
    /// Its kind; null takes it away. Nothing else of the bike changes: it keeps its use, drivetrain, limit and group.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    kind_id: Option<Option<Uuid>>,
    /// When the chain, cassette and rings that came first were fitted, new; null when nobody knows, so that they are as
    /// found. No later than the chain's first reading, and before any of them came off.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = Date)]
    fitted_on: Option<Option<String>>,
    /// About so far the chain had run when its record begins; null when nobody knows. Only of a chain as found. Readings
    /// decide where they say otherwise.
    #[serde(default, deserialize_with = "given")]
    #[schema(schema_with = schema::optional::chain_km, required = false)]
    chain_km: Option<Option<f64>>,
    /// What you call it; null takes that away. No other bike of the workshop is called so, in the fleet or not.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 128)]
    external_id: Option<Option<String>>,
    /// `false` brings a retired bike back into the fleet, and what was sent of it meanwhile counts; `true` retires it, as
    /// `DELETE` does.
    retired: Option<bool>,
    /// `true` where a chain that is shorter or longer than geometry allows is meant so; refused when left out.
    accept_mismatch: Option<bool>,
    /// Who rides it; null takes it from them. A manager says so: tokens that are bound to the rider see the bike from then
    /// on, those of the rider before no longer.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    rider_id: Option<Option<Uuid>>,
    /// The app whose tokens see it; null takes it from the app. A manager says so.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Uuid>)]
    app_id: Option<Option<Uuid>>,
}

impl TryFrom<BikeChange> for BikePatch {
    type Error = FieldErrors;

    fn try_from(body: BikeChange) -> Result<Self, FieldErrors> {
        let BikeChange {
            label,
            group,
            usage,
            drivetrain,
            care,
            kind_id,
            fitted_on,
            chain_km,
            external_id,
            retired,
            accept_mismatch,
            rider_id,
            app_id,
        } = body;
        let mut errors = FieldErrors::new();
        let mut patch = Self {
            label: label.and_then(|label| errors.keep("/label", Label::new(&label))),
            group: group.and_then(|group| errors.keep("/group", GroupName::new(&group))),
            usage: usage.and_then(|usage| errors.keep("/use", parse::text::<Use>(&usage))),
            drivetrain: None,
            limit: None,
            care: care.map(|care| CareSettingDocument::keep(care, &mut errors)),
            kind: kind_id.map(|id| id.map(BikeKindId::from_uuid)),
            external_id: external_id
                .map(|id| id.and_then(|id| errors.keep("/external_id", ExternalId::new(&id)))),
            retired,
            accept_mismatch,
            owners: OwnersPatch {
                app: app_id.map(|id| id.map(AppId::from_uuid)),
                rider: rider_id.map(|id| id.map(RiderId::from_uuid)),
            },
            start: StartPatch {
                fitted_on: fitted_on
                    .map(|date| date.and_then(|date| errors.keep("/fitted_on", parse::date(&date)))),
                ridden: chain_km.map(|km| km.and_then(|km| errors.keep("/chain_km", KmBefore::new(km)))),
            },
        };
        match drivetrain.map(DrivetrainBody::parse) {
            Some(Ok((drivetrain, limit))) => {
                patch.drivetrain = Some(drivetrain);
                patch.limit = Some(limit);
            }
            Some(Err(nested)) => errors.extend_under("/drivetrain", nested),
            None => {}
        }
        if errors.is_empty() { Ok(patch) } else { Err(errors) }
    }
}

/// A bike after a change.
#[derive(Serialize, ToSchema)]
struct ChangedBike {
    #[serde(flatten)]
    bike: BikeDocument,
    /// Rides before the chain's new beginning: they no longer count for it. They are left out where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    outside: Option<RidesOutside>,
}

/// Enter a bike
///
/// A label is enough. What is left out is as the kind says that is named, else as usual for the use, and assumed. With
/// `fitted_on`, chain, cassette and rings count as fitted new on that day; without it they are as found, and
/// events from before the entry are taken too. What a bound token enters is its app's and its rider's.
#[utoipa::path(
    operation_id = "create_bike",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    request_body(content = NewBike, example = json!({
        "label": "041", "group": "town-8s", "use": "town", "fitted_on": "2026-01-01",
        "drivetrain": {"rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114, "limit_percent": 0.75}
    })),
    responses((status = 201, description = "The bike", body = BikeDocument,
        headers(("Location" = String, description = "Address of the bike"))))
)]
#[post("/v1/bikes")]
async fn create_bike(
    services: web::Data<Services>,
    mut change: Change<App>,
    body: Json<NewBike>,
) -> Result<HttpResponse, Problem> {
    let (bike, start) = bikes::create(&services, &mut change, body.0.try_into()?).await?;
    let (address, revision) = (format!("/v1/bikes/{}", bike.id), bike.revision);
    Ok(answer::created(address, revision, BikeDocument::from((bike, start))))
}

/// List bikes
#[utoipa::path(
    operation_id = "list_bikes",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(BikeQuery),
    responses((status = 200, description = "A page of bikes", body = BikeList))
)]
#[get("/v1/bikes")]
async fn list_bikes(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<BikeQuery>,
) -> Result<HttpResponse, Problem> {
    let BikeQuery { search, group, external_id, retired, sort, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = BikeFilter {
        search: search.filter(|text| !text.trim().is_empty()),
        group: parameters.word("group", group.as_deref()),
        external_id: parameters.word("external_id", external_id.as_deref()),
        with_retired: parameters.flag("retired", retired.as_deref()),
    };
    let sort = parameters.word("sort", sort.as_deref()).unwrap_or(BikeSort::Created);
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = bikes::list_with_starts(&services, &actor, &filter, sort, &page).await?;
    Ok(pagination::answer(&request, page, BikeDocument::from))
}

/// Get a bike
#[utoipa::path(
    operation_id = "get_bike",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    responses((status = 200, description = "The bike", body = BikeDocument))
)]
#[get("/v1/bikes/{bike_id}")]
async fn get_bike(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<BikeId>,
) -> Result<HttpResponse, Problem> {
    let (bike, start) = bikes::get_with_start(&services, &actor, *bike_id).await?;
    Ok(answer::current(bike.revision, BikeDocument::from((bike, start))))
}

/// Change a bike
///
/// Another drivetrain or use counts for all rides of the bike, past ones too. `fitted_on` and `chain_km` correct how
/// the bike's record begins, as if it had been so from the start.
#[utoipa::path(
    operation_id = "change_bike",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("If-Match" = String, Header, description = "`ETag` of the bike as you read it", example = "\"1\"")),
    request_body(content = BikeChange, example = json!({"label": "041b", "group": "town-8s"})),
    responses((status = 200, description = "The bike after the change", body = ChangedBike))
)]
#[patch("/v1/bikes/{bike_id}")]
async fn change_bike(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    seen: IfMatch,
    body: Json<BikeChange>,
) -> Result<HttpResponse, Problem> {
    let patch: BikePatch = body.0.try_into()?;
    if patch.owners != OwnersPatch::default() && change.actor().role != Role::Manager {
        let detail = "rider_id and app_id are a manager's to set";
        return Err(Problem::new(Kind::RoleNotAllowed, detail));
    }
    let revision = seen
        .revision(async || Ok(bikes::get_with_start(&services, change.actor(), *bike_id).await?.0.revision))
        .await?;
    let bikes::ChangedBike { bike, start, outside } =
        bikes::patch(&services, &mut change, *bike_id, revision, patch).await?;
    let revision = bike.revision;
    let outside =
        Some(&outside).filter(|outside| !outside.is_empty()).map(|outside| RidesOutside::of(outside));
    Ok(answer::current(revision, ChangedBike { bike: BikeDocument::from((bike, start)), outside }))
}

/// Take a bike out of the fleet
///
/// Its history stays and can be read; lists, orders, plans and hooks leave it out. Readings, swaps, care and reports from
/// after its retirement are refused; rides are kept, count for nothing, and say so. `PATCH` with `retired: false` brings
/// it back.
#[utoipa::path(
    operation_id = "retire_bike",
    tag = "bikes",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("If-Match" = String, Header, description = "`ETag` of the bike as you read it", example = "\"1\"")),
    responses((status = 204, description = "The bike is out of the fleet"))
)]
#[delete("/v1/bikes/{bike_id}")]
async fn retire_bike(
    services: web::Data<Services>,
    mut change: Change<App>,
    bike_id: web::Path<BikeId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(bikes::get_with_start(&services, change.actor(), *bike_id).await?.0.revision))
        .await?;
    bikes::retire(&services, &mut change, *bike_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
