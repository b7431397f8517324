//! The posterior against computations that share nothing with it: no transform, no grid over elongation.
//!
//! One reading: direct quadrature over the wear rate and the wear. Several: a particle filter, whose own error is
//! known.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, Normal};
use statrs::function::erf::erfc;
use statrs::function::gamma::{gamma_lr, ln_gamma};
use wear_core::degradation::{Posterior, Quantiles, TimedReading, WearParameters};
use wear_core::reading::{Calibration, Content, Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).unwrap()
}

fn percent(at: f64, instrument: Instrument, value: f64) -> TimedReading {
    let measurement = Measurement::percent(instrument, ElongationReading::new(value).unwrap()).unwrap();
    TimedReading::new(km(at), measurement)
}

fn gauge(at: f64, instrument: Instrument, mark: f64, drops_in: bool) -> TimedReading {
    let measurement = Measurement::gauge(instrument, GaugeMark::new(mark).unwrap(), drops_in).unwrap();
    TimedReading::new(km(at), measurement)
}

fn phi(z: f64) -> f64 {
    0.5 * erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

fn running_in(p: &WearParameters, s: f64) -> f64 {
    p.running_in() * (1.0 - (-s / p.running_in_distance()).exp())
}

fn all(quantiles: Quantiles) -> [(f64, f64); 3] {
    [(0.1, quantiles.p10), (0.5, quantiles.p50), (0.9, quantiles.p90)]
}

/// `P(ε < e | read)` right after one number read at s, for each e, by a trapezoid over ln θ and the midpoint rule over
/// `v = G^min(κ,1)`, which takes the pole off the gamma density. Given G all is normal and in closed form.
fn distribution_by_quadrature(p: &WearParameters, s: f64, read: f64, sd: f64, at: [f64; 3]) -> [f64; 3] {
    let (rates, points) = (160, 6_000);
    let gain = p.initial_sd().powi(2) / (p.initial_sd().powi(2) + sd * sd);
    let spread = (gain * sd * sd).sqrt();
    let predicted = p.initial_sd().hypot(sd);
    let offset = p.initial_mean() + running_in(p, s);
    let highest: f64 = 1.5;
    let (mut total, mut below) = (0.0, [0.0; 3]);
    for rate in 0..=rates {
        let z = 12.0 * f64::from(rate) / f64::from(rates) - 6.0;
        let theta = (p.mean_log_rate() + p.sd_log_rate() * z).exp();
        let shape = theta * s / p.scale();
        let power = shape.min(1.0);
        let width = highest.powf(power) / f64::from(points);
        for point in 0..points {
            let v = (f64::from(point) + 0.5) * width;
            let g = v.powf(1.0 / power);
            // γ(g; κ, φ) dg/dv, with g^(κ−1)·g^(1−power) = g^(κ−power): nothing for κ up to 1.
            let pole = if shape <= 1.0 { 0.0 } else { (shape - power) * g.ln() };
            let log_density = pole - g / p.scale() - ln_gamma(shape) - shape * p.scale().ln();
            let deviation = (read - offset - g) / predicted;
            let weight = (log_density - power.ln() - 0.5 * (z * z + deviation * deviation)).exp() * width;
            let centre = offset + g + gain * (read - offset - g);
            total += weight;
            for (sum, e) in below.iter_mut().zip(at) {
                *sum += weight * phi((e - centre) / spread);
            }
        }
    }
    below.map(|sum| sum / total)
}

#[test]
fn one_reading_agrees_with_direct_quadrature() {
    let calibrations = InstrumentCalibrations::default();
    let default = WearParameters::default();
    let cases = [
        ("3 km", default, 3.0, Instrument::Dial, 0.05),
        ("50 km, high", default, 50.0, Instrument::Dial, 0.14),
        ("812 km", default, 812.0, Instrument::Rule, 0.21),
        ("3,000 km", default, 3_000.0, Instrument::Dial, 0.55),
        ("φ = 0.05", default.with_scale(0.05).unwrap(), 900.0, Instrument::Dial, 0.22),
        ("τ = 0.8", default.with_log_rate(-8.7, 0.8).unwrap(), 700.0, Instrument::Dial, 0.10),
    ];
    for (name, parameters, s, instrument, read) in cases {
        let reading = percent(s, instrument, read);
        let posterior = Posterior::of(&parameters, &calibrations, &[reading]);
        let quantiles = all(posterior.outlook(km(s), Limit::new(0.75).unwrap()).elongation);
        let sd = instrument.default_calibration().sd();
        let direct = distribution_by_quadrature(&parameters, s, read, sd, quantiles.map(|(_, e)| e));
        assert!(direct.iter().all(|probability| probability.is_finite()), "{name}: {direct:?}");
        let worst = quantiles.iter().zip(direct).map(|((p, _), d)| (p - d).abs()).fold(0.0, f64::max);
        println!("{name:14} largest difference of probability at a quantile {worst:.1e}");
        assert!(worst < 2e-5, "{name}: {direct:?}");
    }
}

/// `ln p(reading | ε)`, written out again from the table of instruments.
fn log_likelihood(measurement: &Measurement, elongation: f64) -> f64 {
    let calibration: Calibration = measurement.instrument().default_calibration();
    match measurement.content() {
        Content::Elongation(spots) => {
            let sd = calibration.sd() / f64::from(spots.count()).sqrt();
            -0.5 * ((spots.mean() - calibration.bias() - elongation) / sd).powi(2)
        }
        Content::Gauge { mark, drops_in } => {
            let inside = phi((elongation + calibration.bias() - mark.get()) / calibration.sd());
            (if drops_in { inside } else { 1.0 - inside }).ln()
        }
        other => panic!("{other:?}"),
    }
}

struct Cloud {
    /// Elongation less running-in, and θ.
    particles: Vec<(f64, f64)>,
    weights: Vec<f64>,
}

/// Plain importance sampling from the prior along the path. Its estimates' standard errors follow from its weights.
fn sample(p: &WearParameters, readings: &[TimedReading], now: f64, count: usize) -> Cloud {
    let mut random = ChaCha8Rng::seed_from_u64(20_261_125);
    let initial = Normal::new(p.initial_mean(), p.initial_sd()).unwrap();
    let log_rate = Normal::new(p.mean_log_rate(), p.sd_log_rate()).unwrap();
    let (mut particles, mut logs) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for _ in 0..count {
        let (mut x, theta) = (initial.sample(&mut random), log_rate.sample(&mut random).exp());
        let (mut s, mut log_weight) = (0.0, 0.0);
        for reading in readings {
            x += increment(p, theta, reading.at.get() - s, &mut random);
            s = reading.at.get();
            log_weight += log_likelihood(&reading.measurement, x + running_in(p, s));
        }
        x += increment(p, theta, now - s, &mut random);
        particles.push((x, theta));
        logs.push(log_weight);
    }
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| (log - largest).exp()).sum();
    Cloud { particles, weights: logs.iter().map(|log| (log - largest).exp() / sum).collect() }
}

fn increment(p: &WearParameters, theta: f64, ds: f64, random: &mut ChaCha8Rng) -> f64 {
    let shape = theta * ds / p.scale();
    if shape <= 0.0 {
        return 0.0;
    }
    if shape < 0.1 {
        // Gamma(κ) = Gamma(κ + 1)·U^(1/κ)
        let u: f64 = random.random();
        return Gamma::new(shape + 1.0, p.scale()).unwrap().sample(random) * u.powf(1.0 / shape);
    }
    Gamma::new(shape, p.scale()).unwrap().sample(random)
}

impl Cloud {
    /// Weighted mean of a function, and its standard error.
    fn mean(&self, function: impl Fn(f64, f64) -> f64) -> (f64, f64) {
        let values: Vec<f64> = self.particles.iter().map(|&(x, theta)| function(x, theta)).collect();
        let mean: f64 = values.iter().zip(&self.weights).map(|(value, weight)| value * weight).sum();
        let variance: f64 =
            values.iter().zip(&self.weights).map(|(value, weight)| (weight * (value - mean)).powi(2)).sum();
        (mean, variance.sqrt())
    }

    fn effective(&self) -> f64 {
        1.0 / self.weights.iter().map(|weight| weight * weight).sum::<f64>()
    }
}

#[test]
fn histories_agree_with_a_sampler() {
    use Instrument::{Caliper, Dial, DropIn, DropInIsolating, Rule};
    let default = WearParameters::default();
    let cases = [
        ("no reading", default, vec![], 2_000.0),
        (
            "rule, rule, caliper",
            default,
            vec![percent(600.0, Rule, 0.14), percent(1_400.0, Rule, 0.20), percent(2_200.0, Caliper, 0.36)],
            2_500.0,
        ),
        (
            "gauges only",
            default,
            vec![
                gauge(1_200.0, DropIn, 0.5, false),
                gauge(2_400.0, DropIn, 0.5, true),
                gauge(2_400.0, DropInIsolating, 0.5, false),
                gauge(3_000.0, DropIn, 0.75, false),
            ],
            3_100.0,
        ),
        (
            "short exposures",
            default.with_scale(0.03).unwrap(),
            vec![percent(5.0, Dial, 0.06), percent(30.0, Dial, 0.05), percent(60.0, Dial, 0.09)],
            80.0,
        ),
        (
            "fast and wide",
            default.with_log_rate(-8.5, 0.6).unwrap(),
            vec![percent(500.0, Dial, 0.22), gauge(900.0, DropInIsolating, 0.5, false)],
            1_000.0,
        ),
    ];
    let limit = 0.75;
    for (name, parameters, readings, now) in cases {
        let cloud = sample(&parameters, &readings, now, 400_000);
        let effective = cloud.effective();
        assert!(effective > 10_000.0, "{name}: {effective}");
        let outlook = Posterior::of(&parameters, &InstrumentCalibrations::default(), &readings)
            .outlook(km(now), Limit::new(limit).unwrap());
        let known = running_in(&parameters, now);
        let mut worst: f64 = 0.0;
        let mut check = |what: &str, ours: f64, (sampled, error): (f64, f64)| {
            let deviation = (ours - sampled).abs() / error.max(1e-6);
            worst = worst.max(deviation);
            assert!(deviation < 4.5, "{name}, {what}: {ours} against {sampled} ± {error}");
        };
        for (p, e) in all(outlook.elongation) {
            check("elongation", p, cloud.mean(|x, _| f64::from(u8::from(x + known < e))));
        }
        for (p, life) in all(outlook.remaining) {
            if life == 0.0 {
                continue;
            }
            let reached = running_in(&parameters, now + life);
            check(
                "remaining life",
                p,
                cloud.mean(|x, theta| {
                    let room = limit - reached - x;
                    if room <= 0.0 {
                        1.0
                    } else {
                        1.0 - gamma_lr(theta * life / parameters.scale(), room / parameters.scale())
                    }
                }),
            );
        }
        let over = cloud.mean(|x, _| f64::from(u8::from(x + known >= limit)));
        check("over the limit", outlook.probability_over_limit, over);
        println!("{name:22} effective particles {effective:9.0}, worst {worst:.2} standard errors");
    }
}
