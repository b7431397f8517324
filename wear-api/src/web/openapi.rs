//! The OpenAPI document: what the handlers declare, plus what holds for every operation.

use actix_web::App;
use utoipa::openapi::path::{Operation, ParameterIn};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::openapi::{Components, ContentBuilder, OpenApi, Ref, RefOr, ResponseBuilder};
use utoipa::{Modify, OpenApi as _};
use utoipa_actix_web::AppExt as _;

use super::problem::{Kind, MEDIA_TYPE, ProblemDocument};
use super::router;

#[derive(utoipa::OpenApi)]
#[openapi(
    info(
        title = "Wear",
        description = "Tells people who keep bicycle drivetrains running when each chain has to come off, what \
            waiting costs, what to order, and which bikes go on the bench on which day.\n\n\
            Units stand in every field's name. Times are RFC 3339; dates are dates in the workshop's time zone. \
            Errors are problem documents (RFC 9457); `/docs/problems` explains each type. Lists come in pages with a `Link` header to the next.",
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
        (name = "workshop", description = "Settings and tokens of the workshop"),
        (name = "service", description = "Health of the service"),
    ),
    components(schemas(ProblemDocument, crate::input::WrongFieldDocument, crate::domain::BikeSort)),
    modifiers(&BearerTokens),
)]
struct Api;

struct BearerTokens;

/// Name of the security scheme that operations refer to.
pub const BEARER: &str = "bearer";

impl Modify for BearerTokens {
    fn modify(&self, document: &mut OpenApi) {
        let mut scheme = Http::new(HttpAuthScheme::Bearer);
        scheme.description = Some(
            "A token of the workshop. Its role is `app`, `mechanic` or `manager`; each may do what the ones \
             before it may. Make one with `wear-api token` or `POST /v1/tokens`."
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
    let mut used = Vec::new();
    for (path, item) in &mut document.paths.paths {
        for operation in [&mut item.get, &mut item.post, &mut item.put, &mut item.patch].into_iter().flatten()
        {
            let takes_body = operation.request_body.is_some();
            used.extend(add_problems(path, operation, takes_body));
        }
        if let Some(operation) = &mut item.delete {
            used.extend(add_problems(path, operation, true));
        }
    }
    let components = document.components.get_or_insert_default();
    for &kind in Kind::ALL.iter().filter(|kind| used.contains(kind)) {
        add_response(components, kind);
    }
    document
}

/// The document as text, as the golden file has it.
///
/// # Errors
/// None in practice: the document is plain data.
pub fn text() -> Result<String, serde_json::Error> {
    Ok(document().to_pretty_json()? + "\n")
}

/// Name of the shared answer of a kind.
fn response_name(kind: Kind) -> String {
    format!("{kind:?}")
}

fn add_response(components: &mut Components, kind: Kind) {
    let example = serde_json::json!({
        "type": kind.uri(),
        "title": kind.title(),
        "status": kind.status().as_u16(),
        "detail": kind.about(),
        "request_id": "019abf3e-6a34-7d6e-9a51-0d3c5e1f2a10",
    });
    let content = ContentBuilder::new()
        .schema(Some(RefOr::Ref(Ref::from_schema_name("Problem"))))
        .example(Some(example))
        .build();
    let response = ResponseBuilder::new().description(kind.about()).content(MEDIA_TYPE, content).build();
    components.responses.insert(response_name(kind), response.into());
}

/// Adds the problems that `operation` can answer with to those that it declares; which they are.
fn add_problems(path: &str, operation: &mut Operation, can_conflict: bool) -> Vec<Kind> {
    let parameter = |place: ParameterIn, name: Option<&str>| {
        operation.parameters.iter().flatten().any(|parameter| {
            matches!(parameter, RefOr::T(parameter)
                if parameter.parameter_in == place && name.is_none_or(|name| parameter.name == name))
        })
    };
    let mut kinds = vec![Kind::Internal, Kind::Unavailable];
    if path.starts_with("/v1/") {
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
        kinds.extend([Kind::BodyTooLarge, Kind::UnsupportedMediaType]);
        let takes_json = matches!(body, RefOr::T(body) if body.content.contains_key("application/json"));
        if takes_json {
            kinds.extend([Kind::InvalidJson, Kind::InvalidBody]);
        } else {
            kinds.push(Kind::InvalidRideFile);
        }
    }
    if can_conflict {
        kinds.push(Kind::Conflict);
    }
    for &kind in &kinds {
        let status = kind.status().as_str().to_owned();
        let shared = RefOr::Ref(Ref::from_response_name(response_name(kind)));
        operation.responses.responses.entry(status).or_insert(shared);
    }
    kinds
}
