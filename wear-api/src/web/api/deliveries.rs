//! Deliveries: parts on their way to the shelf.

use actix_web::{HttpRequest, HttpResponse, delete, get, patch, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{
    Delivery, DeliveryCount, DeliveryFacts, DeliveryFilter, DeliveryId, FieldErrors, Note, PartModelId,
};
use crate::input::parse;
use crate::service::Services;
use crate::service::deliveries::{self, Booked, DeliveryPatch};
use crate::web::auth::{As, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::{answer, pagination};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create_delivery)
        .service(list_deliveries)
        .service(get_delivery)
        .service(change_delivery)
        .service(delete_delivery);
}

/// A delivery.
#[derive(Serialize, ToSchema)]
#[schema(as = Delivery)]
struct DeliveryDocument {
    /// Its id.
    id: Uuid,
    /// The part model.
    part_model_id: Uuid,
    /// How many parts.
    #[schema(minimum = 1, maximum = 1_000_000)]
    count: u32,
    /// The date on which it is expected.
    expected_on: NaiveDate,
    /// The date on which it arrived; null while it is under way.
    arrived_on: Option<NaiveDate>,
    /// Whether its parts were added to the shelf's count. They weren't when the shelf was counted on a later day.
    on_shelf: bool,
    /// A remark; null when there is none.
    note: Option<String>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Delivery> for DeliveryDocument {
    fn from(Delivery { id, facts, on_shelf, created_at, revision }: Delivery) -> Self {
        let DeliveryFacts { part_model_id, count, expected_on, arrived_on, note } = facts;
        Self {
            id: id.uuid(),
            part_model_id: part_model_id.uuid(),
            count: count.get(),
            expected_on,
            arrived_on,
            on_shelf,
            note: note.map(|note| note.to_string()),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// Something that a person should know.
#[derive(Serialize, ToSchema)]
#[schema(as = DeliveryWarning)]
struct WarningDocument {
    /// A stable word for programs.
    #[schema(example = "shelf_short")]
    code: &'static str,
    /// A sentence for people.
    message: String,
}

/// A delivery after a change.
#[derive(Serialize, ToSchema)]
#[schema(as = ChangedDelivery)]
struct ChangedDocument {
    #[serde(flatten)]
    delivery: DeliveryDocument,
    /// What a person should know: `shelf_short` when an arrival was taken back or made smaller and the shelf had less
    /// than that.
    warnings: Vec<WarningDocument>,
}

impl From<Booked> for ChangedDocument {
    fn from(Booked { delivery, missing }: Booked) -> Self {
        let warnings = (missing > 0).then(|| WarningDocument {
            code: "shelf_short",
            message: format!(
                "The shelf lacked {missing} of the parts that were taken back; its count stays at nil. Count the shelf"
            ),
        });
        Self { delivery: delivery.into(), warnings: warnings.into_iter().collect() }
    }
}

/// A delivery to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewDelivery {
    /// The part model.
    part_model_id: Uuid,
    /// How many parts.
    #[schema(minimum = 1, maximum = 1_000_000)]
    count: i64,
    /// The date on which it is expected.
    #[schema(format = Date)]
    expected_on: String,
    /// The date on which it arrived; under way when left out.
    #[schema(value_type = Option<String>, format = Date)]
    arrived_on: Option<String>,
    /// A remark.
    #[schema(min_length = 1, max_length = 2000)]
    note: Option<String>,
}

impl NewDelivery {
    fn parse(self) -> Result<DeliveryFacts, FieldErrors> {
        let Self { part_model_id, count, expected_on, arrived_on, note } = self;
        let mut errors = FieldErrors::new();
        let count = errors.keep("/count", DeliveryCount::new(count));
        let expected_on = errors.keep("/expected_on", parse::date(&expected_on));
        let arrived_on = arrived_on.and_then(|day| errors.keep("/arrived_on", parse::date(&day)));
        let note = note.and_then(|note| errors.keep("/note", Note::new(&note)));
        match (count, expected_on) {
            (Some(count), Some(expected_on)) if errors.is_empty() => {
                let part_model_id = PartModelId::from_uuid(part_model_id);
                Ok(DeliveryFacts { part_model_id, count, expected_on, arrived_on, note })
            }
            _ => Err(errors),
        }
    }
}

/// Which deliveries.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct DeliveryQuery {
    /// Those of one part model.
    #[param(value_type = Option<uuid::Uuid>)]
    part_model_id: Option<String>,
    /// `true` for those that arrived, `false` for those under way; both when left out.
    #[param(value_type = Option<bool>)]
    arrived: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A page of deliveries.
#[derive(ToSchema)]
#[allow(dead_code)]
struct DeliveryList {
    /// Deliveries of this page, by the date on which they are expected.
    items: Vec<DeliveryDocument>,
}

/// What to change of a delivery; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct DeliveryChange {
    /// How many parts; with an arrival, how many arrived.
    #[schema(minimum = 1, maximum = 1_000_000)]
    count: Option<i64>,
    /// The date on which it is expected.
    #[schema(value_type = Option<String>, format = Date)]
    expected_on: Option<String>,
    /// The date on which it arrived; null takes the arrival back.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = Date)]
    arrived_on: Option<Option<String>>,
    /// A remark; null takes it away.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 2000)]
    note: Option<Option<String>>,
}

impl DeliveryChange {
    fn parse(self) -> Result<DeliveryPatch, FieldErrors> {
        let Self { count, expected_on, arrived_on, note } = self;
        let mut errors = FieldErrors::new();
        let patch = DeliveryPatch {
            count: count.and_then(|count| errors.keep("/count", DeliveryCount::new(count))),
            expected_on: expected_on.and_then(|day| errors.keep("/expected_on", parse::date(&day))),
            arrived_on: arrived_on
                .map(|day| day.and_then(|day| errors.keep("/arrived_on", parse::date(&day)))),
            note: note.map(|note| note.and_then(|note| errors.keep("/note", Note::new(&note)))),
        };
        if errors.is_empty() { Ok(patch) } else { Err(errors) }
    }
}

/// Enter a delivery
///
/// One that has arrived already is on the shelf at once.
#[utoipa::path(
    operation_id = "create_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewDelivery, example = json!({
        "part_model_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10", "count": 20, "expected_on": "2026-12-04"
    })),
    responses((status = 201, description = "The delivery", body = DeliveryDocument,
        headers(("Location" = String, description = "Its address"))))
)]
#[post("/v1/deliveries")]
async fn create_delivery(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    body: Json<NewDelivery>,
) -> Result<HttpResponse, Problem> {
    let delivery = deliveries::create(&services, &mut change, body.0.parse()?).await?;
    Ok(answer::created(
        format!("/v1/deliveries/{}", delivery.id),
        delivery.revision,
        DeliveryDocument::from(delivery),
    ))
}

/// List deliveries
#[utoipa::path(
    operation_id = "list_deliveries",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(DeliveryQuery),
    responses((status = 200, description = "A page of deliveries", body = DeliveryList))
)]
#[get("/v1/deliveries")]
async fn list_deliveries(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<DeliveryQuery>,
) -> Result<HttpResponse, Problem> {
    let DeliveryQuery { part_model_id, arrived, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = DeliveryFilter {
        part_model_id: parameters.word("part_model_id", part_model_id.as_deref()),
        arrived: arrived.as_deref().map(|given| parameters.flag("arrived", Some(given))),
    };
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = deliveries::list(&services, &actor, &filter, &page).await?;
    Ok(pagination::answer(&request, page, DeliveryDocument::from))
}

/// Get a delivery
#[utoipa::path(
    operation_id = "get_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("delivery_id" = Uuid, Path, description = "The delivery")),
    responses((status = 200, description = "The delivery", body = DeliveryDocument))
)]
#[get("/v1/deliveries/{delivery_id}")]
async fn get_delivery(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    delivery_id: web::Path<DeliveryId>,
) -> Result<HttpResponse, Problem> {
    let delivery = deliveries::get(&services, &actor, *delivery_id).await?;
    Ok(answer::current(delivery.revision, DeliveryDocument::from(delivery)))
}

/// Change a delivery, or enter its arrival
///
/// An arrival adds the parts to the shelf, unless the shelf was counted on a later day. Correcting the count of an
/// arrived delivery, or taking the arrival back, corrects the shelf likewise.
#[utoipa::path(
    operation_id = "change_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("delivery_id" = Uuid, Path, description = "The delivery"),
        ("If-Match" = String, Header, description = "`ETag` of the delivery as you read it", example = "\"1\"")),
    request_body(content = DeliveryChange, example = json!({"arrived_on": "2026-11-24"})),
    responses((status = 200, description = "The delivery after the change", body = ChangedDocument))
)]
#[patch("/v1/deliveries/{delivery_id}")]
async fn change_delivery(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    delivery_id: web::Path<DeliveryId>,
    seen: IfMatch,
    body: Json<DeliveryChange>,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(deliveries::get(&services, change.actor(), *delivery_id).await?.revision))
        .await?;
    let booked = deliveries::change(&services, &mut change, *delivery_id, revision, body.0.parse()?).await?;
    Ok(answer::current(booked.delivery.revision, ChangedDocument::from(booked)))
}

/// Take a delivery that won't come off the list
///
/// One that has arrived stays: 409.
#[utoipa::path(
    operation_id = "delete_delivery",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(("delivery_id" = Uuid, Path, description = "The delivery"),
        ("If-Match" = String, Header, description = "`ETag` of the delivery as you read it", example = "\"1\"")),
    responses((status = 204, description = "The delivery is off the list"))
)]
#[delete("/v1/deliveries/{delivery_id}")]
async fn delete_delivery(
    services: web::Data<Services>,
    mut change: Change<Mechanic>,
    delivery_id: web::Path<DeliveryId>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    let revision = seen
        .revision(async || Ok(deliveries::get(&services, change.actor(), *delivery_id).await?.revision))
        .await?;
    deliveries::delete(&services, &mut change, *delivery_id, revision).await?;
    Ok(HttpResponse::NoContent().finish())
}
