//! When each chain has to come off, and how sure that is.

mod document;

use std::sync::LazyLock;

use actix_web::{HttpRequest, HttpResponse, get, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{BikeId, FleetEntry, OutlookFilter, OutlookSummary};
use crate::input::parse;
use crate::service::{Services, outlook};
use crate::web::auth::{App, As};
use crate::web::figures;
use crate::web::pagination;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::schema;
use crate::web::selection::{Selection, names_of};

pub(super) use document::{BandDocument, OutlookDocument, WarningDocument};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_outlook).service(list_outlooks);
}

/// Which bikes.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct OutlookQuery {
    /// Bikes with this advice.
    #[param(value_type = Option<schema::Advice>)]
    advice: Option<String>,
    /// The whole name of a group.
    #[param(
        min_length = 1,
        max_length = 64,
        pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$"
    )]
    group: Option<String>,
    /// Part of the label or of the group, in any case.
    search: Option<String>,
    /// Bikes that need someone before this date.
    #[param(value_type = Option<String>, format = Date)]
    due_before: Option<String>,
    /// Names of the fields that each item shall have, with commas in between, besides `bike_id`; all when left out.
    #[param(example = "label,advice,swap_by,remaining_km")]
    fields: Option<String>,
    /// Most items of a page; 50 when left out.
    #[param(value_type = Option<u8>, minimum = 1, maximum = 100)]
    limit: Option<String>,
    /// Cursor from the `Link` of the page before.
    #[param(min_length = 33)]
    after: Option<String>,
}

/// A bike in the fleet's list.
#[derive(Serialize, ToSchema)]
#[schema(as = OutlookSummary)]
struct SummaryDocument {
    /// The bike.
    bike_id: Uuid,
    /// What people call it.
    label: String,
    /// Its group.
    group: String,
    /// What it is used for.
    #[serde(rename = "use")]
    #[schema(value_type = schema::Use)]
    usage: &'static str,
    /// What to do.
    #[schema(value_type = schema::Advice)]
    advice: &'static str,
    /// The date on which someone has to see to the bike; null when nobody has to.
    attention_on: Option<NaiveDate>,
    /// By when the chain is to be swapped.
    swap_by: Option<NaiveDate>,
    /// By when a reading pays.
    measure_by: Option<NaiveDate>,
    /// Probability that the chain is over its limit; null when nothing is known of it.
    #[serde(serialize_with = "figures::told_if_any")]
    probability_over_limit: Option<f64>,
    /// Distance to the limit; null when the bike's use is unknown.
    remaining_km: Option<BandDocument>,
    /// The instant it was computed for.
    computed_at: DateTime<Utc>,
}

impl From<FleetEntry> for SummaryDocument {
    fn from(FleetEntry { label, group, usage, outlook, reason: _, with_chain: _ }: FleetEntry) -> Self {
        let OutlookSummary {
            bike_id,
            part_id: _,
            advice,
            attention_on,
            swap_by,
            measure_by,
            probability_over,
            remaining,
            computed_at,
        } = outlook;
        Self {
            bike_id: bike_id.uuid(),
            label: label.to_string(),
            group: group.to_string(),
            usage: usage.as_str(),
            advice: advice.as_str(),
            attention_on,
            swap_by,
            measure_by,
            probability_over_limit: probability_over.map(|probability| probability.get()),
            remaining_km: remaining.map(BandDocument::from),
            computed_at: computed_at.datetime(),
        }
    }
}

static SUMMARY_FIELDS: LazyLock<Vec<&'static str>> = LazyLock::new(names_of::<SummaryDocument>);

static OUTLOOK_FIELDS: LazyLock<Vec<&'static str>> = LazyLock::new(names_of::<OutlookDocument>);

/// What of it.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct FieldsQuery {
    /// Names of the fields that the answer shall have, with commas in between, besides `bike_id`; all when left out.
    #[param(example = "advice,reason,swap_by,remaining_km")]
    fields: Option<String>,
}

/// A page of the fleet's list.
#[derive(ToSchema)]
#[allow(dead_code)]
struct OutlookList {
    /// Bikes of this page, by when each needs someone, soonest first.
    items: Vec<SummaryDocument>,
}

/// List outlooks
///
/// The fleet by when each bike needs someone. After an event the list follows within seconds; a bike's own
/// outlook follows at once.
#[utoipa::path(
    operation_id = "list_outlooks",
    tag = "outlook",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(OutlookQuery),
    responses((status = 200, description = "A page of the list", body = OutlookList,
        headers(("Link" = String, description = "The next page, `rel=\"next\"`; absent on the last"))))
)]
#[get("/v1/outlooks")]
async fn list_outlooks(
    request: HttpRequest,
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<OutlookQuery>,
) -> Result<HttpResponse, Problem> {
    let OutlookQuery { advice, group, search, due_before, fields, limit, after } = query.0;
    let mut parameters = Parameters::new();
    let filter = OutlookFilter {
        advice: parameters.word("advice", advice.as_deref()),
        group: parameters.word("group", group.as_deref()),
        search: search.filter(|text| !text.trim().is_empty()),
        due_before: parameters.optional("due_before", due_before.as_deref(), parse::date),
    };
    let fields = Selection::parse(&mut parameters, fields.as_deref(), &SUMMARY_FIELDS);
    let page = parameters.page(limit.as_deref(), after.as_deref());
    parameters.finish()?;
    let page = outlook::fleet(&services, &actor, &filter, &page).await?;
    Ok(pagination::answer(&request, page, |entry| fields.of(SummaryDocument::from(entry))))
}

/// Get a bike's outlook
///
/// It counts every event that was acknowledged before the request.
#[utoipa::path(
    operation_id = "get_outlook",
    tag = "outlook",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), FieldsQuery),
    responses((status = 200, description = "The outlook", body = OutlookDocument))
)]
#[get("/v1/bikes/{bike_id}/outlook")]
async fn get_outlook(
    services: web::Data<Services>,
    actor: As<App>,
    bike_id: web::Path<Uuid>,
    query: Query<FieldsQuery>,
) -> Result<HttpResponse, Problem> {
    let mut parameters = Parameters::new();
    let fields = Selection::parse(&mut parameters, query.0.fields.as_deref(), &OUTLOOK_FIELDS);
    parameters.finish()?;
    let outlook = outlook::of_bike(&services, &actor, BikeId::from_uuid(*bike_id)).await?;
    Ok(HttpResponse::Ok().json(fields.of(OutlookDocument::from(outlook))))
}
