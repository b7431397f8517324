//! A fleet that learns from its own chains.

use std::sync::Arc;

use super::calibration::{ChainHistory, FleetFit, fit};
use super::multipliers::{self, ContextExposure, ExposedChain, ExposedReading, MultiplierFit};
use super::{Days, LubricantEffects, LubricantShare, ReadWith};
use crate::bike::{ChainRecord, Rate, RateSource};
use crate::degradation::{Start, TimedReading, WearParameters};
use crate::exposure::Conditions;
use crate::reading::{InstrumentCalibrations, Measurement};
use crate::units::{LogSd, ReferenceKilometres};

/// Chains of a fleet with their readings, by group: bikes of one use with chains of one model, say.
///
/// ```
/// use wear_core::{Chain, Drivetrain, Fleet, Reading, Ride, Use};
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let bike = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
/// // Forty chains after 100 rides of 20 km, at 1.0 % and more: far beyond what the defaults expect.
/// let mut fleet = Fleet::default();
/// for chain_number in 0..40 {
///     let mut chain = Chain::new(&bike, Use::Town);
///     for day in 0..100 {
///         chain.ride(day, Ride::km(20.0)?);
///     }
///     chain.read(100, Reading::dial(&[1.0 + 0.002 * f64::from(chain_number)])?);
///     fleet.add("hire bikes", &chain.record(100));
/// }
/// let learned = fleet.learn();
/// // A chain that nobody has measured yet profits from the others.
/// let mut unread = Chain::new(&bike, Use::Town);
/// for day in 0..100 {
///     unread.ride(day, Ride::km(20.0)?);
/// }
/// let before = unread.outlook(100, 0.75)?.remaining_km.ok_or("never ridden")?;
/// let after = unread.with_rate(learned.rate("hire bikes")).outlook(100, 0.75)?.remaining_km.ok_or("never ridden")?;
/// assert!(after.p50 < 0.8 * before.p50);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, Default)]
pub struct Fleet {
    calibrations: InstrumentCalibrations,
    chains: Vec<Chain>,
}

/// A chain of a fleet.
#[derive(Debug, Clone)]
struct Chain {
    group: String,
    start: Start,
    bike: Option<String>,
    readings: Vec<TimedReading>,
    read_with: Vec<ReadWith>,
    begun: Option<i32>,
    read_on: Vec<i32>,
    model: Option<String>,
    lubricants: Vec<LubricantShare>,
    /// The exposure at each reading by context; empty where only its sum is known.
    by_context: Vec<ContextExposure>,
}

impl Chain {
    fn history(&self) -> ChainHistory<'_> {
        let Self {
            group,
            start,
            bike,
            readings,
            read_with,
            begun,
            read_on,
            model,
            lubricants,
            by_context: _,
        } = self;
        let history = ChainHistory::new(group, readings)
            .starting(*start)
            .read_with(read_with)
            .on_days(Days { begun: *begun, read: read_on })
            .lubricated(lubricants);
        ChainHistory { bike: bike.as_deref(), model: model.as_deref(), ..history }
    }
}

impl Fleet {
    /// A fleet whose instruments err in their own way.
    #[must_use]
    pub const fn with_instruments(calibrations: InstrumentCalibrations) -> Self {
        Self { calibrations, chains: Vec::new() }
    }

    /// One more chain, on or off, new or as found.
    pub fn add(&mut self, group: impl Into<String>, chain: &ChainRecord) {
        let (readings, group) = (chain.timed_readings(), group.into());
        let readings: Vec<TimedReading> =
            readings.iter().map(|reading| TimedReading::new(reading.at, reading.measurement)).collect();
        let lubricants = chain.read_under().pop().map(|(_, shares)| shares).unwrap_or_default();
        let history = ChainHistory::new(&group, &readings).starting(chain.begins());
        self.add_history(&history.lubricated(&lubricants));
    }

    /// One more chain that was new when its record began, of which the exposure at each reading is known.
    pub fn add_readings(
        &mut self,
        group: impl Into<String>,
        readings: impl IntoIterator<Item = (ReferenceKilometres, Measurement)>,
    ) {
        self.add_readings_starting(group, Start::New, readings);
    }

    /// The same of a chain whose record begins so; see [`ChainHistory::starting`].
    pub fn add_readings_starting(
        &mut self,
        group: impl Into<String>,
        start: Start,
        readings: impl IntoIterator<Item = (ReferenceKilometres, Measurement)>,
    ) {
        let readings = readings.into_iter().map(|(at, measurement)| TimedReading::new(at, measurement));
        let readings: Vec<TimedReading> = readings.collect();
        self.add_history(&ChainHistory { start, ..ChainHistory::new(&group.into(), &readings) });
    }

    /// One more chain with all that is known of it: its bike, its model, its lubricants, and when, with what and by whom each
    /// reading was taken.
    pub fn add_history(&mut self, chain: &ChainHistory<'_>) {
        self.add_history_by_context(chain, &[]);
    }

    /// The same with the exposure at each reading by context, from which [`Fleet::learn_conditions`] learns what surface,
    /// water and neglect do. Without it exposure counts as dry pavement's.
    pub fn add_history_by_context(&mut self, chain: &ChainHistory<'_>, by_context: &[ContextExposure]) {
        let ChainHistory { group, readings, start, bike, read_with, days, model, lubricants } = *chain;
        self.chains.push(Chain {
            group: group.to_owned(),
            start,
            bike: bike.map(str::to_owned),
            readings: readings.to_vec(),
            read_with: read_with.to_vec(),
            begun: days.begun,
            read_on: days.read.to_vec(),
            model: model.map(str::to_owned),
            lubricants: lubricants.to_vec(),
            by_context: by_context.to_vec(),
        });
    }

    /// Chains with at least one reading.
    #[must_use]
    pub fn chains_read(&self) -> usize {
        self.chains.iter().filter(|chain| !chain.readings.is_empty()).count()
    }

    /// What the chains say of how fast each group wears; see [`super::calibration`].
    #[must_use]
    pub fn learn(&self) -> Learned {
        let chains: Vec<ChainHistory<'_>> = self.chains.iter().map(Chain::history).collect();
        Learned(fit(&chains, &WearParameters::default(), &self.calibrations))
    }

    /// The same together with what they say of surface, water, trainers and neglect; see [`super::multipliers`]. Rates are
    /// of exposures by what was learned.
    #[must_use]
    pub fn learn_conditions(&self) -> MultiplierFit {
        let exposed = |chain: &Chain| {
            let known = chain.by_context.iter().copied().map(Some).chain(std::iter::repeat(None));
            let readings = chain.readings.iter().zip(known).map(|(reading, known)| ExposedReading {
                exposure: known.unwrap_or_else(|| ContextExposure::unknown(reading.at)),
                measurement: reading.measurement,
                exposure_ln_sd: LogSd::ZERO,
            });
            readings.collect::<Vec<_>>()
        };
        let readings: Vec<Vec<ExposedReading>> = self.chains.iter().map(exposed).collect();
        let chains = self.chains.iter().zip(&readings).map(|(chain, readings)| ExposedChain {
            bike: chain.bike.as_deref(),
            read_with: &chain.read_with,
            days: Days { begun: chain.begun, read: &chain.read_on },
            model: chain.model.as_deref(),
            lubricants: &chain.lubricants,
            ..ExposedChain::new(&chain.group, readings).starting(chain.start)
        });
        let believed = Conditions::default();
        multipliers::fit(
            &chains.collect::<Vec<_>>(),
            &WearParameters::default(),
            &self.calibrations,
            believed.multipliers(),
            believed.care(),
        )
    }
}

/// What a fleet has learned.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned(FleetFit);

impl Learned {
    /// The rate for a bike's chains: its group's, else the fleet's, with what lubricants make of it.
    #[must_use]
    pub fn rate(&self, group: &str) -> Rate {
        let read = |count: usize| count as u64;
        let source = match self.0.groups.get(group) {
            Some(fit) => RateSource::Group { group: group.to_owned(), chains_read: read(fit.chains_read) },
            None => RateSource::Fleet {
                chains_read: read(self.0.groups.values().map(|fit| fit.chains_read).sum()),
            },
        };
        let lubricants = LubricantEffects::of(&self.0.terms, &self.0.usual(group));
        Rate::new(*self.0.parameters(group), source).with_lubricants(lubricants.map(Arc::new))
    }

    /// All of it, group by group.
    #[must_use]
    pub const fn fit(&self) -> &FleetFit {
        &self.0
    }
}
