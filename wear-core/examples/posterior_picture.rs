//! A chain's posterior over its life, as an SVG picture on standard output:
//! `cargo run -p wear-core --example posterior_picture > wear-core/doc/posterior.svg`.
//!
//! Up to the last reading the picture shows what was known at each exposure, from the readings before it; after it, the
//! forecast. The strip on top is the density of the distance at which the limit is reached.

use std::fmt::Write as _;

use wear_core::degradation::{Posterior, TimedReading, WearParameters};
use wear_core::reading::{Content, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, Probability, ReferenceKilometres};

type Failure = Box<dyn std::error::Error>;

const LIMIT_PERCENT: f64 = 0.75;
const END_KM: f64 = 9_000.0;
const TOP_PERCENT: f64 = 1.1;
const LEFT: f64 = 80.0;
const RIGHT: f64 = 960.0;
const TOP: f64 = 150.0;
const BOTTOM: f64 = 560.0;

fn x(km: f64) -> f64 {
    LEFT + (RIGHT - LEFT) * km / END_KM
}

fn y(percent: f64) -> f64 {
    BOTTOM - (BOTTOM - TOP) * percent.clamp(0.0, TOP_PERCENT) / TOP_PERCENT
}

fn km(value: f64) -> Result<ReferenceKilometres, Failure> {
    Ok(ReferenceKilometres::new(value)?)
}

/// The readings of the chain's life.
fn readings() -> Result<Vec<TimedReading>, Failure> {
    let number = |at, instrument, read| -> Result<_, Failure> {
        Ok(TimedReading::new(km(at)?, Measurement::percent(instrument, ElongationReading::new(read)?)?))
    };
    let gauge = |at, mark, drops_in| -> Result<_, Failure> {
        Ok(TimedReading::new(
            km(at)?,
            Measurement::gauge(Instrument::DropIn, GaugeMark::new(mark)?, drops_in)?,
        ))
    };
    Ok(vec![
        number(800.0, Instrument::Rule, 0.21)?,
        number(1_700.0, Instrument::Rule, 0.20)?,
        gauge(2_600.0, 0.5, false)?,
        number(3_300.0, Instrument::Dial, 0.42)?,
    ])
}

fn main() -> Result<(), Failure> {
    print!("{}", picture()?);
    Ok(())
}

/// The picture, an SVG document without blank lines, so that it may stand in documentation.
pub fn picture() -> Result<String, Failure> {
    let readings = readings()?;
    let calibrations = InstrumentCalibrations::default();
    let parameters = WearParameters::default();
    let mut svg = String::new();
    writeln!(
        svg,
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 620" role="img" aria-labelledby="t d" font-family="sans-serif" font-size="14" fill="#20303c">
<title id="t">A chain's elongation over its life, as far as it is known</title>
<desc id="d">Bands hold 50, 80 and 98 percent of the probability. Each reading narrows them; after the last one they widen again. The strip on top shows where the limit of 0.75 percent is reached.</desc>
<rect width="1000" height="620" fill="#fbfaf7"/>"##
    )?;

    // Bands, one stretch between readings at a time; a stretch ends just before its reading.
    let mut ends = vec![0.0];
    ends.extend(readings.iter().map(|reading| reading.at.get()));
    ends.push(END_KM);
    for (count, ends) in ends.windows(2).enumerate() {
        let posterior = Posterior::of(&parameters, &calibrations, &readings[..count]);
        let steps = ((ends[1] - ends[0]) / 60.0).ceil() as u32;
        let at: Vec<f64> =
            (0..=steps).map(|i| ends[0] + (ends[1] - ends[0]) * f64::from(i) / f64::from(steps)).collect();
        let line = |p: f64| -> Result<Vec<f64>, Failure> {
            let p = Probability::new(p)?;
            at.iter().map(|at| Ok(posterior.elongation_quantile(km(*at)?, p))).collect()
        };
        for (tail, shade) in [(0.01, "#d8e4ea"), (0.1, "#a9c6d3"), (0.25, "#6fa0b4")] {
            let (low, high) = (line(tail)?, line(1.0 - tail)?);
            let there = at.iter().zip(&high).map(|(at, e)| format!("{:.1},{:.1}", x(*at), y(*e)));
            let back = at.iter().zip(&low).rev().map(|(at, e)| format!("{:.1},{:.1}", x(*at), y(*e)));
            let points: Vec<String> = there.chain(back).collect();
            writeln!(svg, r#"<polygon points="{}" fill="{shade}"/>"#, points.join(" "))?;
        }
        let median: Vec<String> =
            at.iter().zip(line(0.5)?).map(|(at, e)| format!("{:.1},{:.1}", x(*at), y(e))).collect();
        writeln!(
            svg,
            r##"<polyline points="{}" fill="none" stroke="#12394c" stroke-width="2"/>"##,
            median.join(" ")
        )?;
    }

    // Axes.
    for tenth in 0..=11 {
        let percent = f64::from(tenth) / 10.0;
        writeln!(
            svg,
            r##"<line x1="{LEFT}" x2="{RIGHT}" y1="{0:.1}" y2="{0:.1}" stroke="#20303c" stroke-opacity="0.12"/><text x="{1}" y="{2:.1}" text-anchor="end">{percent:.1}</text>"##,
            y(percent),
            LEFT - 10.0,
            y(percent) + 5.0
        )?;
    }
    for thousand in 0..=9 {
        let at = x(f64::from(thousand) * 1e3);
        writeln!(
            svg,
            r#"<text x="{at:.1}" y="{}" text-anchor="middle">{thousand}{}</text>"#,
            BOTTOM + 22.0,
            if thousand == 0 { "" } else { ",000" }
        )?;
    }
    writeln!(
        svg,
        r#"<text x="{}" y="{}" text-anchor="middle">reference kilometres since the chain was fitted</text>"#,
        (LEFT + RIGHT) / 2.0,
        BOTTOM + 46.0
    )?;
    writeln!(
        svg,
        r#"<text transform="translate(24 {}) rotate(-90)" text-anchor="middle">elongation, percent</text>"#,
        (TOP + BOTTOM) / 2.0
    )?;

    // The limit, and the density of where it is reached.
    writeln!(
        svg,
        r##"<line x1="{LEFT}" x2="{RIGHT}" y1="{0:.1}" y2="{0:.1}" stroke="#8a2f1d" stroke-width="2" stroke-dasharray="8 5"/><text x="{1}" y="{2:.1}" fill="#8a2f1d">limit {LIMIT_PERCENT} %</text>"##,
        y(LIMIT_PERCENT),
        LEFT + 8.0,
        y(LIMIT_PERCENT) - 7.0
    )?;
    let posterior = Posterior::of(&parameters, &calibrations, &readings);
    let (now, limit) = (km(posterior.last_reading_at())?, Limit::new(LIMIT_PERCENT)?);
    let width = 50.0;
    let steps = ((END_KM - now.get()) / width) as u32;
    let ahead: Vec<ReferenceKilometres> =
        (0..=steps).map(|i| km(f64::from(i) * width)).collect::<Result<_, _>>()?;
    let over = posterior.probabilities_over(now, &ahead, limit);
    let density: Vec<f64> = over.windows(2).map(|pair| pair[1].get() - pair[0].get()).collect();
    let highest = density.iter().copied().fold(0.0, f64::max);
    let base = TOP - 20.0;
    let mut points = format!("{:.1},{base} ", x(now.get()));
    for (i, value) in density.iter().enumerate() {
        write!(
            points,
            "{:.1},{:.1} ",
            x(now.get() + (i as f64 + 0.5) * width),
            base - 80.0 * value / highest
        )?;
    }
    write!(points, "{RIGHT:.1},{base}")?;
    writeln!(
        svg,
        r##"<polygon points="{points}" fill="#c98b6b" fill-opacity="0.6"/><line x1="{LEFT}" x2="{RIGHT}" y1="{base}" y2="{base}" stroke="#20303c" stroke-opacity="0.5"/>"##
    )?;
    let life = posterior.outlook(now, limit).remaining;
    for (name, value) in [("P10", life.p10), ("P50", life.p50), ("P90", life.p90)] {
        let at = x(now.get() + value);
        writeln!(
            svg,
            r##"<line x1="{at:.1}" x2="{at:.1}" y1="{base}" y2="{:.1}" stroke="#8a2f1d"/><text x="{at:.1}" y="{:.1}" text-anchor="middle">{name}</text>"##,
            base - 86.0,
            base - 92.0
        )?;
    }
    writeln!(svg, r#"<text x="{LEFT}" y="{:.1}">where the limit is reached</text>"#, base - 8.0)?;

    // Readings with two standard deviations; a gauge that stayed out points down from where it would have dropped in.
    for reading in &readings {
        let calibration = reading.measurement.instrument().default_calibration();
        let (at, name) = (x(reading.at.get()), reading.measurement.instrument());
        match reading.measurement.content() {
            Content::Elongation(spots) => {
                let centre = spots.mean() - calibration.bias();
                let (low, high) = (y(centre - 2.0 * calibration.sd()), y(centre + 2.0 * calibration.sd()));
                writeln!(
                    svg,
                    r##"<line x1="{at:.1}" x2="{at:.1}" y1="{low:.1}" y2="{high:.1}" stroke="#000" stroke-width="1.5"/><circle cx="{at:.1}" cy="{:.1}" r="5" fill="#fbfaf7" stroke="#000" stroke-width="2"/><text x="{:.1}" y="{:.1}" text-anchor="middle">{name}</text>"##,
                    y(centre),
                    at,
                    high - 8.0
                )?;
            }
            Content::Gauge { mark, drops_in } => {
                let centre = y(mark.get() - calibration.bias());
                let (away, said) = if drops_in { (-26.0, "dropped in") } else { (26.0, "stayed out") };
                writeln!(
                    svg,
                    r##"<path d="M{0:.1} {centre:.1} h20 M{at:.1} {centre:.1} v{away}" stroke="#000" stroke-width="2"/><text x="{3:.1}" y="{2:.1}" text-anchor="end">gauge {1} {said}</text>"##,
                    at - 10.0,
                    mark.get(),
                    centre - 8.0,
                    at + 12.0
                )?;
            }
            _ => {}
        }
    }
    writeln!(svg, "</svg>")?;
    Ok(svg)
}
