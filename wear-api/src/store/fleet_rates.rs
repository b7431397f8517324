//! What a workshop's chains taught of their wear.

use std::collections::{BTreeSet, HashMap};

use wear_core::degradation::{FastPhase, WearParameters};
use wear_core::fleet::BikeShare;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{Tx, execute, row_if_any, rows, statements};
use crate::domain::{FleetRate, GroupName};

const TABLE: &str = "fleet_rates";

/// The group of no name: the fleet as a whole.
const FLEET: &str = "";

statements! {
    CLEAR = "delete from fleet_rates where workshop_id = $1";
    INSERT = "
        insert into fleet_rates (workshop_id, bike_group, mean_log_rate, sd_log_rate, mean_log_rate_sd, scale,
            fast_onset, fast_gain, sd_within, bike_share, gauges_judged, chains, chains_read, learned_at)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)";
    ALL = "
        select bike_group, mean_log_rate, sd_log_rate, mean_log_rate_sd, scale, fast_onset, fast_gain, sd_within,
            bike_share, gauges_judged, chains, chains_read, learned_at
        from fleet_rates where workshop_id = $1 order by bike_group";
    FOR_GROUP = "
        select bike_group, mean_log_rate, sd_log_rate, mean_log_rate_sd, scale, fast_onset, fast_gain, sd_within,
            bike_share, gauges_judged, chains, chains_read, learned_at
        from fleet_rates where workshop_id = $1 and bike_group in ($2, '') order by bike_group desc limit 1";
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_group: String,
    mean_log_rate: f64,
    sd_log_rate: f64,
    mean_log_rate_sd: f64,
    scale: f64,
    fast_onset: Option<f64>,
    fast_gain: Option<f64>,
    sd_within: Option<f64>,
    bike_share: Option<f64>,
    gauges_judged: Option<bool>,
    chains: i64,
    chains_read: i64,
    learned_at: i64,
}

impl TryFrom<Row> for FleetRate {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_group,
            mean_log_rate,
            sd_log_rate,
            mean_log_rate_sd,
            scale,
            fast_onset,
            fast_gain,
            sd_within,
            bike_share,
            gauges_judged,
            chains,
            chains_read,
            learned_at,
        } = row;
        let fast_phase = match (fast_onset, fast_gain) {
            (Some(onset), Some(gain)) => FastPhase::new(onset, gain).sound(TABLE, "fast_onset")?,
            (None, Some(_)) => FastPhase::NONE,
            (_, None) => WearParameters::default().fast_phase(),
        };
        let group = (bike_group != FLEET).then(|| GroupName::new(&bike_group)).transpose();
        Ok(Self {
            group: group.sound(TABLE, "bike_group")?,
            parameters: WearParameters::default()
                .with_fast_phase(fast_phase)
                .with_log_rate(mean_log_rate, sd_log_rate)
                .and_then(|parameters| parameters.with_scale(scale))
                .sound(TABLE, "mean_log_rate")?,
            mean_log_rate_sd,
            of_bikes: BikeShare {
                share: bike_share.unwrap_or_default(),
                sd_within: sd_within.unwrap_or_default(),
            },
            gauges_judged: gauges_judged.unwrap_or_default(),
            chains,
            chains_read,
            learned_at: instant(learned_at, TABLE, "learned_at")?,
        })
    }
}

impl Tx {
    /// Stores what was learned, in place of what had been learned before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_fleet_rates(&mut self, rates: &[FleetRate]) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        for rate in rates {
            let FleetRate {
                group,
                parameters,
                mean_log_rate_sd,
                of_bikes: BikeShare { share, sd_within },
                gauges_judged,
                chains,
                chains_read,
                learned_at,
            } = rate;
            let fast = parameters.fast_phase();
            execute!(
                self,
                INSERT,
                group.as_ref().map_or(FLEET, GroupName::as_str),
                parameters.mean_log_rate(),
                parameters.sd_log_rate(),
                *mean_log_rate_sd,
                parameters.scale(),
                Some(fast.onset()).filter(|onset| onset.is_finite()),
                fast.gain(),
                *sd_within,
                *share,
                *gauges_judged,
                *chains,
                *chains_read,
                learned_at.micros()
            )?;
        }
        Ok(())
    }

    /// What was learned, the fleet as a whole first; nothing before the first time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fleet_rates(&mut self) -> Result<Vec<FleetRate>, StoreError> {
        let rows: Vec<Row> = rows!(self, ALL)?;
        rows.into_iter().map(FleetRate::try_from).collect()
    }

    /// What holds for a group: its own, else the fleet's; none before anything was learned.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fleet_rate(&mut self, group: &GroupName) -> Result<Option<FleetRate>, StoreError> {
        let row: Option<Row> = row_if_any!(self, FOR_GROUP, group.as_str())?;
        row.map(FleetRate::try_from).transpose()
    }

    /// What holds for each of these groups; those of which nothing was learned are left out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fleet_rates_of(
        &mut self,
        groups: BTreeSet<&GroupName>,
    ) -> Result<HashMap<GroupName, FleetRate>, StoreError> {
        let mut rates = HashMap::new();
        for group in groups {
            if let Some(rate) = self.fleet_rate(group).await? {
                rates.insert(group.clone(), rate);
            }
        }
        Ok(rates)
    }
}
