//! A bike as it was known earlier, and what its readings have said since.

use super::Moment;
use super::assess::Assessment;
use super::bike::Bike;
use super::chain::{ChainRecord, KnownChain};
use crate::degradation::{Posterior, Start};
use crate::fleet::LubricantShare;
use crate::fleet::multipliers::ReadExposure;
use crate::units::{Limit, Probability, ReferenceKilometres};

/// One reading of a chain, with whether the chain was over its limit by then.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ReadOver {
    /// The reading's place in the chain's record.
    pub place: usize,
    /// When it was taken.
    pub at: Moment,
    /// Distance of the chain then, km.
    pub km: f64,
    /// Exposure of the chain then, reference km.
    pub reference_km: f64,
    /// Probability that the chain was over its limit by then, by the readings up to this one.
    pub over: f64,
}

/// What readings say of when a chain passed its limit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeenPassing {
    /// Its readings, in order of time.
    pub read: Vec<ReadOver>,
    /// Kilometres after the last of them by which it would have passed had it stayed on, each with its probability, by all that
    /// was known of it.
    pub would_pass: Vec<(f64, f64)>,
}

impl Bike {
    /// The bike as it was known at `at`: later events are left out, and the chain that was on is the one that is on. How far it
    /// had gone by its odometer is what its statements say today.
    ///
    /// Works on chains that were given whole ([`Bike::add_chain`]). Cassette, rings and rates stay as they are: they are given
    /// anew where others were on, or less was learned, at the time. A day's rides stand at its beginning, so ask for the
    /// beginning of a day.
    #[must_use]
    pub fn as_of(&self, at: impl Into<Moment>) -> Self {
        let at = at.into();
        // The end of a stay that lasts is cut below, so what was on has to be asked first.
        let is_on = |chain: &ChainRecord| chain.was_here_at(at);
        let (on, off): (Vec<_>, Vec<_>) = self.chains.iter().partition(|chain| is_on(chain));
        let chain_is_on = !on.is_empty();
        let chains = off.into_iter().chain(on).filter_map(|chain| chain.as_of(at)).collect();
        let mut then = self.clone();
        then.skips.retain(|report| report.reported_at <= at);
        then.chains = chains;
        then.chain_is_on = chain_is_on;
        then
    }
}

impl Bike {
    /// How the record of each of its chains begins, and the exposure at each of its readings, by the reading's place: what
    /// [`Assessment::starts`] and [`Assessment::exposures`] say, without asking what is known of the chains.
    #[must_use]
    pub fn read_at(&self, now: impl Into<Moment>) -> Vec<(Start, Vec<(usize, ReadExposure)>)> {
        let now = now.into();
        let chains = self.chains_by(now);
        let ridden = chains.iter().any(ChainRecord::is_ridden);
        chains.iter().map(|chain| (self.start_of(chain, ridden, now), chain.read_at())).collect()
    }
}

impl Bike {
    /// What each of its chains was ridden under up to each of its readings, by the reading's place: shares of its exposure by
    /// then, as [`Assessment::read_under`] says of the last; nothing of a chain of which nobody named a lubricant.
    #[must_use]
    pub fn read_under(&self, now: impl Into<Moment>) -> Vec<Vec<(usize, Vec<LubricantShare>)>> {
        self.chains_by(now.into()).iter().map(ChainRecord::read_under).collect()
    }
}

impl Assessment {
    /// Distance of each chain by now or by its removal, km.
    pub fn distances_km(&self) -> impl Iterator<Item = f64> + '_ {
        self.chains().iter().map(|chain| chain.accrued.km)
    }

    /// What the readings of each chain say of when it passed that limit; nothing of a chain of which readings and record don't
    /// agree.
    pub fn seen_passing(&self, limit: Limit) -> impl Iterator<Item = SeenPassing> + '_ {
        self.chains().iter().map(move |chain| chain.seen_passing(limit))
    }
}

/// Probabilities for which it is asked when a chain would have passed.
const LEVELS: [f64; 10] = [0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95];

impl KnownChain {
    fn seen_passing(&self, limit: Limit) -> SeenPassing {
        if self.likely_wrong().is_some() {
            return SeenPassing::default();
        }
        let mut known = Posterior::new(self.posterior.parameters(), self.posterior.calibrations());
        let read = self.timed.iter().map(|(place, reading)| {
            known.update(*reading);
            let over = known.probability_over(reading.at, ReferenceKilometres::ZERO, limit).get();
            let km =
                self.accrued.at_mark.iter().find(|mark| mark.place == *place).map_or(0.0, |mark| mark.km);
            let at = self.record.readings()[*place].0;
            ReadOver { place: *place, at, km, reference_km: reading.at.get(), over }
        });
        let read: Vec<ReadOver> = read.collect();
        let (Some(last), Some(ratio)) = (read.last(), self.lifetime_ratio()) else {
            return SeenPassing { read, would_pass: Vec::new() };
        };
        let at = ReferenceKilometres::new(last.reference_km).unwrap_or(ReferenceKilometres::ZERO);
        let would_pass = LEVELS.into_iter().filter(|level| *level > last.over).map(|level| {
            let ahead = known.remaining_quantile(at, limit, Probability::saturating(level));
            (ratio * ahead, level)
        });
        let would_pass = would_pass.collect();
        SeenPassing { read, would_pass }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bike::{Reading, Ride, Sprockets, Stay};
    use crate::drivetrain::Drivetrain;
    use crate::exposure::{ExposureModel, Use};
    use crate::knock_on::CassetteBuild;

    fn drivetrain() -> Drivetrain {
        Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114).expect("fits")
    }

    /// A chain from `from` to `to`, ridden 20 km a day and read every 20 days.
    fn chain(from: i32, to: i32, percent_per_day: f64) -> ChainRecord {
        let totals =
            Ride::km(20.0).expect("legal").totals(&drivetrain(), Use::Town, &ExposureModel::default());
        let rides = (from..to).map(|day| (Moment::from(day), totals));
        let reads = (from + 20..=to).step_by(20).map(|day| {
            let percent = 0.06 + percent_per_day * f64::from(day - from);
            (Moment::from(day), Reading::dial(&[percent]).expect("legal"))
        });
        ChainRecord::new(vec![Stay::new(Moment::from(from), Moment::from(to)).with_rides(rides)])
            .with_readings(reads)
    }

    fn bike(chains: Vec<ChainRecord>) -> Bike {
        let mut bike = Bike::new(drivetrain(), Use::Town)
            .with_cassette(Sprockets::Unrecorded, CassetteBuild::OnePiece)
            .with_rings(Sprockets::Unrecorded);
        chains.into_iter().for_each(|chain| bike.add_chain(chain));
        bike
    }

    /// What was known earlier is what a bike says of which nothing was entered since.
    #[test]
    fn earlier_is_as_if_nothing_had_come_since() {
        let first = || chain(0, 400, 0.002);
        let whole = bike(vec![first(), chain(400, 700, 0.003)]);
        let then = whole.as_of(250).outlook(250);
        let cut = Stay::new(Moment::from(0), Moment::from(250));
        let totals =
            Ride::km(20.0).expect("legal").totals(&drivetrain(), Use::Town, &ExposureModel::default());
        let cut = cut.with_rides((0..250).map(|day| (Moment::from(day), totals)));
        let read =
            first().readings().iter().filter(|(at, _)| *at <= Moment::from(250)).copied().collect::<Vec<_>>();
        let alone = bike(vec![ChainRecord::new(vec![cut]).with_readings(read)]).outlook(250);
        assert_eq!(then, alone);
        assert_eq!(then.basis.readings_used, 12);
        let assessed = whole.assess(700);
        let known: Vec<_> = assessed.starts().zip(assessed.exposures().map(|(_, read)| read)).collect();
        assert_eq!(whole.read_at(700), known);
        // Between two chains none is on; on the day of the swap it is the new one.
        assert_eq!(whole.as_of(400).outlook(400).basis.distance_km, 0.0);
        assert!(whole.as_of(-3).outlook(-3).remaining_km.is_none());
        assert!(whole.as_of(750).outlook(750).remaining_km.is_none());
    }

    #[test]
    fn readings_tell_between_which_of_them_the_limit_was_passed() {
        let assessment = bike(vec![chain(0, 400, 0.002)]).assess(400);
        let limit = |percent| Limit::new(percent).expect("legal");
        let seen: Vec<SeenPassing> = assessment.seen_passing(limit(0.5)).collect();
        let [seen] = seen.as_slice() else { panic!("one chain") };
        assert_eq!(seen.read.len(), 20);
        for one in &seen.read {
            let days = one.at.days();
            assert!((one.km - 20.0 * days).abs() < 1e-9, "{one:?}");
            // 0.5 % on day 220.
            if days < 190.0 {
                assert!(one.over < 0.02, "{one:?}");
            } else if days > 250.0 {
                assert!(one.over > 0.98, "{one:?}");
            }
        }
        assert_eq!(seen.would_pass, []);
        // 0.86 % now: 1.0 % is 70 days of 20 km away.
        let seen: Vec<SeenPassing> = assessment.seen_passing(limit(1.0)).collect();
        let (median, _) = seen[0].would_pass.iter().find(|(_, level)| *level == 0.55).expect("a median");
        assert!((1_200.0..1_700.0).contains(median), "{seen:?}");
    }
}
