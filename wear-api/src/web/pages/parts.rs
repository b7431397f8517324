//! The shelf: what is counted, what is under way, and the models there are.

use actix_web::{get, post, web};
use askama::Template;
use wear_core::units::{JockeyTeeth, Teeth};

use super::bench;
use super::failure::Failure;
use super::frame::{Fields, Frame, Posted, Typed, Viewer};
use super::plot::{self, Needed};
use super::{Answer, again, html, see};
use crate::domain::{
    BenchPlan, ConstraintKind, DeliveryCount, DeliveryFacts, DeliveryFilter, DeliveryId, Field, FieldErrors,
    Form, Geometry, Invalid, Label, LeadTimeDays, Money, PackSize, PageRequest, PageSize, PartModel,
    PartModelFacts, PartModelId, Place, PlanState, ServiceLevel, ShelfCount, StockFacts, Workshop,
};
use crate::input::parse;
use crate::service::bench_plan::standing::{self, Standing};
use crate::service::deliveries::DeliveryPatch;
use crate::service::orders::{HORIZON_DAYS, OrdersQuery, PartKind, PartNeeded};
use crate::service::stock::StockPatch;
use crate::service::{Actor, ServiceError, Services, deliveries, orders, part_models, stock};
use crate::web::auth::Mechanic;
use crate::words::parse_number;

/// Most parts in the plot.
const ROWS: usize = 14;

#[derive(Template)]
#[template(path = "parts.html")]
struct PartsPage {
    f: Frame,
    orders: OrdersShown,
    shelf: Vec<ShelfRow>,
    uncounted: Vec<Choice>,
    deliveries: Vec<DeliveryShown>,
    models: Vec<ModelShown>,
    choices: Vec<Choice>,
    places: Vec<Choice>,
    price: String,
    typed: Typed,
    errors: Vec<String>,
}

struct OrdersShown {
    title: String,
    plot: Option<String>,
    now: Vec<OrderShown>,
    counted: String,
    waiting: Option<String>,
    /// What the bench plan lacks.
    lacking: Vec<String>,
}

struct OrderShown {
    name: String,
    quantity: usize,
    lasts: String,
}

struct ShelfRow {
    id: String,
    name: String,
    place: String,
    count: u32,
    since: String,
    under_way: u32,
    /// How many the bench plan takes; none while there is no plan.
    planned: Option<String>,
    lead_time: u32,
    revision: i64,
}

struct DeliveryShown {
    id: String,
    text: String,
    revision: i64,
}

struct ModelShown {
    name: String,
    place: String,
    price: String,
}

struct Choice {
    value: String,
    text: String,
}

/// What the weeks ahead need, against what there is.
async fn orders_shown(services: &Services, actor: &Actor, f: &Frame) -> Result<OrdersShown, Failure> {
    let service_level = ServiceLevel::new(ServiceLevel::DEFAULT).map_err(|_| Failure::Internal)?;
    let query = OrdersQuery { horizon_days: HORIZON_DAYS, service_level, bikes: 0 };
    let gathered = orders::gather(services, actor).await?;
    let needed = web::block(move || gathered.count(query)).await.map_err(|_| Failure::Internal)?;
    let named = |part: &PartNeeded| match (&part.name, &part.kind) {
        (Some(name), _) => name.to_string(),
        (None, PartKind::Unnamed(place, shape)) => f.orders_unnamed(f.place(*place), shape),
        (None, PartKind::Model(_)) => f.place(part.place),
    };
    let rows: Vec<Needed> = needed
        .parts
        .iter()
        .filter(|part| part.p90 > 0 || part.on_shelf.is_some_and(|count| count > 0) || part.under_way > 0)
        .take(ROWS)
        .map(|part| Needed {
            name: named(part),
            on_shelf: part.on_shelf,
            under_way: part.under_way,
            p50: part.p50,
            p90: part.p90,
        })
        .collect();
    let now = needed
        .parts
        .iter()
        .filter(|part| part.reorder.quantity > 0)
        .map(|part| OrderShown {
            name: named(part),
            quantity: part.reorder.quantity,
            lasts: f.chance(part.reorder.lasts_probability),
        })
        .collect();
    Ok(OrdersShown {
        title: f.orders_title(HORIZON_DAYS),
        plot: plot::shelf(f.words(), &rows, HORIZON_DAYS),
        now,
        counted: f.orders_counted(needed.bikes_counted),
        lacking: Vec::new(),
        waiting: (needed.bikes_waiting > 0).then(|| f.orders_waiting(needed.bikes_waiting)),
    })
}

/// The plan that stands, as the bench's page shows it, with how it stands now.
async fn bench_plan_now(
    services: &Services,
    actor: &Actor,
) -> Result<Option<(BenchPlan, Standing)>, Failure> {
    let plan = match bench::plan_in(services, actor, PlanState::Accepted).await? {
        Some(plan) => Some(plan),
        None => bench::plan_in(services, actor, PlanState::Proposed).await?,
    };
    Ok(match plan.filter(|plan| plan.window.to >= services.now().utc_date()) {
        Some(plan) => {
            let standing = standing::of_plan(services, actor, &plan).await?;
            Some((plan, standing))
        }
        None => None,
    })
}

/// Parts that the plan would have used and that weren't to be had.
fn lacking(f: &Frame, plan: &BenchPlan) -> Vec<String> {
    let parts = plan.result.short_of.iter().filter(|short| short.constraint == ConstraintKind::Part);
    parts
        .filter_map(|short| {
            let name = short.part_model.as_deref()?;
            let by = short.date.unwrap_or(plan.window.to);
            Some(f.parts_bench_lacks(short.missing.ceil(), name, f.medium_date(by), short.bikes.join(", ")))
        })
        .collect()
}

async fn shown(
    services: &Services,
    actor: &Actor,
    workshop: &Workshop,
    f: Frame,
    (typed, errors): (Typed, Vec<String>),
) -> Result<PartsPage, Failure> {
    let most = PageRequest::first(PageSize::LARGEST);
    let shelf = stock::list(services, actor, &most).await?.items;
    let models = part_models::list(services, actor, &most).await?.items;
    let filter = DeliveryFilter { arrived: Some(false), ..DeliveryFilter::default() };
    let coming = deliveries::list(services, actor, &filter, &most).await?.items;
    let name = |id: PartModelId| {
        models
            .iter()
            .find(|model| model.id == id)
            .map_or_else(String::new, |model| model.facts.name.to_string())
    };
    let choice = |model: &PartModel| Choice {
        value: model.id.to_string(),
        text: format!("{}: {}", f.place(model.facts.geometry.place()), model.facts.name.as_str()),
    };
    let plan = bench_plan_now(services, actor).await?;
    let mut orders = orders_shown(services, actor, &f).await?;
    if let Some((plan, _)) = &plan {
        orders.lacking = lacking(&f, plan);
    }
    let is_uncounted = |model: &&PartModel| !shelf.iter().any(|entry| entry.part_model_id == model.id);
    Ok(PartsPage {
        orders,
        uncounted: models.iter().filter(is_uncounted).map(choice).collect(),
        deliveries: coming
            .iter()
            .map(|delivery| DeliveryShown {
                id: delivery.id.to_string(),
                text: f.parts_delivery(
                    delivery.facts.count.get(),
                    name(delivery.facts.part_model_id),
                    f.medium_date(delivery.facts.expected_on),
                ),
                revision: delivery.revision,
            })
            .collect(),
        choices: models.iter().map(choice).collect(),
        models: models
            .iter()
            .map(|model| ModelShown {
                name: model.facts.name.to_string(),
                place: f.place(model.facts.geometry.place()),
                price: model.facts.price.map_or_else(|| f.parts_no_price(), |price| f.money(price.minor())),
            })
            .collect(),
        places: Place::ALL
            .iter()
            .map(|&place| Choice { value: place.as_str().to_owned(), text: f.place(place) })
            .collect(),
        price: f.parts_price(workshop.settings.currency),
        shelf: shelf
            .iter()
            .map(|entry| ShelfRow {
                id: entry.part_model_id.to_string(),
                name: entry.name.to_string(),
                place: f.place(entry.place),
                count: entry.facts.count.get(),
                since: f.parts_counted(f.medium_date(f.day_of(entry.counted_at))),
                under_way: entry.under_way,
                planned: plan.as_ref().map(|(_, standing)| {
                    let taken = standing.taken.get(&entry.part_model_id).copied().unwrap_or(0);
                    f.number(f64::from(taken), 0)
                }),
                lead_time: entry.facts.lead_time.get(),
                revision: entry.revision,
            })
            .collect(),
        typed,
        errors,
        f,
    })
}

#[get("/parts")]
pub(super) async fn page(viewer: Viewer<Mechanic>, services: web::Data<Services>) -> Answer {
    let Viewer { actor, workshop, frame, .. } = viewer;
    html(&shown(&services, &actor, &workshop, frame, (Typed::default(), Vec::new())).await?)
}

/// Back to the page, or the page with what was wrong and what was typed.
async fn done<T>(
    services: &Services,
    viewer: Viewer<Mechanic>,
    typed: Typed,
    result: Result<T, ServiceError>,
) -> Answer {
    let Viewer { actor, workshop, frame, .. } = viewer;
    match result {
        Ok(_) => Ok(see("/parts")),
        Err(error) => {
            let errors = frame.refused(error)?;
            again(&shown(services, &actor, &workshop, frame, (typed, errors)).await?)
        }
    }
}

fn whole(fields: &Fields, name: &str) -> i64 {
    fields.get(name).parse().unwrap_or(-1)
}

fn field<T>(name: &str, result: Result<T, Invalid>) -> Result<T, ServiceError> {
    result.map_err(|cause| ServiceError::field(format!("/{name}"), cause))
}

fn model_of(fields: &Fields) -> Result<PartModelId, ServiceError> {
    field("model", fields.get("model").parse())
}

#[post("/parts/stock")]
pub(super) async fn start(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let result = async {
        let facts = StockFacts {
            count: field("count", ShelfCount::new(whole(&fields, "count")))?,
            pack_size: PackSize::ONE,
            lead_time: field("lead_time", LeadTimeDays::new(whole(&fields, "lead_time")))?,
            reorder_point: None,
            service_level: None,
            substitutes: Vec::new(),
        };
        let model_id = model_of(&fields)?;
        services
            .change(&viewer.actor, async |work| stock::create(&services, work, model_id, facts).await)
            .await
    };
    let result = result.await;
    done(&services, viewer, Typed::into("stock", fields), result).await
}

#[post("/parts/stock/{model_id}")]
pub(super) async fn counted(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    model_id: web::Path<PartModelId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let result = async {
        let count = field("count", ShelfCount::new(whole(&fields, "count")))?;
        let patch = StockPatch { count: Some(count), ..StockPatch::default() };
        let model_id = *model_id;
        services
            .change(&viewer.actor, async |work| {
                stock::change(&services, work, model_id, whole(&fields, "revision"), patch).await
            })
            .await
    };
    let result = result.await;
    done(&services, viewer, Typed::into("count", fields), result).await
}

#[post("/parts/deliveries")]
pub(super) async fn expect(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let result = async {
        let facts = DeliveryFacts {
            part_model_id: model_of(&fields)?,
            count: field("count", DeliveryCount::new(whole(&fields, "count")))?,
            expected_on: field("expected_on", parse::date(fields.get("expected_on")))?,
            arrived_on: None,
            note: None,
        };
        services.change(&viewer.actor, async |work| deliveries::create(&services, work, facts).await).await
    };
    let result = result.await;
    done(&services, viewer, Typed::into("delivery", fields), result).await
}

#[post("/parts/deliveries/{id}/arrived")]
pub(super) async fn arrived(
    posted: Posted<Mechanic>,
    services: web::Data<Services>,
    id: web::Path<DeliveryId>,
) -> Answer {
    let Posted { viewer, fields } = posted;
    let patch = DeliveryPatch { arrived_on: Some(Some(viewer.frame.today)), ..DeliveryPatch::default() };
    let (id, revision) = (*id, whole(&fields, "revision"));
    let result = services
        .change(&viewer.actor, async |work| deliveries::change(&services, work, id, revision, patch).await)
        .await;
    done(&services, viewer, Typed::into("arrived", fields), result).await
}

fn model(f: &Frame, workshop: &Workshop, fields: &Fields) -> Result<PartModelFacts, FieldErrors> {
    let mut errors = FieldErrors::new();
    let name = errors.keep("/name", Label::new(fields.get("name")));
    let place: Option<Place> = errors.keep("/place", fields.get("place").parse());
    let counts: Vec<u32> = fields
        .get("teeth")
        .split(|c: char| !c.is_ascii_digit())
        .filter_map(|part| part.parse().ok())
        .collect();
    let first = counts.first().copied();
    let missing = || Invalid::Missing { what: Field::Teeth, allowed: Form::NumberOfTeeth };
    let geometry = match place {
        Some(Place::Chain) => Some(Geometry::Chain { sprockets: first }),
        Some(Place::Cassette) => {
            let cogs: Vec<Teeth> =
                counts.iter().filter_map(|count| errors.keep("/teeth", Teeth::new(*count))).collect();
            if cogs.is_empty() {
                errors.push(missing().at("/teeth"));
            }
            Some(Geometry::Cassette { cogs, one_piece: false })
        }
        Some(place) => match first {
            None => {
                errors.push(missing().at("/teeth"));
                None
            }
            Some(count) if place == Place::JockeyWheels => {
                errors.keep("/teeth", JockeyTeeth::new(count)).map(|teeth| Geometry::JockeyWheels { teeth })
            }
            Some(count) => errors.keep("/teeth", Teeth::new(count)).map(|teeth| match place {
                Place::Ring => Geometry::Ring { teeth, narrow_wide: false },
                _ => Geometry::Cog { teeth },
            }),
        },
        None => None,
    };
    let price = fields.filled("price").and_then(|typed| {
        let minor = parse_number(typed)
            .map(|amount| (amount * 10_f64.powi(f.decimals_of_money() as i32)).round() as i64)
            .ok_or_else(|| Invalid::unparsed(Field::Price, typed, Form::Amount));
        errors.keep("/price", minor.and_then(|minor| Money::new(minor, workshop.settings.currency)))
    });
    match (name, geometry) {
        (Some(name), Some(geometry)) if errors.is_empty() => {
            Ok(PartModelFacts { name, geometry, price, limit: None })
        }
        _ => Err(errors),
    }
}

#[post("/parts/models")]
pub(super) async fn new_model(posted: Posted<Mechanic>, services: web::Data<Services>) -> Answer {
    let Posted { viewer, fields } = posted;
    let result = match model(&viewer.frame, &viewer.workshop, &fields) {
        Ok(facts) => {
            services
                .change(&viewer.actor, async |work| part_models::create(&services, work, facts).await)
                .await
        }
        Err(errors) => Err(ServiceError::Invalid(errors)),
    };
    done(&services, viewer, Typed::into("model", fields), result).await
}
