//! Bikes with all of their chains, to be looked at as they were known earlier.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use chrono_tz::Tz;
use wear_core::bike::{ChainRecord as ChainLife, ChainStart, Rate, SkipReport, Stay};
use wear_core::degradation::Start;
use wear_core::fleet::LubricantShare;
use wear_core::fleet::multipliers::ReadExposure;
use wear_core::knock_on::CassetteBuild;
use wear_core::units::Limit;
use wear_core::{Bike as Drivetrain, Moment, Reading as Read};

use super::load::{Histories, limit_of, since, some};
use super::ridden::rides;
use crate::domain::{
    Bike, CLOCK_SKEW, Fitting, KeptPassage, Made, NewReport, Outlook, PartId, PartModelId, Place, Reading,
    Taught, Timestamp, Workshop, WorkshopSettings,
};
use crate::service::by;
use crate::service::record_keeping::Known;
use crate::store::{StoreError, Tx};

/// A bike with all chains that were ever on it.
pub(in crate::service) struct PastBike {
    pub bike: Bike,
    /// Oldest first.
    pub chains: Vec<PastChain>,
    /// What was on it when.
    pub fittings: Vec<Fitting>,
    /// Skips that were reported.
    pub skips: Vec<NewReport>,
    limit: Limit,
    settings: WorkshopSettings,
}

/// A chain with its life.
pub(in crate::service) struct PastChain {
    pub part_id: PartId,
    pub readings: Vec<Reading>,
    /// When it came off for the last time, wherever that was; none while it is on.
    pub removed_at: Option<Timestamp>,
    /// Whether the last of its stays is on this bike.
    pub ends_here: bool,
    /// Its model, where that is known.
    pub model: Option<PartModelId>,
    stays: Vec<Stay>,
    start: ChainStart,
}

/// Loads bikes with all of their chains, in their order.
///
/// # Errors
/// [`StoreError`].
pub(in crate::service) async fn past_bikes(
    tx: &mut Tx,
    workshop: &Workshop,
    bikes: Vec<Bike>,
    now: Timestamp,
) -> Result<Vec<PastBike>, StoreError> {
    let ids: Vec<_> = bikes.iter().map(|bike| bike.id).collect();
    let mut fittings = by(tx.fittings_of_bikes(&ids).await?, |fitting| fitting.bike_id);
    let of_bikes: Vec<Vec<Fitting>> = ids.iter().map(|id| fittings.remove(id).unwrap_or_default()).collect();
    let chains: Vec<Vec<PartId>> = of_bikes.iter().map(|fittings| chains_of(fittings)).collect();
    let parts: BTreeSet<PartId> = chains.iter().flatten().copied().collect();
    let parts: Vec<PartId> = parts.into_iter().collect();
    let histories = Histories::load(tx, workshop, &bikes, &parts, now).await?;
    let model_of = tx.models_of_parts(&parts).await?;
    let models: BTreeSet<_> = model_of.values().copied().collect();
    let models = tx.part_models_of(&models.into_iter().collect::<Vec<_>>()).await?;
    let mut skips = by(tx.skip_reports(&ids).await?, |report| report.bike_id);
    let horizon = now.plus(CLOCK_SKEW);
    let lives: Vec<Vec<_>> = of_bikes
        .iter()
        .zip(&chains)
        .zip(&ids)
        .map(|((fittings, chains), bike)| {
            let sprockets = sprockets_fitted(fittings, workshop.settings.time_zone);
            chains.iter().map(|chain| histories.life(*chain, *bike, &sprockets, horizon)).collect()
        })
        .collect();
    let asked: Vec<_> = lives.iter().flatten().flat_map(|life| life.stays.iter().cloned()).collect();
    let mut ridden = rides(tx, &asked).await?.into_iter();
    let all = bikes.into_iter().zip(of_bikes).zip(chains.into_iter().zip(lives));
    let loaded = all.map(|((bike, fittings), (chains, lives))| {
        let present = fittings.iter().find(|it| it.place == Place::Chain && it.removed_at.is_none());
        let model = present.and_then(|present| model_of.get(&present.part_id));
        let model = model.and_then(|id| models.iter().find(|model| model.id == *id));
        let chains = chains.into_iter().zip(lives).map(|(part_id, life)| {
            let stays: Vec<Stay> = ridden.by_ref().take(life.stays.len()).collect();
            let last = some(&histories.stays, &part_id).last();
            PastChain {
                part_id,
                readings: some(&histories.readings, &part_id).to_vec(),
                removed_at: last.and_then(|last| last.removed_at),
                ends_here: last.is_none_or(|last| last.bike_id == bike.id),
                stays,
                start: life.start,
                model: model_of.get(&part_id).copied(),
            }
        });
        PastBike {
            chains: chains.collect(),
            limit: limit_of(workshop, &bike, model),
            settings: workshop.settings.clone(),
            skips: skips.remove(&bike.id).unwrap_or_default(),
            fittings,
            bike,
        }
    });
    Ok(loaded.collect())
}

/// All chains that were ever on, the first first.
fn chains_of(fittings: &[Fitting]) -> Vec<PartId> {
    let mut stays: Vec<&Fitting> = fittings.iter().filter(|it| it.place == Place::Chain).collect();
    stays.sort_by_key(|stay| (stay.fitted_at, stay.removed_at.is_none(), stay.id));
    let mut seen = BTreeSet::new();
    stays.into_iter().map(|stay| stay.part_id).filter(|part| seen.insert(*part)).collect()
}

/// When each cassette, cog and ring was fitted.
fn sprockets_fitted(fittings: &[Fitting], zone: Tz) -> Vec<Moment> {
    let sprockets =
        fittings.iter().filter(|it| matches!(it.place, Place::Cassette | Place::Cog | Place::Ring));
    sprockets.map(|it| it.fitted_at.moment_in(zone)).collect()
}

impl PastBike {
    /// The bike by what was `known` of wear, tools and bikes, with the cassette that was on at `at`.
    pub fn drivetrain(&self, known: &Known, at: Timestamp) -> Drivetrain {
        let Self { bike, settings, .. } = self;
        let zone = settings.time_zone;
        let rate = known.rate(&bike.facts.group);
        let on = self.fittings.iter().find(|it| it.place == Place::Chain && it.covers(at));
        let model = |part: PartId| self.chains.iter().find(|it| it.part_id == part).and_then(|it| it.model);
        let model_on = on.and_then(|on| model(on.part_id));
        let of_bike = rate
            .map_or_else(Rate::default, |rate| known.learned.rate(rate, model_on, known.levels.of(bike.id)));
        let is_cassette = |it: &&Fitting| matches!(it.place, Place::Cassette | Place::Cog) && it.covers(at);
        let mut drivetrain = Drivetrain::new(bike.facts.drivetrain.clone(), bike.facts.usage)
            .with_limit(self.limit)
            .with_risk(settings.risk)
            .with_rate(of_bike)
            .with_instruments(settings.instruments())
            .with_conditions(*known.learned.conditions())
            .with_cassette(since(self.fittings.iter().find(is_cassette), zone), CassetteBuild::OnePiece)
            .with_rings(since(None, zone));

        if let Some(year) = known.usual_year(&bike.facts.group) {
            drivetrain = drivetrain.with_usual_year(year.clone());
        }
        if bike.facts.is_assumed {
            drivetrain = drivetrain.with_assumed_drivetrain();
        }
        for report in &self.skips {
            drivetrain.skipped(SkipReport {
                reported_at: report.reported_at.moment_in(zone),
                cog: report.cog,
                new_chain: report.new_chain,
            });
        }
        for chain in &self.chains {
            let life = chain.life(known, zone);
            // A chain of which the bike's rate knows would count twice.
            let own = rate.filter(|_| known.levels.are_of(bike.id, chain.part_id));
            drivetrain.add_chain(match own {
                Some(rate) => {
                    let others = known.levels.of_others(bike.id, chain.part_id);
                    life.with_rate(known.learned.rate(rate, chain.model, others))
                }
                None => life,
            });
        }
        drivetrain
    }

    /// Where its workshop is.
    pub const fn zone(&self) -> Tz {
        self.settings.time_zone
    }

    /// An instant as the library has it.
    pub fn moment(&self, at: Timestamp) -> Moment {
        at.moment_in(self.zone())
    }

    /// The forecast that would have been made at `at`, the beginning of a day, by what was `known` then; none without a
    /// chain.
    pub fn forecast(&self, known: &Known, at: Timestamp, today: NaiveDate) -> Option<KeptPassage> {
        let on = self.fittings.iter().find(|it| it.place == Place::Chain && it.covers(at))?;
        let assessment = self.drivetrain(known, at).as_of(self.moment(at)).assess(self.moment(at));
        let timing = assessment.next_swap().timing;
        let outlook = Outlook {
            bike_id: self.bike.id,
            part_id: Some(on.part_id),
            computed_at: at,
            today,
            zone: self.settings.time_zone,
            taught: Taught::default(),
            known: assessment.into_outlook(),
        };
        KeptPassage::of(&outlook, &timing, &self.bike.facts.group, Made::MadeLater)
    }

    /// How the record of each chain begins, and the exposure at each of its readings, by the reading's place.
    pub fn read_at(&self, now: Timestamp) -> Vec<(Start, Vec<(usize, ReadExposure)>)> {
        self.drivetrain(&Known::default(), now).read_at(self.moment(now))
    }
}

impl PastBike {
    /// What each chain was ridden under up to each of its readings, by the reading's place: shares of its exposure by then, by
    /// lubricants' ids; nothing of a chain of which nobody named one.
    pub fn read_under(&self, now: Timestamp) -> Vec<Vec<(usize, Vec<LubricantShare>)>> {
        self.drivetrain(&Known::default(), now).read_under(self.moment(now))
    }
}

impl PastChain {
    fn life(&self, known: &Known, zone: Tz) -> ChainLife {
        let read = self.readings.iter().map(|reading| {
            let read = Read::from(*reading.measured.measurement());
            let own = known.learned.calibration(reading);
            (reading.taken_at.moment_in(zone), own.map_or(read, |own| read.with_calibration(own)))
        });
        ChainLife::new(self.stays.clone()).starting(self.start).with_readings(read)
    }
}
