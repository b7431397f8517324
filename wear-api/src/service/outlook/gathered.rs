//! What a bike's outlook rests on, once it is loaded.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use wear_core::exposure::ExposureSum;
use wear_core::forecast::{DailyUse, WINDOW_DAYS};
use wear_core::knock_on::{CassetteBuild, SkipOutcome, SkipTest};
use wear_core::policy::LookCosts;
use wear_core::reading::InstrumentCalibrations;
use wear_core::units::{Limit, ReferenceKilometres};

use super::assess::{BikeFacts, FittedChain, SkipReport, SprocketWear};
use super::chain::{Chain, ChainReading};
use super::needs::ModelOnBike;
use super::timeline::ExposedDay;
use crate::domain::{Bike, BikeId, ChainRecord, Fitting, Geometry, NewReport, PartId, PartModel, Timestamp};

/// A chain with what led to it.
pub(super) struct Loaded {
    pub part_id: PartId,
    pub stays: Vec<Fitting>,
    pub readings: Vec<ChainReading>,
    /// Exposure at each instant at which a sprocket was fitted.
    pub at_sprockets: Vec<(Timestamp, ReferenceKilometres)>,
    pub chain: Chain,
}

/// All that a bike's outlook rests on.
pub struct Gathered {
    pub(super) bike: Bike,
    pub(super) limit: Limit,
    pub(super) risk: f64,
    pub(super) chains: Vec<Loaded>,
    pub(super) present: Option<PartId>,
    pub(super) cassette: Option<Fitting>,
    pub(super) cassette_model: Option<PartModel>,
    pub(super) ring: Option<Fitting>,
    pub(super) skips: Vec<NewReport>,
    pub(super) look: (LookCosts, bool),
    pub(super) calibrations: InstrumentCalibrations,
    pub(super) wear_rate_from: String,
    pub(super) models: Vec<ModelOnBike>,
    pub(super) days: Vec<ExposedDay>,
    pub(super) now: Timestamp,
    pub(super) today: NaiveDate,
}

impl Loaded {
    pub(super) fn record(&self, bike: &Bike, now: Timestamp) -> ChainRecord {
        let marks = self.chain.accrued.at_mark.iter().filter_map(|mark| {
            let reading = self.readings.get(mark.place)?;
            Some((reading.id, ReferenceKilometres::new(mark.reference_km.max(0.0)).ok()?))
        });
        ChainRecord {
            part_id: self.part_id,
            bike_id: bike.id,
            group: bike.facts.group.clone(),
            reference_km: self.chain.at(),
            marks: marks.collect(),
            recorded_at: now,
        }
    }
}

impl Gathered {
    /// The chain that is on.
    fn on(&self) -> Option<&Loaded> {
        self.chains.iter().find(|chain| Some(chain.part_id) == self.present)
    }

    /// The chain that is on, as the assessment sees it.
    pub(super) fn fitted(&self) -> Option<FittedChain<'_>> {
        self.on().map(|loaded| FittedChain {
            part_id: loaded.part_id,
            fitted_at: loaded.stays.first().map_or(self.now, |stay| stay.fitted_at),
            chain: &loaded.chain,
            readings: &loaded.readings,
        })
    }

    /// The calibrations in force.
    pub(super) const fn calibrations(&self) -> &InstrumentCalibrations {
        &self.calibrations
    }

    /// What was reported of the present cassette on a cog that is known, while a chain was on.
    fn skips_on_cassette(&self) -> Vec<SkipReport> {
        let Some(cassette) = &self.cassette else { return Vec::new() };
        let (bike_id, since) = (self.bike.id, cassette.fitted_at);
        let cogs = self.bike.facts.drivetrain.cogs();
        let chains: Vec<&Loaded> =
            self.chains.iter().filter(|chain| ran_since(chain, bike_id, since)).collect();
        let on_at = |at: Timestamp| {
            chains
                .iter()
                .position(|chain| chain.stays.iter().any(|stay| stay.bike_id == bike_id && stay.covers(at)))
        };
        let reports = self.skips.iter().filter(|report| report.reported_at >= since);
        reports
            .filter_map(|report| {
                let sprocket = match report.cog {
                    Some(cog) => cogs.iter().position(|teeth| *teeth == cog)?,
                    None if cogs.len() == 1 => 0,
                    None => return None,
                };
                let chains_before = on_at(report.reported_at)?;
                // A new chain was tried when the chain of that time had its wear behind it.
                let (chains_before, outcome) = if report.new_chain {
                    (chains_before + 1, SkipOutcome::Skips)
                } else {
                    (chains_before, SkipOutcome::Reported)
                };
                Some(SkipReport {
                    reported_at: report.reported_at,
                    teeth: cogs[sprocket],
                    test: SkipTest { sprocket, chains_before, outcome },
                })
            })
            .collect()
    }

    /// What is known of the bike.
    pub(super) fn facts(&self) -> BikeFacts<'_> {
        let Self { bike, chains, now, today, .. } = self;
        let stay_of = |fitting: &Option<Fitting>| {
            let fitting = fitting.as_ref()?;
            self.on().map(|_| wear_since(chains, bike.id, fitting.fitted_at))
        };
        BikeFacts {
            bike_id: bike.id,
            usage: bike.facts.usage,
            drivetrain: &bike.facts.drivetrain,
            limit: self.limit,
            risk: self.risk,
            chain: self.fitted(),
            cassette: stay_of(&self.cassette),
            cassette_build: match self.cassette_model.as_ref().map(|model| &model.facts.geometry) {
                Some(Geometry::Cassette { one_piece: false, .. } | Geometry::Cog { .. }) => {
                    CassetteBuild::SeparateCogs
                }
                _ => CassetteBuild::OnePiece,
            },
            cassette_price: self.cassette_model.as_ref().and_then(|model| model.facts.price),
            rings: stay_of(&self.ring),
            skips: self.skips_on_cassette(),
            look: self.look.0,
            look_is_assumed: self.look.1,
            wear_rate_from: self.wear_rate_from.clone(),
            models: &self.models,
            days: &self.days,
            days_since: chains
                .iter()
                .filter_map(|chain| chain.stays.first())
                .map(|stay| stay.fitted_at)
                .min()
                .unwrap_or(*now),
            now: *now,
            today: *today,
        }
    }
}

/// Days of riding of all chains together: the day of a swap has rides on either.
pub(super) fn days_of(chains: &[Loaded]) -> Vec<ExposedDay> {
    let mut days: BTreeMap<NaiveDate, (DailyUse, ExposureSum)> = BTreeMap::new();
    for exposed in chains.iter().flat_map(|loaded| &loaded.chain.accrued.days) {
        let (used, mix) = days.entry(exposed.day).or_default();
        used.km += exposed.used.km;
        used.reference_km += exposed.used.reference_km;
        mix.merge(&exposed.mix);
    }
    days.into_iter().map(|(day, (used, mix))| ExposedDay { day, used, mix }).collect()
}

/// What the exposure of the days was made of that the forecast of use rests on.
pub(super) fn recent_mix(days: &[ExposedDay], now: Timestamp) -> ExposureSum {
    let first = now.utc_date().checked_sub_days(Days::new(WINDOW_DAYS as u64)).unwrap_or(NaiveDate::MIN);
    let mut recent = ExposureSum::default();
    days.iter().filter(|exposed| exposed.day >= first).for_each(|exposed| recent.merge(&exposed.mix));
    recent
}

/// Whether a chain was on this bike since `since`.
fn ran_since(loaded: &Loaded, bike_id: BikeId, since: Timestamp) -> bool {
    loaded
        .stays
        .iter()
        .any(|stay| stay.bike_id == bike_id && stay.removed_at.is_none_or(|removed_at| removed_at > since))
}

/// What each chain did on this bike since `since`.
fn wear_since(chains: &[Loaded], bike_id: BikeId, since: Timestamp) -> Vec<SprocketWear<'_>> {
    chains
        .iter()
        .filter(|loaded| ran_since(loaded, bike_id, since))
        .map(|loaded| {
            let from = loaded.at_sprockets.iter().find(|(at, _)| *at == since).map(|(_, exposure)| *exposure);
            SprocketWear { chain: &loaded.chain, from: from.unwrap_or(ReferenceKilometres::ZERO) }
        })
        .collect()
}
