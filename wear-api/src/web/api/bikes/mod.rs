//! Bikes with their drivetrain.

mod change;
mod create;
mod drivetrain;
mod get;
mod list;
mod retire;

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::domain::{Bike, BikeFacts};
use crate::web::schema;
use drivetrain::DrivetrainDocument;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config
        .service(create::create_bike)
        .service(list::list_bikes)
        .service(get::get_bike)
        .service(change::change_bike)
        .service(retire::retire_bike);
}

/// A bike.
#[derive(Serialize, ToSchema)]
#[schema(as = Bike)]
struct BikeDocument {
    /// Its id.
    id: Uuid,
    /// What people call it.
    #[schema(example = "041")]
    label: String,
    /// The bikes that it wears like.
    #[schema(example = "town-8s")]
    group: String,
    /// What it is used for.
    #[serde(rename = "use")]
    #[schema(value_type = schema::Use)]
    usage: &'static str,
    /// Its rings, cogs and chain length.
    drivetrain: DrivetrainDocument,
    /// When it was entered.
    created_at: DateTime<Utc>,
    /// When it left the fleet; null while it is in it.
    retired_at: Option<DateTime<Utc>>,
    /// Counts its changes; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

impl From<Bike> for BikeDocument {
    fn from(Bike { id, facts, created_at, retired_at, revision }: Bike) -> Self {
        let BikeFacts { label, group, usage, drivetrain, limit } = facts;
        Self {
            id: id.uuid(),
            label: label.to_string(),
            group: group.to_string(),
            usage: usage.as_str(),
            drivetrain: DrivetrainDocument::new(&drivetrain, limit),
            created_at: created_at.datetime(),
            retired_at: retired_at.map(|at| at.datetime()),
            revision,
        }
    }
}

/// A page of bikes.
#[derive(ToSchema)]
#[allow(dead_code)]
struct BikeList {
    /// Bikes of this page.
    items: Vec<BikeDocument>,
}
