//! What hooks are sent.

use serde_json::Value;
use utoipa::ToSchema;

use crate::input::WrongFieldDocument;
use crate::web::schema;

/// A chain has become more urgent (`outlook.measure_by`, `outlook.swap_by`, `outlook.swap_now`), is due within the
/// workshop's lead (`outlook.measure_soon`, `outlook.swap_soon`), or someone has to look at it (`outlook.check`).
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct OutlookMessage {
    /// The most urgent of what is new that the hook listens for.
    #[schema(value_type = schema::HookEvent)]
    r#type: String,
    /// When it was found.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// What is known of the chain.
    data: AlertData,
}

/// What is known of a chain that has become more urgent.
#[derive(ToSchema)]
#[allow(dead_code)]
#[schema(as = CrossingData)]
struct AlertData {
    /// The bike.
    bike_id: uuid::Uuid,
    /// What people call it.
    label: String,
    /// Its group.
    group: String,
    /// The chain.
    part_id: uuid::Uuid,
    /// Its model; null where nobody entered one.
    part_model_id: Option<uuid::Uuid>,
    /// What to do.
    #[schema(value_type = schema::Advice)]
    advice: String,
    /// Why, in words and numbers.
    reason: String,
    /// Why, as a stable word.
    reason_code: String,
    /// The numbers of `reason` by name; empty where it has none.
    #[schema(value_type = Object)]
    reason_parameters: serde_json::Map<String, Value>,
    /// Elongation at which the chain comes off.
    #[schema(schema_with = schema::limit_percent)]
    limit_percent: f64,
    /// Day on which the probability of being over passes the accepted risk.
    swap_by: Option<chrono::NaiveDate>,
    /// Day by which a reading pays.
    measure_by: Option<chrono::NaiveDate>,
    /// Probability that the chain is over its limit now.
    #[schema(minimum = 0, maximum = 1)]
    probability_over_limit: Option<f64>,
    /// Distance to the limit, km; null when the bike's own use is unknown.
    remaining_km: Option<RemainingKm>,
    /// Address of the whole outlook at this service.
    outlook: String,
}

/// Distance to the limit, km, at three levels of confidence.
#[derive(ToSchema)]
#[allow(dead_code)]
struct RemainingKm {
    /// One chain in ten reaches its limit before this.
    p10: f64,
    /// One in two.
    p50: f64,
    /// Nine in ten.
    p90: f64,
}

/// A cassette or chainring has to go with the chain: `cassette.worn`, `ring.worn`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct SprocketMessage {
    /// `cassette.worn` or `ring.worn`.
    r#type: String,
    /// When it was found.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Which part, and how likely.
    data: SprocketData,
}

/// A cassette or chainring that has to go with the chain.
#[derive(ToSchema)]
#[allow(dead_code)]
struct SprocketData {
    /// The bike.
    bike_id: uuid::Uuid,
    /// What people call it.
    label: String,
    /// Its group.
    group: String,
    /// The cassette or chainring.
    part_id: uuid::Uuid,
    /// Its model; null where nobody entered one.
    part_model_id: Option<uuid::Uuid>,
    /// `cassette` or `ring`.
    place: String,
    /// Which chainring, from the largest, counted from 0.
    position: u8,
    /// Its teeth.
    shape: String,
    /// Probability that it has to go when the chain is ridden to its limit.
    #[schema(minimum = 0, maximum = 1)]
    probability: f64,
    /// What to do, in words and numbers.
    reason: String,
    /// The same as a stable word.
    reason_code: String,
    /// Address of the whole outlook at this service.
    outlook: String,
}

/// What was told of a part has been done or holds no more: `outlook.no_longer_due`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct OverMessage {
    /// Always `outlook.no_longer_due`.
    r#type: String,
    /// When it was found.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// What is over.
    data: OverData,
}

/// What was told of a part and is over.
#[derive(ToSchema)]
#[allow(dead_code)]
struct OverData {
    /// The bike.
    bike_id: uuid::Uuid,
    /// What people call it.
    label: String,
    /// Its group.
    group: String,
    /// The part that it was told of.
    part_id: uuid::Uuid,
    /// What was told.
    #[schema(value_type = Vec<schema::HookEvent>)]
    announced: Vec<String>,
    /// Why it is over, in words.
    reason: String,
    /// `came_off` when the part came off the bike, `not_due` when a reading, a void or another change says that nothing is due.
    reason_code: String,
    /// What to do about the bike's chain now.
    #[schema(value_type = schema::Advice)]
    advice: String,
    /// Address of the whole outlook at this service.
    outlook: String,
}

/// A part is to be ordered: `order.needed`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct OrderMessage {
    /// Always `order.needed`.
    r#type: String,
    /// When it was found: at night.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Which part, and how many.
    data: OrderData,
}

/// A part that is to be ordered.
#[derive(ToSchema)]
#[allow(dead_code)]
struct OrderData {
    /// The part model; null for parts whose model nobody entered.
    part_model_id: Option<uuid::Uuid>,
    /// What people call it.
    name: Option<String>,
    /// Where on a bike it sits.
    #[schema(value_type = crate::domain::Place)]
    place: String,
    /// Its shape, for parts whose model nobody entered.
    shape: Option<String>,
    /// Parts to order now, in whole packs.
    order_quantity: u64,
    /// Packs to order now.
    order_packs: u64,
    /// Parts on the shelf; null where nobody keeps count.
    on_shelf: Option<u32>,
    /// Parts in deliveries that are expected within the lead time.
    under_way_in_time: u32,
    /// Days from an order to its arrival.
    lead_time_days: u32,
    /// Probability that what there is lasts through the lead time without the order.
    #[schema(minimum = 0, maximum = 1)]
    lasts_probability: f64,
    /// What to do, in words and numbers.
    reason: String,
    /// The same as a stable word.
    reason_code: String,
    /// Address of what to order at this service.
    orders: String,
}

/// More or fewer readings than chance explains lie between P10 and P90: `track_record.drifted`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct DriftMessage {
    /// Always `track_record.drifted`.
    r#type: String,
    /// When it was found: at night.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Whose forecasts, and by how much.
    data: DriftData,
}

/// Forecasts whose coverage has left the band that chance explains.
#[derive(ToSchema)]
#[allow(dead_code)]
struct DriftData {
    /// Of which group; null for all groups together.
    group: Option<String>,
    /// Share of readings between P10 and P90, over the last twelve months.
    coverage: f64,
    /// Lowest share that chance explains.
    expected_from: f64,
    /// Highest share that chance explains.
    expected_to: f64,
    /// Readings that were forecast.
    readings: u64,
    /// What that means, in words and numbers.
    reason: String,
    /// `intervals_too_narrow` or `intervals_too_wide`.
    reason_code: String,
    /// Address of the track record at this service.
    track_record: String,
}

/// A bike left the fleet or came back: `bike.retired`, `bike.returned`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct BikeMessage {
    /// `bike.retired` or `bike.returned`.
    r#type: String,
    /// When.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Which.
    data: BikeData,
}

/// A bike that left the fleet or came back.
#[derive(ToSchema)]
#[allow(dead_code)]
struct BikeData {
    /// The bike.
    bike_id: uuid::Uuid,
    /// What people call it.
    label: String,
    /// The bikes that it wears like.
    group: String,
    /// When it left; null when it is back.
    retired_at: Option<chrono::DateTime<chrono::Utc>>,
    /// Address of the bike.
    bike: String,
}

/// Rides that one request sent were refused: `ride.rejected`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct RideRejectedMessage {
    /// Always `ride.rejected`.
    r#type: String,
    /// When.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Which.
    data: RejectedData,
}

/// Rides that were refused.
#[derive(ToSchema)]
#[allow(dead_code)]
struct RejectedData {
    /// How many.
    #[schema(minimum = 1)]
    count: u64,
    /// The first 100 of them.
    #[schema(max_items = 100)]
    rejected: Vec<RejectedRideData>,
}

/// A ride that was refused, as its sender named it.
#[derive(ToSchema)]
#[allow(dead_code)]
struct RejectedRideData {
    /// Its place in the batch; absent when it was sent alone.
    #[schema(required = false)]
    index: Option<u64>,
    /// The bike, where the sender named one.
    #[schema(required = false)]
    bike_id: Option<String>,
    /// Who logged it, where the sender said so.
    #[schema(required = false)]
    source: Option<String>,
    /// The source's own id, where the sender gave one.
    #[schema(required = false)]
    source_id: Option<String>,
    /// What is wrong with it.
    #[schema(value_type = Vec<WrongFieldDocument>)]
    errors: Vec<Value>,
}

/// Another hook was disabled: `hook.disabled`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct HookDisabledMessage {
    /// Always `hook.disabled`.
    r#type: String,
    /// When.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Which, and why.
    data: DisabledData,
}

/// A hook that was disabled.
#[derive(ToSchema)]
#[allow(dead_code)]
struct DisabledData {
    /// The hook.
    hook_id: uuid::Uuid,
    /// What people call it.
    label: String,
    /// Why.
    #[schema(value_type = schema::DisabledReason)]
    reason: String,
    /// When.
    disabled_at: chrono::DateTime<chrono::Utc>,
}

/// A manager asked for a test: `hook.test`.
#[derive(ToSchema)]
#[allow(dead_code)]
pub(crate) struct TestMessage {
    /// Always `hook.test`.
    r#type: String,
    /// When.
    timestamp: chrono::DateTime<chrono::Utc>,
    /// Of which hook.
    data: TestData,
}

/// The hook that is tested.
#[derive(ToSchema)]
#[allow(dead_code)]
struct TestData {
    /// The hook.
    hook_id: uuid::Uuid,
    /// What people call it.
    label: String,
}
