//! What is cheapest.

mod document;
mod get;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get::get_policy);
}
