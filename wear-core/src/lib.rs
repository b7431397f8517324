//! How bicycle drivetrains wear: how long a chain has left, how sure that is, and what waiting costs.
//!
//! ```
//! use wear_core::{Chain, Drivetrain, Reading, Ride, Use};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let bike = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
//! let mut chain = Chain::new(&bike, Use::Town);
//! for day in 0..171 {
//!     chain.ride(day, Ride::km(18.4)?.climb_m(120.0)?.wet(day % 6 == 0));
//! }
//! chain.read(171, Reading::rule_mm(24, 306.2)?);
//! let outlook = chain.outlook(171, 0.75)?;
//! let km = outlook.remaining_km.ok_or("no chain")?;
//! println!("{km:.0} km left; {}: {}", outlook.advice, outlook.reason);
//! # assert_eq!(format!("{km:.0}"), "2148 (1237 to 3529)");
//! # Ok(())
//! # }
//! ```
//!
//! prints
//!
//! ```text
//! 2148 (1237 to 3529) km left; ride_on: The accepted risk is not reached for another 79 days
//! ```
//!
//! Half of such chains get to 0.75 % after 2,148 km, one in ten before 1,237, nine in ten before 3,529.
//!
//! A chain's pins wear, its pitch grows, and a worn chain reshapes the cogs and rings it runs on. The crate computes and
//! does nothing else: no clock, no files, no network, no random number that isn't seeded by an argument, no `unsafe`.
//! Answers are distributions and carry what they rest on.
//!
//! # Usage
//!
//! Events go in, in any order, each with the day on which it happened: a plain number, or a [`Moment`] to the
//! microsecond. An [`Outlook`] comes out. The same events give the same answer, bit for bit.
//!
//! - [`Chain`]: one chain, with rides, care and readings.
//! - [`Bike`]: a bike with swaps as well, which follows the damage to each cog and ring.
//! - [`Fleet`]: chains that teach how fast their group wears.
//! - [`Ride`], [`Reading`], [`Drivetrain`], [`CareKind`]: what these take.
//!
//! A cassette under its third chain:
//!
//! ```
//! use wear_core::{Bike, Drivetrain, Reading, Ride, Use};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let drivetrain = Drivetrain::derailleur([50, 34], [11, 13, 15, 17, 19, 22, 25, 28], 110)?;
//! let mut bike = Bike::new(drivetrain, Use::Road);
//! for day in 0..500 {
//!     bike.ride(day, Ride::km(20.0)?.energy_kj(380.0)?);
//! }
//! for (day, percent) in [(170, 0.62), (340, 0.66)] {
//!     bike.read(day, Reading::dial(&[percent])?);
//!     bike.swap_chain(day);
//! }
//! let cassette = bike.outlook(500).cassette.ok_or("no cassette")?;
//! for cog in &cassette.sprockets {
//!     println!("{} teeth: {:.0} % worn", cog.teeth, 100.0 * cog.damage);
//! }
//! println!("takes {:.0} more chains", cassette.chains_to_come);
//! # assert!(cassette.probability_skips > 0.1 && cassette.chains_to_come.p50 < 2.0);
//! # Ok(())
//! # }
//! ```
//!
//! More of that length stand at [`Bike`] (care and a swap), [`Chain`] (nothing but readings at known distances) and
//! [`Fleet`] (a fleet that learns).
//!
//! # Guide by task
//!
//! | to … | see |
//! |---|---|
//! | turn recorded points of a ride into work and ascent | [`exposure::track`] |
//! | count a ride in reference kilometres | [`exposure`] |
//! | tell what readings say of one chain, without a bike | [`degradation`] |
//! | lay remaining life over days of use | [`forecast`] |
//! | follow the damage to cogs and rings | [`knock_on`] |
//! | find the limit that costs least | [`policy`] |
//! | learn a fleet's wear, count the parts it will need, keep score | [`fleet`] |
//! | put bikes on bench days | [`mod@bench`] |
//! | check that parts fit, find a chain's length, list the steps of a swap | [`drivetrain`] |
//! | see why the model is as it is | [`design`] |
//!
//! Numbers come in as types that cannot be wrong ([`units`], with their legal ranges in [`bounds`]). Every constant says
//! where it comes from: S published, M from memory of a publication, C computed by us with a named library, T common
//! practice of the trade, A our assumption.
//!
//! # What it doesn't do
//!
//! - It knows no calendar, time zone or currency: days are numbers, money is in the caller's unit.
//! - It stores nothing and reads no files of rides; recorded points come in as numbers.
//! - It says nothing of brakes, tyres, bearings or cables, and judges no cassette by its looks.
//! - It replaces neither the makers' instructions nor a qualified mechanic: a chain can fail for reasons other than wear.
//!
//! # From rides to exposure
//!
//! A kilometre up a muddy climb wears more than one along a dry road, so distance is counted in reference kilometres:
//! dry, paved, at 20 kJ/km, lubricated of late. [`exposure`] turns a ride into them; [`exposure::track`] takes recorded
//! points first.
//!
//! ```
//! use wear_core::drivetrain::{Drivetrain, DrivetrainFacts};
//! use wear_core::exposure::care::{CareModel, CareState, Segment};
//! use wear_core::exposure::{ExposureModel, RideExposure, RideFacts, Surface, Use};
//! use wear_core::units::{RideAscent, RideDistance};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let drivetrain = Drivetrain::new(&DrivetrainFacts {
//!     rings: vec![42],
//!     cogs: vec![11, 13, 15, 17, 20, 23, 26, 30],
//!     links: 114,
//!     ..DrivetrainFacts::default()
//! })?;
//! let mut ride = RideFacts::new(RideDistance::new(18.4)?, Use::Town, Surface::Paved);
//! ride.climb = Some(RideAscent::new(120.0)?);
//! let dry = RideExposure::of(&ride, &drivetrain, &ExposureModel::default());
//! ride.wet = true;
//! let wet = RideExposure::of(&ride, &drivetrain, &ExposureModel::default());
//! // Water doubles wear (A); the exposure knows how sure that is.
//! assert!((wet.reference_km_before_care / dry.reference_km_before_care - 2.0).abs() < 1e-9);
//! assert!(wet.ln_sd.variance() > dry.ln_sd.variance());
//!
//! // Care depends on what came before it: the same ride wears more on a chain that ran dry for 600 reference km.
//! let segment = Segment { dry: dry.dry_reference_km(), wet: dry.wet_reference_km() };
//! let (fresh, _) = CareModel::default().accrue(CareState::fresh(), segment);
//! let (neglected, _) = CareModel::default().accrue(CareState::resumed(600.0), segment);
//! assert!(neglected > 1.5 * fresh);
//! # Ok(())
//! # }
//! ```
//!
//! # From readings to remaining life
//!
//! [`degradation::Posterior`] holds what is known of a chain's elongation and of how fast it wears: a gamma process
//! seen through instruments that err, each in its own way. An [`outlook`](degradation::Posterior::outlook) is a set of
//! quantiles, never one number.
//!
//! ```
//! use wear_core::degradation::{Posterior, TimedReading, WearParameters};
//! use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
//! use wear_core::units::{ElongationReading, GaugeMark, Limit, ReferenceKilometres};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let readings = [
//!     TimedReading::new(
//!         ReferenceKilometres::new(812.0)?,
//!         Measurement::percent(Instrument::Rule, ElongationReading::new(0.21)?)?,
//!     ),
//!     // A drop-in gauge says yes or no, and says yes early: it reads through the rollers.
//!     TimedReading::new(
//!         ReferenceKilometres::new(1_500.0)?,
//!         Measurement::gauge(Instrument::DropIn, GaugeMark::new(0.5)?, false)?,
//!     ),
//! ];
//! let now = ReferenceKilometres::new(1_700.0)?;
//! let limit = Limit::new(0.75)?;
//! let calibrations = InstrumentCalibrations::default();
//! let mut posterior = Posterior::of(&WearParameters::default(), &calibrations, &readings);
//! let outlook = posterior.outlook(now, limit);
//! assert!(outlook.remaining.p10 < outlook.remaining.p50 && outlook.remaining.p50 < outlook.remaining.p90);
//! assert!(outlook.probability_over_limit < 0.01);
//!
//! // One more reading is one update, and it narrows the answer.
//! let dial = Measurement::percent(Instrument::Dial, ElongationReading::new(0.27)?)?;
//! posterior.update(TimedReading::new(now, dial));
//! let after = posterior.outlook(now, limit);
//! assert!(after.remaining.p90 - after.remaining.p10 < outlook.remaining.p90 - outlook.remaining.p10);
//!
//! // Readings that can't belong to one chain are named, and nothing panics.
//! let shorter = Measurement::percent(Instrument::Dial, ElongationReading::new(0.01)?)?;
//! posterior.update(TimedReading::new(ReferenceKilometres::new(1_900.0)?, shorter));
//! assert!(posterior.is_contradictory());
//! assert_eq!(posterior.contradictions()[0].later.at.get(), 1_900.0);
//! # Ok(())
//! # }
//! ```
//!
//! # From remaining life to a day
//!
//! [`forecast`] learns a bike's own week and level and its yard's season, and lays the remaining life over them. Days are
//! counted from today: what calendar they belong to is the caller's business.
//!
//! ```
//! use wear_core::degradation::{Posterior, WearParameters};
//! use wear_core::forecast::{DailyUse, LifeCurve, UseForecast};
//! use wear_core::reading::InstrumentCalibrations;
//! use wear_core::units::{Limit, ReferenceKilometres};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! // Twelve weeks, ridden Monday to Friday; today is a Monday.
//! let days: Vec<DailyUse> = (0..84)
//!     .map(|day| if day % 7 < 5 { DailyUse { km: 20.0, reference_km: 26.0 } } else { DailyUse::default() })
//!     .collect();
//! let usage = UseForecast::from_days(&days).ok_or("not used")?;
//! assert!(usage.weekday_factors()[0] > 1.3 && usage.weekday_factors()[6] < 0.1);
//!
//! let posterior = Posterior::of(&WearParameters::default(), &InstrumentCalibrations::default(), &[]);
//! let (now, limit) = (ReferenceKilometres::new(2_500.0)?, Limit::new(0.75)?);
//! let chain = posterior.snapshot(now, limit);
//! let life = chain.outlook();
//! let curve = LifeCurve::of(&chain, life.remaining.p90);
//! let swap_by = curve.day_reaching(&usage, 0.2).ok_or("beyond ten years")?;
//! let half = curve.day_reaching(&usage, 0.5).ok_or("beyond ten years")?;
//! assert!(0 < swap_by && swap_by < half);
//! # Ok(())
//! # }
//! ```
//!
//! # What waiting costs
//!
//! [`knock_on`] follows the damage to each cog and ring; [`policy`] finds the limit, the distance between looks and the
//! way of working that cost least. Both rest on assumptions about damage, and say so ([`knock_on::BASIS`]).
//!
//! ```
//! use wear_core::degradation::WearParameters;
//! use wear_core::knock_on::{cost_per_km, slope};
//! use wear_core::policy::{Costs, LimitCurve, MeanLife, Price, Question, scenarios_around};
//!
//! // One more kilometre on a chain at 0.8 % takes more out of a cassette of 40 than one at 0.3 %.
//! let per_km = |percent| cost_per_km(40.0, slope(percent), 0.000_125);
//! assert!(per_km(0.8) > 3.0 * per_km(0.3));
//!
//! let price = |part| Price { part, labour: 10.0 };
//! let costs = Costs { inspection: 1.5, failure: 60.0, ..Costs::of_parts(price(15.0), price(40.0), price(30.0)) };
//! let life = MeanLife::of_group(&WearParameters::default());
//! let curve = LimitCurve::of(Question {
//!     costs: &costs,
//!     scenarios: &scenarios_around(&life, 0.2),
//!     current_percent: 0.5,
//!     jump_overshoot_percent: 0.005,
//!     turn_km: 500.0,
//! })
//! .expect("sound costs");
//! let best = curve.best_point();
//! assert!(curve.points.iter().all(|point| point.mean.total() >= best.mean.total()));
//! assert!(best.cost.p10 < best.cost.p50 && best.cost.p50 < best.cost.p90);
//! ```
//!
//! # What a fleet teaches
//!
//! [`fleet::calibration::fit`] learns the wear rate of each group of chains. A group of three leans on the fleet; a
//! group of three hundred speaks for itself. [`fleet::track_record`] keeps score of forecasts of elongation,
//! [`fleet::passage_record`] of the kilometres and dates that people act on, and [`fleet::demand`] counts the parts that
//! they will need.
//!
//! ```
//! use wear_core::degradation::{TimedReading, WearParameters};
//! use wear_core::fleet::calibration::{ChainHistory, fit};
//! use wear_core::reading::{Instrument, InstrumentCalibrations, Measurement};
//! use wear_core::units::{ElongationReading, ReferenceKilometres};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! // Forty chains that wear half as fast again as the default, three that wear twice as fast as the default.
//! let read = |rate: f64, at: f64| -> Result<[TimedReading; 1], Box<dyn std::error::Error>> {
//!     let percent = ElongationReading::new(0.07 + rate * at)?;
//!     Ok([TimedReading::new(ReferenceKilometres::new(at)?, Measurement::percent(Instrument::Dial, percent)?)])
//! };
//! let town: Vec<_> = (0..40).map(|i| read(0.187e-3, 1_500.0 + 40.0 * f64::from(i))).collect::<Result<_, _>>()?;
//! let cargo: Vec<_> = (0..3).map(|i| read(0.25e-3, 1_500.0 + 100.0 * f64::from(i))).collect::<Result<_, _>>()?;
//! let chains: Vec<ChainHistory<'_>> = town
//!     .iter()
//!     .map(|readings| ChainHistory::new("town", readings))
//!     .chain(cargo.iter().map(|readings| ChainHistory::new("cargo", readings)))
//!     .collect();
//! let fleet = fit(&chains, &WearParameters::default(), &InstrumentCalibrations::default());
//! let rate = |group: &str| fleet.groups[group].mean_log_rate.exp();
//! // Nobody says that the dial is right: some of what it read is put down to that.
//! assert!((rate("town") / 0.187e-3 - 1.0).abs() < 0.2);
//! // Pulled towards the fleet, and less sure of itself.
//! assert!(rate("town") < rate("cargo") && rate("cargo") < 0.25e-3);
//! assert!(fleet.groups["cargo"].mean_log_rate_sd > fleet.groups["town"].mean_log_rate_sd);
//! # Ok(())
//! # }
//! ```
//!
//! # Who is on the bench
//!
//! [`bench::plan`] puts jobs on days within minutes and parts, and proves how far from the best plan it can be.
//!
//! ```
//! use std::collections::BTreeMap;
//! use wear_core::bench::{Arrival, BenchDay, Day, Job, PlanStatus, Problem, plan};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let job = |id: &str, due: i32| Job {
//!     id: id.to_owned(),
//!     minutes: 20.0,
//!     bike: None,
//!     parts: BTreeMap::from([("chain-8s".to_owned(), 1)]),
//!     earliest: None,
//!     away: Vec::new(),
//!     due: Day(due),
//!     cost_early_per_day: 1.0,
//!     cost_late_per_day: 3.0,
//!     cost_left_out: 100.0,
//!     pinned: None,
//! };
//! let days = (1..=3).map(|day| BenchDay { day: Day(day), minutes: 20.0 }).collect();
//! let arrivals = vec![Arrival { part: "chain-8s".to_owned(), day: Day(2), count: 2 }];
//! let found = plan(&Problem::new(days, arrivals, vec![job("041", 1), job("042", 2)])?);
//! // One a day, and no chain before the second day: one is a day late, the other too.
//! assert_eq!(found.status, PlanStatus::Optimal);
//! assert_eq!((found.cost, found.bound), (6.0, 6.0));
//! # Ok(())
//! # }
//! ```
//!
//! # A picture
//!
//! `cargo run -p wear-core --example posterior_picture` draws what was known of a chain over its life, and what is
//! expected after its last reading. Bands hold 50, 80 and 98 % of the probability.
#![doc = "<div>"]
#![doc = include_str!("../doc/posterior.svg")]
#![doc = "</div>"]
//!
//! # Features, compiler, stability
//!
//! - `serde`, off by default: `Serialize` and `Deserialize` on vocabularies, units and the plain data types. A unit is
//!   checked when it is read.
//! - The oldest compiler is Rust 1.94 (`rust-version`); raising it is a minor version.
//! - What is handed in (`…Facts`, `Job`, `Costs`, `TrackPoint`) is a plain struct, so that the compiler asks for each
//!   fact: another fact is a major version. What is handed out, and every error, is `#[non_exhaustive]` where it may
//!   grow; closed vocabularies (`Surface`, `Instrument`, `Advice`) aren't, as a caller has to have a word for each.
//! - The same input gives the same output, bit for bit on one machine. No legal input panics; numbers that would
//!   overflow are refused by their type or end in a finite answer.
//! - [`degradation::Posterior::checkpoint`] writes versioned bytes; an older version is refused by name, never
//!   misread.

pub mod bench;
pub mod bike;
pub mod bounds;
pub mod degradation;
#[doc = include_str!("../DESIGN.md")]
pub mod design {}
pub mod drivetrain;
pub mod exposure;
pub mod fleet;
pub mod forecast;
pub mod knock_on;
mod numeric;
pub mod policy;
pub mod reading;
pub mod sentences;
pub mod units;
pub mod vocabulary;

pub use bike::{Bike, Chain, ChainStart, Moment, Outlook, Reading, Ride};
pub use drivetrain::Drivetrain;
pub use exposure::care::CareKind;
pub use exposure::{Surface, Use};
pub use fleet::Fleet;
pub use forecast::{Advice, Reason};

/// The README's program runs as a test.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
