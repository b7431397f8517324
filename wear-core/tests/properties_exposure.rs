//! Invariants of exposure, care and knock-on, on every input that is admitted.

use proptest::prelude::*;
use wear_core::bounds;
use wear_core::drivetrain::{Drivetrain, DrivetrainFacts, Teeth};
use wear_core::exposure::care::{CareKind, CareModel, CareState, CareStep, Segment};
use wear_core::exposure::{
    Driver, ExposureModel, ExposureSum, GearShare, Motor, RideExposure, RideFacts, Surface, Use,
};
use wear_core::knock_on::{
    CassetteBuild, CassetteFacts, CassetteOutlook, ChainWear, SkipOutcome, SkipTest, SkipThreshold, accrued,
    slope,
};
use wear_core::units::{Limit, PedallingShare, RideAscent, RideDistance, RideEnergy, TotalMass};

fn within(bound: &'static bounds::Bound) -> BoxedStrategy<f64> {
    prop_oneof![
        1 => Just(bound.minimum),
        1 => Just(bound.maximum),
        8 => bound.minimum..=bound.maximum,
    ]
    .boxed()
}

fn drivetrain() -> impl Strategy<Value = Drivetrain> {
    let teeth = || 9..=80_u32;
    (
        prop::collection::vec(teeth(), 1..=3),
        prop::collection::vec(teeth(), 1..=14),
        40..=260_u32,
        prop::option::of(8..=24_u32),
        prop::option::of(700..=2_700_u32),
    )
        .prop_map(|(rings, cogs, links, jockey_teeth, wheel_circumference_mm)| {
            Drivetrain::new(&DrivetrainFacts {
                rings,
                cogs,
                links,
                jockey_teeth,
                wheel_circumference_mm,
                ..DrivetrainFacts::default()
            })
            .unwrap()
        })
}

prop_compose! {
    fn ride()(
        distance in within(&bounds::RIDE_DISTANCE),
        usage in prop::sample::select(Use::ALL),
        surface in prop::sample::select(Surface::ALL),
        wet in any::<bool>(),
        climb in prop::option::of(within(&bounds::RIDE_ASCENT)),
        rider in prop::option::of(within(&bounds::RIDE_ENERGY)),
        motor_energy in prop::option::of(within(&bounds::RIDE_ENERGY)),
        road in prop::option::of(within(&bounds::RIDE_ENERGY)),
        mass in prop::option::of(within(&bounds::TOTAL_MASS)),
        motor in prop::option::of(prop::sample::select(Motor::ALL)),
        pedalling in prop::option::of(within(&bounds::PEDALLING_SHARE)),
    ) -> RideFacts {
        let mut ride = RideFacts::new(RideDistance::new(distance).unwrap(), usage, surface);
        ride.wet = wet;
        ride.climb = climb.map(|metres| RideAscent::new(metres).unwrap());
        ride.rider_energy = rider.map(|kj| RideEnergy::new(kj).unwrap());
        ride.motor_energy = motor_energy.map(|kj| RideEnergy::new(kj).unwrap());
        ride.road_power_energy = road.map(|kj| RideEnergy::new(kj).unwrap());
        ride.mass = mass.map(|kg| TotalMass::new(kg).unwrap());
        ride.motor = motor;
        ride.pedalling_share = pedalling.map(|share| PedallingShare::new(share).unwrap());
        ride
    }
}

fn model() -> impl Strategy<Value = ExposureModel> {
    (within(&bounds::LOAD_EXPONENT), within(&bounds::SLACK_TENSION)).prop_map(|(exponent, slack)| {
        ExposureModel::default()
            .with_load_exponent(exponent)
            .and_then(|model| model.with_slack_tension(slack))
            .unwrap()
    })
}

fn scaled(ride: &RideFacts, share: f64) -> RideFacts {
    let energy =
        |value: Option<RideEnergy>| value.map(|energy| RideEnergy::new(energy.get() * share).unwrap());
    let mut part = ride.clone();
    part.distance = RideDistance::new(ride.distance.get() * share).unwrap();
    part.climb = ride.climb.map(|climb| RideAscent::new(climb.get() * share).unwrap());
    part.rider_energy = energy(ride.rider_energy);
    part.motor_energy = energy(ride.motor_energy);
    part.road_power_energy = energy(ride.road_power_energy);
    part
}

fn close(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs()).max(1e-9)
}

proptest! {
    #[test]
    fn every_admitted_ride_has_a_finite_exposure(ride in ride(), on in drivetrain(), model in model()) {
        let exposure = RideExposure::of(&ride, &on, &model);
        let s = exposure.reference_km_before_care;
        prop_assert!(s.is_finite() && (0.0..=bounds::REFERENCE_KM.maximum).contains(&s));
        prop_assert!(exposure.ln_sd.variance().is_finite() && exposure.ln_sd.variance() >= 0.0);
        prop_assert!(Driver::ALL.iter().all(|&driver| exposure.parts.get(driver).is_finite()));
        prop_assert!(close(exposure.parts.total(), s, 1e-9));
        prop_assert!(close(exposure.work_by_cog_kj.iter().sum(), exposure.energy.kj, 1e-9));
        prop_assert!(close(exposure.work_by_ring_kj.iter().sum(), exposure.energy.kj, 1e-9));
        prop_assert!(close(exposure.dry_reference_km() + exposure.wet_reference_km(), s, 1e-12));
        if let Some(shares) = exposure.parts.shares_percent() {
            prop_assert!((shares.iter().map(|(_, share)| share).sum::<f64>() - 100.0).abs() < 1e-6);
        }
    }

    #[test]
    fn more_distance_work_climb_or_water_never_wears_less(
        ride in ride(), on in drivetrain(), model in model(), more in 0.0..1.0_f64,
    ) {
        let exposure = |ride: &RideFacts| RideExposure::of(ride, &on, &model).reference_km_before_care;
        let base = exposure(&ride);
        let up = |value: f64, bound: &bounds::Bound| value + more * (bound.maximum - value);
        let mut longer = ride.clone();
        longer.distance = RideDistance::new(up(ride.distance.get(), &bounds::RIDE_DISTANCE)).unwrap();
        let mut harder = ride.clone();
        harder.rider_energy =
            ride.rider_energy.map(|kj| RideEnergy::new(up(kj.get(), &bounds::RIDE_ENERGY)).unwrap());
        let mut steeper = ride.clone();
        steeper.climb = ride.climb.map(|m| RideAscent::new(up(m.get(), &bounds::RIDE_ASCENT)).unwrap());
        let mut wetter = ride.clone();
        wetter.wet = true;
        for changed in [longer, harder, steeper, wetter] {
            prop_assert!(exposure(&changed) >= base * (1.0 - 1e-12));
        }
    }

    #[test]
    fn a_ride_in_two_parts_is_the_same_ride(
        ride in ride(), on in drivetrain(), model in model(), share in 0.0..=1.0_f64,
    ) {
        let of = |ride: &RideFacts| RideExposure::of(ride, &on, &model);
        let (whole, first, second) = (of(&ride), of(&scaled(&ride, share)), of(&scaled(&ride, 1.0 - share)));
        let sum = first.reference_km_before_care + second.reference_km_before_care;
        prop_assert!(close(sum, whole.reference_km_before_care, 1e-9));
        for &driver in Driver::ALL {
            let sum = first.parts.get(driver) + second.parts.get(driver);
            let scale = whole.reference_km_before_care.max(whole.distance_km).max(1.0);
            prop_assert!((sum - whole.parts.get(driver)).abs() <= 1e-6 * scale);
        }
    }

    #[test]
    fn twice_the_links_take_twice_as_far(ride in ride(), on in drivetrain()) {
        let exposure = |links: u32| {
            let facts = DrivetrainFacts {
                rings: on.rings().iter().map(|teeth| u32::from(teeth.get())).collect(),
                cogs: on.cogs().iter().map(|teeth| u32::from(teeth.get())).collect(),
                links,
                ..DrivetrainFacts::default()
            };
            RideExposure::of(&ride, &Drivetrain::new(&facts).unwrap(), &ExposureModel::default())
        };
        let (short, long) = (exposure(60), exposure(120));
        prop_assert!(close(short.reference_km_before_care, 2.0 * long.reference_km_before_care, 1e-12));
    }

    #[test]
    fn sums_of_sums_are_sums(rides in prop::collection::vec(ride(), 1..8), on in drivetrain(), cut in 0..8_usize) {
        let exposures: Vec<_> =
            rides.iter().map(|ride| RideExposure::of(ride, &on, &ExposureModel::default())).collect();
        let sum = |part: &[RideExposure]| {
            let mut sum = ExposureSum::default();
            part.iter().for_each(|ride| sum.add(ride));
            sum
        };
        let (whole, cut) = (sum(&exposures), cut.min(exposures.len()));
        let mut merged = sum(&exposures[..cut]);
        merged.merge(&sum(&exposures[cut..]));
        let s = whole.reference_km_before_care();
        prop_assert!(close(s, exposures.iter().map(|ride| ride.reference_km_before_care).sum(), 1e-9));
        prop_assert!(close(merged.reference_km_before_care(), s, 1e-9));
        prop_assert!(close(merged.ln_variance(), whole.ln_variance(), 1e-9));
        prop_assert!(close(whole.dry_reference_km() + whole.wet_reference_km(), s, 1e-9));
        let largest = exposures.iter().map(|ride| ride.ln_sd.variance()).fold(0.0, f64::max);
        prop_assert!(whole.ln_variance() <= largest * (1.0 + 1e-9) + 1e-12);
    }

    #[test]
    fn usual_gears_are_shares(on in drivetrain(), usage in prop::sample::select(Use::ALL)) {
        let gears = GearShare::usual(&on, usage);
        for shares in [gears.by_cog(on.cogs()), gears.by_ring(on.rings())] {
            prop_assert!(shares.iter().all(|share| (0.0..=1.0).contains(share)));
            prop_assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn care_is_additive_over_any_cut(
        start in 0.0..3_000.0_f64, dry in 0.0..3_000.0_f64, wet in 0.0..3_000.0_f64, share in 0.0..=1.0_f64,
    ) {
        let model = CareModel::default();
        let state = CareState::resumed(start);
        let part = |share: f64| Segment { dry: dry * share, wet: wet * share };
        let (whole, end) = model.accrue(state, part(1.0));
        let (first, middle) = model.accrue(state, part(share));
        let (second, cut_end) = model.accrue(CareState::resumed(middle.weighted_km()), part(1.0 - share));
        prop_assert!((first + second - whole).abs() <= 1e-9 * whole.max(1.0));
        prop_assert!((end.weighted_km() - cut_end.weighted_km()).abs() <= 1e-9 * end.weighted_km().max(1.0));
        prop_assert!(whole >= (dry + wet) * (1.0 - 1e-12) && whole <= 2.0 * (dry + wet) * (1.0 + 1e-12));
    }

    #[test]
    fn care_is_the_integral_of_its_multiplier(start in 0.0..1_500.0_f64, dry in 1.0..1_500.0_f64, wet in 0.0..500.0_f64) {
        let model = CareModel::default();
        let steps = 20_000;
        let mut sum = 0.0;
        for i in 0..steps {
            let at = (f64::from(i) + 0.5) / f64::from(steps);
            sum += model.multiplier(CareState::resumed(start + at * (dry + 3.0 * wet)));
        }
        let expected = (dry + wet) * sum / f64::from(steps);
        let (exact, _) = model.accrue(CareState::resumed(start), Segment { dry, wet });
        prop_assert!(close(exact, expected, 1e-6), "{} {}", exact, expected);
    }

    #[test]
    fn care_never_wears_more_than_neglect(
        segments in prop::collection::vec((0.0..600.0_f64, 0.0..200.0_f64), 1..10), cared in 0..10_usize,
    ) {
        let model = CareModel::default();
        let rides: Vec<CareStep> =
            segments.iter().map(|&(dry, wet)| CareStep::Ride(Segment { dry, wet })).collect();
        let total = |steps: Vec<CareStep>| model.timeline(CareState::fresh(), steps).accrued.iter().sum::<f64>();
        let neglected = total(rides.clone());
        let at = cared.min(rides.len());
        for kind in CareKind::ALL {
            let mut steps = rides.clone();
            steps.insert(at, CareStep::Care(*kind));
            prop_assert!(total(steps) <= neglected * (1.0 + 1e-12));
        }
    }

    #[test]
    fn knock_on_gives_probabilities_that_rise_with_damage(
        past in prop::collection::vec((0.0..1.5_f64, prop::collection::vec(0.0..1e6_f64, 5)), 0..6),
        now in 0.0..1.5_f64,
        work in prop::collection::vec(0.0..1e6_f64, 5),
        tests in prop::collection::vec((0..5_usize, 0..6_usize, any::<bool>()), 0..6),
        limit in 0.2..2.0_f64,
    ) {
        let cogs: Vec<Teeth> = [11, 13, 16, 20, 26].iter().map(|&count| Teeth::new(count).unwrap()).collect();
        let past: Vec<ChainWear> =
            past.into_iter().map(|(expected_accrued, work)| ChainWear { expected_accrued, work }).collect();
        let tests: Vec<SkipTest> = tests
            .into_iter()
            .map(|(sprocket, before, holds)| SkipTest {
                sprocket,
                chains_before: before.min(past.len()),
                outcome: if holds { SkipOutcome::Holds } else { SkipOutcome::Skips },
            })
            .collect();
        let outlook = |expected_accrued: f64| {
            CassetteOutlook::of(&CassetteFacts {
                cogs: &cogs,
                build: CassetteBuild::OnePiece,
                past: &past,
                present: &ChainWear { expected_accrued, work: work.clone() },
                chains_before_cog: &[],
                skip_tests: &tests,
                unnamed_reports: &[],
                found: None,
                threshold: SkipThreshold::ASSUMED,
                limit: Limit::new(limit).unwrap(),
            })
            .unwrap()
        };
        let (fresh, worn) = (outlook(now * 0.5), outlook(now));
        for outlook in [&fresh, &worn] {
            prop_assert!((0.0..=1.0).contains(&outlook.skips_with_new_chain));
            let worst = outlook.sprockets.iter().map(|s| s.skips_with_new_chain).fold(0.0, f64::max);
            prop_assert!(outlook.skips_with_new_chain >= worst - 1e-9);
            let counts = outlook.chains_to_come;
            prop_assert!(counts.p10 <= counts.p50 && counts.p50 <= counts.p90);
        }
        if !fresh.contradictory_tests {
            prop_assert!(worn.skips_with_new_chain >= fresh.skips_with_new_chain - 1e-9);
        }
        prop_assert!(accrued(now) >= accrued(now * 0.5) && slope(now) >= slope(now * 0.5));
    }
}
