//! A bike with all that happened to its drivetrain.

use std::sync::Arc;

use super::assess::Assessment;
use super::chain::{ChainRecord, ChainStart};
use super::log::{Log, LogOf};
use super::outlook::Outlook;
use super::trials::Span;
use super::usual::UsualRiding;
use super::{Declared, Moment, Rate, Reading, Ride, RideTotals, Warning};
use crate::bounds::OutOfRange;
use crate::drivetrain::{Drivetrain, Teeth};
use crate::exposure::care::CareKind;
use crate::exposure::care_habit::CareHabit;
use crate::exposure::{Conditions, ExposureModel, Use};
use crate::forecast::UsualYear;
use crate::knock_on::{CassetteBuild, CassetteLife, SkipThreshold, SwapReason};
use crate::policy::PartPrices;
use crate::reading::InstrumentCalibrations;
use crate::units::{Kilometres, Limit, Probability};

/// Risk of being over the limit that is accepted where nobody said (A).
const USUAL_RISK: f64 = 0.2;

/// A bike: rides, care, readings and swaps go in, in any order, and an outlook comes out.
///
/// Chain, cassette and rings count as new at the first event (unless [`Bike::starting`] says otherwise), or when [`Bike::swap_chain`] and its like say so. Whatever
/// the order in which events are given, the answer is the same. Give it only what was known on the day that you ask
/// for: events after that day count as well.
///
/// ```
/// use wear_core::{Bike, CareKind, Drivetrain, Reading, Ride, Use};
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let mut bike = Bike::new(Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?, Use::Town);
/// for day in 0..300 {
///     bike.ride(day, Ride::km(18.4)?.climb_m(120.0)?.wet(day % 6 == 0));
/// }
/// for day in (14..300).step_by(14) {
///     bike.care(day, CareKind::CleanedAndLubricated);
/// }
/// bike.read(119, Reading::drop_in(0.75, true)?);
/// bike.swap_chain(120);
/// bike.read(290, Reading::rule_mm(24, 306.0)?);
/// let outlook = bike.outlook(300);
/// println!("{outlook}; because: {}", outlook.reason);
/// let cassette = outlook.cassette.ok_or("no cassette")?;
/// assert!(cassette.probability_skips < 0.6);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone)]
pub struct Bike {
    pub(super) drivetrain: Drivetrain,
    pub(super) usage: Use,
    pub(super) limit: Option<Limit>,
    pub(super) risk: f64,
    pub(super) prices: PartPrices,
    pub(super) rate: Rate,
    pub(super) calibrations: InstrumentCalibrations,
    /// Chains that were given whole, oldest first; the last is on if `chain_is_on`.
    pub(super) chains: Vec<ChainRecord>,
    pub(super) chain_is_on: bool,
    pub(super) log: Log,
    /// How the first of the log's chains begins.
    pub(super) first_chain: ChainStart,
    /// What is known of its care, where somebody said.
    pub(super) care: Option<CareHabit>,
    pub(super) assumed_drivetrain: bool,
    pub(super) declared_per_week: Option<Kilometres>,
    pub(super) group_km_per_reference_km: Option<f64>,
    pub(super) usual_year: UsualYear,
    conditions: Conditions,
    pub(super) warnings: Vec<Warning>,
    pub(super) cassette: Sprockets,
    /// As it was before the first swap.
    first_cassette: Option<Sprockets>,
    cassette_swaps: Vec<(Moment, Option<SwapReason>)>,
    removed_cassettes: Vec<(Sprockets, Moment, Option<SwapReason>)>,
    pub(super) cassette_build: CassetteBuild,
    pub(super) skip_threshold: SkipThreshold,
    pub(super) rings: Sprockets,
    pub(super) skips: Vec<SkipReport>,
}

/// Since when a cassette, or rings, have been on a bike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sprockets {
    /// Since the bike's first event.
    SinceTheBeginning,
    /// Since a moment.
    Since(Moment),
    /// On the bike, and of an age that nobody knows, at a moment: when its record begins.
    AsFound(Moment),
    /// They aren't on record.
    Unrecorded,
}

/// A skip under load that was reported of the cassette.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SkipReport {
    /// When.
    pub reported_at: Moment,
    /// Teeth of the cog; none where nobody said, which tells only on a bike with one cog.
    pub cog: Option<Teeth>,
    /// Whether it was tried with a new chain.
    pub new_chain: bool,
}

impl Bike {
    /// A bike with a new chain, cassette and rings, of which nothing else is known.
    #[must_use]
    pub fn new(drivetrain: Drivetrain, usage: Use) -> Self {
        Self {
            drivetrain,
            usage,
            limit: None,
            risk: USUAL_RISK,
            prices: PartPrices::default(),
            rate: Rate::default(),
            calibrations: InstrumentCalibrations::default(),
            chains: Vec::new(),
            chain_is_on: true,
            log: Log::default(),
            first_chain: ChainStart::New,
            care: None,
            assumed_drivetrain: false,
            declared_per_week: None,
            group_km_per_reference_km: None,
            usual_year: UsualYear::default(),
            conditions: Conditions::default(),
            warnings: Vec::new(),
            cassette: Sprockets::SinceTheBeginning,
            first_cassette: None,
            cassette_swaps: Vec::new(),
            removed_cassettes: Vec::new(),
            cassette_build: CassetteBuild::OnePiece,
            skip_threshold: SkipThreshold::ASSUMED,
            rings: Sprockets::SinceTheBeginning,
            skips: Vec::new(),
        }
    }

    /// It was ridden.
    pub fn ride(&mut self, at: impl Into<Moment>, ride: Ride) {
        let totals = ride.totals(&self.drivetrain, self.usage, &ExposureModel::default());
        self.ridden(at, totals);
    }

    /// It was ridden: sums that were computed before.
    pub fn ridden(&mut self, at: impl Into<Moment>, totals: RideTotals) {
        self.log.rides.push((at.into(), totals));
    }

    /// Its drivetrain was looked after.
    pub fn care(&mut self, at: impl Into<Moment>, kind: CareKind) {
        self.cared(at.into(), kind, None);
    }

    /// The same with a lubricant of that name, under which it is ridden until the next care.
    pub fn care_with(&mut self, at: impl Into<Moment>, kind: CareKind, lubricant: impl Into<Arc<str>>) {
        self.cared(at.into(), kind, Some(lubricant.into()));
    }

    fn cared(&mut self, at: Moment, kind: CareKind, lubricant: Option<Arc<str>>) {
        self.log.care.push((at, kind));
        self.log.lubricants.push((at, lubricant));
    }

    /// Its chain was measured. A reading at the moment of a swap is the old chain's.
    pub fn read(&mut self, at: impl Into<Moment>, reading: impl Into<Reading>) {
        self.log.readings.push((at.into(), reading.into()));
    }

    /// A new chain was put on. A ride at the moment of a swap is on the new chain.
    pub fn swap_chain(&mut self, at: impl Into<Moment>) {
        self.log.chain_swaps.push(at.into());
    }

    /// A new cassette was put on: the latest counts.
    pub fn swap_cassette(&mut self, at: impl Into<Moment>) {
        self.swap_cassette_as(at.into(), None);
    }

    /// The same with why the old one came off, which tells a fleet how much cassettes bear.
    pub fn swap_cassette_because(&mut self, at: impl Into<Moment>, reason: SwapReason) {
        self.swap_cassette_as(at.into(), Some(reason));
    }

    fn swap_cassette_as(&mut self, at: Moment, reason: Option<SwapReason>) {
        self.first_cassette.get_or_insert(self.cassette);
        self.cassette_swaps.push((at, reason));
        self.cassette = self.cassette.later(at);
    }

    /// A cassette that was on from its fitting to a moment, where they are given one by one as chains are.
    pub fn add_removed_cassette(
        &mut self,
        fitted: Sprockets,
        removed_at: Moment,
        reason: Option<SwapReason>,
    ) {
        self.removed_cassettes.push((fitted, removed_at, reason));
    }

    /// New rings were put on: the latest count.
    pub fn swap_rings(&mut self, at: impl Into<Moment>) {
        self.rings = self.rings.later(at.into());
    }

    /// Its odometer showed that total. What rides don't account for between two statements is unlogged distance.
    pub fn odometer(&mut self, at: impl Into<Moment>, total: Kilometres) {
        self.log.odometer.push((at.into(), total));
    }

    /// Somebody said how far it goes: counts where neither rides nor odometer say.
    pub fn declare(&mut self, declared: Declared) {
        self.log.declared.push(declared);
    }

    /// The chain skipped under load.
    pub fn skipped(&mut self, report: SkipReport) {
        self.skips.push(report);
    }

    /// A chain with its life, which may have been on other bikes: oldest first, the one that is on last.
    pub fn add_chain(&mut self, chain: ChainRecord) {
        self.chains.push(chain);
    }

    /// The last chain came off, and none is on.
    #[must_use]
    pub fn without_chain(self) -> Self {
        Self { chain_is_on: false, ..self }
    }

    /// The same with a chain that was on when the record begins, in place of a new one. Chains that were swapped on
    /// later are new.
    #[must_use]
    pub fn starting(self, first_chain: ChainStart) -> Self {
        Self { first_chain, ..self }
    }

    /// The same with what is known of its care. Without it care is unrecorded up to the first entry, and recorded from
    /// it on. Chains that are given whole bring their own.
    #[must_use]
    pub fn with_care_habit(self, care: CareHabit) -> Self {
        Self { care: Some(care), ..self }
    }

    /// The same where its drivetrain is assumed, as nobody entered it.
    #[must_use]
    pub fn with_assumed_drivetrain(self) -> Self {
        Self { assumed_drivetrain: true, ..self }
    }

    /// The same with how far it is said to go a week now, for the days ahead. [`Bike::declare`] says it for those behind
    /// as well.
    #[must_use]
    pub fn with_declared_km_per_week(self, per_week: Option<Kilometres>) -> Self {
        Self { declared_per_week: per_week, ..self }
    }

    /// The same with kilometres per reference kilometre of its group, for a bike that was never ridden on record.
    #[must_use]
    pub fn with_group_km_per_reference_km(self, ratio: Option<f64>) -> Self {
        Self { group_km_per_reference_km: ratio.filter(|ratio| ratio.is_finite() && *ratio > 0.0), ..self }
    }

    /// The same with how a year goes for its group or workshop. Days of its events are then counted since 1970-01-01, where
    /// it is ridden.
    #[must_use]
    pub fn with_usual_year(self, usual_year: UsualYear) -> Self {
        Self { usual_year, ..self }
    }

    /// The same with what a fleet has learned of surface, water, trainers and neglect.
    #[must_use]
    pub fn with_conditions(self, conditions: Conditions) -> Self {
        Self { conditions, ..self }
    }

    pub(super) const fn conditions(&self) -> &Conditions {
        &self.conditions
    }

    /// What is usual for its use.
    pub(super) fn usual_riding(&self) -> UsualRiding {
        UsualRiding::of(&self.drivetrain, self.usage, &self.conditions)
    }

    /// The same with what a person should know of its record besides.
    #[must_use]
    pub fn with_warnings(mut self, warnings: impl IntoIterator<Item = Warning>) -> Self {
        self.warnings.extend(warnings);
        self
    }

    /// The same with another limit than its drivetrain's usual one.
    #[must_use]
    pub fn with_limit(self, limit: Limit) -> Self {
        Self { limit: Some(limit), ..self }
    }

    /// The same with another accepted risk of being over the limit than 0.2.
    #[must_use]
    pub fn with_risk(self, risk: Probability) -> Self {
        Self { risk: risk.get(), ..self }
    }

    /// The same with prices of its parts and of the work on it.
    #[must_use]
    pub fn with_prices(self, prices: PartPrices) -> Self {
        Self { prices, ..self }
    }

    /// The same with what a fleet has learned.
    #[must_use]
    pub fn with_rate(self, rate: Rate) -> Self {
        Self { rate, ..self }
    }

    /// The same with a workshop's own instruments.
    #[must_use]
    pub fn with_instruments(self, calibrations: InstrumentCalibrations) -> Self {
        Self { calibrations, ..self }
    }

    /// The same with a cassette of that build, on record since then or not at all.
    #[must_use]
    pub fn with_cassette(self, cassette: Sprockets, build: CassetteBuild) -> Self {
        Self { cassette, cassette_build: build, ..self }
    }

    /// The same with how much damage a fleet has learned that cassettes bear.
    #[must_use]
    pub fn with_skip_threshold(self, skip_threshold: SkipThreshold) -> Self {
        Self { skip_threshold, ..self }
    }

    /// The same with rings on record since then, or not at all.
    #[must_use]
    pub fn with_rings(self, rings: Sprockets) -> Self {
        Self { rings, ..self }
    }

    /// Elongation at which its chain comes off: its own limit, else its drivetrain's usual one.
    #[must_use]
    pub fn limit(&self) -> Limit {
        self.limit.unwrap_or_else(|| self.drivetrain.default_limit())
    }

    /// What is known of it at a moment, in full.
    #[must_use]
    pub fn assess(&self, now: impl Into<Moment>) -> Assessment {
        Assessment::of(self, now.into())
    }

    /// What its cassettes went through by a moment, those that were new and not found on it, the present one last: what a
    /// fleet learns from ([`crate::fleet::cassettes`]).
    #[must_use]
    pub fn cassette_lives(&self, now: impl Into<Moment>) -> Vec<CassetteLife> {
        Assessment::cassette_lives(self, now.into())
    }

    /// Its outlook at a moment.
    #[must_use]
    pub fn outlook(&self, now: impl Into<Moment>) -> Outlook {
        self.assess(now).into_outlook()
    }

    /// When each of its cassettes was on, in order of time; its first event was at `beginning`.
    pub(super) fn cassette_spans(&self, beginning: Moment) -> Vec<Span> {
        let span = |fitted: Sprockets, until: Option<Moment>, reason| {
            let since = fitted.since(beginning)?;
            Some(Span { since, until, as_found: fitted.are_as_found(), reason })
        };
        let given = self.removed_cassettes.iter();
        let mut spans: Vec<Span> =
            given.filter_map(|&(fitted, until, reason)| span(fitted, Some(until), reason)).collect();
        let mut swaps = self.cassette_swaps.clone();
        swaps.sort_unstable();
        swaps.dedup_by_key(|(at, _)| *at);
        let mut on = self.first_cassette.unwrap_or(self.cassette);
        for (at, reason) in swaps {
            spans.extend(span(on, Some(at), reason).filter(|span| span.since < at));
            on = Sprockets::Since(at);
        }
        spans.extend(span(on, None, None));
        spans.sort_by_key(|span| span.since);
        spans
    }

    /// All of its chains by `now`, oldest first.
    pub(super) fn chains_by(&self, now: Moment) -> Vec<ChainRecord> {
        let mut chains = self.chains.clone();
        if chains.is_empty() {
            chains.extend(self.log.chains(self.log_of(), now));
        }
        if self.assumed_drivetrain {
            chains = chains.into_iter().map(ChainRecord::on_assumed_drivetrain).collect();
        }
        chains.into_iter().map(|chain| chain.under(self.conditions)).collect()
    }

    const fn log_of(&self) -> LogOf<'_> {
        LogOf {
            drivetrain: &self.drivetrain,
            usage: self.usage,
            first_chain: self.first_chain,
            care: self.care,
        }
    }

    /// What a person should know of its record, besides what its chains tell.
    pub(super) fn notices(&self, now: Moment) -> Vec<Warning> {
        let mut notices = self.warnings.clone();
        if self.chains.is_empty() {
            notices.extend(self.log.unlogged(self.log_of(), now).warnings);
        }
        notices
    }

    /// Distance that it is said to go a week at a moment.
    pub(super) fn declared_at(&self, now: Moment) -> Option<f64> {
        let holds = |one: &&Declared| {
            one.from.is_none_or(|from| from <= now) && one.until.is_none_or(|until| now < until)
        };
        let latest = self.log.declared.iter().filter(holds).max_by_key(|one| one.from);
        self.declared_per_week.or(latest.map(|one| one.per_week)).map(Kilometres::get)
    }
}

impl Sprockets {
    fn later(self, at: Moment) -> Self {
        match self {
            Self::Since(known) if known > at => self,
            _ => Self::Since(at),
        }
    }

    /// The moment, on a bike whose first event was at `beginning`; none where they aren't on record.
    pub(super) fn since(self, beginning: Moment) -> Option<Moment> {
        match self {
            Self::SinceTheBeginning => Some(beginning),
            Self::Since(at) | Self::AsFound(at) => Some(at),
            Self::Unrecorded => None,
        }
    }

    pub(super) const fn are_as_found(self) -> bool {
        matches!(self, Self::AsFound(_))
    }
}

/// One chain, where nothing is to be said of cassette and rings.
///
/// It counts as new at its first event.
///
/// ```
/// use wear_core::{Chain, Drivetrain, Reading, Use};
///
/// // Nothing but three readings at known distances: one ride stands for each stretch.
/// # use wear_core::Ride;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let bike = Drivetrain::derailleur([50, 34], [11, 12, 13, 14, 15, 17, 19, 21, 24, 28, 32], 112)?;
/// let mut chain = Chain::new(&bike, Use::Road);
/// for (day, km, percent) in [(30, 600.0, 0.11), (75, 900.0, 0.22), (120, 850.0, 0.33)] {
///     chain.ride(day - 1, Ride::km(km)?);
///     chain.read(day, Reading::dial(&[percent])?);
/// }
/// let outlook = chain.outlook(120, 0.5)?;
/// let km = outlook.remaining_km.ok_or("no chain")?;
/// println!("{km:.0} km");
/// assert!(km.p10 < km.p50 && km.p50 < km.p90);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone)]
pub struct Chain(Bike);

impl Chain {
    /// A new chain on a bike of this drivetrain and use.
    #[must_use]
    pub fn new(drivetrain: &Drivetrain, usage: Use) -> Self {
        let bike = Bike::new(drivetrain.clone(), usage)
            .with_cassette(Sprockets::Unrecorded, CassetteBuild::OnePiece)
            .with_rings(Sprockets::Unrecorded);
        Self(bike)
    }

    /// It was ridden.
    pub fn ride(&mut self, at: impl Into<Moment>, ride: Ride) {
        self.0.ride(at, ride);
    }

    /// The drivetrain was looked after.
    pub fn care(&mut self, at: impl Into<Moment>, kind: CareKind) {
        self.0.care(at, kind);
    }

    /// The same with a lubricant of that name, under which it is ridden until the next care.
    pub fn care_with(&mut self, at: impl Into<Moment>, kind: CareKind, lubricant: impl Into<Arc<str>>) {
        self.0.care_with(at, kind, lubricant);
    }

    /// It was measured.
    pub fn read(&mut self, at: impl Into<Moment>, reading: impl Into<Reading>) {
        self.0.read(at, reading);
    }

    /// The same chain, which was on when its record begins, in place of a new one.
    ///
    /// ```
    /// use wear_core::{Chain, ChainStart, Drivetrain, Reading, Use};
    ///
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// let bike = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
    /// let mut chain = Chain::new(&bike, Use::Town).starting(ChainStart::AsFound);
    /// chain.read(0, Reading::rule(0.40)?);
    /// let elongation = chain.outlook(0, 0.75)?.elongation_percent.ok_or("no chain")?;
    /// assert!((0.35..0.45).contains(&elongation.p50));
    /// # Ok(())
    /// # }
    /// ```
    #[must_use]
    pub fn starting(self, start: ChainStart) -> Self {
        Self(self.0.starting(start))
    }

    /// The same with what is known of its care. Without it care is unrecorded up to the first entry, and recorded from
    /// it on.
    #[must_use]
    pub fn with_care_habit(self, care: CareHabit) -> Self {
        Self(self.0.with_care_habit(care))
    }

    /// The bike's odometer showed that total.
    pub fn odometer(&mut self, at: impl Into<Moment>, total: Kilometres) {
        self.0.odometer(at, total);
    }

    /// The same with what a fleet has learned.
    #[must_use]
    pub fn with_rate(self, rate: Rate) -> Self {
        Self(self.0.with_rate(rate))
    }

    /// Its outlook at a moment, held against a limit, percent elongation.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`crate::bounds::LIMIT`].
    pub fn outlook(&self, now: impl Into<Moment>, limit_percent: f64) -> Result<Outlook, OutOfRange> {
        let limit = Limit::new(limit_percent)?;
        Ok(self.0.clone().with_limit(limit).outlook(now))
    }

    /// What happened to it by a moment, and how its record begins, for [`crate::Fleet`].
    #[must_use]
    pub fn record(&self, now: impl Into<Moment>) -> ChainRecord {
        let bike = &self.0;
        let record = bike.chains_by(now.into()).pop().unwrap_or_else(|| ChainRecord::new(Vec::new()));
        record.begun(bike.limit(), || bike.usual_riding())
    }
}
