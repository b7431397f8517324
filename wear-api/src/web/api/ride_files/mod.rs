//! Rides as files.

mod document;
mod post;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(post::create_ride_from_file);
}
