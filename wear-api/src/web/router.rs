//! Every address of the service.

use actix_web::web::{self, PathConfig, ServiceConfig};
use utoipa_actix_web::service_config::ServiceConfig as Operations;
use utoipa_swagger_ui::SwaggerUi;

use super::api;
use super::conventions::{Addresses, unmatched};
use super::oauth;
use super::pages;
use super::problem::Problem;
use super::problem_page::problem_page;

/// The documented operations.
pub fn operations(config: &mut Operations<'_>) {
    api::operations(config);
}

/// All else: the document, its pages, and what answers unknown addresses.
pub fn rest(
    config: &mut ServiceConfig,
    document: &utoipa::openapi::OpenApi,
    addresses: &web::Data<Addresses>,
) {
    config
        .app_data(addresses.clone())
        .app_data(PathConfig::default().error_handler(|_, _| Problem::not_found("address").into()))
        .configure(oauth::routes)
        .configure(pages::routes)
        .service(problem_page)
        .service(web::redirect("/docs", "/docs/"))
        .service(SwaggerUi::new("/docs/{_:.*}").url("/openapi.json", document.clone()))
        .default_service(web::to(unmatched));
}
