//! The audit list.

mod list;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(list::list_audit);
}
