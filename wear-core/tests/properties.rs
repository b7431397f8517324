//! Invariants of the posterior and the outlook, on every input that is admitted.

use proptest::prelude::*;
use wear_core::bounds::{self, Bound};
use wear_core::degradation::{CEILING_PERCENT, Outlook, Posterior, Quantiles, TimedReading, WearParameters};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, GaugeMark, Limit, Probability, ReferenceKilometres};

fn km(value: f64) -> ReferenceKilometres {
    ReferenceKilometres::new(value).unwrap()
}

fn limit(value: f64) -> Limit {
    Limit::new(value).unwrap()
}

fn within(bound: &'static Bound) -> BoxedStrategy<f64> {
    prop_oneof![
        1 => Just(bound.minimum),
        1 => Just(bound.maximum),
        6 => bound.minimum..=bound.maximum,
    ]
    .boxed()
}

/// As [`within`], even on the logarithm, for bounds that span decades.
fn decades(bound: &'static Bound) -> BoxedStrategy<f64> {
    prop_oneof![
        1 => Just(bound.minimum),
        1 => Just(bound.maximum),
        6 => (bound.minimum.ln()..bound.maximum.ln())
            .prop_map(|log| log.exp().clamp(bound.minimum, bound.maximum)),
    ]
    .boxed()
}

fn any_parameters() -> impl Strategy<Value = WearParameters> {
    (
        within(&bounds::MEAN_LOG_RATE),
        decades(&bounds::SD_LOG_RATE),
        decades(&bounds::WEAR_SCALE),
        within(&bounds::INITIAL_MEAN),
        decades(&bounds::INITIAL_SD),
        within(&bounds::RUNNING_IN),
        decades(&bounds::RUNNING_IN_DISTANCE),
    )
        .prop_map(|(rate, spread, scale, mean, sd, amount, distance)| {
            WearParameters::default()
                .with_log_rate(rate, spread)
                .and_then(|p| p.with_scale(scale))
                .and_then(|p| p.with_initial(mean, sd))
                .and_then(|p| p.with_running_in(amount, distance))
                .unwrap()
        })
}

/// Parameters as fleets have them.
fn usual_parameters() -> impl Strategy<Value = WearParameters> {
    (-9.8..-8.2_f64, 0.1..0.8_f64, 0.002..0.05_f64).prop_map(|(rate, spread, scale)| {
        WearParameters::default().with_log_rate(rate, spread).and_then(|p| p.with_scale(scale)).unwrap()
    })
}

fn percent(instrument: Instrument, value: f64) -> Measurement {
    Measurement::percent(instrument, ElongationReading::new(value).unwrap()).unwrap()
}

fn any_measurement() -> impl Strategy<Value = Measurement> {
    let spots = prop::collection::vec(within(&bounds::ELONGATION_READING), 1..=4);
    (prop::sample::select(Instrument::ALL), spots, within(&bounds::GAUGE_MARK), any::<bool>()).prop_map(
        |(instrument, spots, mark, drops_in)| {
            if instrument.is_gauge() {
                Measurement::gauge(instrument, GaugeMark::new(mark).unwrap(), drops_in).unwrap()
            } else {
                let spots: Vec<_> =
                    spots.into_iter().map(|value| ElongationReading::new(value).unwrap()).collect();
                Measurement::spots(instrument, &spots).unwrap()
            }
        },
    )
}

fn any_reading() -> impl Strategy<Value = TimedReading> {
    let at = prop_oneof![4 => 0.0..10_000.0_f64, 1 => within(&bounds::REFERENCE_KM)];
    (at, any_measurement()).prop_map(|(at, measurement)| TimedReading::new(km(at), measurement))
}

/// Up to three readings that agree with wear at a rate of 0.125 percent per 1,000 reference km.
fn agreeing_readings() -> impl Strategy<Value = Vec<TimedReading>> {
    prop::collection::vec((200.0..4_000.0_f64, -0.04..0.04_f64, 0..3_usize), 0..=3).prop_map(|readings| {
        let instrument = |i: usize| [Instrument::Rule, Instrument::Caliper, Instrument::Dial][i];
        readings
            .into_iter()
            .map(|(at, off, i)| {
                TimedReading::new(km(at), percent(instrument(i), 0.07 + 0.000_125 * at + off))
            })
            .collect()
    })
}

fn posterior(parameters: &WearParameters, readings: &[TimedReading]) -> Posterior {
    Posterior::of(parameters, &InstrumentCalibrations::default(), readings)
}

fn values(quantiles: Quantiles) -> [f64; 3] {
    [quantiles.p10, quantiles.p50, quantiles.p90]
}

fn sound(outlook: &Outlook) -> Result<(), TestCaseError> {
    let longest = bounds::REFERENCE_KM.maximum * (1.0 + 1e-9);
    prop_assert!((0.0..=1.0).contains(&outlook.probability_over_limit), "{outlook:?}");
    for [low, middle, high] in [values(outlook.remaining), values(outlook.elongation)] {
        prop_assert!(low <= middle && middle <= high && high.is_finite() && low.is_finite(), "{outlook:?}");
    }
    prop_assert!(outlook.remaining.p10 >= 0.0 && outlook.remaining.p90 <= longest, "{outlook:?}");
    if let Some(stretch) = outlook.worst_stretch {
        prop_assert!(stretch.excess > 0.0 && (0.0..=1.0).contains(&stretch.probability_over_limit));
        prop_assert!(values(stretch.remaining).iter().all(|value| (0.0..=longest).contains(value)));
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_admitted_gives_nonsense(
        parameters in any_parameters(),
        readings in prop::collection::vec(any_reading(), 0..=6),
        now in within(&bounds::REFERENCE_KM),
        at in within(&bounds::LIMIT),
    ) {
        let posterior = posterior(&parameters, &readings);
        prop_assert!(posterior.log_evidence().is_finite(), "evidence {}", posterior.log_evidence());
        let (mean, sd) = posterior.log_rate();
        prop_assert!(mean.is_finite() && sd.is_finite(), "rate {mean} {sd}");
        prop_assert!(posterior.predictives().iter().all(|p| p.mean.is_finite() && p.sd >= 0.0), "predictive");
        for now in [posterior.last_reading_at(), now] {
            sound(&posterior.outlook(km(now), limit(at)))?;
        }
    }

    #[test]
    fn probability_over_the_limit_never_falls_with_exposure(
        parameters in usual_parameters(), readings in agreeing_readings(), at in within(&bounds::LIMIT),
        mut ahead in prop::collection::vec(0.0..20_000.0_f64, 2..=8),
    ) {
        ahead.sort_by(f64::total_cmp);
        let posterior = posterior(&parameters, &readings);
        let ahead: Vec<_> = ahead.into_iter().map(km).collect();
        let over = posterior.probabilities_over(km(posterior.last_reading_at()), &ahead, limit(at));
        for pair in over.windows(2) {
            prop_assert!(pair[1].get() >= pair[0].get() - 1e-6, "{over:?}");
        }
    }

    #[test]
    fn a_higher_reading_never_lengthens_the_remaining_life(
        parameters in usual_parameters(), at in 800.0..4_000.0_f64, read in 0.1..0.6_f64, more in 0.0..0.15_f64,
        which in 0..3_usize, worn_at in within(&bounds::LIMIT),
    ) {
        let instrument = [Instrument::Rule, Instrument::Caliper, Instrument::Dial][which];
        let outlook = |value: f64| {
            let reading = TimedReading::new(km(at), percent(instrument, value));
            let posterior = posterior(&parameters, &[reading]);
            (posterior.predictives()[0].relative_evidence, posterior.outlook(km(at), limit(worn_at)))
        };
        let ((one, lower), (other, higher)) = (outlook(read), outlook(read + more));
        // The further out a reading is, the larger the share of the likelihood's floor, which knows no reading.
        prop_assume!(one.min(other) > 1e-3);
        prop_assert!(higher.probability_over_limit >= lower.probability_over_limit - 1e-6);
        for (low, high) in values(lower.remaining).into_iter().zip(values(higher.remaining)) {
            prop_assert!(high <= low * (1.0 + 1e-4) + 0.1, "{lower:?} {higher:?}");
        }
    }

    #[test]
    fn a_limit_further_away_is_reached_later(
        parameters in usual_parameters(), readings in agreeing_readings(),
        near in 0.2..2.0_f64, further in 0.0..1.0_f64,
    ) {
        let posterior = posterior(&parameters, &readings);
        let at = km(posterior.last_reading_at());
        let outlook = |percent: f64| posterior.outlook(at, limit(percent));
        let (near, far) = (outlook(near), outlook(near + further * (2.0 - near)));
        prop_assert!(far.probability_over_limit <= near.probability_over_limit + 1e-6, "{} {}", far.probability_over_limit, near.probability_over_limit);
        for (near, far) in values(near.remaining).into_iter().zip(values(far.remaining)) {
            prop_assert!(far >= near * (1.0 - 1e-4) - 0.1, "{near} {far}");
        }
    }

    #[test]
    fn a_quantile_inverts_its_distribution(
        parameters in usual_parameters(), readings in agreeing_readings(), ahead in 0.0..3_000.0_f64,
        at in 0.2..2.0_f64, p in 0.02..0.98_f64,
    ) {
        let posterior = posterior(&parameters, &readings);
        let now = km(posterior.last_reading_at() + ahead);
        let p = Probability::new(p).unwrap();
        let remaining = posterior.remaining_quantile(now, limit(at), p);
        let over_then = posterior.probability_over(now, km(remaining), limit(at)).get();
        if remaining > 0.0 {
            prop_assert!((over_then - p.get()).abs() < 1e-5, "{over_then} {p:?}");
        } else {
            prop_assert!(over_then >= p.get());
        }
        let elongation = posterior.elongation_quantile(now, p);
        if elongation < CEILING_PERCENT {
            let below = posterior.elongation_distribution(now, &[elongation])[0];
            prop_assert!((below - p.get()).abs() < 1e-5, "{below} {p:?}");
        }
    }

    #[test]
    fn order_of_readings_does_not_change_a_bit(
        (sent, shuffled) in prop::collection::vec(any_reading(), 2..=6)
            .prop_flat_map(|readings| (Just(readings.clone()), Just(readings).prop_shuffle())),
        at in within(&bounds::LIMIT),
    ) {
        let parameters = WearParameters::default();
        let (one, other) = (posterior(&parameters, &sent), posterior(&parameters, &shuffled));
        prop_assert!(one == other);
        let outlook = |posterior: &Posterior| posterior.outlook(km(one.last_reading_at()), limit(at));
        prop_assert_eq!(outlook(&one), outlook(&other));
    }
}

#[test]
fn hundreds_of_readings_over_ten_million_kilometres() {
    let gauge = |mark: f64, drops_in| {
        Measurement::gauge(Instrument::DropIn, GaugeMark::new(mark).unwrap(), drops_in).unwrap()
    };
    for (count, last) in [(400, 4_000.0), (40, 10_000_000.0)] {
        let readings: Vec<_> = (1..=count)
            .map(|i| {
                let at = last * f64::from(i) / f64::from(count);
                let measurement = match i % 3 {
                    0 => gauge(0.5, 0.000_12 * at > 0.4),
                    1 => percent(Instrument::Dial, (0.07 + 0.000_12 * at).min(3.0)),
                    _ => percent(Instrument::Rule, (0.05 + 0.000_12 * at).min(3.0)),
                };
                TimedReading::new(km(at), measurement)
            })
            .collect();
        let posterior = posterior(&WearParameters::default(), &readings);
        assert!(posterior.log_evidence().is_finite());
        sound(&posterior.outlook(km(last), limit(0.75))).unwrap();
    }
}
