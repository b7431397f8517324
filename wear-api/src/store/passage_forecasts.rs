//! Forecasts of when chains pass their limits.

use std::collections::{HashMap, HashSet};
use std::sync::LazyLock;

use sqlx::types::Json;
use uuid::Uuid;
use wear_core::fleet::passage::PassageForecast;
use wear_core::units::{Limit, Probability};

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::{Tx, execute, on, rows, statements};
use crate::domain::{BikeId, GroupName, KeptPassage, Made, Month, PartId, RecordedBike};

const TABLE: &str = "passage_forecasts";

statements! {
    REMOVE = "
        delete from passage_forecasts
        where workshop_id = $1 and part_id = $2 and made = $3 and month = $4 and readings_used = $5";
    RECORDED = "select bike_id, through_month, fingerprint from record_bikes where workshop_id = $1";
    RECORD = "
        insert into record_bikes (workshop_id, bike_id, through_month, fingerprint) values ($1, $2, $3, $4)
        on conflict (workshop_id, bike_id) do update set
            through_month = excluded.through_month, fingerprint = excluded.fingerprint";
}

const INSERT: &str = "insert into passage_forecasts (workshop_id, part_id, made, month, readings_used, bike_id,
    bike_group, made_at, chain_km, limit_percent, kilometres, days, swap_in_days, quarter_swap, quarter_common, skips)
    values ";

const INSERTED: &str = "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

static KEEP: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        INSERT,
        INSERTED,
        1,
        " on conflict (workshop_id, part_id, made, month, readings_used) do nothing",
    )
});

static REPLACE: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        INSERT,
        INSERTED,
        1,
        " on conflict (workshop_id, part_id, made, month, readings_used) do update set
            bike_id = excluded.bike_id, bike_group = excluded.bike_group, made_at = excluded.made_at,
            chain_km = excluded.chain_km, limit_percent = excluded.limit_percent,
            kilometres = excluded.kilometres, days = excluded.days, swap_in_days = excluded.swap_in_days,
            quarter_swap = excluded.quarter_swap, quarter_common = excluded.quarter_common,
            skips = excluded.skips",
    )
});

static OF_THESE_PARTS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select part_id, made, month, readings_used, bike_id, bike_group, made_at, chain_km, limit_percent,
             kilometres, days, swap_in_days, quarter_swap, quarter_common, skips
         from passage_forecasts where workshop_id = $1 and part_id = ?",
    )
});

pub(super) fn keep_statements() -> &'static [&'static str] {
    KEEP.texts()
}

pub(super) fn replace_statements() -> &'static [&'static str] {
    REPLACE.texts()
}

pub(super) fn of_these_parts() -> &'static [&'static str] {
    OF_THESE_PARTS.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    part_id: Uuid,
    made: String,
    month: i64,
    readings_used: i64,
    bike_id: Uuid,
    bike_group: String,
    made_at: i64,
    chain_km: f64,
    limit_percent: f64,
    kilometres: Json<Vec<(f64, f64)>>,
    days: Option<Json<Vec<(f64, f64)>>>,
    swap_in_days: Option<i64>,
    quarter_swap: f64,
    quarter_common: f64,
    skips: Option<f64>,
}

impl TryFrom<Row> for KeptPassage {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            part_id,
            made,
            month,
            readings_used,
            bike_id,
            bike_group,
            made_at,
            chain_km,
            limit_percent,
            kilometres: Json(kilometres),
            days,
            swap_in_days,
            quarter_swap,
            quarter_common,
            skips,
        } = row;
        let forecast = |points: Vec<(f64, f64)>, column| {
            PassageForecast::new(points).ok_or("no distribution").sound(TABLE, column)
        };
        let swap_in_days = swap_in_days.map(u32::try_from).transpose();
        Ok(Self {
            part_id: PartId::from_uuid(part_id),
            bike_id: BikeId::from_uuid(bike_id),
            group: GroupName::new(&bike_group).sound(TABLE, "bike_group")?,
            made: made.parse().sound(TABLE, "made")?,
            month: Month::from_number(month),
            readings_used,
            made_at: instant(made_at, TABLE, "made_at")?,
            chain_km,
            limit: Limit::new(limit_percent).sound(TABLE, "limit_percent")?,
            kilometres: forecast(kilometres, "kilometres")?,
            days: days.map(|Json(days)| forecast(days, "days")).transpose()?,
            swap_in_days: swap_in_days.sound(TABLE, "swap_in_days")?,
            quarter_swap: Probability::new(quarter_swap).sound(TABLE, "quarter_swap")?,
            quarter_common,
            skips: skips.map(Probability::new).transpose().sound(TABLE, "skips")?,
        })
    }
}

/// Points to a metre, or to a minute and a half, and a millionth.
fn rounded(forecast: &PassageForecast) -> Json<Vec<(f64, f64)>> {
    let to = |value: f64, whole: f64| (value * whole).round() / whole;
    Json(forecast.points().iter().map(|(ahead, p)| (to(*ahead, 1e3), to(*p, 1e6))).collect())
}

impl Tx {
    /// Keeps forecasts that were shown; one that was kept before of the same chain, month and readings stays.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such chain or bike.
    pub async fn keep_passages(&mut self, kept: &[&KeptPassage]) -> Result<(), StoreError> {
        self.insert_passages(&KEEP, kept).await
    }

    async fn insert_passages(&mut self, many: &Many, kept: &[&KeptPassage]) -> Result<(), StoreError> {
        for (sql, batch) in many.batches(self.engine(), kept) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for one in batch {
                    let KeptPassage {
                        part_id,
                        bike_id,
                        group,
                        made,
                        month,
                        readings_used,
                        made_at,
                        chain_km,
                        limit,
                        kilometres,
                        days,
                        swap_in_days,
                        quarter_swap,
                        quarter_common,
                        skips,
                    } = one;
                    query = query
                        .bind(part_id.uuid())
                        .bind(made.as_str())
                        .bind(month.number())
                        .bind(*readings_used)
                        .bind(bike_id.uuid())
                        .bind(group.as_str())
                        .bind(made_at.micros())
                        .bind(*chain_km)
                        .bind(limit.get())
                        .bind(rounded(kilometres))
                        .bind(days.as_ref().map(rounded))
                        .bind(swap_in_days.map(i64::from))
                        .bind(quarter_swap.get())
                        .bind(*quarter_common)
                        .bind(skips.map(Probability::get));
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// Stores forecasts made later of chains, in place of all that these chains had of the months from `since` on.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such chain or bike.
    pub async fn replace_passages(
        &mut self,
        parts: &[PartId],
        since: Month,
        made: &[KeptPassage],
    ) -> Result<(), StoreError> {
        let key = |it: &KeptPassage| (it.part_id, it.month, it.readings_used);
        let mut stale: HashSet<_> = self
            .passages_of_parts(parts)
            .await?
            .iter()
            .filter(|it| it.made == Made::MadeLater && it.month >= since)
            .map(key)
            .collect();
        for one in made {
            stale.remove(&key(one));
        }
        for (part, month, readings) in stale {
            execute!(self, REMOVE, part.uuid(), Made::MadeLater.as_str(), month.number(), readings)?;
        }
        self.insert_passages(&REPLACE, &made.iter().collect::<Vec<_>>()).await
    }

    /// The forecasts kept of chains, those of one in the order in which they were made.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn passages_of_parts(&mut self, parts: &[PartId]) -> Result<Vec<KeptPassage>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_PARTS, ids, |it: &KeptPassage| {
            (it.part_id, it.made, it.made_at, it.readings_used)
        })
        .await
    }

    /// Up to where forecasts were made later of each bike.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn recorded_bikes(&mut self) -> Result<HashMap<BikeId, RecordedBike>, StoreError> {
        let rows: Vec<(Uuid, i64, String)> = rows!(self, RECORDED)?;
        let recorded = rows.into_iter().map(|(bike_id, through, fingerprint)| {
            let bike_id = BikeId::from_uuid(bike_id);
            (bike_id, RecordedBike { bike_id, through: Month::from_number(through), fingerprint })
        });
        Ok(recorded.collect())
    }

    /// Remembers up to where forecasts were made later of a bike.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn record_bike(&mut self, bike: &RecordedBike) -> Result<(), StoreError> {
        let RecordedBike { bike_id, through, fingerprint } = bike;
        execute!(self, RECORD, bike_id.uuid(), through.number(), fingerprint.as_str())?;
        Ok(())
    }
}
