//! Parts put on bikes and taken off, where that isn't a swap.

mod document;
mod list;
mod post;
mod remove;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(post::create_fitting).service(list::list_fittings).service(remove::remove_fitting);
}
