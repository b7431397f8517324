//! Settings of the workshop.

use actix_web::{HttpResponse, get, patch, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;
use wear_core::units::{InstrumentBias, InstrumentSd, Limit, Probability};

use crate::domain::{
    Calibration, Costs, Currency, DefaultLimits, Field, FieldErrors, Form, Instrument, Invalid, Language,
    SoonDays, UnitsShown, Workshop, WorkshopName, WorkshopSettings, parse_time_zone,
};
use crate::input::parse;
use crate::service::{Services, workshops};
use crate::web::api::care_setting::CareSettingDocument;
use crate::web::auth::{As, Manager, Mechanic};
use crate::web::body::{Json, given};
use crate::web::change::Change;
use crate::web::etag::IfMatch;
use crate::web::problem::Problem;
use crate::web::{answer, schema};

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(get_workshop).service(change_workshop);
}

/// A workshop and its settings.
#[derive(Serialize, ToSchema)]
#[schema(as = Workshop)]
struct WorkshopDocument {
    /// Its id.
    id: Uuid,
    /// Its name.
    #[schema(example = "Harbour")]
    name: String,
    /// Time zone of its dates, by its name in the IANA database.
    #[schema(example = "Europe/Dublin")]
    time_zone: String,
    /// Unit in which people see distances.
    #[schema(value_type = UnitsShown)]
    units_shown: &'static str,
    /// Language of its pages.
    #[schema(value_type = Language)]
    language: &'static str,
    /// Currency of its prices and costs.
    #[schema(example = "EUR", pattern = "^[A-Z]{3}$")]
    currency: String,
    /// Probability of being over the limit at which a chain is to be swapped.
    #[schema(schema_with = schema::probability)]
    risk: f64,
    /// Its own swap limits.
    limits: LimitsDocument,
    /// What things cost it.
    costs: CostsDocument,
    /// Its calibrated instruments.
    calibrations: Vec<CalibrationDocument>,
    /// How far care of its bikes is told, where the bike doesn't say; null when care counts as unrecorded up to a bike's
    /// first entry and as recorded from it on.
    care: Option<CareSettingDocument>,
    /// Days before its day that a reading or a swap is told to be due soon (assumed: a week).
    #[schema(minimum = 0, maximum = 60)]
    soon_days: u32,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Counts the changes of its settings; the `ETag` is made of it.
    #[schema(minimum = 1)]
    revision: i64,
}

/// A workshop's own swap limits, percent; null where the trade's hold.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Limits)]
struct LimitsDocument {
    /// For 11 and more sprockets; the trade's is 0.5.
    #[schema(minimum = 0.2, maximum = 2.0)]
    eleven_or_more_percent: Option<f64>,
    /// For 2 to 10 sprockets; the trade's is 0.75.
    #[schema(minimum = 0.2, maximum = 2.0)]
    up_to_ten_percent: Option<f64>,
    /// For one sprocket; the trade's is 1.0.
    #[schema(minimum = 0.2, maximum = 2.0)]
    single_sprocket_percent: Option<f64>,
}

impl LimitsDocument {
    fn parse(self) -> Result<DefaultLimits, FieldErrors> {
        let Self { eleven_or_more_percent, up_to_ten_percent, single_sprocket_percent } = self;
        let mut errors = FieldErrors::new();
        let mut limit = |pointer: &str, given: Option<f64>| {
            given.and_then(|given| errors.keep(pointer, Limit::new(given)))
        };
        let limits = DefaultLimits {
            eleven_or_more: limit("/eleven_or_more_percent", eleven_or_more_percent),
            up_to_ten: limit("/up_to_ten_percent", up_to_ten_percent),
            single_sprocket: limit("/single_sprocket_percent", single_sprocket_percent),
        };
        if errors.is_empty() { Ok(limits) } else { Err(errors) }
    }
}

/// What things cost, minor units of the workshop's currency.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Costs)]
struct CostsDocument {
    /// Labour of one swap.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    swap_labour_minor: i64,
    /// One reading.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    reading_minor: i64,
    /// One failure on the road.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    failure_minor: i64,
}

impl CostsDocument {
    fn parse(self) -> Result<Costs, FieldErrors> {
        const ALLOWED: i64 = crate::domain::Money::MAXIMUM_MINOR;
        let Self { swap_labour_minor, reading_minor, failure_minor } = self;
        let mut errors = FieldErrors::new();
        for (pointer, given) in [
            ("/swap_labour_minor", swap_labour_minor),
            ("/reading_minor", reading_minor),
            ("/failure_minor", failure_minor),
        ] {
            if !(0..=ALLOWED).contains(&given) {
                let what = Field::AmountMinor;
                errors.push(Invalid::WholeNumber { what, given, minimum: 0, maximum: ALLOWED }.at(pointer));
            }
        }
        let costs = Costs { swap_labour_minor, reading_minor, failure_minor };
        if errors.is_empty() { Ok(costs) } else { Err(errors) }
    }
}

/// What the workshop's own instrument does.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Calibration)]
struct CalibrationDocument {
    /// The instrument.
    #[schema(value_type = schema::Instrument)]
    instrument: String,
    /// Read minus true, percent elongation.
    #[schema(schema_with = schema::bias_percent)]
    bias_percent: f64,
    /// Spread of one reading: its standard deviation, percent elongation.
    #[schema(schema_with = schema::sd_percent)]
    sd_percent: f64,
}

impl CalibrationDocument {
    fn parse(self) -> Result<Calibration, FieldErrors> {
        let Self { instrument, bias_percent, sd_percent } = self;
        let mut errors = FieldErrors::new();
        let instrument = errors.keep("/instrument", parse::text::<Instrument>(&instrument));
        let bias = errors.keep("/bias_percent", InstrumentBias::new(bias_percent));
        let sd = errors.keep("/sd_percent", InstrumentSd::new(sd_percent));
        match (instrument, bias, sd) {
            (Some(instrument), Some(bias), Some(sd)) => Ok(Calibration { instrument, bias, sd }),
            _ => Err(errors),
        }
    }
}

impl From<Workshop> for WorkshopDocument {
    fn from(Workshop { id, settings, created_at, revision }: Workshop) -> Self {
        let WorkshopSettings {
            name,
            time_zone,
            units_shown,
            language,
            currency,
            risk,
            limits,
            costs,
            calibrations,
            care,
            soon_days,
        } = settings;
        let DefaultLimits { eleven_or_more, up_to_ten, single_sprocket } = limits;
        let Costs { swap_labour_minor, reading_minor, failure_minor } = costs;
        Self {
            id: id.uuid(),
            name: name.to_string(),
            time_zone: time_zone.to_string(),
            units_shown: units_shown.as_str(),
            language: language.as_str(),
            currency: currency.to_string(),
            risk: risk.get(),
            limits: LimitsDocument {
                eleven_or_more_percent: eleven_or_more.map(Limit::get),
                up_to_ten_percent: up_to_ten.map(Limit::get),
                single_sprocket_percent: single_sprocket.map(Limit::get),
            },
            costs: CostsDocument { swap_labour_minor, reading_minor, failure_minor },
            calibrations: calibrations
                .into_iter()
                .map(|Calibration { instrument, bias, sd }| CalibrationDocument {
                    instrument: instrument.as_str().to_owned(),
                    bias_percent: bias.get(),
                    sd_percent: sd.get(),
                })
                .collect(),
            care: care.map(Into::into),
            soon_days: soon_days.get(),
            created_at: created_at.datetime(),
            revision,
        }
    }
}

/// What to change of the workshop's settings; what is left out stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct WorkshopChange {
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
    /// How far care of its bikes is told; null leaves it to what is entered.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<CareSettingDocument>)]
    care: Option<Option<CareSettingDocument>>,
    /// Days before its day that a reading or a swap is told to be due soon.
    #[schema(minimum = 0, maximum = 60)]
    soon_days: Option<i64>,
}

impl WorkshopChange {
    fn apply(self, settings: WorkshopSettings) -> Result<WorkshopSettings, FieldErrors> {
        let Self {
            name,
            time_zone,
            units_shown,
            language,
            currency,
            risk,
            limits,
            costs,
            calibrations,
            care,
            soon_days,
        } = self;
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
        if let Some(care) = care {
            changed.care = CareSettingDocument::keep(care, &mut errors);
        }
        let soon_days = soon_days.and_then(|days| errors.keep("/soon_days", SoonDays::new(days)));
        changed.soon_days = soon_days.unwrap_or(changed.soon_days);
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

/// Get the workshop
///
/// The one that the token belongs to.
#[utoipa::path(
    operation_id = "get_workshop",
    tag = "workshop",
    security(("bearer" = ["mechanic", "manager"])),
    responses((status = 200, description = "The workshop", body = WorkshopDocument))
)]
#[get("/v1/workshop")]
async fn get_workshop(services: web::Data<Services>, actor: As<Mechanic>) -> Result<HttpResponse, Problem> {
    let workshop = workshops::get(&services, &actor).await?;
    Ok(answer::current(workshop.revision, WorkshopDocument::from(workshop)))
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
    responses((status = 200, description = "The workshop after the change", body = WorkshopDocument))
)]
#[patch("/v1/workshop")]
async fn change_workshop(
    services: web::Data<Services>,
    mut change: Change<Manager>,
    seen: IfMatch,
    body: Json<WorkshopChange>,
) -> Result<HttpResponse, Problem> {
    let apply = |settings| body.0.apply(settings);
    let revision =
        seen.revision(async || Ok(workshops::get(&services, change.actor()).await?.revision)).await?;
    let workshop = workshops::change(&services, &mut change, revision, apply).await?;
    Ok(answer::current(workshop.revision, WorkshopDocument::from(workshop)))
}
