//! What the fleet learned from its own chains.

mod ask;
mod get;

use utoipa_actix_web::service_config::ServiceConfig;

pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get::get_calibration).service(ask::ask_calibration);
}
