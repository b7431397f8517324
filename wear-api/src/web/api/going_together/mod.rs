//! What goes on: chain length, and parts that go together. Nothing is stored.

mod chain_length;
mod compare;
mod parts;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(chain_length::compute_chain_length).service(compare::compare_parts);
}
