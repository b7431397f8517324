//! What hooks are sent, for the document's section `webhooks`.

use serde_json::{Value, json};
use utoipa::openapi::path::{
    HttpMethod, OperationBuilder, ParameterBuilder, ParameterIn, PathItem, Paths, PathsBuilder,
};
use utoipa::openapi::request_body::RequestBodyBuilder;
use utoipa::openapi::{ContentBuilder, Ref, RefOr, Required, ResponseBuilder};
use utoipa::{PartialSchema, ToSchema};

use wear_core::Reason;

use crate::domain::{NoticeSaid, by_code};
use crate::input::WrongFieldDocument;
use crate::web::schema;
use crate::webhook::signature;

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

const AT: &str = "2026-11-25T12:00:00Z";
const BIKE: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10";
const PART: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a11";
const MODEL: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a13";
const HOOK: &str = "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a12";

fn alert(event: &str, advice: &str, reason: Reason) -> Value {
    let (reason_code, reason_parameters) = by_code(reason);
    json!({"type": event, "timestamp": AT, "data": {
        "bike_id": BIKE, "label": "041", "group": "town-8s", "part_id": PART, "part_model_id": MODEL,
        "advice": advice, "reason": reason.to_string(), "reason_code": reason_code,
        "reason_parameters": reason_parameters, "limit_percent": 0.75, "swap_by": "2026-12-09", "measure_by": "2026-11-28",
        "probability_over_limit": 0.08, "remaining_km": {"p10": 120.0, "p50": 310.0, "p90": 560.0},
        "outlook": format!("/v1/bikes/{BIKE}/outlook"),
    }})
}

fn bike(event: &str, retired_at: Value) -> Value {
    json!({"type": event, "timestamp": AT, "data": {
        "bike_id": BIKE, "label": "041", "group": "town-8s", "retired_at": retired_at,
        "bike": format!("/v1/bikes/{BIKE}"),
    }})
}

fn sprocket(place: &str, shape: &str, said: &NoticeSaid) -> Value {
    json!({"type": format!("{place}.worn"), "timestamp": AT, "data": {
        "bike_id": BIKE, "label": "041", "group": "town-8s", "part_id": PART, "part_model_id": MODEL,
        "place": place, "position": 0, "shape": shape, "probability": 0.64,
        "reason": said.to_string(), "reason_code": said.code(),
        "outlook": format!("/v1/bikes/{BIKE}/outlook"),
    }})
}

fn over() -> Value {
    let because = NoticeSaid::CameOff;
    json!({"type": "outlook.no_longer_due", "timestamp": AT, "data": {
        "bike_id": BIKE, "label": "041", "group": "town-8s", "part_id": PART,
        "announced": ["outlook.swap_by", "outlook.swap_soon"],
        "reason": because.to_string(), "reason_code": because.code(), "advice": "ride_on",
        "outlook": format!("/v1/bikes/{BIKE}/outlook"),
    }})
}

fn order() -> Value {
    let said = NoticeSaid::OrderNeeded { count: 10, percent: 82 };
    json!({"type": "order.needed", "timestamp": AT, "data": {
        "part_model_id": MODEL, "name": "Chain, 8 sprockets", "place": "chain", "shape": null,
        "order_quantity": 10, "order_packs": 1, "on_shelf": 2, "under_way_in_time": 0,
        "lead_time_days": 7, "lasts_probability": 0.82, "reason": said.to_string(),
        "reason_code": said.code(), "orders": "/v1/orders-needed",
    }})
}

fn drift() -> Value {
    let said = NoticeSaid::RecordTooNarrow { percent: 66, readings: 140, least: 71, most: 88 };
    json!({"type": "track_record.drifted", "timestamp": AT, "data": {
        "group": "town-8s", "coverage": 0.66, "expected_from": 0.71, "expected_to": 0.88,
        "readings": 140, "reason": said.to_string(), "reason_code": said.code(),
        "track_record": "/v1/track-record",
    }})
}

/// The messages by event.
pub(crate) fn webhooks() -> Paths {
    let messages = [
        (
            "outlook.measure_by",
            "The outlook of a chain asks for a reading by a date",
            OutlookMessage::name(),
            alert("outlook.measure_by", "measure_by", Reason::ReadingPays { days: 3, elongation_sd: 0.11 }),
        ),
        (
            "outlook.swap_by",
            "The outlook of a chain asks for a swap by a date",
            OutlookMessage::name(),
            alert("outlook.swap_by", "swap_by", Reason::RiskReached { days: 14, risk: 0.2 }),
        ),
        (
            "outlook.swap_now",
            "The outlook of a chain asks for a swap at once",
            OutlookMessage::name(),
            alert("outlook.swap_now", "swap_now", Reason::LikelyOver { probability: 0.73 }),
        ),
        (
            "outlook.measure_soon",
            "A reading is due within the workshop's lead",
            OutlookMessage::name(),
            alert("outlook.measure_soon", "measure_by", Reason::ReadingPays { days: 3, elongation_sd: 0.11 }),
        ),
        (
            "outlook.swap_soon",
            "A swap is due within the workshop's lead",
            OutlookMessage::name(),
            alert("outlook.swap_soon", "swap_by", Reason::RiskReached { days: 5, risk: 0.2 }),
        ),
        (
            "outlook.check",
            "Someone has to look at the record or at the bike",
            OutlookMessage::name(),
            alert("outlook.check", "hold", Reason::Contradiction),
        ),
        (
            "outlook.no_longer_due",
            "What was told of a part has been done, or holds no more",
            OverMessage::name(),
            over(),
        ),
        (
            "cassette.worn",
            "A new chain likely skips on a cassette: it has to go with the chain",
            SprocketMessage::name(),
            sprocket("cassette", "11-13-15-17-20-23-26-30 teeth", &NoticeSaid::CassetteWorn { percent: 64 }),
        ),
        (
            "ring.worn",
            "A chainring likely has to go with the chain",
            SprocketMessage::name(),
            sprocket("ring", "42 teeth", &NoticeSaid::RingWorn { teeth: 42, percent: 64 }),
        ),
        ("order.needed", "A part is to be ordered", OrderMessage::name(), order()),
        (
            "track_record.drifted",
            "More or fewer readings than chance explains lie between P10 and P90",
            DriftMessage::name(),
            drift(),
        ),
        ("bike.retired", "A bike left the fleet", BikeMessage::name(), bike("bike.retired", json!(AT))),
        (
            "bike.returned",
            "A bike came back into the fleet",
            BikeMessage::name(),
            bike("bike.returned", Value::Null),
        ),
        (
            "ride.rejected",
            "Rides that one request sent were refused",
            RideRejectedMessage::name(),
            json!({"type": "ride.rejected", "timestamp": AT, "data": {"count": 1, "rejected": [{
                "index": 3, "bike_id": BIKE, "source": "log", "source_id": "r17",
                "errors": [{"pointer": "/distance_km", "message": "is -1", "allowed": "0 to 2000 km"}]}]}}),
        ),
        (
            "hook.disabled",
            "Another hook was disabled",
            HookDisabledMessage::name(),
            json!({"type": "hook.disabled", "timestamp": AT, "data": {
                "hook_id": HOOK, "label": "ride app", "reason": "failing", "disabled_at": AT}}),
        ),
        (
            "hook.test",
            "A manager asked for a test",
            TestMessage::name(),
            json!({"type": "hook.test", "timestamp": AT, "data": {"hook_id": HOOK, "label": "ride app"}}),
        ),
    ];
    messages
        .into_iter()
        .fold(PathsBuilder::new(), |paths, (event, summary, schema, example)| {
            paths.path(event, PathItem::new(HttpMethod::Post, operation(event, summary, &schema, example)))
        })
        .build()
}

fn operation(event: &str, summary: &str, schema: &str, example: Value) -> OperationBuilder {
    let header = |name: &str, description: &str, example: &str| {
        ParameterBuilder::new()
            .name(name)
            .parameter_in(ParameterIn::Header)
            .required(Required::True)
            .description(Some(description))
            .schema(Some(<String as PartialSchema>::schema()))
            .example(Some(json!(example)))
    };
    let body = ContentBuilder::new()
        .schema(Some(RefOr::Ref(Ref::from_schema_name(schema))))
        .example(Some(example))
        .build();
    let answer = |text: &str| ResponseBuilder::new().description(text).build();
    OperationBuilder::new()
        .operation_id(Some(format!("receive_{}", event.replace('.', "_"))))
        .tag("hooks")
        .summary(Some(summary))
        .description(Some(
            "Sent to each hook that listens for it; signed as Standard Webhooks 1.0.0 has it. Check the signature over \
             `webhook-id.webhook-timestamp.body`, refuse timestamps that are more than five minutes off, and take the \
             same `webhook-id` once.",
        ))
        .security(utoipa::openapi::security::SecurityRequirement::default())
        .parameter(header(
            signature::ID,
            "Names the message; the same on every attempt.",
            "msg_019abf3e6a347d6e9a510d3c5e1f2a10",
        ))
        .parameter(header(
            signature::TIMESTAMP,
            "When this attempt was signed, seconds since 1970-01-01T00:00:00Z.",
            "1764072000",
        ))
        .parameter(header(
            signature::SIGNATURE,
            "`v1,` and base64 of HMAC-SHA-256, once for each secret in force, separated by spaces.",
            "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
        ))
        .request_body(Some(
            RequestBodyBuilder::new()
                .content("application/json", body)
                .required(Some(Required::True))
                .build(),
        ))
        .response("2XX", answer("The message is taken."))
        .response("410", answer("The receiver wants no more: the hook is disabled."))
        .response("4XX", answer("The message is tried again for about a day; `Retry-After` is kept to."))
        .response("5XX", answer("The message is tried again for about a day; `Retry-After` is kept to."))
}
