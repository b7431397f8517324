//! What to order.

mod document;
mod needed;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(needed::get_orders_needed);
}
