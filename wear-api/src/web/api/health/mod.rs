//! Health of the service, for those who run it.

mod live;
mod ready;

use utoipa_actix_web::service_config::ServiceConfig;

/// Adds the operations.
pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(live::live).service(ready::ready);
}
