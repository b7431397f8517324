//! What to order.

use actix_web::{HttpResponse, get, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::forecast::YEARS_DIFFER;

use crate::domain::{Field, Form, Invalid, Place, ServiceLevel, StandIn};
use crate::service::Services;
use crate::service::orders::{
    self, BikeBehind, HORIZON_DAYS, MOST_BIKES, MOST_HORIZON_DAYS, OrdersNeeded, OrdersQuery, PartKind,
    PartNeeded, Reorder, Substitute,
};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::schema;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_orders_needed);
}

/// What to order.
#[derive(Serialize, ToSchema)]
#[schema(as = OrdersNeeded)]
struct OrdersDocument {
    /// The date that it was counted from.
    as_of: NaiveDate,
    /// Days over which swaps were counted.
    #[schema(minimum = 1, maximum = 182)]
    horizon_days: u32,
    /// Standard deviation of the logarithm of use that all bikes share from one year to another (assumed).
    season_ln_sd: f64,
    /// Bikes whose outlooks were counted.
    bikes_counted: usize,
    /// Bikes whose outlooks are being computed anew and weren't counted; ask again in a minute.
    bikes_waiting: usize,
    /// By part: those to be ordered first.
    items: Vec<PartDocument>,
}

/// One part with its numbers.
#[derive(Serialize, ToSchema)]
#[schema(as = PartNeeded)]
struct PartDocument {
    /// The part model; null for parts whose model nobody entered.
    part_model_id: Option<Uuid>,
    /// What people call it.
    name: Option<String>,
    /// Where on a bike it sits.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Its shape, for parts whose model nobody entered: `8 sprockets`.
    shape: Option<String>,
    /// Swaps that use it over the horizon.
    demand: DemandDocument,
    /// Parts on the shelf; null where nobody keeps count (then it is taken to be empty).
    on_shelf: Option<u32>,
    /// Parts in deliveries that haven't arrived.
    under_way: u32,
    /// Of these, expected within the lead time; only these count against an order.
    under_way_in_time: u32,
    /// Days from an order to its arrival.
    lead_time_days: u32,
    /// Probability of not running out within the lead time that was worked with.
    service_level: f64,
    /// When on_shelf and under_way_in_time together fall to this or below, more are ordered.
    reorder_point: usize,
    /// `workshop` where the workshop set the reorder point, `outlooks` where it was worked out.
    #[schema(example = "outlooks")]
    reorder_point_from: &'static str,
    /// What an order fills up to: covers lead time and horizon at the service level.
    order_up_to: usize,
    /// Parts to order now, in whole packs.
    order_quantity: usize,
    /// Packs to order now.
    order_packs: usize,
    /// Parts in a pack.
    pack_size: u32,
    /// Price of the order, minor units; null where the model has no price.
    order_price_minor: Option<i64>,
    /// Currency of that price.
    currency: Option<String>,
    /// Probability that shelf and deliveries last through the lead time without the order.
    lasts_probability: f64,
    /// Parts expected to be missing in the lead time without the order.
    expected_short: f64,
    /// Why, in words and numbers.
    reason: String,
    /// Other part models that may do: those that the workshop named, in its order, then others of the same shape.
    substitutes: Vec<SubstituteDocument>,
    /// The bikes behind the number, the likeliest first.
    bikes: Vec<BikeDocument>,
    /// Bikes that aren't named here.
    other_bikes: usize,
    /// What they add to the expected number.
    other_bikes_expected: f64,
}

/// A count of swaps.
#[derive(Serialize, ToSchema)]
#[schema(as = PartDemand)]
struct DemandDocument {
    /// Expected number.
    mean: f64,
    /// One chance in ten of fewer.
    p10: usize,
    /// As likely more as fewer.
    p50: usize,
    /// One chance in ten of more.
    p90: usize,
}

/// Another part model that may do.
#[derive(Serialize, ToSchema)]
#[schema(as = Substitute)]
struct SubstituteDocument {
    /// The part model.
    part_model_id: Uuid,
    /// What people call it.
    name: String,
    /// Parts on the shelf; null where nobody keeps count.
    on_shelf: Option<u32>,
    /// `fits` where the shapes are the same, `check` where they differ or one isn't known.
    #[schema(example = "fits")]
    verdict: &'static str,
    /// Why.
    reason: &'static str,
    /// Whether the workshop named it in its stock.
    named: bool,
}

/// A bike behind a number.
#[derive(Serialize, ToSchema)]
#[schema(as = BikeBehindNeed)]
struct BikeDocument {
    /// The bike.
    bike_id: Uuid,
    /// What people call it.
    label: String,
    /// Its group.
    group: String,
    /// Probability that it needs the part within the horizon; a sum for a bike that has the part at several places.
    probability: f64,
    /// What to do about it.
    #[schema(value_type = schema::Advice)]
    advice: &'static str,
    /// By when its chain is to be swapped.
    swap_by: Option<NaiveDate>,
}

impl OrdersDocument {
    fn of(needed: OrdersNeeded, query: OrdersQuery) -> Self {
        let OrdersNeeded { as_of, bikes_counted, bikes_waiting, parts } = needed;
        Self {
            as_of,
            horizon_days: query.horizon_days,
            season_ln_sd: YEARS_DIFFER,
            bikes_counted,
            bikes_waiting,
            items: parts.into_iter().map(PartDocument::from).collect(),
        }
    }
}

fn reason(part: &PartNeeded) -> String {
    let Reorder { point, quantity, packs, lasts_probability, .. } = part.reorder;
    let there =
        format!("{} on the shelf and {} coming in time", part.on_shelf.unwrap_or(0), part.under_way_in_time);
    let lasts = format!(
        "last through {} days with {:.0} %, {:.0} % is wanted",
        part.lead_time.get(),
        lasts_probability * 100.0,
        part.service_level.get() * 100.0
    );
    match (quantity, part.reorder_point_is_set) {
        (0, true) => format!("{there}: above the {point} that the workshop set"),
        (0, false) => format!("{there} {lasts}"),
        (_, true) => format!(
            "{there}: not above the {point} that the workshop set; order {packs} × {}",
            part.pack_size.get()
        ),
        (_, false) => format!("{there} {lasts}; order {packs} × {}", part.pack_size.get()),
    }
}

impl From<PartNeeded> for PartDocument {
    fn from(part: PartNeeded) -> Self {
        let reason = reason(&part);
        let PartNeeded {
            kind,
            name,
            place,
            price,
            mean,
            p10,
            p50,
            p90,
            on_shelf,
            under_way,
            under_way_in_time,
            lead_time,
            pack_size,
            service_level,
            reorder_point_is_set,
            reorder,
            substitutes,
            bikes,
            other_bikes,
            other_bikes_mean,
        } = part;
        let Reorder { point, up_to, quantity, packs, lasts_probability, expected_short } = reorder;
        let (part_model_id, shape) = match kind {
            PartKind::Model(model) => (Some(model.uuid()), None),
            PartKind::Unnamed(_, shape) => (None, Some(shape)),
        };
        Self {
            part_model_id,
            name: name.map(|name| name.to_string()),
            place: place.as_str(),
            shape,
            demand: DemandDocument { mean, p10, p50, p90 },
            on_shelf,
            under_way,
            under_way_in_time,
            lead_time_days: lead_time.get(),
            service_level: service_level.get(),
            reorder_point: point,
            reorder_point_from: if reorder_point_is_set { "workshop" } else { "outlooks" },
            order_up_to: up_to,
            order_quantity: quantity,
            order_packs: packs,
            pack_size: pack_size.get(),
            order_price_minor: price
                .and_then(|price| price.minor().checked_mul(i64::try_from(quantity).ok()?)),
            currency: price.map(|price| price.currency().to_string()),
            lasts_probability,
            expected_short,
            reason,
            substitutes: substitutes.into_iter().map(SubstituteDocument::from).collect(),
            bikes: bikes.into_iter().map(BikeDocument::from).collect(),
            other_bikes,
            other_bikes_expected: other_bikes_mean,
        }
    }
}

impl From<Substitute> for SubstituteDocument {
    fn from(Substitute { part_model_id, name, on_shelf, fits, is_named }: Substitute) -> Self {
        let (verdict, reason) = match fits {
            StandIn::Fits => ("fits", "The shape is the same"),
            StandIn::Check => ("check", "The shape differs or isn't known: check the fit on the bike"),
        };
        Self {
            part_model_id: part_model_id.uuid(),
            name: name.to_string(),
            on_shelf,
            verdict,
            reason,
            named: is_named,
        }
    }
}

impl From<BikeBehind> for BikeDocument {
    fn from(BikeBehind { bike_id, label, group, expected, advice, swap_by }: BikeBehind) -> Self {
        Self {
            bike_id: bike_id.uuid(),
            label: label.to_string(),
            group: group.to_string(),
            probability: expected,
            advice: advice.as_str(),
            swap_by,
        }
    }
}

/// Bikes that are named behind each number where nobody says.
const BIKES: usize = 50;

/// What to count.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct OrdersParameters {
    /// Days over which swaps are counted; an order also covers these days after its arrival. 28 when left out.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 182)]
    horizon_days: Option<String>,
    /// Probability of not running out within the lead time, for part models without one of their own. 0.95 when left
    /// out.
    #[param(value_type = Option<f64>, minimum = 0.5, maximum = 0.999)]
    service_level: Option<String>,
    /// Most bikes named behind each number. 50 when left out.
    #[param(value_type = Option<u32>, minimum = 0, maximum = 1000)]
    bikes: Option<String>,
}

/// What to order
///
/// Counts the swaps that the outlooks expect, by part model: each bike's chain comes off when it reaches its limit, or
/// on its `swap_by` where the advice is to swap; cassette and rings go with it when they are used up by then. The count
/// is exact (Poisson-binomial) under a season that all bikes share. Each place of a bike counts once. Where nobody
/// entered a model, parts are counted by their shape.
#[utoipa::path(
    operation_id = "get_orders_needed",
    tag = "stock",
    security(("bearer" = ["mechanic", "manager"])),
    params(OrdersParameters),
    responses((status = 200, description = "By part: what has to be ordered first", body = OrdersDocument))
)]
#[get("/v1/orders-needed")]
async fn get_orders_needed(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    query: Query<OrdersParameters>,
) -> Result<HttpResponse, Problem> {
    let OrdersParameters { horizon_days, service_level, bikes } = query.0;
    let mut parameters = Parameters::new();
    let horizon_days = parameters.optional("horizon_days", horizon_days.as_deref(), |given| {
        let days = given.parse().ok().filter(|days| (1..=MOST_HORIZON_DAYS).contains(days));
        days.ok_or_else(|| Invalid::unparsed(Field::Days, given, Form::Days182))
    });
    let service_level = parameters.optional("service_level", service_level.as_deref(), |given| {
        let wrong = || Invalid::unparsed(Field::ServiceLevel, given, Form::ServiceLevel);
        ServiceLevel::new(given.parse().map_err(|_| wrong())?)
    });
    let bikes = parameters.optional("bikes", bikes.as_deref(), |given| {
        let count = given.parse().ok().filter(|count| *count <= MOST_BIKES);
        count.ok_or_else(|| Invalid::unparsed(Field::Bikes, given, Form::UpTo1000))
    });
    let usual = parameters.finish_with(ServiceLevel::new(ServiceLevel::DEFAULT).ok())?;
    let query = OrdersQuery {
        horizon_days: horizon_days.unwrap_or(HORIZON_DAYS),
        service_level: service_level.unwrap_or(usual),
        bikes: bikes.unwrap_or(BIKES),
    };
    let gathered = orders::gather(&services, &actor).await?;
    let counted = web::block(move || gathered.count(query));
    let needed = counted.await.map_err(|error| Problem::internal(&error))?;
    Ok(HttpResponse::Ok().json(OrdersDocument::of(needed, query)))
}
