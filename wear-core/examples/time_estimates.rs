//! Estimates for cases from standard input, over and over, for `benches/against_numpy.py`.
//!
//! A line is `limit now [at instrument value]…`, the value of a gauge its mark with `+` or `-` behind it for whether it
//! dropped in. The argument says how often all cases are computed; answers are written once.

use std::io::Read as _;

use wear_core::degradation::{Outlook, Posterior, TimedReading, WearParameters};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};

type Failure = Box<dyn std::error::Error>;

struct Case {
    limit: Limit,
    now: ReferenceKilometres,
    readings: Vec<TimedReading>,
}

fn parse(line: &str) -> Result<Case, Failure> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let [limit, now, rest @ ..] = words.as_slice() else { return Err("limit and now are missing".into()) };
    let readings = rest
        .chunks(3)
        .map(|reading| {
            let [at, instrument, value] = reading else { return Err("a reading has three words".into()) };
            let instrument: Instrument = instrument.parse()?;
            let measurement = if instrument.is_gauge() {
                let mark = GaugeMark::new(value.trim_end_matches(['+', '-']).parse()?)?;
                Measurement::gauge(instrument, mark, value.ends_with('+'))?
            } else {
                Measurement::percent(instrument, ElongationReading::new(value.parse()?)?)?
            };
            Ok(TimedReading::new(ReferenceKilometres::new(at.parse()?)?, measurement))
        })
        .collect::<Result<_, Failure>>()?;
    Ok(Case { limit: Limit::new(limit.parse()?)?, now: ReferenceKilometres::new(now.parse()?)?, readings })
}

fn main() -> Result<(), Failure> {
    let times: u32 = std::env::args().nth(1).map_or(Ok(1), |word| word.parse())?;
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let cases: Vec<Case> = text.lines().map(parse).collect::<Result<_, _>>()?;
    let (parameters, calibrations) = (WearParameters::default(), InstrumentCalibrations::default());
    let estimate = |case: &Case| -> Outlook {
        Posterior::of(&parameters, &calibrations, &case.readings).outlook(case.now, case.limit)
    };
    for case in &cases {
        let Outlook { remaining, probability_over_limit: over, .. } = estimate(case);
        println!("{} {} {} {over}", remaining.p10, remaining.p50, remaining.p90);
    }
    for _ in 0..times {
        for case in &cases {
            std::hint::black_box(estimate(case));
        }
    }
    Ok(())
}
