use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::BikeDocument;
use super::drivetrain::DrivetrainBody;
use crate::domain::{BikeId, BikePatch, FieldErrors, GroupName, Label, Use};
use crate::input::parse;
use crate::service::{Services, bikes};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;
use crate::web::schema;

/// What to change of a bike; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BikeChange {
    /// What people call it.
    #[schema(min_length = 1, max_length = 64)]
    label: Option<String>,
    /// The bikes that it wears like.
    #[schema(min_length = 1, max_length = 64)]
    group: Option<String>,
    /// What it is used for.
    #[serde(rename = "use")]
    #[schema(value_type = Option<schema::Use>)]
    usage: Option<String>,
    /// The whole drivetrain anew, with the bike's own limit; without `limit_percent` it has none.
    drivetrain: Option<DrivetrainBody>,
}

impl TryFrom<BikeChange> for BikePatch {
    type Error = FieldErrors;

    fn try_from(body: BikeChange) -> Result<Self, FieldErrors> {
        let BikeChange { label, group, usage, drivetrain } = body;
        let mut errors = FieldErrors::new();
        let mut patch = Self {
            label: label.and_then(|label| errors.keep("/label", Label::new(&label))),
            group: group.and_then(|group| errors.keep("/group", GroupName::new(&group))),
            usage: usage.and_then(|usage| errors.keep("/use", parse::text::<Use>(&usage))),
            drivetrain: None,
            limit: None,
        };
        match drivetrain.map(DrivetrainBody::parse) {
            Some(Ok((drivetrain, limit))) => {
                patch.drivetrain = Some(drivetrain);
                patch.limit = Some(limit);
            }
            Some(Err(nested)) => errors.extend_under("/drivetrain", nested),
            None => {}
        }
        if errors.is_empty() { Ok(patch) } else { Err(errors) }
    }
}

/// Change a bike
///
/// Another drivetrain or use counts for all rides of the bike, past ones too.
#[utoipa::path(
    operation_id = "change_bike",
    tag = "bikes",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"),
        ("If-Match" = String, Header, description = "`ETag` of the bike as you read it", example = "\"1\"")),
    request_body(content = BikeChange, example = json!({"label": "041b", "group": "town-8s"})),
    responses((status = 200, description = "The bike after the change", body = BikeDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/bikes/{bike_id}")]
pub(super) async fn change_bike(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<Uuid>,
    seen: IfMatch,
    body: Json<BikeChange>,
) -> Result<HttpResponse, Problem> {
    let patch = body.0.try_into()?;
    let bike = bikes::patch(&services, &actor, BikeId::from_uuid(*bike_id), seen.0, patch).await?;
    Ok(HttpResponse::Ok().insert_header(etag(bike.revision)).json(BikeDocument::from(bike)))
}
