//! What the invented yard rides on, has on its shelf and waits for. Names, prices and numbers are made up.

use chrono::{Days, NaiveDate};
use wear_core::drivetrain::Teeth;

use super::fleet::PlannedBike;
use crate::domain::{
    Bike, Currency, DeliveryCount, DeliveryFacts, Geometry, Invalid, Label, LeadTimeDays, Money, Note,
    PackSize, PartModelFacts, PartModelId, Place, ServiceLevel, ShelfCount, StockFacts,
};
use crate::service::stock::StockPatch;
use crate::service::{Actor, ServiceError, Services, deliveries, part_models, stock};

/// A model with its place on the shelf.
struct Kept {
    name: &'static str,
    shape: Shape,
    price_minor: i64,
    /// Count, pack size, days of lead time; none where the yard keeps no count.
    shelf: Option<(i64, i64, i64)>,
    /// Name of a model that does as well.
    substitute: Option<&'static str>,
}

enum Shape {
    Chain(u32),
    Cassette(&'static [u32], bool),
    Cog(u32),
    Ring(u32, bool),
}

const fn kept(
    name: &'static str,
    shape: Shape,
    price_minor: i64,
    shelf: Option<(i64, i64, i64)>,
    substitute: Option<&'static str>,
) -> Kept {
    Kept { name, shape, price_minor, shelf, substitute }
}

const TOWN: &[u32] = &[11, 13, 15, 17, 20, 23, 26, 30];
const CARGO: &[u32] = &[11, 13, 15, 18, 21, 24, 28, 32, 36];
const GRAVEL: &[u32] = &[10, 11, 12, 13, 15, 17, 19, 21, 24, 28, 32, 36];
const ROAD: &[u32] = &[11, 12, 13, 14, 15, 17, 19, 21, 24, 27, 30];

const MODELS: [Kept; 17] = [
    kept("Chain, 8 sprockets", Shape::Chain(8), 1_290, Some((4, 5, 6)), Some("Chain, 8 sprockets, coated")),
    kept("Chain, 8 sprockets, coated", Shape::Chain(8), 1_850, Some((2, 1, 12)), None),
    kept("Chain, 9 sprockets, for motors", Shape::Chain(9), 2_490, Some((1, 2, 9)), None),
    kept("Chain, 12 sprockets", Shape::Chain(12), 3_990, Some((3, 1, 14)), None),
    kept("Chain, 11 sprockets", Shape::Chain(11), 2_990, Some((2, 1, 5)), None),
    kept("Chain, wide, one sprocket", Shape::Chain(1), 990, Some((7, 10, 5)), None),
    kept("Cassette 11-30, 8 cogs", Shape::Cassette(TOWN, false), 2_190, Some((3, 1, 6)), None),
    kept("Cassette 11-36, 9 cogs", Shape::Cassette(CARGO, false), 3_490, Some((1, 1, 9)), None),
    kept("Cassette 10-36, 12 cogs", Shape::Cassette(GRAVEL, true), 18_900, Some((0, 1, 21)), None),
    kept("Cassette 11-30, 11 cogs", Shape::Cassette(ROAD, true), 6_400, Some((1, 1, 10)), None),
    kept("Cog 19", Shape::Cog(19), 850, Some((6, 1, 5)), None),
    kept("Ring 42", Shape::Ring(42, false), 1_990, Some((2, 1, 8)), None),
    kept("Ring 38, for motors", Shape::Ring(38, true), 2_990, Some((1, 1, 12)), None),
    kept("Ring 40, narrow-wide", Shape::Ring(40, true), 3_490, Some((1, 1, 12)), None),
    kept("Ring 40, hub gear", Shape::Ring(40, false), 1_690, None, None),
    kept("Ring 50", Shape::Ring(50, false), 4_900, None, None),
    kept("Ring 34", Shape::Ring(34, false), 2_900, None, None),
];

/// A delivery: model, parts, days from today that it is or was expected, those of its arrival, a remark.
type Expected = (&'static str, i64, i64, Option<i64>, Option<&'static str>);

const DELIVERIES: [Expected; 6] = [
    ("Chain, 8 sprockets", 20, -41, Some(-39), None),
    ("Cassette 11-30, 8 cogs", 4, -25, Some(-25), None),
    ("Chain, 9 sprockets, for motors", 4, 5, None, Some("Promised by telephone")),
    ("Chain, 12 sprockets", 6, -2, None, Some("Overdue; the carrier looks for it")),
    ("Cassette 10-36, 12 cogs", 2, 16, None, None),
    ("Chain, wide, one sprocket", 10, 3, None, None),
];

/// The yard's part models by name.
pub struct Models(Vec<(&'static str, PartModelId)>);

impl Models {
    /// The model of that name.
    pub(super) fn named(&self, name: &str) -> Option<PartModelId> {
        self.0.iter().find(|(known, _)| *known == name).map(|(_, id)| *id)
    }

    /// The model of a part that a bike came with.
    fn of(&self, planned: &PlannedBike, place: Place, position: usize) -> Option<PartModelId> {
        let group = planned.facts.group.as_str();
        let name = match (group, place) {
            ("quay-town-8s", Place::Chain) => "Chain, 8 sprockets",
            ("quay-town-8s", Place::Cassette) => "Cassette 11-30, 8 cogs",
            ("quay-town-8s", Place::Ring) => "Ring 42",
            ("long-quay-cargo", Place::Chain) => "Chain, 9 sprockets, for motors",
            ("long-quay-cargo", Place::Cassette) => "Cassette 11-36, 9 cogs",
            ("long-quay-cargo", Place::Ring) => "Ring 38, for motors",
            ("island-gravel-12s", Place::Chain) => "Chain, 12 sprockets",
            ("island-gravel-12s", Place::Cassette) => "Cassette 10-36, 12 cogs",
            ("island-gravel-12s", Place::Ring) => "Ring 40, narrow-wide",
            ("pier-hub", Place::Chain) => "Chain, wide, one sprocket",
            ("pier-hub", Place::Cog) => "Cog 19",
            ("pier-hub", Place::Ring) => "Ring 40, hub gear",
            ("road-11s", Place::Chain) => "Chain, 11 sprockets",
            ("road-11s", Place::Cassette) => "Cassette 11-30, 11 cogs",
            ("road-11s", Place::Ring) if position == 0 => "Ring 50",
            ("road-11s", Place::Ring) => "Ring 34",
            _ => return None,
        };
        self.named(name)
    }
}

fn field(cause: Invalid) -> ServiceError {
    ServiceError::field("", cause)
}

fn teeth(count: u32) -> Result<Teeth, Invalid> {
    Ok(Teeth::new(count)?)
}

fn facts(kept: &Kept) -> Result<PartModelFacts, Invalid> {
    let geometry = match kept.shape {
        Shape::Chain(sprockets) => Geometry::Chain { sprockets: Some(sprockets) },
        Shape::Cassette(cogs, one_piece) => Geometry::Cassette {
            cogs: cogs.iter().map(|cog| teeth(*cog)).collect::<Result<_, _>>()?,
            one_piece,
        },
        Shape::Cog(count) => Geometry::Cog { teeth: teeth(count)? },
        Shape::Ring(count, narrow_wide) => Geometry::Ring { teeth: teeth(count)?, narrow_wide },
    };
    let price = Some(Money::new(kept.price_minor, "EUR".parse::<Currency>()?)?);
    Ok(PartModelFacts { name: Label::new(kept.name)?, geometry, price, limit: None })
}

/// Enters the yard's part models.
///
/// # Errors
/// [`ServiceError`].
pub async fn models(services: &Services, actor: &Actor) -> Result<Models, ServiceError> {
    let mut models = Vec::with_capacity(MODELS.len());
    for kept in &MODELS {
        let facts = facts(kept).map_err(field)?;
        let model =
            services.change(actor, async |work| part_models::create(services, work, facts).await).await?;
        models.push((kept.name, model.id));
    }
    Ok(Models(models))
}

/// Says of which models the parts are that a bike came with.
///
/// # Errors
/// [`ServiceError`].
pub async fn name_parts(
    services: &Services,
    actor: &Actor,
    models: &Models,
    planned: &PlannedBike,
    bike: &Bike,
) -> Result<(), ServiceError> {
    let mut tx = services.store.begin_write(actor).await?;
    for fitting in tx.fittings_of_bike(bike.id).await? {
        let model = models.of(planned, fitting.place, usize::from(fitting.position.get()));
        let part = tx.part(fitting.part_id).await?;
        tx.update_part(part.id, part.revision, model, part.facts.label.as_ref(), part.retired_at).await?;
    }
    tx.commit().await?;
    Ok(())
}

fn day(today: NaiveDate, from_today: i64) -> NaiveDate {
    let days = Days::new(from_today.unsigned_abs());
    let moved = if from_today < 0 { today.checked_sub_days(days) } else { today.checked_add_days(days) };
    moved.unwrap_or(today)
}

/// Fills the shelf and says what is on its way.
///
/// # Errors
/// [`ServiceError`].
pub async fn fill(services: &Services, actor: &Actor, models: &Models) -> Result<(), ServiceError> {
    let today = services.now().utc_date();
    for (name, count, expected, arrived, note) in DELIVERIES {
        let Some(part_model_id) = models.named(name) else { continue };
        let facts = DeliveryFacts {
            part_model_id,
            count: DeliveryCount::new(count).map_err(field)?,
            expected_on: day(today, expected),
            arrived_on: arrived.map(|arrived| day(today, arrived)),
            note: note.map(Note::new).transpose().map_err(field)?,
        };
        services.change(actor, async |work| deliveries::create(services, work, facts).await).await?;
    }
    for kept in &MODELS {
        let (Some(model), Some((count, pack, lead))) = (models.named(kept.name), kept.shelf) else {
            continue;
        };
        let facts = StockFacts {
            count: ShelfCount::new(count).map_err(field)?,
            pack_size: PackSize::new(pack).map_err(field)?,
            lead_time: LeadTimeDays::new(lead).map_err(field)?,
            reorder_point: None,
            service_level: (kept.name == "Cassette 10-36, 12 cogs")
                .then(|| ServiceLevel::new(0.8))
                .transpose()
                .map_err(field)?,
            substitutes: kept.substitute.and_then(|name| models.named(name)).into_iter().collect(),
        };
        match stock::get(services, actor, model).await {
            // An arrival has begun its count; since then some were used.
            Ok(entry) => {
                let patch = StockPatch {
                    count: Some(facts.count),
                    pack_size: Some(facts.pack_size),
                    lead_time: Some(facts.lead_time),
                    substitutes: Some(facts.substitutes),
                    ..StockPatch::default()
                };
                services
                    .change(actor, async |work| {
                        stock::change(services, work, model, entry.revision, patch).await
                    })
                    .await?;
            }
            Err(ServiceError::NotFound { .. }) => {
                services
                    .change(actor, async |work| stock::create(services, work, model, facts).await)
                    .await?;
            }
            Err(other) => return Err(other),
        }
    }
    Ok(())
}
