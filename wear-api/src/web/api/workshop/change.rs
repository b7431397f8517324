use actix_web::{HttpResponse, patch, web};
use serde::Deserialize;
use utoipa::ToSchema;
use wear_core::units::Probability;

use super::document::{CalibrationDocument, CostsDocument, LimitsDocument, WorkshopDocument};
use crate::domain::{
    Calibration, Currency, Field, FieldErrors, Form, Invalid, Language, UnitsShown, WorkshopName,
    WorkshopSettings, parse_time_zone,
};
use crate::input::parse;
use crate::service::{Services, workshops};
use crate::web::auth::{As, Manager};
use crate::web::body::Json;
use crate::web::etag::{IfMatch, etag};
use crate::web::problem::Problem;
use crate::web::schema;

/// What to change of the workshop's settings; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WorkshopChange {
    /// Its name.
    #[schema(min_length = 1, max_length = 64)]
    name: Option<String>,
    /// Time zone of its dates, by its name in the IANA database.
    time_zone: Option<String>,
    /// Unit in which people see distances.
    #[schema(value_type = Option<UnitsShown>)]
    units_shown: Option<String>,
    /// Language of its pages.
    #[schema(value_type = Option<Language>)]
    language: Option<String>,
    /// Currency of its prices and costs.
    #[schema(pattern = "^[A-Z]{3}$")]
    currency: Option<String>,
    /// Probability of being over the limit at which a chain is to be swapped.
    #[schema(schema_with = schema::optional::probability, required = false)]
    risk: Option<f64>,
    /// Its own swap limits, all of them.
    limits: Option<LimitsDocument>,
    /// What things cost it, all of them.
    costs: Option<CostsDocument>,
    /// Its calibrated instruments, all of them, each once.
    #[schema(max_items = 5)]
    calibrations: Option<Vec<CalibrationDocument>>,
}

impl WorkshopChange {
    fn apply(self, settings: WorkshopSettings) -> Result<WorkshopSettings, FieldErrors> {
        let Self { name, time_zone, units_shown, language, currency, risk, limits, costs, calibrations } =
            self;
        let mut errors = FieldErrors::new();
        let mut changed = settings;
        if let Some(name) = name.and_then(|name| errors.keep("/name", WorkshopName::new(&name))) {
            changed.name = name;
        }
        let zone = time_zone.and_then(|zone| {
            let parsed = parse_time_zone(&zone).map_err(|error| match error {
                Invalid::Malformed { what, allowed } => Invalid::unparsed(what, &zone, allowed),
                other => other,
            });
            errors.keep("/time_zone", parsed)
        });
        changed.time_zone = zone.unwrap_or(changed.time_zone);
        let units =
            units_shown.and_then(|word| errors.keep("/units_shown", parse::text::<UnitsShown>(&word)));
        changed.units_shown = units.unwrap_or(changed.units_shown);
        let language = language.and_then(|word| errors.keep("/language", parse::text::<Language>(&word)));
        changed.language = language.unwrap_or(changed.language);
        let currency = currency.and_then(|code| errors.keep("/currency", parse::text::<Currency>(&code)));
        changed.currency = currency.unwrap_or(changed.currency);
        let risk = risk.and_then(|risk| errors.keep("/risk", Probability::new(risk)));
        changed.risk = risk.unwrap_or(changed.risk);
        match limits.map(LimitsDocument::parse) {
            Some(Ok(limits)) => changed.limits = limits,
            Some(Err(nested)) => errors.extend_under("/limits", nested),
            None => {}
        }
        match costs.map(CostsDocument::parse) {
            Some(Ok(costs)) => changed.costs = costs,
            Some(Err(nested)) => errors.extend_under("/costs", nested),
            None => {}
        }
        if let Some(calibrations) = calibrations {
            changed.calibrations = instruments(calibrations, &mut errors);
        }
        if errors.is_empty() { Ok(changed) } else { Err(errors) }
    }
}

fn instruments(given: Vec<CalibrationDocument>, errors: &mut FieldErrors) -> Vec<Calibration> {
    let mut calibrations: Vec<Calibration> = Vec::new();
    for (index, calibration) in given.into_iter().enumerate() {
        match calibration.parse() {
            Ok(calibration)
                if calibrations.iter().any(|other| other.instrument == calibration.instrument) =>
            {
                let what = Field::TwoCalibrations;
                let cause = Invalid::Together { what, allowed: Form::InstrumentOnce };
                errors.push(cause.at(format!("/calibrations/{index}/instrument")));
            }
            Ok(calibration) => calibrations.push(calibration),
            Err(nested) => errors.extend_under(&format!("/calibrations/{index}"), nested),
        }
    }
    calibrations
}

/// Change the workshop's settings
///
/// Every outlook rests on them and is computed anew within seconds.
#[utoipa::path(
    operation_id = "change_workshop",
    tag = "workshop",
    security(("bearer" = ["manager"])),
    params(("If-Match" = String, Header, description = "`ETag` of the workshop as you read it", example = "\"1\"")),
    request_body(content = WorkshopChange, example = json!({"time_zone": "Europe/Dublin", "risk": 0.1})),
    responses((status = 200, description = "The workshop after the change", body = WorkshopDocument,
        headers(("ETag" = String, description = "For `If-Match`"))))
)]
#[patch("/v1/workshop")]
pub(super) async fn change_workshop(
    services: web::Data<Services>,
    actor: As<Manager>,
    seen: IfMatch,
    body: Json<WorkshopChange>,
) -> Result<HttpResponse, Problem> {
    let settings = body.0.apply(workshops::get(&services, &actor).await?.settings)?;
    let workshop = workshops::change(&services, &actor, seen.0, &settings).await?;
    Ok(HttpResponse::Ok().insert_header(etag(workshop.revision)).json(WorkshopDocument::from(workshop)))
}
