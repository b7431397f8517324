//! Bookings: when bikes are away and can't be on the bench.

mod change;
mod create;
mod document;
mod get;
mod list;
mod remove;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_booking)
        .service(list::list_bookings)
        .service(get::get_booking)
        .service(change::change_booking)
        .service(remove::remove_booking);
}
