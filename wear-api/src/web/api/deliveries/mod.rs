//! Deliveries: parts on their way to the shelf.

mod change;
mod create;
mod delete;
mod document;
mod get;
mod list;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_delivery)
        .service(list::list_deliveries)
        .service(get::get_delivery)
        .service(change::change_delivery)
        .service(delete::delete_delivery);
}
