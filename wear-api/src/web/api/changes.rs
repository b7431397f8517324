//! What was changed, for apps that keep a copy.

use actix_web::{HttpResponse, get, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{Changed, FeedPage, FeedSize, Field, Form, Invalid};
use crate::service::{Services, changes};
use crate::web::auth::{App, As};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::schema;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(list_changes);
}

/// From where on, and how many.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ChangesQuery {
    /// `next` of the answer before, or `now` for where the changes end at present. Left out, the oldest that is kept.
    #[param(pattern = r"^(now|[0-9]{1,18}(\.[0-9]{1,9})?)$")]
    since: Option<String>,
    /// Most changes of an answer; 500 when left out.
    #[param(value_type = Option<u16>, minimum = 1, maximum = 1000)]
    limit: Option<String>,
}

/// A thing that was entered, corrected, voided, restored or deleted.
#[derive(Serialize, ToSchema)]
#[schema(as = Changed)]
struct ChangedDocument {
    /// What it is.
    #[schema(value_type = schema::ChangedKind)]
    kind: &'static str,
    /// Its id; of `stock` that of the part model, of `workshop` the workshop's.
    id: Uuid,
    /// The bike that it is on or of; null where it is of none.
    bike_id: Option<Uuid>,
    /// Whether it counts no more: voided, or deleted. A copy drops it. Restored, it comes again with `false`.
    gone: bool,
}

impl From<Changed> for ChangedDocument {
    fn from(Changed { kind, id, bike_id, gone }: Changed) -> Self {
        Self { kind: kind.as_str(), id, bike_id: bike_id.map(|id| id.uuid()), gone }
    }
}

/// Some of the changes.
#[derive(Serialize, ToSchema)]
#[schema(as = ChangeList)]
struct ChangesDocument {
    /// What was changed, in the order in which it was stored.
    items: Vec<ChangedDocument>,
    /// Where to go on: the next request's `since`. It is there also when nothing was changed.
    #[schema(example = "1204")]
    next: String,
    /// Whether there is more to fetch at once.
    more: bool,
}

/// Follow changes
///
/// For apps that keep a copy. Ask for `since=now` and keep its `next`, read the lists, then ask with that `next` again and
/// again, and read anew what is named. Nothing is left out, whatever is stored while you read; a thing may come twice. A
/// change of many things, such as a swap, names each: the swap, the parts, their fittings. Outlooks aren't named, as they
/// change by the day: ask for those with `If-None-Match`, or have a hook tell. An `app` is told of what it may read. Changes
/// are kept 90 days; `since` an older one is answered with 410.
#[utoipa::path(
    operation_id = "list_changes",
    tag = "workshop",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(ChangesQuery),
    responses(
        (status = 200, description = "Changes, in order", body = ChangesDocument)
    )
)]
#[get("/v1/changes")]
async fn list_changes(
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<ChangesQuery>,
) -> Result<HttpResponse, Problem> {
    let ChangesQuery { since, limit } = query.0;
    let mut parameters = Parameters::new();
    let since = parameters.word("since", since.as_deref()).unwrap_or_default();
    let size = parameters.optional("limit", limit.as_deref(), |given| {
        let number = given.parse().map_err(|_| Invalid::unparsed(Field::Limit, given, Form::FeedSize))?;
        FeedSize::new(number)
    });
    parameters.finish()?;
    let FeedPage { items, next, more } =
        changes::follow(&services, &actor, since, size.unwrap_or_default()).await?;
    let items = items.into_iter().map(ChangedDocument::from).collect();
    Ok(HttpResponse::Ok().json(ChangesDocument { items, next: next.to_string(), more }))
}
