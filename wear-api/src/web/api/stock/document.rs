use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Place, StockEntry, StockFacts};

/// A part model's place on the shelf.
#[derive(Serialize, ToSchema)]
#[schema(as = Stock)]
pub(super) struct StockDocument {
    /// The part model.
    part_model_id: Uuid,
    /// What people call it.
    name: String,
    /// Where on a bike it sits.
    #[schema(value_type = Place)]
    place: &'static str,
    /// Parts on the shelf. A swap takes one, an arrived delivery adds its parts.
    #[schema(minimum = 0, maximum = 1_000_000)]
    count: u32,
    /// Parts in deliveries that haven't arrived.
    #[schema(minimum = 0)]
    under_way: u32,
    /// Parts sold together: orders are whole packs.
    #[schema(minimum = 1, maximum = 10_000)]
    pack_size: u32,
    /// Days from an order to its arrival.
    #[schema(minimum = 0, maximum = 365)]
    lead_time_days: u32,
    /// At this count or below more are ordered; null where `/v1/orders-needed` works it out from the outlooks.
    #[schema(minimum = 0, maximum = 1_000_000)]
    reorder_point: Option<u32>,
    /// Probability of not running out within the lead time that the model is to have; null where that of the request
    /// holds.
    #[schema(minimum = 0.5, maximum = 0.999)]
    service_level: Option<f64>,
    /// Part models that do as well, the best first.
    substitutes: Vec<Uuid>,
    /// When somebody counted last. Swaps and arrivals before that are in the count already.
    counted_at: DateTime<Utc>,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// Counts its changes, swaps and arrivals too; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<StockEntry> for StockDocument {
    fn from(entry: StockEntry) -> Self {
        let StockEntry { part_model_id, name, place, facts, under_way, counted_at, created_at, revision } =
            entry;
        let StockFacts { count, pack_size, lead_time, reorder_point, service_level, substitutes } = facts;
        Self {
            part_model_id: part_model_id.uuid(),
            name: name.to_string(),
            place: place.as_str(),
            count: count.get(),
            under_way,
            pack_size: pack_size.get(),
            lead_time_days: lead_time.get(),
            reorder_point: reorder_point.map(|point| point.get()),
            service_level: service_level.map(|level| level.get()),
            substitutes: substitutes.into_iter().map(|id| id.uuid()).collect(),
            counted_at: counted_at.datetime(),
            created_at: created_at.datetime(),
            revision,
        }
    }
}
