//! From a chain's history to what the approximation takes.

use crate::degradation::{Start, WearParameters};
use crate::fleet::approximation::{Seen, SeenChain, SeenContent, Way, beginning};
use crate::fleet::calibration::ChainHistory;
use crate::fleet::multipliers::ExposedReading;
use crate::fleet::read_with::Tool;
use crate::reading::{Content, InstrumentCalibrations};

pub(super) fn seen_chain(
    (chain, exposures): (&ChainHistory<'_>, &[ExposedReading]),

    groups: &[&str],
    tools: &[Tool],
    persons: &[&str],
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> Option<SeenChain> {
    let parameters = base.with_start(chain.start);
    let ridden = match chain.start {
        Start::New => None,
        Start::AsFound(found) => found.ridden().map(|(before, ln_sd)| (before.get(), ln_sd.get())),
    };
    let exposures = exposures.iter().map(|reading| Some(reading.exposure)).chain(std::iter::repeat(None));
    let mut told: Vec<_> = chain.readings_with_tools().zip(exposures).collect();
    told.sort_by(|((a, ..), _), ((b, ..), _)| a.order(b));
    let exposures = told.iter().filter_map(|(_, exposure)| *exposure).collect();
    let mut last = 0.0;
    let readings = told
        .into_iter()
        .filter_map(|((timed, tool, person), _)| {
            let at = timed.at.get();
            let factor = timed.exposure_factor_moments();
            let missing = timed.missing_riding.map(|missing| {
                let mean = missing.mean.get();
                (missing.probability.get(), mean, mean * mean / f64::from(missing.parts.get()))
            });
            let ds = at - std::mem::replace(&mut last, at);
            let content = match timed.measurement.content() {
                Content::Elongation(spots) => SeenContent::Percent(spots.mean()),
                Content::Gauge { mark, drops_in } => SeenContent::Gauge { mark: mark.get(), drops_in },
            };
            Some(Seen {
                way: Way { ds, run_in: parameters.run_in_by(at) },
                factor,

                missing: missing.filter(|_| ds > 0.0),
                content,

                sd: timed.measurement.sd(calibrations.of(timed.measurement.instrument())),
                tool: tools.binary_search(&tool).ok()?,
                person: person.and_then(|person| persons.binary_search(&person).ok()),
            })
        })
        .collect();
    Some(SeenChain {
        group: groups.binary_search(&chain.group).ok()?,
        is_found: chain.start != Start::New,
        start: beginning(&parameters, chain.start),
        ridden,
        readings,
        exposures,
    })
}
