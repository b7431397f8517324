//! What the document says of answers beyond what their types do: which fields are always there, and every header.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};
use utoipa::openapi::OpenApi;

/// Words in a description that say that an answer may lack the field. All others are there, null where there is nothing.
const LEFT_OUT: &str = "left out";

/// Where components' schemas are.
const SCHEMAS: &str = "#/components/schemas/";

/// The document with `required` of the fields that answers always have, and with the headers that all answers have.
///
/// # Errors
/// None in practice: the document is plain data.
pub fn complete(document: &OpenApi) -> Result<OpenApi, serde_json::Error> {
    let mut value = serde_json::to_value(document)?;
    require(&mut value);
    if let Some(paths) = value["paths"].as_object_mut() {
        for (path, item) in paths.iter_mut().filter(|(path, _)| path.starts_with("/v1/")) {
            for (method, operation) in item.as_object_mut().into_iter().flatten() {
                name_headers(path, method, operation);
            }
        }
    }
    if let Some(problems) = value["components"]["responses"].as_object_mut() {
        problems.values_mut().for_each(name_headers_of_problem);
    }
    serde_json::from_value(value)
}

fn require(document: &mut Value) {
    let schemas = document["components"]["schemas"].clone();
    let (mut asked, mut answered) = (BTreeSet::new(), BTreeSet::new());
    for operation in operations(document) {
        named(&operation["requestBody"], &schemas, &mut asked);
        named(&operation["responses"], &schemas, &mut answered);
    }
    named(&document["webhooks"], &schemas, &mut answered);
    for name in answered.difference(&asked) {
        let Some(schema) = document["components"]["schemas"].get_mut(name) else { continue };
        let parts = match schema.get_mut("allOf") {
            Some(Value::Array(parts)) => parts.iter_mut().collect(),
            _ => vec![schema],
        };
        parts.into_iter().for_each(require_properties);
    }
}

/// Whether a property's description says so, or that of what it is, where it may be null as well.
fn may_be_left_out(property: &Value) -> bool {
    let says = property["description"].as_str().is_some_and(|about| about.contains(LEFT_OUT));
    let choices = ["oneOf", "allOf"].into_iter().filter_map(|of| property[of].as_array());
    says || choices.flatten().any(may_be_left_out)
}

fn require_properties(schema: &mut Value) {
    let Some(properties) = schema["properties"].as_object() else { return };
    let always: Vec<&String> =
        properties.iter().filter(|(_, property)| !may_be_left_out(property)).map(|(name, _)| name).collect();
    schema["required"] = json!(always);
}

fn operations(document: &Value) -> impl Iterator<Item = &Value> {
    let items = document["paths"].as_object().into_iter().flat_map(Map::values);
    items.flat_map(|item| item.as_object().into_iter().flat_map(Map::values))
}

/// The schemas that a part of the document leads to.
fn named(part: &Value, schemas: &Value, found: &mut BTreeSet<String>) {
    match part {
        Value::Object(fields) => {
            let name = fields.get("$ref").and_then(Value::as_str).and_then(|to| to.strip_prefix(SCHEMAS));
            if let Some(name) = name.filter(|name| found.insert((*name).to_owned())) {
                named(&schemas[name], schemas, found);
            }
            fields.values().for_each(|field| named(field, schemas, found));
        }
        Value::Array(items) => items.iter().for_each(|item| named(item, schemas, found)),
        _ => {}
    }
}

fn text(about: &str) -> Value {
    json!({"description": about, "schema": {"type": "string"}})
}

const REQUEST_ID: &str = "The request's id, as in the service's log";

fn add_header(response: &mut Value, name: &str, about: &str) {
    let headers = response.as_object_mut().map(|response| response.entry("headers").or_insert(json!({})));
    if let Some(headers) = headers.and_then(Value::as_object_mut) {
        headers.entry(name).or_insert(text(about));
    }
}

/// Headers of a problem, by its status.
fn name_headers_of_problem(response: &mut Value) {
    let content = response["content"].as_object().and_then(|content| content.values().next());
    let status = content.and_then(|content| {
        let shown =
            content.get("example").or_else(|| content["examples"].as_object()?.values().next()?.get("value"));
        shown?["status"].as_u64()
    });
    add_header(response, "X-Request-Id", REQUEST_ID);
    match status {
        Some(401) => add_header(response, "WWW-Authenticate", "`Bearer realm=\"wear\"`"),
        Some(405) => add_header(response, "Allow", "The methods that the address takes"),
        Some(429 | 503) => add_header(response, "Retry-After", "Seconds after which to try again"),
        _ => {}
    }
}

/// Whether what is read there has a tag: what isn't sent in pieces.
fn is_tagged(path: &str) -> bool {
    !path.starts_with("/v1/exports") && !path.ends_with(".ics")
}

fn name_headers(path: &str, method: &str, operation: &mut Value) {
    let asks_for_token = operation["security"].as_array().is_some_and(|schemes| !schemes.is_empty());
    let Some(responses) = operation["responses"].as_object_mut() else { return };
    for (status, response) in responses.iter_mut().filter(|(_, response)| response.get("$ref").is_none()) {
        add_header(response, "X-Request-Id", REQUEST_ID);
        if asks_for_token {
            add_header(
                response,
                "RateLimit",
                "What is left of the token's requests, and seconds until there are more",
            );
            add_header(response, "RateLimit-Policy", "How many requests a token has in how many seconds");
        }
        if method == "get" && status == "200" && is_tagged(path) {
            add_header(
                response,
                "ETag",
                "Of this answer; for `If-None-Match`, and for `If-Match` where it counts revisions",
            );
        }
    }
    if method == "get" && responses.contains_key("200") && is_tagged(path) {
        let seen = json!({
            "name": "If-None-Match",
            "in": "header",
            "required": false,
            "description": "The `ETag` of the answer that is there already: where it is still the same, the answer is 304",
            "schema": {"type": "string"},
        });
        responses.entry("304").or_insert_with(|| {
            json!({
                "description": "The answer is the one whose `ETag` the request named in `If-None-Match`",
                "headers": {"ETag": text("Of the answer"), "X-Request-Id": text(REQUEST_ID)},
            })
        });
        if let Some(operation) = operation.as_object_mut() {
            let parameters = operation.entry("parameters").or_insert(json!([]));
            parameters.as_array_mut().into_iter().for_each(|parameters| parameters.push(seen.clone()));
        }
    }
}
