use actix_web::http::header;
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::ToSchema;

use super::BikeDocument;
use super::drivetrain::DrivetrainBody;
use crate::domain::{BikeFacts, FieldErrors, GroupName, Label, Use};
use crate::input::parse;
use crate::service::Services;
use crate::service::bikes::{self, EnterBike};
use crate::web::auth::{As, Mechanic};
use crate::web::body::Json;
use crate::web::etag::etag;
use crate::web::problem::Problem;
use crate::web::schema;

/// A bike to be entered, with the drivetrain that is on it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewBike {
    /// What people call it: the number on its frame.
    #[schema(min_length = 1, max_length = 64)]
    label: String,
    /// The bikes that it wears like; what is learned is learned by group. Its use when left out.
    #[schema(min_length = 1, max_length = 64)]
    group: Option<String>,
    /// What it is used for; `town` when left out.
    #[serde(rename = "use")]
    #[schema(value_type = Option<schema::Use>)]
    usage: Option<String>,
    /// When its chain, cassette and rings were fitted, new; today when left out.
    #[schema(value_type = Option<String>, format = Date)]
    fitted_on: Option<String>,
    /// Its rings, cogs and chain length.
    drivetrain: DrivetrainBody,
}

impl TryFrom<NewBike> for EnterBike {
    type Error = FieldErrors;

    fn try_from(body: NewBike) -> Result<Self, FieldErrors> {
        let NewBike { label, group, usage, fitted_on, drivetrain } = body;
        let mut errors = FieldErrors::new();
        let label = errors.keep("/label", Label::new(&label));
        let usage = match usage {
            Some(usage) => errors.keep("/use", parse::text::<Use>(&usage)),
            None => Some(Use::Town),
        };
        let group = group.unwrap_or_else(|| usage.unwrap_or(Use::Town).as_str().to_owned());
        let group = errors.keep("/group", GroupName::new(&group));
        let fitted_on = fitted_on.and_then(|date| errors.keep("/fitted_on", parse::date(&date)));
        let drivetrain = match drivetrain.parse() {
            Ok(drivetrain) => Some(drivetrain),
            Err(nested) => {
                errors.extend_under("/drivetrain", nested);
                None
            }
        };
        match (label, group, usage, drivetrain) {
            (Some(label), Some(group), Some(usage), Some((drivetrain, limit))) if errors.is_empty() => {
                Ok(Self { facts: BikeFacts { label, group, usage, drivetrain, limit }, fitted_on })
            }
            _ => Err(errors),
        }
    }
}

/// Enter a bike
///
/// Chain, cassette and rings count as fitted new on `fitted_on`.
#[utoipa::path(
    operation_id = "create_bike",
    tag = "bikes",
    security(("bearer" = ["mechanic", "manager"])),
    request_body(content = NewBike, example = json!({
        "label": "041", "group": "town-8s", "use": "town", "fitted_on": "2026-01-01",
        "drivetrain": {"rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114, "limit_percent": 0.75}
    })),
    responses((status = 201, description = "The bike", body = BikeDocument,
        headers(("Location" = String, description = "Address of the bike"),
            ("ETag" = String, description = "For `If-Match`"))))
)]
#[post("/v1/bikes")]
pub(super) async fn create_bike(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    body: Json<NewBike>,
) -> Result<HttpResponse, Problem> {
    let bike = bikes::create(&services, &actor, body.0.try_into()?).await?;
    Ok(HttpResponse::Created()
        .insert_header((header::LOCATION, format!("/v1/bikes/{}", bike.id)))
        .insert_header(etag(bike.revision))
        .json(BikeDocument::from(bike)))
}
