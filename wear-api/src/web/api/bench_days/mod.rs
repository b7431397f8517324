//! Bench days: dates whose minutes are not those of their weekday, and how the bench works on all others.

mod change;
mod create;
mod document;
mod get;
mod list;
mod remove;
mod settings;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_bench_day)
        .service(list::list_bench_days)
        .service(get::get_bench_day)
        .service(change::change_bench_day)
        .service(remove::remove_bench_day)
        .service(settings::get_bench_settings)
        .service(settings::change_bench_settings);
}
