//! The shelf: what is there of each part model, and how more is ordered.

mod change;
mod create;
mod delete;
mod document;
mod get;
mod list;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_stock)
        .service(list::list_stock)
        .service(get::get_stock)
        .service(change::change_stock)
        .service(delete::delete_stock);
}
