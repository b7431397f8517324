//! Care of drivetrains.

mod document;
mod list;
mod post;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(post::create_care).service(list::list_care);
}
