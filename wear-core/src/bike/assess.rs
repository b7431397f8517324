//! From a bike's events to its outlook.

use std::collections::BTreeSet;

use super::bike::{Bike, Sprockets};
use super::chain::{ChainRecord, ChainStart, KnownChain};
use super::doubt::{Advising, ChainNow};
use super::knock_on::{OnBike, SprocketWear};
use super::next_swap::{NextSwap, SwapFacts};
use super::outlook::{
    Assumption, Basis, CassetteBasis, CurvePoint, DriverShare, EnergySourcePercent, KilometresFrom, Outlook,
    StartKnown,
};
use super::ridden_under::RiddenUnder;
use super::timeline::{Accrued, ExposedDay};
use super::trials::{Met, Span, Trials};
use super::{Moment, RateSource, Warning};
use crate::degradation::{AsFound, Outlook as LifeAhead, Posterior, Start};
use crate::drivetrain::Teeth;
use crate::exposure::odometer::DECLARED_LN_SD;
use crate::exposure::{self, Conditions, Context, ExposureSum};
use crate::fleet::LubricantShare;
use crate::fleet::multipliers::ReadExposure;
use crate::forecast::{
    Advice, DailyUse, DistancesAhead, MORE_LIKELY_THAN_NOT, Reason, SEASON_DAYS, UseForecast, UseHistory,
    WINDOW_DAYS,
};
use crate::knock_on::CassetteLife;
use crate::units::ReferenceKilometres;

/// Days without any riding on record after which a chain's state counts as unknown (A).
const UNKNOWN_AFTER_DAYS: f64 = 28.0;

/// What is known of a bike at a moment.
#[derive(Debug)]
pub struct Assessment {
    outlook: Outlook,
    next_swap: NextSwap,
    chains: Vec<KnownChain>,
    on: Option<usize>,
    usage: Option<UseForecast>,
    days: Vec<ExposedDay>,
    now: Moment,
}

impl Assessment {
    pub(super) fn of(bike: &Bike, now: Moment) -> Self {
        let records = bike.chains_by(now);
        let beginning = records.iter().filter_map(|chain| chain.fitted_at()).min().unwrap_or(now);
        let cassette_since = bike.cassette.since(beginning);
        let rings_since = bike.rings.since(beginning);
        let sprockets: Vec<Moment> = [cassette_since, rings_since].into_iter().flatten().collect();
        let mut chains = known_chains(bike, records, &sprockets, now);
        let days = days_of(&chains);
        let recent = recent_mix(&days, now);
        for chain in &mut chains {
            chain.look_ahead(&recent);
        }
        let on = if bike.chain_is_on { chains.len().checked_sub(1) } else { None };
        let around = Around { bike, chains: &chains, cassette_since, rings_since, now };
        let usage = use_forecast(&days, beginning, now, bike);
        let (outlook, next_swap) = match on.map(|place| &chains[place]) {
            Some(chain) => around.with_chain(chain, usage),
            None => (around.without_chain(), NextSwap::NONE),
        };
        Self { outlook, next_swap, chains, on, usage, days, now }
    }

    /// What the bike's cassettes went through, those that were new, the present one last.
    pub(super) fn cassette_lives(bike: &Bike, now: Moment) -> Vec<CassetteLife> {
        let records = bike.chains_by(now);
        let beginning = records.iter().filter_map(|chain| chain.fitted_at()).min().unwrap_or(now);
        let spans = bike.cassette_spans(beginning);
        let marks: BTreeSet<Moment> =
            spans.iter().flat_map(|span| [Some(span.since), span.until]).flatten().collect();
        let chains = known_chains(bike, records, &marks.into_iter().collect::<Vec<_>>(), now);
        let on_bike = OnBike { drivetrain: &bike.drivetrain, usage: bike.usage, limit: bike.limit() };
        let lives = spans.iter().filter_map(|span| on_bike.cassette_life(&chains, span, &bike.skips));
        lives.collect()
    }

    /// The outlook.
    #[must_use]
    pub const fn outlook(&self) -> &Outlook {
        &self.outlook
    }

    /// The outlook alone.
    #[must_use]
    pub fn into_outlook(self) -> Outlook {
        self.outlook
    }

    /// When the next swap comes and what it uses.
    #[must_use]
    pub const fn next_swap(&self) -> &NextSwap {
        &self.next_swap
    }

    /// Exposure of each chain by now or by its removal, reference km, and at each of its readings that fell into its
    /// life: the reading's place in the chain's record, and the exposure.
    pub fn exposures(&self) -> impl Iterator<Item = (ReferenceKilometres, Vec<(usize, ReadExposure)>)> + '_ {
        self.chains.iter().map(|chain| (chain.recorded_at(), chain.recorded.clone()))
    }

    /// What each chain was ridden under up to its last reading, by shares of its exposure by then: what a fleet learns from, with
    /// [`Assessment::exposures`].
    pub fn read_under(&self) -> impl Iterator<Item = Vec<LubricantShare>> + '_ {
        self.chains.iter().map(KnownChain::read_under)
    }

    /// What each chain was ridden under by now or by its removal.
    pub fn ridden_under(&self) -> impl Iterator<Item = &RiddenUnder> {
        self.chains.iter().map(|chain| &chain.accrued.under)
    }

    /// What the lubricant that the present chain is ridden under makes of its wear over what is usual for its group, as a
    /// factor; none where it isn't known which that is, and where nothing was learned of it.
    #[must_use]
    pub fn lubricant_factor(&self) -> Option<f64> {
        self.on()?.lubricant_factor()
    }

    /// How the record of each chain begins: what a fleet learns from, with [`Assessment::exposures`].
    pub fn starts(&self) -> impl Iterator<Item = Start> + '_ {
        self.chains.iter().map(|chain| chain.posterior.parameters().start())
    }

    /// The chain that is on, by what is known of it.
    pub(super) fn on(&self) -> Option<&KnownChain> {
        self.chains.get(self.on?)
    }

    /// The chains, oldest first.
    pub(super) fn chains(&self) -> &[KnownChain] {
        &self.chains
    }

    /// What is known of the elongation of the chain that is on.
    #[must_use]
    pub fn posterior(&self) -> Option<&Posterior> {
        self.on().map(|chain| &chain.posterior)
    }

    /// The bike's daily use up to the day before, for [`crate::forecast::UsualYear`]; none where it was never ridden. Days of
    /// its events are then counted since 1970-01-01.
    #[must_use]
    pub fn use_history(&self) -> Option<UseHistory> {
        let last = self.now.day().checked_sub(1)?;
        let first = self.days.first()?.day.max(last.saturating_sub(SEASON_DAYS as i64 - 1));
        UseHistory::of(first, &dense(&self.days, first, last))
    }

    pub(super) const fn usage(&self) -> Option<&UseForecast> {
        self.usage.as_ref()
    }

    pub(super) const fn now(&self) -> Moment {
        self.now
    }
}

impl Bike {
    /// How the record of one of its chains begins, `ridden` where anything tells that the bike was.
    pub(super) fn start_of(&self, chain: &ChainRecord, ridden: bool, now: Moment) -> Start {
        // Nobody knows how far a chain went on a bike whose riding was never told: it is as good as found.
        let is_told = ridden || chain.days_on(now) <= UNKNOWN_AFTER_DAYS;
        match chain.start(self.limit(), || self.usual_riding()) {
            Start::New if !is_told => Start::AsFound(AsFound::at_limit(self.limit())),
            told => told,
        }
    }
}

impl Bike {
    /// Its use on each day from its first ride up to the day before, with the first day, counted as
    /// [`Assessment::use_history`] does; none where it was never ridden.
    #[must_use]
    pub fn daily_use(&self, now: impl Into<Moment>) -> Option<(i64, Vec<DailyUse>)> {
        let now = now.into();
        let accrued: Vec<Accrued> = self.chains_by(now).iter().map(|chain| chain.accrued(&[])).collect();
        let days = by_day(accrued.iter().flat_map(|accrued| &accrued.days));
        let first = days.first()?.day;
        Some((first, dense(&days, first, now.day().checked_sub(1)?)))
    }
}

/// What is known of each chain; marked are the moments at which sprockets came on or off.
fn known_chains(bike: &Bike, records: Vec<ChainRecord>, marked: &[Moment], now: Moment) -> Vec<KnownChain> {
    let ridden = records.iter().any(ChainRecord::is_ridden);
    let known = records.into_iter().map(|chain| {
        let start = bike.start_of(&chain, ridden, now);
        KnownChain::of(chain, marked, &bike.rate, &bike.calibrations, (start, now))
    });
    known.collect()
}

/// Days of riding of all chains together: the day of a swap has rides on either.
fn days_of(chains: &[KnownChain]) -> Vec<ExposedDay> {
    by_day(chains.iter().flat_map(|chain| &chain.accrued.days))
}

fn by_day<'a>(exposed: impl Iterator<Item = &'a ExposedDay>) -> Vec<ExposedDay> {
    let mut days: Vec<ExposedDay> = exposed.copied().collect();
    days.sort_by_key(|exposed| exposed.day);
    days.dedup_by(|later, first| {
        let same = later.day == first.day;
        if same {
            first.merge(later);
        }
        same
    });
    days
}

/// What the exposure of the days was made of that the forecast of use rests on.
fn recent_mix(days: &[ExposedDay], now: Moment) -> ExposureSum {
    let first = now.day().saturating_sub(WINDOW_DAYS as i64);
    let mut recent = ExposureSum::default();
    days.iter().filter(|exposed| exposed.day >= first).for_each(|exposed| recent.merge(&exposed.mix));
    recent
}

/// Use of each day from the first to the last, days without a ride included.
fn dense(days: &[ExposedDay], first: i64, last: i64) -> Vec<DailyUse> {
    let mut exposed = days.iter().skip_while(|exposed| exposed.day < first).peekable();
    let used = |day| exposed.next_if(|exposed| exposed.day == day).map_or(DailyUse::default(), |it| it.used);
    (first..=last).map(used).collect()
}

/// Use ahead by the bike's record up to the day before the present one. Where the record is
/// younger than what a forecast rests on, declared use stands for the days before it.
fn use_forecast(days: &[ExposedDay], beginning: Moment, now: Moment, bike: &Bike) -> Option<UseForecast> {
    let last = now.day().checked_sub(1)?;
    let first = beginning.day().max(last.saturating_sub(SEASON_DAYS as i64 - 1));
    let mut used = Vec::new();
    let window = last.saturating_sub(WINDOW_DAYS as i64 - 1);
    if let Some(per_week) = bike.declared_at(now) {
        let km = per_week / 7.0;
        let ratio = bike.usual_riding().km_per_reference_km;
        let before = usize::try_from(first.saturating_sub(window)).unwrap_or(0);
        used.resize(before, DailyUse { km, reference_km: km / ratio });
    }
    let declared_before = used.iter().map(|day| day.km).sum::<f64>();
    let in_window = || days.iter().filter(|exposed| exposed.day >= window);
    let declared = declared_before + in_window().map(|exposed| exposed.declared_km).sum::<f64>();
    let all = declared_before + in_window().map(|exposed| exposed.used.km).sum::<f64>();
    used.extend(dense(days, first, last));
    let forecast = UseForecast::in_usual_year(&used, last, &bike.usual_year)?;
    let share = if all > 0.0 { declared / all } else { 0.0 };
    Some(forecast.known_to(share * DECLARED_LN_SD.get()))
}

/// A bike, with what is known of its chains.
struct Around<'a> {
    bike: &'a Bike,
    /// Oldest first.
    chains: &'a [KnownChain],
    cassette_since: Option<Moment>,
    rings_since: Option<Moment>,
    now: Moment,
}

impl Around<'_> {
    fn without_chain(&self) -> Outlook {
        Outlook {
            advice: Advice::Hold,
            reason: Reason::NoChain,
            limit_percent: self.bike.limit().get(),
            elongation_percent: None,
            remaining_km: None,
            remaining_reference_km: None,
            probability_over_limit: None,
            limit_in_days: None,
            swap_in_days: None,
            measure_in_days: None,
            drivers: Vec::new(),
            cassette: None,
            rings: Vec::new(),
            warnings: vec![Warning::NoChain],
            basis: self.basis(None, None, None),
            curve: Vec::new(),
            explanations: Vec::new(),
        }
    }

    fn with_chain(&self, chain: &KnownChain, usage: Option<UseForecast>) -> (Outlook, NextSwap) {
        let bike = self.bike;
        let limit = bike.limit();
        let (rings, parameters) = (bike.drivetrain.rings().len(), bike.rate.parameters());
        let look = bike.prices.look_costs(rings, parameters, limit, bike.skip_threshold);
        let now = ChainNow::of(chain, limit);
        let life = now.ahead();
        let curve = now.curve(life.remaining.p90);
        if let ChainNow::Agreed(snapshot) = &now {
            chain.knock_on_now(snapshot);
        }
        let over = life.probability_over_limit;
        let advising = Advising { risk: bike.risk, due: look.due_probability(), usage: usage.as_ref() };
        let days = advising.days(&curve);
        let (advice, reason) = match advising.hold(chain, limit) {
            Some(reason) => (Advice::Hold, reason),
            None => advising.advise(&life, &days, chain.posterior.is_contradictory()),
        };
        let (advice, reason) = self.unless_unknown(chain, &life, (advice, reason));
        let due_now = advice == Advice::SwapNow;
        let of_chain = advice;
        let (km_per_reference_km, kilometres_from) = self.kilometres(chain, usage.as_ref());
        let distances = match (usage, kilometres_from) {
            (Some(usage), KilometresFrom::Bike) => usage.distances(),
            _ => DistancesAhead::at(km_per_reference_km),
        };
        let mut warnings = chain.warnings();
        if chain.record.readings().is_empty() {
            warnings.push(Warning::NoReading);
        }
        warnings.extend(bike.notices(self.now));
        warnings.extend(chain.care_silent().map(|since_km| Warning::CareSilent { since_km }));
        let on_bike = OnBike { drivetrain: &bike.drivetrain, usage: bike.usage, limit };
        let of_cassette = self.cassette_since.and_then(|since| {
            let (wear, trials) = self.met(since, bike.cassette, bike.drivetrain.cogs());
            let known = (wear.as_slice(), &trials, bike.cassette.are_as_found());
            let (threshold, price) = (bike.skip_threshold, bike.prices.cassette);
            let told = on_bike.cassette(known, bike.cassette_build, threshold, price, km_per_reference_km);
            told.map(|(report, skipped_when_fitted)| (report, skipped_when_fitted, trials))
        });
        let rings = self.rings_since.map_or_else(Vec::new, |since| {
            let (wear, trials) = self.met(since, bike.rings, &[]);
            on_bike.rings(&wear, &trials, bike.rings.are_as_found())
        });
        let mut told_of_cassette = (advice, reason);
        let mut cassette_basis = None;
        let cassette = of_cassette.map(|(report, skipped_when_fitted, trials)| {
            warnings.extend(trials.reports.iter().map(|(report, teeth)| Warning::SkipReported {
                reported_at: report.reported_at,
                teeth: *teeth,
            }));
            cassette_basis = Some(CassetteBasis {
                learned: bike.skip_threshold.is_learned(),
                chains_held: trials.held(),
                skips_reported: trials.skipped(),
            });
            told_of_cassette = unless_it_skips(told_of_cassette, trials.last, skipped_when_fitted);
            report
        });
        let (advice, reason) = told_of_cassette;
        let next_swap = SwapFacts {
            advice: of_chain,
            swap_in_days: days.swap,
            curve: &curve,
            usage: usage.as_ref(),
            limit,
            parameters: bike.rate.parameters(),
            cassette: cassette.as_ref(),
            rings: &rings,
        }
        .next_swap();
        let outlook = Outlook {
            advice,
            reason,
            limit_percent: limit.get(),
            elongation_percent: Some(life.elongation),
            remaining_km: Some(life.remaining.map(|reference_km| distances.km(reference_km))),
            remaining_reference_km: Some(life.remaining),
            probability_over_limit: Some(over),
            limit_in_days: usage.map(|_| days.limit),
            swap_in_days: if due_now { Some(0) } else { days.swap },
            measure_in_days: match advice {
                Advice::MeasureBy => days.measure.or(Some(0)),
                _ if due_now => None,
                _ => days.measure,
            },
            drivers: drivers(&chain.accrued),
            cassette,
            rings,
            warnings,
            basis: Basis {
                cassette: cassette_basis,
                ..self.basis(Some(chain), usage, Some((km_per_reference_km, kilometres_from)))
            },
            curve: curve
                .points()
                .map(|(ahead, probability_over_limit)| CurvePoint {
                    ahead_km: distances.km(ahead),
                    probability_over_limit,
                })
                .collect(),
            explanations: advising.explanations(chain, limit, km_per_reference_km),
        };
        (outlook, next_swap)
    }

    /// What the chains did to sprockets that have been on since then, and what they did as new ones.
    fn met(&self, since: Moment, fitted: Sprockets, cogs: &[Teeth]) -> (Vec<SprocketWear<'_>>, Trials) {
        let span = Span::present(since, fitted.are_as_found());
        let wear = SprocketWear::during(self.chains, &span);
        let ran: Vec<&KnownChain> = wear.iter().map(|stay| stay.chain).collect();
        let trials = Trials::of(&ran, &span, &self.bike.skips, cogs);
        (wear, trials)
    }

    /// Kilometres per reference kilometre for what lies ahead, and from where they are known.
    fn kilometres(&self, chain: &KnownChain, usage: Option<&UseForecast>) -> (f64, KilometresFrom) {
        let own = usage.map(UseForecast::km_per_reference_km).or_else(|| chain.lifetime_ratio());
        let group = self.bike.group_km_per_reference_km.map(|ratio| (ratio, KilometresFrom::Group));
        let of_use = || self.bike.usual_riding().km_per_reference_km;
        // Declared use alone is counted in the kilometres of the bike's use.
        let own = own.filter(|_| self.chains.iter().any(|chain| chain.accrued.is_ridden_on_record()));
        own.map(|ratio| (ratio, KilometresFrom::Bike))
            .or(group)
            .unwrap_or_else(|| (of_use(), KilometresFrom::Use))
    }

    /// What to do, where the chain is one that somebody has to measure before anything else can be said.
    fn unless_unknown(
        &self,
        chain: &KnownChain,
        life: &LifeAhead,
        (advice, reason): (Advice, Reason),
    ) -> (Advice, Reason) {
        if matches!(advice, Advice::SwapNow | Advice::Hold) {
            return (advice, reason);
        }
        let is_read = !chain.timed.is_empty();
        if chain.record.chain_start() == ChainStart::AsFound && !is_read {
            return (Advice::MeasureBy, Reason::AgeUnknown);
        }
        if let Some(days) = self.days_without_riding(chain) {
            return (Advice::MeasureBy, Reason::RidingUnknown { days });
        }
        if advice != Advice::RideOn {
            return (advice, reason);
        }
        match chain.last_read_percent().filter(|read| *read >= self.bike.limit().get()) {
            Some(read_percent) => {
                (Advice::MeasureBy, Reason::ReadAtLimit { read_percent, likely_percent: life.elongation.p50 })
            }
            None => (advice, reason),
        }
    }

    /// Days since the chain was fitted or last read, where nobody ever said that the bike was ridden and that is long ago.
    fn days_without_riding(&self, chain: &KnownChain) -> Option<u32> {
        if self.chains.iter().any(|chain| chain.accrued.km > 0.0) {
            return None;
        }
        let read = chain.record.readings().iter().map(|(at, _)| *at).max();
        let since = read.or(chain.record.fitted_at())?;
        let days = self.now.days_since(since);
        (days > UNKNOWN_AFTER_DAYS).then_some(days as u32)
    }

    /// Whether its chain was ridden in a context of which the fleet has told nothing.
    fn assumes_contexts(&self, chain: Option<&KnownChain>) -> bool {
        let (known, assumed) = (*self.bike.conditions().multipliers(), *Conditions::default().multipliers());
        let is_assumed = |context: Context| known.get(context) == assumed.get(context);
        match chain {
            Some(chain) => chain.accrued.contexts().any(|it| it != Context::PavedDry && is_assumed(it)),
            None => false,
        }
    }

    fn basis(
        &self,
        chain: Option<&KnownChain>,
        usage: Option<UseForecast>,
        kilometres: Option<(f64, KilometresFrom)>,
    ) -> Basis {
        let mut assumed = Vec::new();
        if self.assumes_contexts(chain) {
            assumed.push(Assumption::ContextMultipliers);
        }
        if self.bike.conditions().care() == Conditions::default().care() {
            assumed.push(Assumption::CareMultiplier);
        }
        assumed.extend([Assumption::Gears, Assumption::KnockOn]);
        let wear_rate_from = self.bike.rate.source().clone();
        if wear_rate_from == RateSource::Default {
            assumed.push(Assumption::WearRate);
        }
        if self.bike.prices.are_assumed() {
            assumed.push(Assumption::Prices);
        }
        let accrued = chain.map(|chain| &chain.accrued);
        let by_source = accrued.map(|accrued| accrued.by_source).unwrap_or_default();
        let total = by_source.measured + by_source.distance_and_climb + by_source.distance;
        let percent = |part: f64| if total > 0.0 { 100.0 * part / total } else { 0.0 };
        if by_source.distance > 0.0 {
            assumed.push(Assumption::WorkPerKilometre);
        }
        if by_source.distance_and_climb > 0.0 {
            assumed.push(Assumption::RiderMass);
        }
        let unlogged = accrued.map(|accrued| accrued.unlogged_km).unwrap_or_default();
        let of_mix = accrued.map(|accrued| accrued.mix).unwrap_or_default();
        let also = [
            (
                chain.is_some_and(|chain| chain.record.chain_start() != ChainStart::New),
                Assumption::AgeAsFound,
            ),
            (self.bike.assumed_drivetrain, Assumption::TypicalDrivetrain),
            (of_mix.rests_on(exposure::Assumption::UnrecordedCare), Assumption::UnrecordedCare),
            (unlogged.by_odometer > 0.0, Assumption::UnloggedDistance),
            (unlogged.since_odometer > 0.0, Assumption::SinceOdometer),
            (unlogged.declared > 0.0 || self.bike.declared_at(self.now).is_some(), Assumption::DeclaredUse),
        ];
        assumed.extend(also.into_iter().filter_map(|(is_so, assumption)| is_so.then_some(assumption)));
        let readings = chain.map_or(&[][..], |chain| chain.record.readings());
        Basis {
            readings_used: u32::try_from(readings.len()).unwrap_or(u32::MAX),
            last_reading_at: readings.iter().map(|(at, _)| *at).max(),
            fitted_at: chain.and_then(|chain| chain.record.fitted_at()),
            distance_km: accrued.map_or(0.0, |accrued| accrued.km),
            reference_km: accrued.map_or(0.0, |accrued| accrued.reference_km),
            energy_source_percent: EnergySourcePercent {
                measured: percent(by_source.measured),
                distance_and_climb: percent(by_source.distance_and_climb),
                distance: percent(by_source.distance),
            },
            reference_km_per_day: usage.map(|usage| usage.reference_km_per_day()),
            km_per_reference_km: kilometres.map(|(ratio, _)| ratio),
            kilometres_from: kilometres.map(|(_, from)| from),
            starts: chain.map(|chain| match chain.record.chain_start() {
                ChainStart::New => StartKnown::New,
                ChainStart::AsFound | ChainStart::AsFoundAfter(_) => StartKnown::AsFound,
            }),
            unlogged_km: unlogged.by_odometer + unlogged.since_odometer + unlogged.declared,
            wear_rate_from,
            cassette: None,
            season_on_record: usage.is_some_and(|usage| usage.season_factor(0.0).is_some()),
            assumed,
        }
    }
}

/// What to do where the chain is new, and the cassette may be what doesn't let it run: with `met`, what it has done so far,
/// and the probability that a new chain skips on the cassette that it met.
fn unless_it_skips(
    (advice, reason): (Advice, Reason),
    met: Option<Met>,
    probability: f64,
) -> (Advice, Reason) {
    if matches!(advice, Advice::SwapNow | Advice::Hold) || probability < MORE_LIKELY_THAN_NOT {
        return (advice, reason);
    }
    match met {
        Some(Met::Undecided) => (Advice::Hold, Reason::CassetteUntried { probability }),
        Some(Met::Skipped) => (Advice::Hold, Reason::CassetteSkips { probability }),
        Some(Met::Held) | None => (advice, reason),
    }
}

fn drivers(accrued: &Accrued) -> Vec<DriverShare> {
    accrued.parts.shares_percent().map_or_else(Vec::new, |shares| {
        shares.iter().map(|&(driver, share_percent)| DriverShare { driver, share_percent }).collect()
    })
}
