//! The workshop's calendar.

mod close;
mod document;
mod feed;
mod get;
mod renew;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(renew::renew_calendar)
        .service(get::get_calendar)
        .service(close::close_calendar)
        .service(feed::get_calendar_feed);
}
