//! How far care is told, as bikes and workshops have it.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::domain::{CareSetting, CareState, FieldErrors};
use crate::input::parse;
use crate::web::schema;

/// How far care of the drivetrain is told: `recorded` when all of it is entered, so that silence is neglect; `routine`
/// when it is cleaned and lubricated every so many km or weeks, entered or not; `unrecorded` when nobody says.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = CareSetting)]
pub(super) struct CareSettingDocument {
    /// The state.
    #[schema(value_type = schema::CareState)]
    state: String,
    /// With `routine`: every so many kilometres, or `every_weeks`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(schema_with = schema::optional::every_km, required = false)]
    every_km: Option<i64>,
    /// With `routine`: every so many weeks, or `every_km`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(schema_with = schema::optional::every_weeks, required = false)]
    every_weeks: Option<i64>,
}

impl CareSettingDocument {
    pub(super) fn parse(self) -> Result<CareSetting, FieldErrors> {
        let Self { state, every_km, every_weeks } = self;
        let mut errors = FieldErrors::new();
        let Some(state) = errors.keep("/state", parse::text::<CareState>(&state)) else { return Err(errors) };
        CareSetting::new(state, every_km, every_weeks)
            .map_err(|(field, cause)| cause.at(format!("/{field}")).into())
    }

    /// The setting at `/care`, where one is given.
    pub(super) fn keep(given: Option<Self>, errors: &mut FieldErrors) -> Option<CareSetting> {
        match given?.parse() {
            Ok(setting) => Some(setting),
            Err(nested) => {
                errors.extend_under("/care", nested);
                None
            }
        }
    }
}

impl From<CareSetting> for CareSettingDocument {
    fn from(setting: CareSetting) -> Self {
        let (every_km, every_weeks) = match setting {
            CareSetting::Routine(interval) => (interval.every_km(), interval.every_weeks()),
            CareSetting::Recorded | CareSetting::Unrecorded => (None, None),
        };
        Self { state: setting.state().as_str().to_owned(), every_km, every_weeks }
    }
}
