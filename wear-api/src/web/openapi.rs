//! The OpenAPI document: what the handlers declare, plus what holds for every operation.

use std::collections::BTreeMap;

use actix_web::App;
use utoipa::openapi::example::ExampleBuilder;
use utoipa::openapi::link::LinkBuilder;
use utoipa::openapi::path::{Operation, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::Type;
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::openapi::{
    Components, ContentBuilder, Header, ObjectBuilder, OpenApi, Ref, RefOr, Required, Response,
    ResponseBuilder, Schema,
};
use utoipa::{Modify, OpenApi as _};
use utoipa_actix_web::AppExt as _;

use super::api::messages::{
    BikeMessage, DriftMessage, HookDisabledMessage, OrderMessage, OutlookMessage, OverMessage,
    RideRejectedMessage, SprocketMessage, TestMessage,
};
use super::api::webhooks::webhooks;
use super::problem::{Kind, MEDIA_TYPE, ProblemDocument};
use super::{answered, router};

#[derive(utoipa::OpenApi)]
#[openapi(
    info(
        title = "Wear",
        description = "Tells people who keep bicycle drivetrains running when each chain has to come off, what \
            waiting costs, what to order, and which bikes go on the bench on which day.\n\n\
            Units stand in every field's name. Times are RFC 3339; dates are dates in the workshop's time zone. \
            Errors are problem documents (RFC 9457); `/docs/problems` explains each type. Lists come in pages with a `Link` header to the next.\n\n\
            Examples of answers were given by the service; ids and secrets in them are replaced, and lists of more than \
            twelve entries show three.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0"),
    ),
    servers((url = "/", description = "This service")),
    tags(
        (name = "bikes", description = "Bikes with their drivetrain"),
        (name = "parts", description = "Part models, physical parts and where they were fitted"),
        (name = "stock", description = "The shelf, deliveries to it, and what to order"),
        (name = "rides", description = "What was ridden"),
        (name = "readings", description = "What was measured on chains"),
        (name = "work", description = "Care and swaps"),
        (name = "outlook", description = "When each chain has to come off, and how sure that is"),
        (name = "bench", description = "Bench days, bookings, and who is on the bench on which day"),
        (name = "decisions", description = "What is cheapest, and what goes on"),
        (name = "estimates", description = "Answers for cases that are not stored"),
        (name = "calendar", description = "The workshop's calendar for calendar programs"),
        (name = "hooks", description = "Addresses that are told what a rider or a yard must hear"),
        (name = "digests", description = "E-mails with what is due"),
        (name = "tables", description = "CSV out and in"),
        (name = "apps", description = "Apps, riders, and how an app gets a token that sees their bikes alone"),
        (name = "workshop", description = "Settings and tokens of the workshop"),
        (name = "service", description = "Health of the service"),
    ),
    components(schemas(OutlookMessage, SprocketMessage, OverMessage, OrderMessage, DriftMessage, BikeMessage, RideRejectedMessage, HookDisabledMessage, TestMessage, ProblemDocument, crate::input::WrongFieldDocument, crate::domain::BikeSort, crate::domain::PlanState, crate::domain::RideIdScope, crate::transfer::Separator)),
    modifiers(&BearerTokens),
)]
struct Api;

struct BearerTokens;

/// The addresses under `/v1/` that ask for no token: what is sent there is the key.
const CALENDAR_FEED: &str = "/v1/calendar/{secret}.ics";
const REDEMPTION: &str = "/v1/link-redemptions";

/// Name of the security scheme that operations refer to.
pub const BEARER: &str = "bearer";

impl Modify for BearerTokens {
    fn modify(&self, document: &mut OpenApi) {
        let mut scheme = Http::new(HttpAuthScheme::Bearer);
        scheme.description = Some(
            "A token of the workshop. Its role is `app`, `mechanic` or `manager`; each may do what the ones \
             before it may. A token of an app may be bound to this app, to a rider, or to both: it sees their bikes alone, \
             and whatever belongs to others isn't there for it. Make one with `wear-api token` or `POST /v1/tokens`."
                .into(),
        );
        let components = document.components.get_or_insert_default();
        components.add_security_scheme(BEARER, SecurityScheme::Http(scheme));
    }
}

/// The whole document.
#[must_use]
pub fn document() -> OpenApi {
    let (_, mut document) =
        App::new().into_utoipa_app().openapi(Api::openapi()).configure(router::operations).split_for_parts();
    document.webhooks = Some(webhooks());
    let mut used = Vec::new();
    for (path, item) in &mut document.paths.paths {
        let with_key = path.starts_with("/v1/") && path != REDEMPTION;
        if let Some(operation) = item.post.as_mut().filter(|_| with_key) {
            take_key(operation);
        }
        for operation in [&mut item.get, &mut item.post, &mut item.put, &mut item.patch].into_iter().flatten()
        {
            let takes_body = operation.request_body.is_some();
            used.extend(add_problems(path, operation, takes_body));
        }
        if let Some(operation) = &mut item.delete {
            used.extend(add_problems(path, operation, true));
        }
    }
    add_headers(&mut document);
    add_links(&mut document);
    show_answers(&mut document);
    let components = document.components.get_or_insert_default();
    for kinds in used {
        add_response(components, &kinds);
    }
    answered::complete(&document).unwrap_or(document)
}

/// The document as text, as the golden file has it.
///
/// # Errors
/// None in practice: the document is plain data.
pub fn text() -> Result<String, serde_json::Error> {
    Ok(document().to_pretty_json()? + "\n")
}

/// Adds the `Idempotency-Key` that each `POST` takes.
fn take_key(operation: &mut Operation) {
    let text = ObjectBuilder::new()
        .schema_type(Type::String)
        .min_length(Some(1))
        .max_length(Some(255))
        .pattern(Some(r"^[!-~]([ -~]*[!-~])?$"))
        .build();
    let parameter = ParameterBuilder::new()
        .name("Idempotency-Key")
        .parameter_in(ParameterIn::Header)
        .required(Required::False)
        .description(Some(
            "Names this request, so that it counts once however often it is sent: within a day the same key with \
             the same body gets the same answer, with `Idempotent-Replayed: true`. An error answer changed nothing and leaves the key free.",
        ))
        .schema(Some(text))
        .example(Some("019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10".into()))
        .build();
    operation.parameters.get_or_insert_default().push(parameter.into());
}

/// What operations answered, by operation and status; written by `openapi/record-answers`.
const ANSWERS: &str = include_str!("../../../openapi/answers.json");

/// Shows what each operation answered when a test asked it. A file that can't be read leaves the document without
/// examples, which a test finds.
fn show_answers(document: &mut OpenApi) {
    type Answers = BTreeMap<String, BTreeMap<String, serde_json::Value>>;
    let answers: Answers = serde_json::from_str(ANSWERS).unwrap_or_default();
    for item in document.paths.paths.values_mut() {
        let operations = [&mut item.get, &mut item.post, &mut item.put, &mut item.patch, &mut item.delete]
            .into_iter()
            .flatten();
        for operation in operations {
            let answered = operation.operation_id.as_ref().and_then(|id| answers.get(id));
            for (status, answer) in answered.into_iter().flatten() {
                let Some(RefOr::T(response)) = operation.responses.responses.get_mut(status) else {
                    continue;
                };
                for content in response.content.values_mut() {
                    if let RefOr::T(content) = content {
                        content.example = Some(answer.clone());
                    }
                }
            }
        }
    }
}

/// Names the headers that follow from what an operation answers with: the next page of a list that takes a cursor, and
/// the `ETag` of what counts its revisions.
fn add_headers(document: &mut OpenApi) {
    let schemas = document.components.as_ref().map(|components| &components.schemas);
    for item in document.paths.paths.values_mut() {
        for operation in [&mut item.get, &mut item.post, &mut item.put, &mut item.patch].into_iter().flatten()
        {
            let takes_key = has_parameter(operation, ParameterIn::Header, "Idempotency-Key");
            let is_paged = has_parameter(operation, ParameterIn::Query, "after");
            for (status, response) in &mut operation.responses.responses {
                let RefOr::T(response) = response else { continue };
                if !status.starts_with('2') {
                    continue;
                }
                if takes_key {
                    let replayed = "`true` where the answer was given before, to a request with the same `Idempotency-Key`";
                    response.headers.insert("Idempotent-Replayed".to_owned(), text_header(replayed));
                }
                if is_paged {
                    let next = "The next page, `rel=\"next\"`; absent on the last";
                    response.headers.insert("Link".to_owned(), text_header(next));
                }
                if answers_with(response, schemas, "revision") {
                    response.headers.insert("ETag".to_owned(), text_header("For `If-Match`"));
                }
            }
        }
    }
}

fn text_header(about: &str) -> RefOr<Header> {
    let mut header = Header::default();
    header.description = Some(about.to_owned());
    header.into()
}

/// Links each `POST` that makes a thing to what can be asked of the thing.
fn add_links(document: &mut OpenApi) {
    let schemas = document.components.as_ref().map(|components| &components.schemas);
    let paths = &mut document.paths.paths;
    let asked: Vec<(String, Vec<(String, bool)>)> = paths
        .iter()
        .map(|(path, item)| {
            let operations = [&item.get, &item.post, &item.patch, &item.delete].into_iter().flatten();
            let named = operations.filter_map(|operation| {
                let guarded = has_parameter(operation, ParameterIn::Header, "If-Match");
                Some((operation.operation_id.clone()?, guarded))
            });
            (path.clone(), named.collect())
        })
        .collect();
    for (path, item) in paths.iter_mut() {
        let Some(RefOr::T(made)) =
            item.post.as_mut().and_then(|post| post.responses.responses.get_mut("201"))
        else {
            continue;
        };
        for (other, operations) in &asked {
            let Some((parameter, rest)) = other
                .strip_prefix(path.as_str())
                .and_then(|rest| rest.strip_prefix("/{"))
                .and_then(|rest| rest.split_once('}'))
            else {
                continue;
            };
            let Some(id) = place_of_id(made, schemas, parameter).filter(|_| !rest.contains('{')) else {
                continue;
            };
            for (operation, guarded) in operations {
                let mut link = LinkBuilder::new()
                    .operation_id(operation.as_str())
                    .parameter(parameter, format!("$response.body#{id}"));
                for named in path.split('{').skip(1).filter_map(|part| part.split('}').next()) {
                    link = link.parameter(named, format!("$request.path.{named}"));
                }
                if *guarded {
                    link = link.parameter("If-Match", "$response.header.ETag");
                }
                made.links.insert(operation.clone(), RefOr::T(link.build()));
            }
        }
    }
}

/// Pointer to the id of what was made, in the answer that tells of it.
fn place_of_id(made: &Response, schemas: Option<&Schemas>, parameter: &str) -> Option<String> {
    let thing = parameter.strip_suffix("_id")?;
    [(parameter, format!("/{parameter}")), ("id", "/id".to_owned()), (thing, format!("/{thing}/id"))]
        .into_iter()
        .find(|(property, _)| answers_with(made, schemas, property))
        .map(|(_, pointer)| pointer)
}

type Schemas = BTreeMap<String, RefOr<Schema>>;

/// Whether the document of an answer has the property.
fn answers_with(response: &Response, schemas: Option<&Schemas>, property: &str) -> bool {
    let Some(RefOr::T(content)) = response.content.get("application/json") else { return false };
    let Some(RefOr::Ref(named)) = &content.schema else { return false };
    let schema_of = |place: &str| {
        let name = place.rsplit('/').next()?;
        serde_json::to_value(schemas?.get(name)?).ok()
    };
    let Some(whole) = schema_of(&named.ref_location) else { return false };
    // A document that is flattened into another stands in `allOf`.
    let parts = whole["allOf"].as_array().cloned().unwrap_or_else(|| vec![whole.clone()]);
    parts.iter().any(|part| {
        let referred = part["$ref"].as_str().and_then(schema_of);
        referred.as_ref().unwrap_or(part)["properties"].get(property).is_some()
    })
}

fn has_parameter(operation: &Operation, place: ParameterIn, name: &str) -> bool {
    operation.parameters.iter().flatten().any(|parameter| {
        matches!(parameter, RefOr::T(parameter) if parameter.parameter_in == place && parameter.name == name)
    })
}

/// Name of the shared answer of the kinds that have one status.
fn response_name(kinds: &[Kind]) -> String {
    kinds.iter().map(|kind| format!("{kind:?}")).collect::<Vec<_>>().join("Or")
}

fn add_response(components: &mut Components, kinds: &[Kind]) {
    let example = |kind: &Kind| {
        serde_json::json!({
            "type": kind.uri(),
            "title": kind.title(),
            "status": kind.status().as_u16(),
            "detail": kind.about(),
            "request_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10",
        })
    };
    let content = ContentBuilder::new().schema(Some(RefOr::Ref(Ref::from_schema_name("Problem"))));
    let content = match kinds {
        [only] => content.example(Some(example(only))),
        _ => content.examples_from_iter(kinds.iter().map(|kind| {
            (kind.slug(), ExampleBuilder::new().summary(kind.title()).value(Some(example(kind))).build())
        })),
    };
    let about = kinds.iter().map(|kind| kind.about()).collect::<Vec<_>>().join(" Or: ");
    let response = ResponseBuilder::new().description(about).content(MEDIA_TYPE, content.build()).build();
    components.responses.insert(response_name(kinds), response.into());
}

/// Adds the problems that `operation` can answer with to those that it declares; which they are.
fn add_problems(path: &str, operation: &mut Operation, can_conflict: bool) -> Vec<Vec<Kind>> {
    let parameter = |place: ParameterIn, name: Option<&str>| {
        operation.parameters.iter().flatten().any(|parameter| {
            matches!(parameter, RefOr::T(parameter)
                if parameter.parameter_in == place && name.is_none_or(|name| parameter.name == name))
        })
    };
    let mut kinds = vec![Kind::Internal, Kind::Unavailable];
    if path == REDEMPTION {
        kinds.extend([Kind::NotAcceptable, Kind::TooManyRequests]);
    } else if path.starts_with("/v1/") && path != CALENDAR_FEED {
        kinds.extend([Kind::NotSignedIn, Kind::RoleNotAllowed, Kind::NotAcceptable, Kind::TooManyRequests]);
    }
    if parameter(ParameterIn::Path, None) || parameter(ParameterIn::Query, Some("bike_id")) {
        kinds.push(Kind::NotFound);
    }
    if parameter(ParameterIn::Query, None) {
        kinds.push(Kind::InvalidParameter);
    }
    if parameter(ParameterIn::Header, Some("If-Match")) {
        kinds.extend([Kind::Stale, Kind::PreconditionRequired]);
    }
    if let Some(body) = &operation.request_body {
        kinds.extend([Kind::TooSlow, Kind::BodyTooLarge, Kind::UnsupportedMediaType]);
        let takes = |media| matches!(body, RefOr::T(body) if body.content.contains_key(media));
        if takes("text/csv") {
            kinds.push(Kind::InvalidTable);
        } else if takes("application/json") {
            kinds.extend([Kind::InvalidJson, Kind::InvalidBody]);
        } else {
            kinds.push(Kind::InvalidRideFile);
        }
    }
    if parameter(ParameterIn::Query, Some("since")) {
        kinds.push(Kind::Forgotten);
    }
    if can_conflict {
        kinds.push(Kind::Conflict);
    }
    if parameter(ParameterIn::Header, Some("Idempotency-Key")) {
        kinds.extend([Kind::InvalidParameter, Kind::RequestInFlight, Kind::KeyReused]);
    }
    let mut by_status: BTreeMap<u16, Vec<Kind>> = BTreeMap::new();
    for kind in kinds {
        let others = by_status.entry(kind.status().as_u16()).or_default();
        if !others.contains(&kind) {
            others.push(kind);
        }
    }
    for (status, kinds) in &by_status {
        let shared = RefOr::Ref(Ref::from_response_name(response_name(kinds)));
        operation.responses.responses.entry(status.to_string()).or_insert(shared);
    }
    by_status.into_values().collect()
}
