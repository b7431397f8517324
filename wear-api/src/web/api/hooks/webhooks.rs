//! The document's section `webhooks`: each message with an example.

use serde_json::{Value, json};
use utoipa::openapi::path::{
    HttpMethod, OperationBuilder, ParameterBuilder, ParameterIn, PathItem, Paths, PathsBuilder,
};
use utoipa::openapi::request_body::RequestBodyBuilder;
use utoipa::openapi::{ContentBuilder, Ref, RefOr, Required, ResponseBuilder};
use utoipa::{PartialSchema, ToSchema};
use wear_core::Reason;

use super::messages::{
    BikeMessage, DriftMessage, HookDisabledMessage, OrderMessage, OutlookMessage, OverMessage,
    RideRejectedMessage, SprocketMessage, TestMessage,
};
use crate::domain::{NoticeSaid, by_code};
use crate::webhook::signature;

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
