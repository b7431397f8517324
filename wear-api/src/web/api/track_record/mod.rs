//! How the forecasts did.

mod get;

use utoipa_actix_web::service_config::ServiceConfig;

pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get::get_track_record);
}
