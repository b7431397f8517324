//! Swaps: one part off, one on.

mod document;
mod list;
mod post;
mod procedure;
mod void;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(post::create_swap).service(list::list_swaps).service(void::void_swap);
    config.service(procedure::get_swap_procedure);
}
