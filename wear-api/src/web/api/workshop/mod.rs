//! Settings of the workshop.

mod change;
mod document;
mod get;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get::get_workshop).service(change::change_workshop);
}
