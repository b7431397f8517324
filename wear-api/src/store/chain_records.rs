//! Chains as their bikes' last outlooks saw them.

use std::collections::HashMap;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use uuid::Uuid;
use wear_core::degradation::{AsFound, HINT_LN_SD, Start};
use wear_core::exposure::Context;
use wear_core::fleet::LubricantShare;
use wear_core::fleet::multipliers::{ContextExposure, ReadExposure};
use wear_core::units::{Limit, Probability, ReferenceKilometres};

use super::error::{Sound, StoreError};
use super::instant::{instant, maybe_instant};
use super::many::Many;
use super::readings::{measurement, read_with};
use super::{Tx, on, rows, statements};
use crate::domain::{
    BikeId, ChainRecord, GroupName, LubricantUse, Measurement, PartId, PartModelId, ReadChain, ReadWith,
    ReadingId, Timestamp,
};

const TABLE: &str = "chain_records";
const NEW: &str = "new";
const AS_FOUND: &str = "as_found";

statements! {
    ALL = "
        select part_id, bike_id, bike_group, start, start_limit_percent, start_reference_km, reference_km, marks,
            recorded_at, lubricants
        from chain_records where workshop_id = $1 order by part_id";
    READINGS = "
        select reading_id, entered, tool_id, read_by, taken_at
        from readings where workshop_id = $1 and voided_at is null";
    MODELS = "
        select c.part_id, p.model_id, (select min(f.fitted_at) from fittings f
            where f.workshop_id = c.workshop_id and f.part_id = c.part_id) as begun_at
        from chain_records c join parts p on p.workshop_id = c.workshop_id and p.part_id = c.part_id
        where c.workshop_id = $1";
}

static SAVE: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into chain_records (workshop_id, part_id, bike_id, bike_group, start, start_limit_percent,
            start_reference_km, reference_km, marks, recorded_at, lubricants)
        values ",
        "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        1,
        " on conflict (workshop_id, part_id) do update set
            bike_id = excluded.bike_id, bike_group = excluded.bike_group, start = excluded.start,
            start_limit_percent = excluded.start_limit_percent, start_reference_km = excluded.start_reference_km,
            reference_km = excluded.reference_km,
            marks = excluded.marks, recorded_at = excluded.recorded_at, lubricants = excluded.lubricants",
    )
});

static THESE: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select part_id, bike_id, bike_group, start, start_limit_percent, start_reference_km, reference_km, marks,
             recorded_at, lubricants
         from chain_records where workshop_id = $1 and part_id = ?",
    )
});

pub(super) fn save_statements() -> &'static [&'static str] {
    SAVE.texts()
}

pub(super) fn these() -> &'static [&'static str] {
    THESE.texts()
}

/// A reading with its exposure, and the same by context: the context's place, before it, and neglected. Before contexts were kept
/// there was the sum alone.
#[derive(Serialize, Deserialize)]
struct MarkDoc(Uuid, f64, #[serde(default)] Vec<(usize, f64, f64)>);

impl MarkDoc {
    fn of((id, read): &(ReadingId, ReadExposure)) -> Self {
        let place = |context| Context::ALL.iter().position(|one| *one == context).unwrap_or(0);
        let contexts =
            read.by_context.contexts().map(|(context, base, neglected)| (place(context), base, neglected));
        Self(id.uuid(), read.at.get(), contexts.collect())
    }

    fn read(self) -> Result<(ReadingId, ReadExposure), StoreError> {
        let Self(id, km, contexts) = self;
        let at = ReferenceKilometres::new(km).sound(TABLE, "marks")?;
        let context =
            |(place, base, neglected): (usize, f64, f64)| Some((*Context::ALL.get(place)?, base, neglected));
        let by_context = if contexts.is_empty() {
            ContextExposure::unknown(at)
        } else {
            ContextExposure::kept(contexts.into_iter().filter_map(context))
        };
        Ok((ReadingId::from_uuid(id), ReadExposure { at, by_context }))
    }
}

/// Shares by lubricant up to the last reading; reference km and applications by lubricant in all.
#[derive(Serialize, Deserialize, Default)]
struct LubricantsDoc {
    read: Vec<(String, f64)>,
    ridden: Vec<(String, f64, i64)>,
}

impl LubricantsDoc {
    /// None where no lubricant was named.
    fn of(read_under: &[LubricantShare], ridden_under: &[LubricantUse]) -> Option<Self> {
        let share = |LubricantShare { lubricant, share }: &LubricantShare| (lubricant.clone(), share.get());
        let used = |used: &LubricantUse| {
            let LubricantUse { lubricant, reference_km, applications } = used;
            (lubricant.clone(), *reference_km, *applications)
        };
        (!ridden_under.is_empty()).then(|| Self {
            read: read_under.iter().map(share).collect(),
            ridden: ridden_under.iter().map(used).collect(),
        })
    }

    fn sound(self) -> Result<(Vec<LubricantShare>, Vec<LubricantUse>), StoreError> {
        let Self { read, ridden } = self;
        let share = |(lubricant, share)| {
            Ok(LubricantShare { lubricant, share: Probability::new(share).sound(TABLE, "lubricants")? })
        };
        let used =
            |(lubricant, reference_km, applications)| LubricantUse { lubricant, reference_km, applications };
        Ok((
            read.into_iter().map(share).collect::<Result<_, StoreError>>()?,
            ridden.into_iter().map(used).collect(),
        ))
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    part_id: Uuid,
    bike_id: Uuid,
    bike_group: String,
    start: String,
    start_limit_percent: Option<f64>,
    start_reference_km: Option<f64>,
    reference_km: f64,
    marks: Json<Vec<MarkDoc>>,
    recorded_at: i64,
    lubricants: Option<Json<LubricantsDoc>>,
}

#[derive(sqlx::FromRow)]
struct ReadingRow {
    reading_id: Uuid,
    entered: String,
    tool_id: Option<Uuid>,
    read_by: Option<String>,
    taken_at: i64,
}

impl TryFrom<Row> for ChainRecord {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            part_id,
            bike_id,
            bike_group,
            start,
            start_limit_percent,
            start_reference_km,
            reference_km,
            marks: Json(marks),
            recorded_at,
            lubricants,
        } = row;
        let (read_under, ridden_under) = lubricants.map(|Json(doc)| doc).unwrap_or_default().sound()?;
        let exposure = |km, column| ReferenceKilometres::new(km).sound(TABLE, column);
        Ok(Self {
            part_id: PartId::from_uuid(part_id),
            bike_id: BikeId::from_uuid(bike_id),
            group: GroupName::new(&bike_group).sound(TABLE, "bike_group")?,
            start: match start_limit_percent.filter(|_| start == AS_FOUND) {
                None => Start::New,
                Some(limit) => {
                    let found = AsFound::at_limit(Limit::new(limit).sound(TABLE, "start_limit_percent")?);
                    let before =
                        start_reference_km.map(|km| exposure(km, "start_reference_km")).transpose()?;
                    Start::AsFound(before.map_or(found, |km| found.ridden_about(km, HINT_LN_SD)))
                }
            },
            reference_km: exposure(reference_km, "reference_km")?,
            marks: marks.into_iter().map(MarkDoc::read).collect::<Result<_, StoreError>>()?,
            recorded_at: instant(recorded_at, TABLE, "recorded_at")?,
            read_under,
            ridden_under,
        })
    }
}

impl Tx {
    /// Stores what outlooks saw of chains, each of them once, in place of what those before saw.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such chain or bike.
    pub async fn save_chain_records(&mut self, records: &[&ChainRecord]) -> Result<(), StoreError> {
        for (sql, batch) in SAVE.batches(self.engine(), records) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for record in batch {
                    let ChainRecord { part_id, bike_id, group, start, reference_km, .. } = record;
                    let ChainRecord { marks, recorded_at, read_under, ridden_under, .. } = record;
                    let found = match start {
                        Start::New => None,
                        Start::AsFound(found) => Some(found),
                    };
                    let ridden = found.and_then(AsFound::ridden).map(|(km, _)| km.get());
                    let marks: Vec<MarkDoc> = marks.iter().map(MarkDoc::of).collect();
                    query = query
                        .bind(part_id.uuid())
                        .bind(bike_id.uuid())
                        .bind(group.as_str())
                        .bind(found.map_or(NEW, |_| AS_FOUND))
                        .bind(found.map(|found| found.limit().get()))
                        .bind(ridden)
                        .bind(reference_km.get())
                        .bind(Json(marks))
                        .bind(recorded_at.micros())
                        .bind(LubricantsDoc::of(read_under, ridden_under).map(Json));
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// What the last outlooks saw of these chains, in no order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn chain_records_of(&mut self, parts: &[PartId]) -> Result<Vec<ChainRecord>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        self.rows_of::<Row, _>(&THESE, ids).await
    }

    /// Every chain of the workshop with its readings, in the order of their ids.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn read_chains(&mut self) -> Result<Vec<ReadChain>, StoreError> {
        let readings: Vec<ReadingRow> = rows!(self, READINGS)?;
        let models: Vec<(Uuid, Option<Uuid>, Option<i64>)> = rows!(self, MODELS)?;
        let models: HashMap<Uuid, (Option<Uuid>, Option<i64>)> =
            models.into_iter().map(|(part, model, begun)| (part, (model, begun))).collect();
        let mut measured: HashMap<ReadingId, (Measurement, ReadWith, Timestamp)> = readings
            .into_iter()
            .map(|ReadingRow { reading_id, entered, tool_id, read_by, taken_at }| {
                let taken_at = instant(taken_at, "readings", "taken_at")?;
                let with = read_with(tool_id, read_by)?;
                Ok((ReadingId::from_uuid(reading_id), (measurement(&entered)?, with, taken_at)))
            })
            .collect::<Result<_, StoreError>>()?;
        let rows: Vec<Row> = rows!(self, ALL)?;
        rows.into_iter()
            .map(|row| {
                let record = ChainRecord::try_from(row)?;
                let ChainRecord { part_id, bike_id, group, start, marks, read_under, ridden_under, .. } =
                    record;
                let read = |(id, read): &(ReadingId, ReadExposure)| {
                    let (measurement, with, taken_at) = measured.remove(id)?;
                    Some(((*read, measurement, with), taken_at))
                };
                let (readings, taken_at) = marks.iter().filter_map(read).unzip();
                let (model, begun_at) = models.get(&part_id.uuid()).copied().unwrap_or_default();
                Ok(ReadChain {
                    part_id,
                    bike_id,
                    group,
                    start,
                    readings,
                    taken_at,
                    model: model.map(PartModelId::from_uuid),
                    begun_at: maybe_instant(begun_at, "fittings", "fitted_at")?,
                    read_under,
                    ridden_under,
                })
            })
            .collect()
    }
}
