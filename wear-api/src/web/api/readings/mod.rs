//! What was measured on chains.

mod document;
mod list;
mod post;
mod void;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(post::create_reading).service(list::list_readings).service(void::void_reading);
}
