//! How far bikes are said to go.

use actix_web::{HttpRequest, HttpResponse, delete, get, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{
    BikeId, DaysOfUse, DeclaredUse, DeclaredUseId, DistanceAWeek, FieldErrors, GroupName, UseOf,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::declared_use::{self, Declare};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::change::Change;
use crate::web::pagination::Listing;
use crate::web::problem::Problem;
use crate::web::query::{PageQuery, Parameters, Query};
use crate::web::{answer, pagination, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(declare_use)
        .service(list_declared_use)
        .service(remove_declared_use)
        .service(declare_group_use)
        .service(list_group_use)
        .service(remove_group_use);
}

/// How far a bike, or each bike of a group, is said to go.
#[derive(Serialize, ToSchema)]
#[schema(as = DeclaredUse)]
struct DeclaredDocument {
    /// Its id.
    id: Uuid,
    /// The bike; null when it is of a group.
    bike_id: Option<Uuid>,
    /// The group; null when it is of a bike.
    group: Option<String>,
    /// Distance a week.
    #[schema(schema_with = schema::km_per_week)]
    km_per_week: f64,
    /// First day; null when it always was so.
    from: Option<NaiveDate>,
    /// Last day; null when it holds until further notice.
    until: Option<NaiveDate>,
    /// When it was entered.
    entered_at: DateTime<Utc>,
}

impl From<DeclaredUse> for DeclaredDocument {
    fn from(DeclaredUse { id, of, days, per_week, entered_at }: DeclaredUse) -> Self {
        let (bike_id, group) = match of {
            UseOf::Bike(bike_id) => (Some(bike_id.uuid()), None),
            UseOf::Group(group) => (None, Some(group.to_string())),
        };
        Self {
            id: id.uuid(),
            bike_id,
            group,
            km_per_week: per_week.km(),
            from: days.from(),
            until: days.until(),
            entered_at: entered_at.datetime(),
        }
    }
}

/// How far a bike goes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewDeclaredUse {
    /// Distance a week.
    #[schema(schema_with = schema::km_per_week)]
    km_per_week: f64,
    /// First day; always when left out.
    #[schema(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Last day, the same day or later; until further notice when left out.
    #[schema(value_type = Option<String>, format = Date)]
    until: Option<String>,
}

impl NewDeclaredUse {
    fn parse(self) -> Result<Declare, FieldErrors> {
        let Self { km_per_week, from, until } = self;
        let mut errors = FieldErrors::new();
        let per_week = errors.keep("/km_per_week", DistanceAWeek::from_km(km_per_week));
        let from = from.and_then(|date| errors.keep("/from", parse::date(&date)));
        let until = until.and_then(|date| errors.keep("/until", parse::date(&date)));
        let days = errors.keep("/until", DaysOfUse::new(from, until));
        match (days, per_week) {
            (Some(days), Some(per_week)) if errors.is_empty() => Ok(Declare { days, per_week }),
            _ => Err(errors),
        }
    }
}

/// How far each bike of a group goes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewGroupUse {
    /// The whole name of the group.
    #[schema(min_length = 1, max_length = 64)]
    group: String,
    /// Distance a week, of each bike.
    #[schema(schema_with = schema::km_per_week)]
    km_per_week: f64,
    /// First day; always when left out.
    #[schema(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// Last day, the same day or later; until further notice when left out.
    #[schema(value_type = Option<String>, format = Date)]
    until: Option<String>,
}

impl NewGroupUse {
    fn parse(self) -> Result<(GroupName, Declare), FieldErrors> {
        let Self { group, km_per_week, from, until } = self;
        let mut errors = FieldErrors::new();
        let group = errors.keep("/group", GroupName::new(&group));
        match (group, NewDeclaredUse { km_per_week, from, until }.parse()) {
            (Some(group), Ok(declare)) => Ok((group, declare)),
            (_, Ok(_)) => Err(errors),
            (_, Err(nested)) => {
                errors.extend_under("", nested);
                Err(errors)
            }
        }
    }
}

/// A page of declared use.
#[derive(ToSchema)]
#[allow(dead_code)]
struct DeclaredUseList {
    /// Declared use of this page, in the order it was entered.
    items: Vec<DeclaredDocument>,
}

/// Of which group.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct GroupQuery {
    /// The whole name of a group; all groups when left out.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// Declare how far a bike goes
///
/// It counts where neither rides nor an odometer say how far, and goes before what is declared of the bike's group.
/// Where two declarations of the bike overlap, the one that begins later holds. The same said twice is said once.
#[utoipa::path(
    operation_id = "declare_use",
    tag = "rides",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike")),
    request_body(content = NewDeclaredUse, example = json!({"km_per_week": 60, "from": "2026-03-01"})),
    responses(
        (status = 201, description = "It is new", body = DeclaredDocument),
        (status = 200, description = "It was said before", body = DeclaredDocument)
    )
)]
#[post("/v1/bikes/{bike_id}/declared-use")]
async fn declare_use(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    bike_id: web::Path<BikeId>,
    body: Json<NewDeclaredUse>,
) -> Result<HttpResponse, Problem> {
    let declare = body.0.parse()?;
    let stored = declared_use::post_of_bike(&services, &mut change, *bike_id, declare).await?;
    Ok(answer::entered(stored, DeclaredDocument::from))
}

/// List how far a bike is said to go
///
/// What is declared of its group isn't in the list.
#[utoipa::path(
    operation_id = "list_declared_use",
    tag = "rides",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), PageQuery),
    responses((status = 200, description = "A page of declared use", body = DeclaredUseList))
)]
#[get("/v1/bikes/{bike_id}/declared-use")]
async fn list_declared_use(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<BikeId>,
    listing: Listing,
) -> Result<HttpResponse, Problem> {
    let page = declared_use::list_of_bike(&services, &actor, *bike_id, &listing.page).await?;
    Ok(listing.answer(page, DeclaredDocument::from))
}

/// Take back how far a bike was said to go
///
/// It never changes, so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "remove_declared_use",
    tag = "rides",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("declared_use_id" = Uuid, Path, description = "The declared use")),
    responses((status = 204, description = "It is gone"))
)]
#[delete("/v1/bikes/{bike_id}/declared-use/{declared_use_id}")]
async fn remove_declared_use(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    path: web::Path<(BikeId, DeclaredUseId)>,
) -> Result<HttpResponse, Problem> {
    let (bike_id, id) = path.into_inner();
    declared_use::remove_of_bike(&services, &mut change, bike_id, id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Declare how far each bike of a group goes
///
/// It counts for bikes of which nothing is declared for the day, where neither rides nor an odometer say how far. Their
/// outlooks are computed anew within seconds.
#[utoipa::path(
    operation_id = "declare_group_use",
    tag = "rides",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewGroupUse, example = json!({
        "group": "town-8s", "km_per_week": 80, "from": "2026-04-01", "until": "2026-10-31"
    })),
    responses(
        (status = 201, description = "It is new", body = DeclaredDocument),
        (status = 200, description = "It was said before", body = DeclaredDocument)
    )
)]
#[post("/v1/declared-use")]
async fn declare_group_use(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewGroupUse>,
) -> Result<HttpResponse, Problem> {
    let (group, declare) = body.0.parse()?;
    let stored = declared_use::post_of_group(&services, &mut change, group, declare).await?;
    Ok(answer::entered(stored, DeclaredDocument::from))
}

/// List how far bikes of groups are said to go
#[utoipa::path(
    operation_id = "list_group_use",
    tag = "rides",
    security(("bearer" = ["mechanic", "manager"])),
    params(GroupQuery),
    responses((status = 200, description = "A page of declared use", body = DeclaredUseList))
)]
#[get("/v1/declared-use")]
async fn list_group_use(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<GroupQuery>,
) -> Result<HttpResponse, Problem> {
    let GroupQuery { group, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let group: Option<GroupName> = parameters.word("group", group.as_deref());
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = declared_use::list_of_groups(&services, &actor, group, &page).await?;
    Ok(pagination::answer(&request, page, DeclaredDocument::from))
}

/// Take back how far bikes of a group were said to go
///
/// It never changes, so no `If-Match` is needed.
#[utoipa::path(
    operation_id = "remove_group_use",
    tag = "rides",
    security(("bearer" = ["mechanic", "manager"])),
    params(("declared_use_id" = Uuid, Path, description = "The declared use of a group")),
    responses((status = 204, description = "It is gone"))
)]
#[delete("/v1/declared-use/{declared_use_id}")]
async fn remove_group_use(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    declared_use_id: web::Path<DeclaredUseId>,
) -> Result<HttpResponse, Problem> {
    declared_use::remove_of_group(&services, &mut change, *declared_use_id).await?;
    Ok(HttpResponse::NoContent().finish())
}
