//! From a chain's history to what the approximation takes.

use crate::degradation::{Start, WearParameters};
use crate::fleet::approximation::{Seen, SeenChain, SeenContent, Way, beginning};
use crate::fleet::calibration::ChainHistory;
use crate::fleet::drift::Calendar;
use crate::fleet::multipliers::ExposedReading;
use crate::fleet::read_with::Tool;
use crate::fleet::terms::{self, Term};
use crate::reading::{Content, InstrumentCalibrations};

pub(super) fn seen_chain(
    (chain, exposures): (&ChainHistory<'_>, &[ExposedReading]),
    (groups, tools, persons): (&[&str], &[Tool], &[&str]),
    (terms, calendar): (&[Term], Option<Calendar>),
    base: &WearParameters,
    calibrations: &InstrumentCalibrations,
) -> Option<SeenChain> {
    let parameters = base.with_start(chain.start);
    let ridden = match chain.start {
        Start::New => None,
        Start::AsFound(found) => found.ridden().map(|(before, ln_sd)| (before.get(), ln_sd.get())),
    };
    let exposures = exposures.iter().map(|reading| Some(reading.exposure)).chain(std::iter::repeat(None));
    let days = chain.days.read.iter().map(|day| Some(*day)).chain(std::iter::repeat(None));
    let mut told: Vec<_> = chain.readings_with_tools().zip(exposures).zip(days).collect();
    told.sort_by(|(((a, ..), _), _), (((b, ..), _), _)| a.order(b));
    let exposures = told.iter().filter_map(|((_, exposure), _)| *exposure).collect();
    let points: Vec<(i32, f64)> =
        told.iter().filter_map(|(((timed, ..), _), day)| Some(((*day)?, timed.at.get()))).collect();
    let calendar = calendar.filter(|_| chain.has_days());
    let years = calendar.map_or_else(Vec::new, |calendar| calendar.years(chain.days.begun, &points));
    let years = years.into_iter().map(Some).chain(std::iter::repeat(None));
    let mut last = 0.0;
    let readings = told
        .into_iter()
        .zip(years)
        .filter_map(|((((timed, tool, person), _), _), years)| {
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
                years,
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
        design: terms::design(terms, chain.model, chain.lubricants),
    })
}
