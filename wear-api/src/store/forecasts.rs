//! Forecasts that were kept, and how they did.

use std::collections::HashMap;
use std::sync::LazyLock;

use sqlx::types::Json;
use uuid::Uuid;
use wear_core::degradation::Quantiles;
use wear_core::fleet::track_record::{Forecast, Losses, Tally};
use wear_core::units::ReferenceKilometres;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::{Tx, execute, on, rows, statements};
use crate::domain::{ForecastId, GroupName, KeptForecast, Month, MonthlyTally, PartId, ScoredReading};

const TABLE: &str = "forecasts";

statements! {
    REMOVE_SCORE = "delete from forecast_scores where workshop_id = $1 and part_id = $2 and reading_id = $3";
    TALLIES = "
        select bike_group, month, cast(count(covered) as bigint) as readings,
            cast(coalesce(sum(covered), 0) as bigint) as covered,
            coalesce(sum(bias), 0.0) as bias, coalesce(sum(loss), 0.0) as loss,
            coalesce(sum(loss_fixed_distance), 0.0) as loss_fixed_distance,
            coalesce(sum(loss_straight_line), 0.0) as loss_straight_line,
            cast(count(brier) as bigint) as gauges, coalesce(sum(brier), 0.0) as brier,
            cast(count(forecast_id) as bigint) as kept
        from forecast_scores
        where workshop_id = $1 and (cast($2 as text) is null or bike_group = $2) and month >= $3 and month <= $4
        group by bike_group, month order by bike_group, month";
}

static KEEP: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into forecasts (workshop_id, part_id, forecast_id, made_at, readings_used, reference_km, quantiles)
        values ",
        "($1, ?, ?, ?, ?, ?, ?)",
        1,
        "",
    )
});

static OF_THESE_PARTS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select part_id, forecast_id, made_at, readings_used, reference_km, quantiles
         from forecasts where workshop_id = $1 and part_id = ?",
    )
});

static SCORES_OF_THESE_PARTS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select part_id, reading_id, forecast_id, bike_group, month, covered, bias, loss, loss_fixed_distance,
            loss_straight_line, brier
         from forecast_scores where workshop_id = $1 and part_id = ?",
    )
});

static SAVE_SCORES: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into forecast_scores (workshop_id, part_id, reading_id, forecast_id, bike_group, month,
            covered, bias, loss, loss_fixed_distance, loss_straight_line, brier)
        values ",
        "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        1,
        " on conflict (workshop_id, part_id, reading_id) do update set
            forecast_id = excluded.forecast_id, bike_group = excluded.bike_group, month = excluded.month,
            covered = excluded.covered, bias = excluded.bias, loss = excluded.loss,
            loss_fixed_distance = excluded.loss_fixed_distance,
            loss_straight_line = excluded.loss_straight_line, brier = excluded.brier",
    )
});

pub(super) fn keep_statements() -> &'static [&'static str] {
    KEEP.texts()
}

pub(super) fn of_these_parts() -> &'static [&'static str] {
    OF_THESE_PARTS.texts()
}

pub(super) fn scores_of_these_parts() -> &'static [&'static str] {
    SCORES_OF_THESE_PARTS.texts()
}

pub(super) fn save_score_statements() -> &'static [&'static str] {
    SAVE_SCORES.texts()
}

#[derive(Debug, Clone, PartialEq, sqlx::FromRow)]
struct ScoreRow {
    part_id: Uuid,
    reading_id: Uuid,
    forecast_id: Option<Uuid>,
    bike_group: String,
    month: i64,
    covered: Option<i64>,
    bias: Option<f64>,
    loss: Option<f64>,
    loss_fixed_distance: Option<f64>,
    loss_straight_line: Option<f64>,
    brier: Option<f64>,
}

impl From<&ScoredReading> for ScoreRow {
    fn from(scored: &ScoredReading) -> Self {
        let ScoredReading { part_id, reading_id, forecast_id, group, month, score } = scored;
        let one = Tally::from(score);
        let number = |value: f64| (one.readings > 0).then_some(value);
        Self {
            part_id: part_id.uuid(),
            reading_id: reading_id.uuid(),
            forecast_id: forecast_id.map(ForecastId::uuid),
            bike_group: group.as_str().to_owned(),
            month: month.number(),
            covered: (one.readings > 0).then_some(i64::from(one.covered > 0)),
            bias: number(one.bias),
            loss: number(one.loss.forecast),
            loss_fixed_distance: number(one.loss.fixed_distance),
            loss_straight_line: number(one.loss.straight_line),
            brier: (one.gauges > 0).then_some(one.brier),
        }
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    part_id: Uuid,
    forecast_id: Uuid,
    made_at: i64,
    readings_used: i64,
    reference_km: f64,
    quantiles: Json<Vec<[f64; 3]>>,
}

impl TryFrom<Row> for KeptForecast {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { part_id, forecast_id, made_at, readings_used, reference_km, quantiles: Json(quantiles) } =
            row;
        let at = ReferenceKilometres::new(reference_km).sound(TABLE, "reference_km")?;
        let quantiles = quantiles.into_iter().map(|[p10, p50, p90]| Quantiles { p10, p50, p90 }).collect();
        Ok(Self {
            id: ForecastId::from_uuid(forecast_id),
            part_id: PartId::from_uuid(part_id),
            made_at: instant(made_at, TABLE, "made_at")?,
            readings_used,
            forecast: Forecast::kept(at, quantiles)
                .ok_or("quantiles out of order")
                .sound(TABLE, "quantiles")?,
        })
    }
}

#[derive(sqlx::FromRow)]
struct TallyRow {
    bike_group: String,
    month: i64,
    readings: i64,
    covered: i64,
    bias: f64,
    loss: f64,
    loss_fixed_distance: f64,
    loss_straight_line: f64,
    gauges: i64,
    brier: f64,
    kept: i64,
}

impl TryFrom<TallyRow> for MonthlyTally {
    type Error = StoreError;

    fn try_from(row: TallyRow) -> Result<Self, StoreError> {
        let TallyRow {
            bike_group,
            month,
            readings,
            covered,
            bias,
            loss,
            loss_fixed_distance,
            loss_straight_line,
            gauges,
            brier,
            kept,
        } = row;
        Ok(Self {
            group: GroupName::new(&bike_group).sound("forecast_scores", "bike_group")?,
            month: Month::from_number(month),
            tally: Tally {
                readings: readings.unsigned_abs(),
                covered: covered.unsigned_abs(),
                bias,
                loss: Losses {
                    forecast: loss,
                    fixed_distance: loss_fixed_distance,
                    straight_line: loss_straight_line,
                },
                gauges: gauges.unsigned_abs(),
                brier,
            },
            kept,
        })
    }
}

impl Tx {
    /// Keeps forecasts.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such chain.
    pub async fn keep_forecasts(&mut self, kept: &[&KeptForecast]) -> Result<(), StoreError> {
        for (sql, batch) in KEEP.batches(self.engine(), kept) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for KeptForecast { id, part_id, made_at, readings_used, forecast } in batch {
                    let quantiles: Vec<[f64; 3]> =
                        forecast.quantiles().iter().map(|q| [q.p10, q.p50, q.p90]).collect();
                    query = query
                        .bind(part_id.uuid())
                        .bind(id.uuid())
                        .bind(made_at.micros())
                        .bind(*readings_used)
                        .bind(forecast.at_reference_km())
                        .bind(Json(quantiles));
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// The forecasts kept of chains, those of one in the order in which they were made.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn forecasts_of_parts(&mut self, parts: &[PartId]) -> Result<Vec<KeptForecast>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_PARTS, ids, |forecast: &KeptForecast| {
            (forecast.made_at, forecast.id)
        })
        .await
    }

    /// Stores scores of chains in place of all that these chains had; those that stay as they are aren't written again.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such chain.
    pub async fn replace_scores(
        &mut self,
        parts: &[PartId],
        scores: &[ScoredReading],
    ) -> Result<(), StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        let rows = self.rows_of::<ScoreRow, ScoreRow>(&SCORES_OF_THESE_PARTS, ids).await?;
        let mut before: HashMap<(Uuid, Uuid), ScoreRow> =
            rows.into_iter().map(|row| ((row.part_id, row.reading_id), row)).collect();
        let mut changed: Vec<ScoreRow> = scores.iter().map(ScoreRow::from).collect();
        changed.retain(|row| before.remove(&(row.part_id, row.reading_id)).as_ref() != Some(row));
        for (part, reading) in before.into_keys() {
            execute!(self, REMOVE_SCORE, part, reading)?;
        }
        for (sql, batch) in SAVE_SCORES.batches(self.engine(), &changed) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for row in batch {
                    query = query
                        .bind(row.part_id)
                        .bind(row.reading_id)
                        .bind(row.forecast_id)
                        .bind(&row.bike_group)
                        .bind(row.month)
                        .bind(row.covered)
                        .bind(row.bias)
                        .bind(row.loss)
                        .bind(row.loss_fixed_distance)
                        .bind(row.loss_straight_line)
                        .bind(row.brier);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// Scores added up by group and month, in that order, from one month to another, both included.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn tallies(
        &mut self,
        group: Option<&GroupName>,
        (from, to): (Month, Month),
    ) -> Result<Vec<MonthlyTally>, StoreError> {
        let rows: Vec<TallyRow> =
            rows!(self, TALLIES, group.map(GroupName::as_str), from.number(), to.number())?;
        rows.into_iter().map(MonthlyTally::try_from).collect()
    }
}
