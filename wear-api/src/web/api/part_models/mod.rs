//! Part models: what a shop would order.

mod change;
mod create;
mod facts;
mod get;
mod list;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_part_model)
        .service(list::list_part_models)
        .service(get::get_part_model)
        .service(change::change_part_model);
}
