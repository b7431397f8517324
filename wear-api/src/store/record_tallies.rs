//! How forecasts of passages did, added up.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use wear_core::fleet::censored::Spans;
use wear_core::fleet::demand_record::QuarterDemand;
use wear_core::fleet::passage_record::PassageTally;
use wear_core::fleet::skip_record::SkipTally;
use wear_core::fleet::skip_reliability::SkipReliability;
use wear_core::fleet::swap_by_record::SwapByTally;

use super::error::{Sound, StoreError};
use super::many::Many;
use super::{Tx, execute, on, rows, statements};
use crate::domain::{GroupName, Month, RecordTally, Sums};

const TABLE: &str = "record_tallies";

statements! {
    CLEAR = "delete from record_tallies where workshop_id = $1";
    BETWEEN = "
        select made, bike_group, month, sums from record_tallies
        where workshop_id = $1 and month >= $2 and month <= $3
        order by made, bike_group, month, subject";
}

static INSERT: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into record_tallies (workshop_id, made, bike_group, month, subject, sums) values ",
        "($1, ?, ?, ?, ?, ?)",
        1,
        "",
    )
});

pub(super) fn insert_statements() -> &'static [&'static str] {
    INSERT.texts()
}

type SpansDoc = Vec<(u8, u8, f64)>;

#[derive(Serialize, Deserialize)]
struct PassageDoc {
    forecasts: u64,
    chains: f64,
    spans: SpansDoc,
    told: [f64; 3],
    with_all: u64,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum SumsDoc {
    Kilometres(PassageDoc),
    Dates(PassageDoc),
    SwapBy { ridden: u64, judged: u64, risk: f64, spans: SpansDoc, early: u64, early_days: f64 },
    Demand { p10: u64, p50: u64, p90: u64, mean: f64, bikes: u64, came: u64 },
    Skips([(u64, u64, f64, f64); 3]),
}

impl SumsDoc {
    const fn subject(&self) -> &'static str {
        match self {
            Self::Kilometres(_) => "kilometres",
            Self::Dates(_) => "dates",
            Self::SwapBy { .. } => "swap_by",
            Self::Demand { .. } => "demand",
            Self::Skips(_) => "skips",
        }
    }
}

impl From<&PassageTally> for PassageDoc {
    fn from(tally: &PassageTally) -> Self {
        let PassageTally { forecasts, chains, spans, told, with_all } = tally;
        Self {
            forecasts: *forecasts,
            chains: *chains,
            spans: spans.iter().collect(),
            told: *told,
            with_all: *with_all,
        }
    }
}

impl TryFrom<PassageDoc> for PassageTally {
    type Error = StoreError;

    fn try_from(doc: PassageDoc) -> Result<Self, StoreError> {
        let PassageDoc { forecasts, chains, spans: kept, told, with_all } = doc;
        Ok(Self { forecasts, chains, spans: spans(kept)?, told, with_all })
    }
}

fn spans(kept: SpansDoc) -> Result<Spans, StoreError> {
    Spans::kept(kept).ok_or("a span beyond the scale").sound(TABLE, "sums")
}

impl From<&Sums> for SumsDoc {
    fn from(sums: &Sums) -> Self {
        match sums {
            Sums::Kilometres(tally) => Self::Kilometres(tally.into()),
            Sums::Dates(tally) => Self::Dates(tally.into()),
            Sums::SwapBy(SwapByTally { ridden, judged, risk, spans, early, early_days }) => Self::SwapBy {
                ridden: *ridden,
                judged: *judged,
                risk: *risk,
                spans: spans.iter().collect(),
                early: *early,
                early_days: *early_days,
            },
            Sums::Demand(QuarterDemand { p10, p50, p90, mean, bikes, came }) => {
                Self::Demand { p10: *p10, p50: *p50, p90: *p90, mean: *mean, bikes: *bikes, came: *came }
            }
            Sums::Skips(SkipReliability { thirds }) => Self::Skips(
                thirds.map(|SkipTally { chains, skipped, told, brier }| (chains, skipped, told, brier)),
            ),
        }
    }
}

impl TryFrom<SumsDoc> for Sums {
    type Error = StoreError;

    fn try_from(doc: SumsDoc) -> Result<Self, StoreError> {
        Ok(match doc {
            SumsDoc::Kilometres(doc) => Self::Kilometres(doc.try_into()?),
            SumsDoc::Dates(doc) => Self::Dates(doc.try_into()?),
            SumsDoc::SwapBy { ridden, judged, risk, spans: kept, early, early_days } => {
                Self::SwapBy(SwapByTally { ridden, judged, risk, spans: spans(kept)?, early, early_days })
            }
            SumsDoc::Demand { p10, p50, p90, mean, bikes, came } => {
                Self::Demand(QuarterDemand { p10, p50, p90, mean, bikes, came })
            }
            SumsDoc::Skips(thirds) => Self::Skips(SkipReliability {
                thirds: thirds.map(|(chains, skipped, told, brier)| SkipTally {
                    chains,
                    skipped,
                    told,
                    brier,
                }),
            }),
        })
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    made: String,
    bike_group: String,
    month: i64,
    sums: Json<SumsDoc>,
}

impl TryFrom<Row> for RecordTally {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { made, bike_group, month, sums: Json(sums) } = row;
        let group = (!bike_group.is_empty()).then(|| GroupName::new(&bike_group)).transpose();
        Ok(Self {
            made: made.parse().sound(TABLE, "made")?,
            group: group.sound(TABLE, "bike_group")?,
            month: Month::from_number(month),
            sums: sums.try_into()?,
        })
    }
}

impl Tx {
    /// Stores how forecasts did, in place of what was stored before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_record(&mut self, tallies: &[RecordTally]) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        for (sql, batch) in INSERT.batches(self.engine(), tallies) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for RecordTally { made, group, month, sums } in batch {
                    let sums = SumsDoc::from(sums);
                    query = query
                        .bind(made.as_str())
                        .bind(group.as_ref().map_or("", GroupName::as_str))
                        .bind(month.number())
                        .bind(sums.subject())
                        .bind(Json(sums));
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// How forecasts did from one month to another, both included.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn record_tallies(
        &mut self,
        (from, to): (Month, Month),
    ) -> Result<Vec<RecordTally>, StoreError> {
        let rows: Vec<Row> = rows!(self, BETWEEN, from.number(), to.number())?;
        rows.into_iter().map(RecordTally::try_from).collect()
    }
}
