//! Physical parts.

mod change;
mod create;
mod document;
mod get;
mod list;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_part)
        .service(list::list_parts)
        .service(get::get_part)
        .service(change::change_part);
}
