//! The answer to one case.

use serde::Serialize;
use utoipa::ToSchema;
use wear_core::degradation::{
    Doubt, Explanation as Found, ExplanationKind, Explanations, Posterior, Quantiles, WearParameters,
};
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::{Limit, ReferenceKilometres};

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
    /// Median wear rate expected of the group before its chain is read, percent per 1,000 reference km.
    pub percent_per_1000_reference_km: f64,
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
    /// Exposure of the reading before it happened, or where the record begins, reference km.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_reference_km: Option<f64>,
    /// Exposure of the wrong reading, or of the first one after it happened, reference km.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_reference_km: Option<f64>,
    /// How much riding is missing, reference km.
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

/// Where the wear parameters of a case come from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learned<'a> {
    /// The parameters.
    pub parameters: &'a WearParameters,
    /// Whether they were learned from chains.
    pub learned: bool,
}

/// Answers one case.
#[must_use]
pub fn answer(case: &Case, from: Learned<'_>) -> Answer {
    let calibrations = InstrumentCalibrations::default();
    let parameters = from.parameters.with_start(case.start);
    let posterior = Posterior::of(&parameters, &calibrations, &case.readings);
    let doubt = Some(&posterior)
        .filter(|posterior| posterior.is_doubted())
        .and_then(|_| Posterior::explain(&parameters, &calibrations, &case.readings));
    let outlook = match &doubt {
        Some(explanations) => explanations.outlook(case.at, case.limit),
        None => posterior.outlook(case.at, case.limit),
    };
    let mut warnings: Vec<Warning> = posterior
        .contradictions()
        .iter()
        .map(|found| Warning {
            code: if found.likelihood_lost { "unexplained_reading" } else { "contradictory_readings" },
            message: match found.earlier {
                Some(earlier) => format!(
                    "readings at {} and {} reference km contradict each other by {:.1} standard deviations",
                    earlier.at.get(),
                    found.later.at.get(),
                    found.deviations
                ),
                None => format!(
                    "the reading at {} reference km is {:.1} standard deviations from what was expected",
                    found.later.at.get(),
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
        explanations: doubt.iter().flat_map(|found| explained(found, case.at, case.limit)).collect(),
        basis: Basis {
            readings_used: case.readings.len(),
            wear_rate_from: if from.learned { "learned" } else { "default" },
            percent_per_1000_reference_km: 1e3 * from.parameters.mean_log_rate().exp(),
        },
    }
}

fn explained(found: &Explanations, at: ReferenceKilometres, limit: Limit) -> Vec<Explanation> {
    let one = |found: &Found| Explanation {
        code: found.kind.as_str(),
        probability: found.probability,
        after_reference_km: found.place.map(|place| place.after.get()),
        by_reference_km: found.place.map(|place| place.reading.at.get()),
        missing_reference_km: found.missing.map(Band::from),
        remaining_reference_km: found.outlook(at, limit).remaining.into(),
    };
    let likely = |doubt: &Doubt| 1.0 - doubt.probability(ExplanationKind::AsRecorded) > WORTH_SAYING;
    let first = found.first();
    if likely(first) { first.explanations().iter().map(one).collect() } else { Vec::new() }
}
