//! The bench plan: computed, looked at, accepted.

mod accept;
mod compute;
mod document;
mod get;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(compute::compute_bench_plan)
        .service(get::get_bench_plan)
        .service(accept::accept_bench_plan);
}
