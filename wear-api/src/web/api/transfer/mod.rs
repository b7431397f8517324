//! Tables as CSV, both ways.

mod export;
mod import;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(export::export_table).service(import::import_table);
}
