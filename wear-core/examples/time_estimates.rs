//! Estimates for cases from standard input, over and over, for `benches/against_numpy.py`.
//!
//! A line is `limit now [at instrument value]…`, the value of a gauge its mark with `+` or `-` behind it for whether it
//! dropped in. The argument says how often all cases are computed; answers are written once. With `fleet` before the
//! number it fits an invented fleet of a thousand chains so often instead, and writes its spread τ.

use std::io::Read as _;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use wear_core::degradation::{Outlook, Posterior, TimedReading, WearParameters};
use wear_core::fleet::calibration::{ChainHistory, fit};
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

/// A thousand chains in twelve groups, each read by rule one to four times.
fn fleet() -> Result<Vec<(String, Vec<TimedReading>)>, Failure> {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    (0..1_000)
        .map(|chain| {
            let faster: f64 = random.random_range(-0.5..0.5);
            let readings = (1..=random.random_range(1..=4_u32))
                .map(|i| {
                    let at = 700.0 * f64::from(i) + random.random_range(-200.0..200.0);
                    let read = 0.07 + 0.000_125 * at * faster.exp() + random.random_range(-0.04..0.04);
                    let read = Measurement::percent(Instrument::Rule, ElongationReading::new(read)?)?;
                    Ok(TimedReading::new(ReferenceKilometres::new(at)?, read))
                })
                .collect::<Result<_, Failure>>()?;
            Ok((format!("group {}", chain % 12), readings))
        })
        .collect()
}

fn fit_fleets(times: u32) -> Result<(), Failure> {
    let chains = fleet()?;
    let chains: Vec<ChainHistory<'_>> =
        chains.iter().map(|(group, readings)| ChainHistory::new(group, readings)).collect();
    for _ in 0..times {
        let fleet = fit(&chains, &WearParameters::default(), &InstrumentCalibrations::default());
        println!("{}", fleet.sd_within);
    }
    Ok(())
}

fn main() -> Result<(), Failure> {
    let mut words = std::env::args().skip(1).peekable();
    let fleets = words.next_if(|word| word == "fleet").is_some();
    let times: u32 = words.next().map_or(Ok(1), |word| word.parse())?;
    if fleets {
        return fit_fleets(times);
    }
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
