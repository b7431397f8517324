//! What was known at the beginning of each month: rates learned from nothing but what had been read by then.

use std::collections::{BTreeMap, HashMap};
use std::fmt::Write as _;
use std::sync::OnceLock;

use chrono_tz::Tz;
use sha2::{Digest as _, Sha256};
use wear_core::fleet::{LearnedTools, LubricantShare};
use wear_core::forecast::{DailyUse, UseHistory, UsualYear};

use crate::domain::{
    BikeId, FleetRate, GroupName, GroupYear, Measurement, Month, ReadChain, ReadWith, Timestamp, UsedBike,
    WearEffects, Workshop,
};
use crate::service::calibration::{FEWEST_CHAINS, Taught, fleet_of};
use crate::service::learned::{Learned, Levels};
use crate::service::outlook::PastBike;
use crate::service::usual_years;
use crate::store::{StoreError, Tx};

/// What was known of wear, tools and bikes at a time; nothing by default.
pub(in crate::service) struct Known {
    fleet: Option<FleetRate>,
    groups: HashMap<GroupName, FleetRate>,
    years: HashMap<Option<GroupName>, UsualYear>,
    pub learned: Learned,
    pub levels: Levels,
}

impl Default for Known {
    fn default() -> Self {
        Self::of(Taught::default(), Vec::new())
    }
}

impl Known {
    fn of(taught: Taught, years: Vec<GroupYear>) -> Self {
        let Taught { rates, tools, levels, effects } = taught;
        let learned = match rates.first() {
            Some(rate) => Learned::of(tools, rate.of_bikes.share > 0.0, effects.unwrap_or_default()),
            None => Learned::of(LearnedTools::default(), false, WearEffects::default()),
        };
        let years = years.into_iter().map(|year| (year.group, year.year)).collect();
        Self { learned, years, levels: Levels::of_fit(levels), ..Self::with_rates(rates) }
    }

    fn with_rates(rates: Vec<FleetRate>) -> Self {
        let (mut fleet, mut groups) = (None, HashMap::new());
        for rate in rates {
            match &rate.group {
                Some(group) => drop(groups.insert(group.clone(), rate)),
                None => fleet = Some(rate),
            }
        }
        let learned = Learned::of(LearnedTools::default(), false, WearEffects::default());
        Self { fleet, groups, years: HashMap::new(), learned, levels: Levels::of_fit(Vec::new()) }
    }

    /// What is known now, of these bikes.
    ///
    /// # Errors
    /// [`StoreError`].
    pub async fn now(tx: &mut Tx, workshop: &Workshop, bikes: &[BikeId]) -> Result<Self, StoreError> {
        let rates = tx.fleet_rates().await?;
        let learned = Learned::load(tx, &workshop.settings, &rates).await?;
        let levels = learned.levels(tx, bikes).await?;
        Ok(Self { learned, levels, ..Self::with_rates(rates) })
    }

    /// How a year goes for a group: its own, else the workshop's; none where nothing was learned.
    pub fn usual_year(&self, group: &GroupName) -> Option<&UsualYear> {
        self.years.get(&Some(group.clone())).or_else(|| self.years.get(&None))
    }

    /// The rate of a group: its own, else the fleet's; none where nothing was learned.
    pub fn rate(&self, group: &GroupName) -> Option<&FleetRate> {
        self.groups.get(group).or(self.fleet.as_ref())
    }
}

/// What can be learned from a bike.
pub(super) struct Studied {
    bike_id: BikeId,
    group: GroupName,
    chains: Vec<StudiedChain>,
    /// Its first day of use, and its use from then on.
    used: Option<(i64, Vec<DailyUse>)>,
}

/// A chain with its readings, each with the time at which it became known.
struct StudiedChain {
    chain: ReadChain,
    fitted_at: Timestamp,
    /// What it was ridden under up to each reading, in order of time; empty where nobody named a lubricant.
    read_under: Vec<(Timestamp, Vec<LubricantShare>)>,
}

impl Studied {
    /// Of a bike and those of its chains that ended on it, or are on it.
    pub fn of(bike: &PastBike, now: Timestamp) -> Self {
        let used = bike.drivetrain(&Known::default(), now).daily_use(bike.moment(now));
        let group = bike.bike.facts.group.clone();
        Self { bike_id: bike.bike.id, group, chains: StudiedChain::of(bike, now), used }
    }

    /// How it had been used by `at`; none where it hadn't.
    fn used_by(&self, at: Timestamp, zone: Tz) -> Option<UsedBike> {
        let (first, days) = self.used.as_ref()?;
        let until = usize::try_from(at.moment_in(zone).day() - first).ok()?.min(days.len());
        let history = UseHistory::of(*first, &days[..until])?;
        Some(UsedBike { bike_id: self.bike_id, group: self.group.clone(), history })
    }
}

impl StudiedChain {
    fn of(bike: &PastBike, now: Timestamp) -> Vec<Self> {
        let read = bike.read_at(now).into_iter().zip(bike.read_under(now));
        let all = bike.chains.iter().zip(read).filter(|(chain, _)| chain.ends_here);
        let studied = all.map(|(chain, ((start, read), under))| {
            let read_under = under.into_iter().filter_map(|(place, shares)| {
                let reading = chain.readings.get(place)?;
                Some((reading.taken_at, shares))
            });
            let read = read.into_iter().filter_map(|(place, at)| {
                let reading = chain.readings.get(place)?;
                Some((reading.taken_at, (at, *reading.measured.measurement(), reading.with.clone())))
            });
            let (taken_at, readings): (Vec<_>, Vec<(_, Measurement, ReadWith)>) = read.unzip();
            let fitted = bike.fittings.iter().filter(|it| it.part_id == chain.part_id).map(|it| it.fitted_at);
            let begun_at = fitted.min();
            Self {
                chain: ReadChain {
                    part_id: chain.part_id,
                    bike_id: bike.bike.id,
                    group: bike.bike.facts.group.clone(),
                    start,
                    readings,
                    taken_at,
                    model: chain.model,
                    begun_at,
                    read_under: Vec::new(),
                    ridden_under: Vec::new(),
                },
                fitted_at: begun_at.unwrap_or(now),
                read_under: read_under.collect(),
            }
        });
        studied.collect()
    }

    /// As it was known at `at`; none where it wasn't there yet.
    fn by(&self, at: Timestamp) -> Option<ReadChain> {
        let ReadChain { part_id, bike_id, group, start, readings, taken_at, model, begun_at, .. } =
            &self.chain;
        let under = self.read_under.iter().rfind(|(taken, _)| *taken <= at);
        let known = || taken_at.iter().zip(readings).filter(|(taken, _)| **taken <= at);
        (self.fitted_at <= at).then(|| ReadChain {
            part_id: *part_id,
            bike_id: *bike_id,
            group: group.clone(),
            start: *start,
            readings: known().map(|(_, read)| read.clone()).collect(),
            taken_at: known().map(|(taken, _)| *taken).collect(),
            model: *model,
            begun_at: *begun_at,
            read_under: under.map(|(_, shares)| shares.clone()).unwrap_or_default(),
            ridden_under: Vec::new(),
        })
    }
}

/// The months at whose beginning forecasts are made later, each with what was known.
pub(super) struct Origins {
    workshop: Workshop,
    studied: Vec<Studied>,
    months: BTreeMap<Month, Origin>,
}

struct Origin {
    at: Timestamp,
    known: OnceLock<Known>,
    fingerprint: OnceLock<String>,
}

impl Origins {
    pub fn new(workshop: Workshop, mut studied: Vec<Studied>, months: impl Iterator<Item = Month>) -> Self {
        // Ids come in the order of entry, which doesn't matter but for the last digits of sums.
        studied.sort_by_key(|it| it.bike_id);
        let zone = workshop.settings.time_zone;
        let origin = |month: Month| {
            let at = Timestamp::start_of(month.begins(), zone).ok()?;
            Some((month, Origin { at, known: OnceLock::new(), fingerprint: OnceLock::new() }))
        };
        Self { workshop, studied, months: months.filter_map(origin).collect() }
    }

    /// The months with the beginning of each, from `since` on.
    pub fn since(&self, since: Option<Month>) -> impl Iterator<Item = (Month, Timestamp)> + '_ {
        let from = self.months.iter().filter(move |(month, _)| since.is_none_or(|since| **month >= since));
        from.map(|(month, origin)| (*month, origin.at))
    }

    /// What was known at the beginning of a month: learned as every night, when it is asked for first.
    pub fn known(&self, month: Month) -> Option<&Known> {
        let Origin { at, known, .. } = self.months.get(&month)?;
        Some(known.get_or_init(|| {
            let chains = self.by(*at);
            let fleet = fleet_of(&chains, &self.workshop);
            let is_enough = fleet.chains_read() >= FEWEST_CHAINS;
            let taught = if is_enough {
                Taught::of(&fleet.learn_conditions(), &chains, *at)
            } else {
                Taught::default()
            };
            Known::of(taught, usual_years::learned(self.used_by(*at), *at))
        }))
    }

    fn by(&self, at: Timestamp) -> Vec<ReadChain> {
        self.studied.iter().flat_map(|bike| &bike.chains).filter_map(|chain| chain.by(at)).collect()
    }

    fn used_by(&self, at: Timestamp) -> Vec<UsedBike> {
        self.studied.iter().filter_map(|bike| bike.used_by(at, self.workshop.settings.time_zone)).collect()
    }

    /// What the forecasts of a bike by a month rest on: all that had been read and ridden in the workshop, and all that had
    /// happened to the bike.
    pub fn fingerprint(&self, month: Month, bike: &PastBike) -> Option<String> {
        let Origin { at, fingerprint, .. } = self.months.get(&month)?;
        let of_fleet = fingerprint.get_or_init(|| {
            let mut hash = Hashed(Sha256::new());
            let instruments = self.workshop.settings.instruments();
            let _infallible = write!(hash, "{instruments:?} {:?} {:?}", self.by(*at), self.used_by(*at));
            hash.text()
        });
        let mut hash = Hashed(Sha256::new());
        let then = bike.drivetrain(&Known::default(), *at).as_of(bike.moment(*at));
        let _infallible = write!(hash, "{of_fleet} {then:?}");
        Some(hash.text())
    }
}

/// Hashes what is written.
struct Hashed(Sha256);

impl Hashed {
    fn text(self) -> String {
        self.0.finalize().iter().fold(String::with_capacity(64), |mut text, byte| {
            let _infallible = write!(text, "{byte:02x}");
            text
        })
    }
}

impl std::fmt::Write for Hashed {
    fn write_str(&mut self, text: &str) -> std::fmt::Result {
        self.0.update(text.as_bytes());
        Ok(())
    }
}
