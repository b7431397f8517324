//! When each chain has to come off, and how sure that is.

mod document;
mod get;
mod list;

pub(super) use document::{BandDocument, OutlookDocument};
use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get::get_outlook).service(list::list_outlooks);
}
