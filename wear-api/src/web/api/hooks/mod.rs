//! Hooks: addresses that are told of crossings.

mod change;
mod create;
mod delete;
mod deliveries;
mod delivery;
mod document;
mod get;
mod list;
pub(crate) mod messages;
mod redeliver;
mod rotate;
mod send_test;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_hook)
        .service(list::list_hooks)
        .service(get::get_hook)
        .service(change::change_hook)
        .service(delete::delete_hook)
        .service(rotate::rotate_hook_secret)
        .service(send_test::send_test_message)
        .service(deliveries::list_deliveries)
        .service(delivery::get_delivery)
        .service(redeliver::redeliver);
}
