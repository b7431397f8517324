//! The answer to one case.

use serde::Serialize;
use utoipa::ToSchema;
use wear_core::degradation::{
    Doubt, Explanation as Found, ExplanationKind, Explanations, Posterior, Quantiles, WearParameters,
};
use wear_core::fleet::calibration::FleetFit;
use wear_core::fleet::{Counted, Drift};
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::Limit;

use super::Case;

/// Probability of anything but chance from which on explanations are told.
const WORTH_SAYING: f64 = 0.1;

/// Three quantiles.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
#[schema(as = EstimateQuantiles)]
pub struct Band {
    /// One in ten lies below.
    #[schema(example = 810.2)]
    pub p10: f64,
    /// Half lies below.
    #[schema(example = 1890.4)]
    pub p50: f64,
    /// Nine in ten lie below.
    #[schema(example = 3402.9)]
    pub p90: f64,
}

/// What an answer rests on.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = EstimateBasis)]
pub struct Basis {
    /// Readings used.
    pub readings_used: usize,
    /// `default`, or `learned` from the file's chains.
    #[schema(example = "default")]
    pub wear_rate_from: &'static str,
    /// Median wear rate expected before the chain is read, percent per 1,000 reference km: its group's, or what the bike's
    /// other chains make of that.
    pub percent_per_1000_reference_km: f64,
    /// How the fleet's wear was found to drift: the change of ln(wear rate) in a year; left out where nothing was learned of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 0.05)]
    pub drift_ln_per_year: Option<f64>,
    /// Standard deviation of what isn't known of that; left out with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 0.04, minimum = 0)]
    pub drift_ln_sd: Option<f64>,
    /// What the case's model and lubricants were found to make of wear, as a factor; left out where nothing was learned of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 0.85, minimum = 0)]
    pub model_and_lubricants_factor: Option<f64>,
    /// What the tools and people of its readings were found to err by; left out where nothing was learned of them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reading_errors: Vec<ReadingError>,
}

/// Something a person should know.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = EstimateWarning)]
pub struct Warning {
    /// A stable word for programs.
    pub code: &'static str,
    /// A sentence for people.
    pub message: String,
}

/// What may be behind readings that the record speaks against.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = EstimateExplanation)]
pub struct Explanation {
    /// `as_recorded`, `unrecorded_swap`, `missing_riding` or `wrong_reading`.
    #[schema(example = "unrecorded_swap")]
    pub code: &'static str,
    /// Its probability; those of one case sum to 1.
    #[schema(example = 0.97, minimum = 0, maximum = 1)]
    pub probability: f64,
    /// Exposure of the reading before it happened, or where the record begins, reference km; left out where it is of no reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_reference_km: Option<f64>,
    /// Exposure of the wrong reading, or of the first one after it happened, reference km; left out where it is of none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_reference_km: Option<f64>,
    /// How much riding is missing, reference km; left out where none is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub missing_reference_km: Option<Band>,
    /// Remaining exposure if this is true, reference km.
    pub remaining_reference_km: Band,
}

/// The answer to one case.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = Estimate)]
pub struct Answer {
    /// The case's id.
    pub id: String,
    /// Exposure until the limit is reached, reference km; 0 when it has been.
    pub remaining_reference_km: Band,
    /// Probability that the chain is over its limit now.
    pub probability_over_limit: f64,
    /// Elongation now, percent.
    pub elongation_percent: Band,
    /// What a person should know.
    pub warnings: Vec<Warning>,
    /// What may be behind readings that the record speaks against, the most probable first; left out when all agree. The
    /// numbers above are of all of them together, each by its probability.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub explanations: Vec<Explanation>,
    /// What the answer rests on.
    pub basis: Basis,
}

impl From<Quantiles> for Band {
    fn from(Quantiles { p10, p50, p90 }: Quantiles) -> Self {
        Self { p10, p50, p90 }
    }
}

/// What a tool and a person were found to err by.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = EstimateReadingError)]
pub struct ReadingError {
    /// The kind of tool.
    #[schema(example = "rule")]
    pub instrument: &'static str,
    /// Its name; left out where it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "rule-2")]
    pub tool: Option<String>,
    /// Who read it; left out where that isn't known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "m1")]
    pub read_by: Option<String>,
    /// Read minus true, percent; of a gauge, by how much it drops in early.
    #[schema(example = -0.07)]
    pub bias_percent: f64,
    /// Standard deviation of what isn't known of that, percent.
    #[schema(example = 0.02, minimum = 0)]
    pub bias_sd_percent: f64,
}

/// Where the wear parameters of a case come from.
#[derive(Debug, Clone, Copy)]
pub enum Learned<'a> {
    /// From nowhere: our assumptions.
    No,
    /// From all cases, of which this one stands at a place.
    From(&'a FleetFit, usize),
}

impl Learned<'_> {
    fn parameters(self) -> WearParameters {
        match self {
            Self::No => WearParameters::default(),
            Self::From(fit, place) => fit.parameters_of_chain(place),
        }
    }

    /// The case's readings and its exposure now, as its tools and people err, and by the clock of what lies ahead where wear
    /// drifts.
    fn counted(self, case: &Case) -> Counted {
        let Self::From(fit, _) = self else { return Counted::as_recorded(case.readings.clone(), case.at) };
        let readings = fit.tools.calibrated(&case.readings, &case.read_with);
        match fit.drift {
            None => Counted::as_recorded(readings, case.at),
            Some(drift) => drift.counted(&readings, case.days(), (case.on.unwrap_or(drift.of_day), case.at)),
        }
    }

    fn drift(self) -> Option<Drift> {
        match self {
            Self::No => None,
            Self::From(fit, _) => fit.drift,
        }
    }

    /// What the case's model and lubricants make of wear.
    fn factor(self, case: &Case) -> Option<f64> {
        let Self::From(fit, _) = self else { return None };
        let names_any = case.model.is_some() || !case.lubricants.is_empty();
        let told = !fit.terms.is_empty() && names_any;
        told.then(|| fit.terms.shift(case.model.as_deref(), &case.lubricants).0.exp())
    }

    /// What was found of the case's tools and people, each once.
    fn reading_errors(self, case: &Case) -> Vec<ReadingError> {
        let Self::From(fit, _) = self else { return Vec::new() };
        let mut found: Vec<ReadingError> = Vec::new();
        for (reading, with) in case.readings.iter().zip(&case.read_with) {
            let instrument = reading.measurement.instrument();
            let Some(calibration) = fit.tools.calibration(instrument, with) else { continue };
            let error = ReadingError {
                instrument: instrument.as_str(),
                tool: with.tool.clone(),
                read_by: with.person.clone(),
                bias_percent: calibration.bias(),
                bias_sd_percent: calibration.unknown_bias(),
            };
            if !found.contains(&error) {
                found.push(error);
            }
        }
        found
    }
}

/// Answers one case.
#[must_use]
pub fn answer(case: &Case, from: Learned<'_>) -> Answer {
    let calibrations = InstrumentCalibrations::default();
    let counted = from.counted(case);
    let Counted { readings, now, ln_rate, .. } = &counted;
    let parameters = from.parameters().with_faster(*ln_rate).with_start(case.start);
    let posterior = Posterior::of(&parameters, &calibrations, readings);
    let doubt = Some(&posterior)
        .filter(|posterior| posterior.is_doubted())
        .and_then(|_| Posterior::explain(&parameters, &calibrations, readings));
    let outlook = match &doubt {
        Some(explanations) => explanations.outlook(*now, case.limit),
        None => posterior.outlook(*now, case.limit),
    };
    let mut warnings: Vec<Warning> = posterior
        .contradictions()
        .iter()
        .map(|found| Warning {
            code: if found.likelihood_lost { "unexplained_reading" } else { "contradictory_readings" },
            message: match found.earlier {
                Some(earlier) => format!(
                    "readings at {} and {} reference km contradict each other by {:.1} standard deviations",
                    counted.recorded(earlier.at.get()),
                    counted.recorded(found.later.at.get()),
                    found.deviations
                ),
                None => format!(
                    "the reading at {} reference km is {:.1} standard deviations from what was expected",
                    counted.recorded(found.later.at.get()),
                    found.deviations
                ),
            },
        })
        .collect();
    if case
        .readings
        .iter()
        .any(|reading| reading.measurement.as_spots().is_some_and(|spots| spots.is_uneven()))
    {
        warnings.push(Warning {
            code: "uneven_chain",
            message: format!("spots differ by more than {} %", wear_core::reading::SPREAD_THAT_WARNS),
        });
    }
    if case.readings.is_empty() {
        warnings.push(Warning {
            code: "no_reading",
            message: "no reading: the answer rests on the group alone".into(),
        });
    }
    Answer {
        id: case.id.clone(),
        remaining_reference_km: outlook.remaining.into(),
        probability_over_limit: outlook.probability_over_limit,
        elongation_percent: outlook.elongation.into(),
        warnings,
        explanations: doubt.iter().flat_map(|found| explained(found, &counted, case.limit)).collect(),
        basis: Basis {
            readings_used: case.readings.len(),
            wear_rate_from: match from {
                Learned::No => "default",
                Learned::From(..) => "learned",
            },
            percent_per_1000_reference_km: 1e3 * parameters.mean_log_rate().exp(),
            drift_ln_per_year: from.drift().map(|drift| drift.per_year),
            drift_ln_sd: from.drift().map(|drift| drift.sd),
            model_and_lubricants_factor: from.factor(case),
            reading_errors: from.reading_errors(case),
        },
    }
}

fn explained(found: &Explanations, counted: &Counted, limit: Limit) -> Vec<Explanation> {
    let one = |found: &Found| Explanation {
        code: found.kind.as_str(),
        probability: found.probability,
        after_reference_km: found.place.map(|place| counted.recorded(place.after.get())),
        by_reference_km: found.place.map(|place| counted.recorded(place.reading.at.get())),
        missing_reference_km: found.missing.map(Band::from),
        remaining_reference_km: found.outlook(counted.now, limit).remaining.into(),
    };
    let likely = |doubt: &Doubt| 1.0 - doubt.probability(ExplanationKind::AsRecorded) > WORTH_SAYING;
    let first = found.first();
    if likely(first) { first.explanations().iter().map(one).collect() } else { Vec::new() }
}
