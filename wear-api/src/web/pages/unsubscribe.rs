//! What stops e-mails: the link in each of them. No sign-in, as its address is the key (RFC 8058).

use actix_web::{HttpRequest, get, post, web};
use askama::Template;

use super::failure::Failure;
use super::frame::Frame;
use super::{Answer, html};
use crate::domain::DigestSecret;
use crate::service::{Services, digests};

#[derive(Template)]
#[template(path = "unsubscribe.html")]
struct UnsubscribePage {
    f: Frame,
    address: String,
    secret: String,
    done: bool,
}

fn secret_of(given: &str) -> Result<DigestSecret, Failure> {
    given.parse().map_err(|_| Failure::NotFound("address"))
}

/// Asks first: programs that look at every link of an e-mail must not stop it.
#[get("/unsubscribe/{secret}")]
pub(super) async fn page(
    request: HttpRequest,
    services: web::Data<Services>,
    secret: web::Path<String>,
) -> Answer {
    let digest = digests::by_link(&services, &secret_of(&secret)?).await?;
    html(&UnsubscribePage {
        f: Frame::outside(&request),
        address: digest.facts.address.as_str().to_owned(),
        secret: secret.into_inner(),
        done: digest.unsubscribed_at.is_some(),
    })
}

/// One click of the mail program, or the button of the page.
#[post("/unsubscribe/{secret}")]
pub(super) async fn stop(
    request: HttpRequest,
    services: web::Data<Services>,
    secret: web::Path<String>,
) -> Answer {
    digests::unsubscribe(&services, &secret_of(&secret)?).await?;
    let (address, secret) = (String::new(), String::new());
    html(&UnsubscribePage { f: Frame::outside(&request), address, secret, done: true })
}
