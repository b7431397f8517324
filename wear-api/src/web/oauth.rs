//! What OAuth 2.0 asks of a server that hands out tokens (RFC 6749, 7009, 7636, 8414, 9207). The page on which somebody
//! allows an app is `pages::authorize`.
//!
//! Apps are public clients: no secret of theirs is kept, and they prove by PKCE that it is they who asked.

use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Form, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse, get, post};
use serde_json::json;
use thiserror::Error;

use super::problem::Problem;
use crate::domain::{AppId, AuthorizationCode, TokenSecret};
use crate::service::Services;
use crate::service::authorizations::{self, GivenBack};
use crate::service::links::Redeemed;

/// The addresses.
pub fn routes(config: &mut ServiceConfig) {
    config.service(metadata).service(token).service(revoke);
}

/// Who hands tokens out: this service, as its callers reach it.
pub(super) fn issuer(request: &HttpRequest) -> String {
    let connection = request.connection_info();
    format!("{}://{}", connection.scheme(), connection.host())
}

/// RFC 8414.
#[get("/.well-known/oauth-authorization-server")]
async fn metadata(request: HttpRequest) -> HttpResponse {
    let issuer = issuer(&request);
    HttpResponse::Ok().json(json!({
        "issuer": issuer,
        "authorization_endpoint": format!("{issuer}/oauth/authorize"),
        "token_endpoint": format!("{issuer}/oauth/token"),
        "revocation_endpoint": format!("{issuer}/oauth/revoke"),
        "response_types_supported": ["code"],
        "response_modes_supported": ["query"],
        "grant_types_supported": ["authorization_code"],
        "code_challenge_methods_supported": ["S256"],
        "token_endpoint_auth_methods_supported": ["none"],
        "revocation_endpoint_auth_methods_supported": ["none"],
        "authorization_response_iss_parameter_supported": true,
        "service_documentation": format!("{issuer}/docs/"),
    }))
}

type Fields = Result<Form<Vec<(String, String)>>, actix_web::Error>;

/// Why an app gets nothing, in the words of RFC 6749, 5.2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
enum Refused {
    #[error("the body is application/x-www-form-urlencoded")]
    NoForm,
    #[error("{0} is missing")]
    Missing(&'static str),
    #[error("{0} is there twice")]
    Twice(&'static str),
    #[error("grant_type is authorization_code")]
    OtherGrant,
    #[error(
        "the code is unknown, used or out of date, or it wasn't given to this app with this redirect_uri and code_challenge"
    )]
    NoGrant,
    #[error("only tokens that are bound to an app or a rider are revoked here")]
    NotAnApps,
}

impl Refused {
    const fn code(self) -> &'static str {
        match self {
            Self::NoForm | Self::Missing(_) | Self::Twice(_) => "invalid_request",
            Self::OtherGrant => "unsupported_grant_type",
            Self::NoGrant => "invalid_grant",
            Self::NotAnApps => "unsupported_token_type",
        }
    }

    fn answer(self) -> HttpResponse {
        let body = json!({"error": self.code(), "error_description": self.to_string()});
        answer(StatusCode::BAD_REQUEST, &body)
    }
}

fn answer(status: StatusCode, body: &serde_json::Value) -> HttpResponse {
    HttpResponse::build(status)
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::PRAGMA, "no-cache"))
        .json(body)
}

/// The one value of a parameter; an empty one counts as none (RFC 6749, 3.1).
fn one<'a>(fields: &'a [(String, String)], name: &'static str) -> Result<&'a str, Refused> {
    let mut values = fields.iter().filter(|(known, value)| known == name && !value.is_empty());
    match (values.next(), values.next()) {
        (Some((_, value)), None) => Ok(value),
        (None, _) => Err(Refused::Missing(name)),
        (Some(_), Some(_)) => Err(Refused::Twice(name)),
    }
}

/// What an app exchanges.
struct Exchange<'a> {
    code: &'a str,
    app: &'a str,
    redirect_uri: &'a str,
    verifier: &'a str,
}

impl<'a> Exchange<'a> {
    fn of(fields: &'a [(String, String)]) -> Result<Self, Refused> {
        if one(fields, "grant_type")? != "authorization_code" {
            return Err(Refused::OtherGrant);
        }
        Ok(Self {
            code: one(fields, "code")?,
            app: one(fields, "client_id")?,
            redirect_uri: one(fields, "redirect_uri")?,
            verifier: one(fields, "code_verifier")?,
        })
    }
}

/// Exchanges an authorization code for a token.
#[post("/oauth/token")]
async fn token(services: web::Data<Services>, fields: Fields) -> Result<HttpResponse, Problem> {
    let Ok(Form(fields)) = fields else { return Ok(Refused::NoForm.answer()) };
    let Exchange { code, app, redirect_uri, verifier } = match Exchange::of(&fields) {
        Ok(exchange) => exchange,
        Err(refused) => return Ok(refused.answer()),
    };
    let exchanged = match (code.parse::<AuthorizationCode>(), app.parse::<AppId>()) {
        (Ok(code), Ok(app)) => {
            authorizations::exchange(&services, &code, (app, redirect_uri), verifier).await?
        }
        _ => None,
    };
    let Some(Redeemed { secret, grant, label, workshop }) = exchanged else {
        return Ok(Refused::NoGrant.answer());
    };
    let reach = grant.reach();
    Ok(answer(
        StatusCode::OK,
        &json!({
            "access_token": secret.reveal(), "token_type": "Bearer", "label": label.as_str(),
            "workshop": workshop.as_str(), "role": grant.role().as_str(),
            "reach": {"app_id": reach.app(), "rider_id": reach.rider()},
        }),
    ))
}

/// Revokes a token at the app's own wish; one that is unknown or was revoked is as good (RFC 7009, 2.2).
#[post("/oauth/revoke")]
async fn revoke(services: web::Data<Services>, fields: Fields) -> Result<HttpResponse, Problem> {
    let Ok(Form(fields)) = fields else { return Ok(Refused::NoForm.answer()) };
    let given = match one(&fields, "token") {
        Ok(given) => given,
        Err(refused) => return Ok(refused.answer()),
    };
    let given_back = match given.parse::<TokenSecret>() {
        Ok(secret) => authorizations::give_back(&services, &secret).await?,
        Err(_) => GivenBack::Gone,
    };
    Ok(match given_back {
        GivenBack::Gone => HttpResponse::Ok().finish(),
        GivenBack::NotAnApps => Refused::NotAnApps.answer(),
    })
}
