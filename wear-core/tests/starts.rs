//! Chains that were on already when their record began.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Exp, Gamma, LogNormal, Normal, Uniform};
use wear_core::degradation::{
    AsFound, FastPhase, HINT_LN_SD, MissingRiding, OpenExposure, Posterior, Resolution, Start, TimedReading,
    WearParameters,
};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, Kilometres, Limit, LogSd, ReferenceKilometres};
use wear_core::{Chain, ChainStart, Drivetrain, Fleet, Ride, Use};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).expect("a legal distance")
}

fn limit() -> Limit {
    Limit::new(0.75).expect("a legal limit")
}

fn rule(at: f64, read: f64) -> TimedReading {
    let read = ElongationReading::new(read).expect("a legal percentage");
    TimedReading::new(km(at), Measurement::percent(Instrument::Rule, read).expect("a number"))
}

fn found() -> WearParameters {
    WearParameters::default().with_start(Start::as_found(limit()))
}

fn of(parameters: &WearParameters, readings: &[TimedReading]) -> Posterior {
    Posterior::of(parameters, &InstrumentCalibrations::default(), readings)
}

#[test]
fn before_any_reading_it_is_as_likely_short_as_long_and_wears_slower_than_a_new_one() {
    let posterior = of(&found(), &[]);
    let outlook = posterior.outlook(km(0.0), limit());
    // 0.68 % of plateau and 0.08 of tail: P10 lies at 0.07 + 0.076.
    assert!((outlook.elongation.p10 - 0.146).abs() < 2e-3, "{outlook:?}");
    assert!((outlook.elongation.p50 - 0.45).abs() < 1e-3, "{outlook:?}");
    assert!((outlook.probability_over_limit - 0.08 / 0.76).abs() < 5e-3, "{outlook:?}");
    let p = WearParameters::default();
    let (mean, sd) = posterior.log_rate();
    assert!((mean - p.mean_log_rate() + p.sd_log_rate().powi(2)).abs() < 1e-9);
    assert!((sd - p.sd_log_rate()).abs() < 1e-6);
    assert_eq!(posterior.parameters().mean_log_rate(), p.mean_log_rate());
}

#[test]
fn only_differences_among_chains_make_one_be_met_more_often() {
    let p = WearParameters::default();
    let shared = LogSd::new(0.4).expect("a spread");
    for parameters in [
        found().with_shared_exposure_error(shared),
        p.with_shared_exposure_error(shared).with_start(Start::as_found(limit())),
    ] {
        let (mean, sd) = of(&parameters, &[]).log_rate();
        assert!((mean - p.mean_log_rate() + p.sd_log_rate().powi(2)).abs() < 1e-9, "{mean}");
        assert!((sd - p.sd_log_rate().hypot(0.4)).abs() < 1e-6, "{sd}");
    }
}

#[test]
fn a_fleet_takes_a_record_as_it_begins() -> Result<(), Box<dyn std::error::Error>> {
    let bike = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
    let told = Kilometres::new(1_500.0)?;
    let records = [ChainStart::New, ChainStart::AsFound, ChainStart::AsFoundAfter(told)].map(|start| {
        let mut chain = Chain::new(&bike, Use::Town).starting(start);
        chain.read(0, Measurement::percent(Instrument::Dial, ElongationReading::new(0.5).ok()?).ok()?);
        for day in 0..50 {
            chain.ride(day, Ride::km(20.0).ok()?);
        }
        chain.read(50, Measurement::percent(Instrument::Dial, ElongationReading::new(0.6).ok()?).ok()?);
        Some(chain.record(50))
    });
    let mut learned = Vec::new();
    for record in records.into_iter().flatten() {
        let mut fleet = Fleet::default();
        for _ in 0..12 {
            fleet.add("town", &record);
        }
        learned.push(fleet.learn().fit().groups["town"].mean_log_rate);
        if record.chain_start() == ChainStart::AsFound {
            let mut plain = Fleet::default();
            for _ in 0..12 {
                let read =
                    record.timed_readings().into_iter().map(|reading| (reading.at, reading.measurement));
                plain.add_readings_starting("town", Start::as_found(limit()), read);
            }
            assert_eq!(plain.learn().fit(), fleet.learn().fit());
        }
    }
    // Half a percent on no kilometres is no wear of a chain as found; with kilometres before, it is.
    let [new, found, hinted] = learned[..] else { panic!("{learned:?}") };
    let default = WearParameters::default().mean_log_rate();
    assert!(new > found + 0.3 && (found - default).abs() < 0.3, "{learned:?}");
    assert!(hinted > found, "{learned:?}");
    Ok(())
}

#[test]
fn a_hint_narrows_it() {
    let hinted = WearParameters::default()
        .with_start(Start::AsFound(AsFound::at_limit(limit()).ridden_about(km(2_000.0), HINT_LN_SD)));
    let ours = of(&hinted, &[]);
    let unhinted = of(&found(), &[]).outlook(km(0.0), limit()).elongation;
    let outlook = ours.outlook(km(0.0), limit());
    assert!(outlook.elongation.p90 - outlook.elongation.p10 < 0.8 * (unhinted.p90 - unhinted.p10));
    // Far below the limit it is a new chain after so many kilometres, which say how long it has lasted.
    let open = OpenExposure { since_last_reading: HINT_LN_SD, ..OpenExposure::EXACT };
    let new = of(&WearParameters::default(), &[]).with_open_exposure(open).outlook(km(2_000.0), limit());
    assert!((outlook.elongation.p50 - new.elongation.p50).abs() < 0.02, "{outlook:?} {new:?}");
    assert!(outlook.elongation.p90 < new.elongation.p90, "{outlook:?} {new:?}");
    // Kilometres that no chain survives are no hint.
    let absurd = Start::AsFound(AsFound::at_limit(limit()).ridden_about(km(5e6), LogSd::ZERO));
    let absurd = of(&WearParameters::default().with_start(absurd), &[]).outlook(km(0.0), limit());
    assert_eq!(absurd, of(&found(), &[]).outlook(km(0.0), limit()));
}

#[test]
fn standard_grids_are_as_good_as_ten_times_finer_ones() {
    let readings = [rule(0.0, 0.4), rule(700.0, 0.52)];
    let missing = TimedReading::of_incomplete_record(&readings, MissingRiding::ONE_IN_FOUR);
    let hint = Start::AsFound(AsFound::at_limit(limit()).ridden_about(km(2_500.0), HINT_LN_SD));
    let hinted = WearParameters::default().with_start(hint);
    for (parameters, readings) in [
        (found(), readings.to_vec()),
        (found().with_fast_phase(FastPhase::ASSUMED), missing),
        (hinted, readings.to_vec()),
    ] {
        let calibrations = InstrumentCalibrations::default();
        let fine = Resolution { elongation: 4.0, rate: 10.0 };
        let fine = Posterior::with_resolution(&parameters, &calibrations, fine).after(&readings);
        let (ours, fine) =
            (of(&parameters, &readings).outlook(km(900.0), limit()), fine.outlook(km(900.0), limit()));
        for (a, b) in [
            (ours.remaining.p10, fine.remaining.p10),
            (ours.remaining.p50, fine.remaining.p50),
            (ours.remaining.p90, fine.remaining.p90),
        ] {
            assert!((a - b).abs() <= 0.01 * b, "{ours:?} {fine:?}");
        }
        assert!((ours.elongation.p50 - fine.elongation.p50).abs() < 0.003);
        let posterior = of(&parameters, &readings);
        let resumed = Posterior::from_checkpoint(&posterior.checkpoint()).expect("a checkpoint");
        assert_eq!(resumed.outlook(km(900.0), limit()), posterior.outlook(km(900.0), limit()));
        assert_eq!(resumed.checkpoint(), posterior.checkpoint());
    }
}

#[test]
fn a_sampler_agrees_that_shares_nothing_with_the_filter() {
    let mut random = ChaCha8Rng::seed_from_u64(12);
    let p = WearParameters::default();
    let (flat, tail) =
        (Uniform::new(0.0, 0.68 + 0.08).expect("a range"), Exp::new(1.0 / 0.08).expect("a tail"));
    let smooth = Normal::new(0.0, 0.03).expect("a spread");
    let rate = LogNormal::new(p.mean_log_rate() - p.sd_log_rate().powi(2), p.sd_log_rate()).expect("a rate");
    let (reads, ways) = ([0.40, 0.52], [0.0, 700.0]);
    let (mut weight, mut first, mut second, mut rates) = (0.0, 0.0, 0.0, 0.0);
    for _ in 0..400_000 {
        let place: f64 = flat.sample(&mut random);
        let sharp = if place < 0.68 { 0.07 + place } else { 0.75 + tail.sample(&mut random) };
        let (mut e, theta): (f64, f64) = (sharp + smooth.sample(&mut random), rate.sample(&mut random));
        let mut log = 0.0;
        for (read, way) in reads.into_iter().zip(ways) {
            if way > 0.0 {
                let missing = if random_share(&mut random) < 0.25 { four_parts(&mut random) } else { 0.0 };
                let shape = theta * (way + missing) / p.scale();
                e += Gamma::new(shape, p.scale()).expect("wear").sample(&mut random);
            }
            log -= 0.5 * ((read - e) / 0.06_f64).powi(2);
        }
        let w = log.exp();
        weight += w;
        first += w * e;
        second += w * e * e;
        rates += w * theta.ln();
    }
    let (mean, rates) = (first / weight, rates / weight);
    let sd = (second / weight - mean * mean).sqrt();
    let readings =
        TimedReading::of_incomplete_record(&[rule(0.0, 0.40), rule(700.0, 0.52)], MissingRiding::ONE_IN_FOUR);
    let posterior = of(&found(), &readings);
    let grid: Vec<f64> = (0..2_000).map(|i| 0.001 * f64::from(i)).collect();
    let density = posterior.elongation_density(km(700.0), &grid);
    let ours: f64 = grid.iter().zip(&density).map(|(e, d)| e * d * 0.001).sum();
    let square: f64 = grid.iter().zip(&density).map(|(e, d)| e * e * d * 0.001).sum();
    println!(
        "mean {mean:.4} {ours:.4}, sd {sd:.4} {:.4}, ln θ {rates:.3} {:.3}",
        (square - ours * ours).sqrt(),
        posterior.log_rate().0
    );
    assert!((mean - ours).abs() < 2e-3 && (sd - (square - ours * ours).sqrt()).abs() < 2e-3);
    assert!((rates - posterior.log_rate().0).abs() < 0.01);
}

fn random_share(random: &mut ChaCha8Rng) -> f64 {
    Uniform::new(0.0, 1.0).expect("a range").sample(random)
}

fn four_parts(random: &mut ChaCha8Rng) -> f64 {
    Gamma::new(4.0, 150.0).expect("an exposure").sample(random)
}
