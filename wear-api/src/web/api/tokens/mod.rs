//! Tokens of the workshop.

mod create;
mod document;
mod list;
mod revoke;

use utoipa_actix_web::service_config::ServiceConfig;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create::create_token).service(list::list_tokens).service(revoke::revoke_token);
}
