use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use wear_core::units::{InstrumentBias, InstrumentSd, Limit};

use crate::domain::{
    Calibration, Costs, DefaultLimits, Field, FieldErrors, Instrument, Invalid, Language, UnitsShown,
    Workshop, WorkshopSettings,
};
use crate::input::parse;
use crate::web::schema;

/// A workshop and its settings.
#[derive(Serialize, ToSchema)]
#[schema(as = Workshop)]
pub(super) struct WorkshopDocument {
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
pub(super) struct LimitsDocument {
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
    pub(super) fn parse(self) -> Result<DefaultLimits, FieldErrors> {
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
pub(super) struct CostsDocument {
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
    pub(super) fn parse(self) -> Result<Costs, FieldErrors> {
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
pub(super) struct CalibrationDocument {
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
    pub(super) fn parse(self) -> Result<Calibration, FieldErrors> {
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
            created_at: created_at.datetime(),
            revision,
        }
    }
}
