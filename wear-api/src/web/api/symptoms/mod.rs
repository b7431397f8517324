//! What riders report.

mod document;
mod list;
mod post;
mod void;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(post::create_symptom).service(list::list_symptoms).service(void::void_symptom);
}
