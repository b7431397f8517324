//! A simulated year of a rental fleet: looks that pay against looks by the calendar and by distance.
//!
//! Each bike has a true wear rate, ridden days of its own, and a chain whose true elongation follows the process. A look
//! is a rule reading with its scatter. Money: looks, chains by the share of their life that they gave, what they did to
//! cassette and rings, and failures on the road. Printed as it is; the test asserts only what has to hold.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, LogNormal, Normal};
use wear_core::degradation::{Posterior, TimedReading, WearParameters};
use wear_core::knock_on::{RING_THRESHOLD, accrued};
use wear_core::policy::{Costs, FailureLaw, LookCosts, MeanLife, Price, next_look};
use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
use wear_core::units::{ElongationReading, Limit, Probability, ReferenceKilometres};

const BIKES: usize = 60;
const DAYS: u32 = 365;
const LIMIT: f64 = 0.75;
const RISK: f64 = 0.2;

/// Prices of one setting.
#[derive(Clone, Copy)]
struct Prices {
    look: f64,
    chain: f64,
    cassette: f64,
    rings: f64,
    failure: f64,
}

#[derive(Clone, Copy, PartialEq)]
enum Schedule {
    /// Look when [`next_look`] says so; swap at the accepted risk when the chain is well known.
    WhenItPays,
    /// The same, looking at this probability of being over.
    AtProbability(f64),
    /// Look every so many days; swap when the reading is at the limit.
    Days(u32),
    /// Look every so many reference km; swap when the reading is at the limit.
    Kilometres(f64),
}

#[derive(Default, Clone, Copy)]
struct Year {
    looks: u32,
    swaps: u32,
    failures: f64,
    late_km: f64,
    km: f64,
    money: f64,
}

struct Bike {
    rate: f64,
    day_km: f64,
    percent: f64,
    start: f64,
    km: f64,
    readings: Vec<TimedReading>,
    next_look_km: f64,
    swap_km: f64,
    looked_day: u32,
    looked_km: f64,
}

fn look_costs(prices: &Prices, parameters: &WearParameters) -> LookCosts {
    let price = |part| Price { part, labour: 0.0 };
    let costs = Costs {
        inspection: prices.look,
        failure: prices.failure,
        ..Costs::of_parts(price(prices.chain), price(prices.cassette), price(prices.rings))
    };
    LookCosts::at_limit(&costs, &MeanLife::of_group(parameters), LIMIT)
}

/// Where the next look and the swap lie, reference km of the chain.
fn plan(bike: &mut Bike, parameters: &WearParameters, schedule: Schedule, costs: &LookCosts) {
    let limit = Limit::new(LIMIT).unwrap();
    let posterior = Posterior::of(parameters, &InstrumentCalibrations::default(), &bike.readings);
    let at = ReferenceKilometres::new(bike.km).unwrap();
    let quantile = |p: f64| posterior.remaining_quantile(at, limit, Probability::new(p).unwrap());
    let horizon = quantile(0.97).max(1.0);
    let ahead: Vec<ReferenceKilometres> =
        (0..=40).map(|i| ReferenceKilometres::new(horizon * f64::from(i) / 40.0).unwrap()).collect();
    let over = posterior.probabilities_over(at, &ahead, limit);
    let interpolated = |s: f64| {
        let place = (s / horizon * 40.0).clamp(0.0, 40.0);
        let low = (place as usize).min(39);
        let (a, b) = (over[low].get(), over[low + 1].get());
        a + (b - a) * (place - low as f64)
    };
    let look = match schedule {
        Schedule::AtProbability(p) => quantile(p),
        _ => next_look(interpolated, costs, horizon).map_or(horizon, |look| look.after_reference_km),
    };
    // After a look that leaves the probability above the level, at least a day's ride passes.
    bike.next_look_km = bike.km + look.max(0.5 * bike.day_km);
    bike.swap_km = bike.km + quantile(RISK.max(costs.due_probability()));
}

fn simulate(schedule: Schedule, prices: &Prices, seed: u64) -> Year {
    let parameters = WearParameters::default();
    let costs = look_costs(prices, &parameters);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let rates = LogNormal::new(parameters.mean_log_rate(), parameters.sd_log_rate()).unwrap();
    let starts = Normal::new(parameters.initial_mean(), parameters.initial_sd()).unwrap();
    let scatter = Normal::new(0.0, 0.06).unwrap();
    let law = FailureLaw::default();
    let mut year = Year::default();
    for _ in 0..BIKES {
        let mut bike = Bike {
            rate: rates.sample(&mut rng),
            day_km: 10.0 + 30.0 * rng.random::<f64>(),
            percent: 0.0,
            start: 0.0,
            km: 0.0,
            readings: Vec::new(),
            next_look_km: 0.0,
            swap_km: 0.0,
            looked_day: 0,
            looked_km: 0.0,
        };
        bike.start = starts.sample(&mut rng);
        bike.percent = bike.start;
        // One long stream of chance for each bike, so that every schedule meets the same rides.
        let mut rides = ChaCha8Rng::seed_from_u64(rng.random());
        let adaptive = matches!(schedule, Schedule::WhenItPays | Schedule::AtProbability(_));
        if adaptive {
            plan(&mut bike, &parameters, schedule, &costs);
        }
        for day in 1..=DAYS {
            if rides.random::<f64>() < 0.25 {
                continue;
            }
            let km = bike.day_km;
            let worn = Gamma::new(bike.rate * km / parameters.scale(), parameters.scale()).unwrap();
            let run_in =
                |km: f64| -parameters.running_in() * (-km / parameters.running_in_distance()).exp_m1();
            let before = bike.percent;
            bike.percent += worn.sample(&mut rides) + run_in(bike.km + km) - run_in(bike.km);
            bike.km += km;
            year.km += km;
            year.money += (prices.cassette + prices.rings / RING_THRESHOLD)
                * (accrued(bike.percent) - accrued(before.max(0.0))).max(0.0);
            let failures = km * law.per_km(0.5 * (before + bike.percent));
            year.failures += failures;
            year.money += prices.failure * failures;
            if bike.percent > LIMIT {
                year.late_km += km;
            }
            let due = match schedule {
                Schedule::Days(days) => day - bike.looked_day >= days,
                Schedule::Kilometres(every) => bike.km - bike.looked_km >= every,
                _ => bike.km >= bike.next_look_km.min(bike.swap_km),
            };
            if !due {
                continue;
            }
            year.looks += 1;
            year.money += prices.look;
            (bike.looked_day, bike.looked_km) = (day, bike.km);
            let read = bike.percent + scatter.sample(&mut rides);
            let off = if adaptive {
                let measurement = Measurement::percent(
                    Instrument::Rule,
                    ElongationReading::new(read.clamp(-0.3, 3.0)).unwrap(),
                )
                .unwrap();
                let at = ReferenceKilometres::new(bike.km).unwrap();
                bike.readings.push(TimedReading::new(at, measurement));
                let posterior =
                    Posterior::of(&parameters, &InstrumentCalibrations::default(), &bike.readings);
                let outlook = posterior.outlook(at, Limit::new(LIMIT).unwrap());
                let sd = (outlook.elongation.p90 - outlook.elongation.p10) / 2.563_1;
                let over = outlook.probability_over_limit;
                // As the advice has it: off when more likely over than not, or well known and past the risk.
                over >= 0.5 || (over >= RISK && sd <= 0.06)
            } else {
                read >= LIMIT
            };
            if off {
                year.swaps += 1;
                year.money += prices.chain;
                bike.start = starts.sample(&mut rides);
                bike.percent = bike.start;
                bike.km = 0.0;
                bike.looked_km = 0.0;
                bike.readings.clear();
            }
            if adaptive {
                plan(&mut bike, &parameters, schedule, &costs);
            }
        }
        // What the last chain gave of its life.
        year.money += prices.chain * (bike.percent.max(0.0) / LIMIT).min(1.0);
    }
    year
}

fn per_1000_km(year: &Year) -> f64 {
    1_000.0 * year.money / year.km
}

#[test]
fn a_simulated_year_of_looks() {
    let settings = [
        ("rental", Prices { look: 2.0, chain: 30.0, cassette: 45.0, rings: 60.0, failure: 60.0 }),
        ("club", Prices { look: 0.5, chain: 30.0, cassette: 90.0, rings: 120.0, failure: 0.0 }),
    ];
    let schedules = [
        ("when it pays", Schedule::WhenItPays),
        ("at 5 % over", Schedule::AtProbability(0.05)),
        ("at 10 % over", Schedule::AtProbability(0.1)),
        ("at 35 % over", Schedule::AtProbability(0.35)),
        ("every 4 weeks", Schedule::Days(28)),
        ("every 500 km", Schedule::Kilometres(500.0)),
    ];
    for (setting, prices) in settings {
        let due = look_costs(&prices, &WearParameters::default()).due_probability();
        println!("{setting}: a look pays at {:.1} % over", 100.0 * due);
        println!("  schedule        per 1,000 km   looks   swaps   failures   km over the limit");
        let mut totals = Vec::new();
        for (name, schedule) in schedules {
            let year = simulate(schedule, &prices, 11);
            println!(
                "  {name:14} {:13.2} {:7} {:7} {:10.2} {:19.0}",
                per_1000_km(&year),
                year.looks,
                year.swaps,
                year.failures,
                year.late_km
            );
            totals.push((schedule, year));
        }
        let of = |wanted: Schedule| totals.iter().find(|(schedule, _)| *schedule == wanted).unwrap().1;
        let ours = of(Schedule::WhenItPays);
        let (calendar, distance) = (of(Schedule::Days(28)), of(Schedule::Kilometres(500.0)));
        println!(
            "  when it pays against every 4 weeks {:+.1} %, against every 500 km {:+.1} %",
            100.0 * (per_1000_km(&ours) / per_1000_km(&calendar) - 1.0),
            100.0 * (per_1000_km(&ours) / per_1000_km(&distance) - 1.0)
        );
        assert!(ours.looks < calendar.looks && ours.looks < distance.looks);
        assert!(totals.iter().all(|(_, year)| year.km > 0.0 && year.money > 0.0));
    }
}
