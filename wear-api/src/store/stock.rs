//! The shelf.

use std::collections::BTreeMap;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{Tx, execute, row, row_if_any, rows, statements, value_if_any};
use crate::domain::{
    ChangedKind, Cursor, Label, LeadTimeDays, PackSize, Page, PageRequest, PartModelId, ServiceLevel,
    ShelfCount, StockEntry, StockFacts, Taken, Timestamp,
};

const TABLE: &str = "stock";

/// Entries of the shelf, each with the parts of its model that are under way.
macro_rules! entry {
    () => {
        "
        select s.part_model_id, m.name, m.place, s.on_shelf, s.pack_size, s.lead_time_days, s.reorder_point,
            s.service_level, s.counted_at, s.created_at, s.revision,
            (select cast(coalesce(sum(d.parts), 0) as bigint) from deliveries d
                where d.workshop_id = s.workshop_id and d.part_model_id = s.part_model_id
                    and d.arrived_on is null) as under_way
        from stock s
        join part_models m on m.workshop_id = s.workshop_id and m.part_model_id = s.part_model_id"
    };
}

statements! {
    INSERT = "
        insert into stock (workshop_id, part_model_id, on_shelf, pack_size, lead_time_days, reorder_point,
            service_level, counted_at, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, 1)
        on conflict (workshop_id, part_model_id) do nothing
        returning revision";
    GET = concat!(entry!(), " where s.workshop_id = $1 and s.part_model_id = $2");
    LIST = concat!(
        entry!(),
        " where s.workshop_id = $1 and s.part_model_id > $2 order by s.part_model_id limit $3"
    );
    UPDATE = "
        update stock set on_shelf = $4, pack_size = $5, lead_time_days = $6, reorder_point = $7,
            service_level = $8, counted_at = $9, revision = revision + 1
        where workshop_id = $1 and part_model_id = $2 and revision = $3
        returning revision";
    DELETE = "
        delete from stock where workshop_id = $1 and part_model_id = $2 and revision = $3
        returning part_model_id";
    LOCK = "
        update stock set revision = revision
        where workshop_id = $1 and part_model_id = $2 and revision = $3
        returning revision";
    TAKE = "
        update stock set on_shelf = on_shelf - 1, revision = revision + 1
        where workshop_id = $1 and part_model_id = $2 and on_shelf > 0 and counted_at <= $3
        returning on_shelf";
    MOVE = "
        update stock set revision = revision + 1,
            on_shelf = case when on_shelf + $3 < 0 then 0
                when on_shelf + $3 > 1000000 then 1000000 else on_shelf + $3 end
        where workshop_id = $1 and part_model_id = $2
        returning on_shelf";
    COUNTED = "
        select on_shelf, counted_at from stock where workshop_id = $1 and part_model_id = $2";
    COUNTS = "
        select part_model_id, on_shelf from stock where workshop_id = $1 order by part_model_id";
    ADD_SUBSTITUTE = "
        insert into stock_substitutes (workshop_id, part_model_id, rank, substitute_id, place)
        select $1, $2, $3, $4, m.place from part_models m where m.workshop_id = $1 and m.part_model_id = $2";
    REMOVE_SUBSTITUTES = "
        delete from stock_substitutes where workshop_id = $1 and part_model_id = $2";
    SUBSTITUTES = "
        select part_model_id, substitute_id from stock_substitutes
        where workshop_id = $1 and part_model_id >= $2 and part_model_id <= $3
        order by part_model_id, rank";
}

#[derive(sqlx::FromRow)]
struct Row {
    part_model_id: Uuid,
    name: String,
    place: String,
    on_shelf: i64,
    pack_size: i64,
    lead_time_days: i64,
    reorder_point: Option<i64>,
    service_level: Option<f64>,
    counted_at: i64,
    created_at: i64,
    revision: i64,
    under_way: i64,
}

impl Row {
    fn entry(self, substitutes: Vec<PartModelId>) -> Result<StockEntry, StoreError> {
        let Self {
            part_model_id,
            name,
            place,
            on_shelf,
            pack_size,
            lead_time_days,
            reorder_point,
            service_level,
            counted_at,
            created_at,
            revision,
            under_way,
        } = self;
        Ok(StockEntry {
            part_model_id: PartModelId::from_uuid(part_model_id),
            name: Label::new(&name).sound("part_models", "name")?,
            place: place.parse().sound("part_models", "place")?,
            facts: StockFacts {
                count: ShelfCount::new(on_shelf).sound(TABLE, "on_shelf")?,
                pack_size: PackSize::new(pack_size).sound(TABLE, "pack_size")?,
                lead_time: LeadTimeDays::new(lead_time_days).sound(TABLE, "lead_time_days")?,
                reorder_point: reorder_point
                    .map(ShelfCount::new)
                    .transpose()
                    .sound(TABLE, "reorder_point")?,
                service_level: service_level
                    .map(ServiceLevel::new)
                    .transpose()
                    .sound(TABLE, "service_level")?,
                substitutes,
            },
            under_way: u32::try_from(under_way).sound("deliveries", "parts")?,
            counted_at: instant(counted_at, TABLE, "counted_at")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

/// A model's place on the shelf to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct NewStock<'a> {
    /// The model.
    pub part_model_id: PartModelId,
    /// What can be set.
    pub facts: &'a StockFacts,
    /// When somebody counted.
    pub counted_at: Timestamp,
    /// When it is entered.
    pub created_at: Timestamp,
}

impl Tx {
    /// Begins to keep count of a model.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when it is kept already; [`StoreError::NotFound`] when there is no such model, or a
    /// substitute isn't there or sits in another place.
    pub async fn insert_stock(&mut self, stock: &NewStock<'_>) -> Result<(), StoreError> {
        self.note(ChangedKind::Stock, None, stock.part_model_id.uuid());
        let NewStock { part_model_id, facts, counted_at, created_at } = stock;
        let StockFacts { count, pack_size, lead_time, reorder_point, service_level, substitutes } = facts;
        let inserted: Option<i64> = value_if_any!(
            self,
            INSERT,
            part_model_id.uuid(),
            i64::from(count.get()),
            i64::from(pack_size.get()),
            i64::from(lead_time.get()),
            reorder_point.map(|point| i64::from(point.get())),
            service_level.map(ServiceLevel::get),
            counted_at.micros(),
            created_at.micros()
        )?;
        inserted.ok_or(StoreError::Conflict)?;
        self.add_substitutes(*part_model_id, substitutes).await
    }

    /// A model's place on the shelf.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when nobody keeps count of it.
    pub async fn stock(&mut self, model: PartModelId) -> Result<StockEntry, StoreError> {
        let row: Row = row!(self, GET, model.uuid())?;
        let mut substitutes = self.substitutes(model.uuid(), model.uuid()).await?;
        row.entry(substitutes.remove(&model).unwrap_or_default())
    }

    /// Changes it and returns its new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], also for a substitute; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_stock(
        &mut self,
        model: PartModelId,
        revision: i64,
        facts: &StockFacts,
        counted_at: Timestamp,
    ) -> Result<i64, StoreError> {
        self.note(ChangedKind::Stock, None, model.uuid());
        let StockFacts { count, pack_size, lead_time, reorder_point, service_level, substitutes } = facts;
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            model.uuid(),
            revision,
            i64::from(count.get()),
            i64::from(pack_size.get()),
            i64::from(lead_time.get()),
            reorder_point.map(|point| i64::from(point.get())),
            service_level.map(ServiceLevel::get),
            counted_at.micros()
        )?;
        let Some(revision) = updated else { return self.stock(model).await.and(Err(StoreError::Conflict)) };
        self.remove_substitutes(model).await?;
        self.add_substitutes(model, substitutes).await?;
        Ok(revision)
    }

    /// Keeps count of a model no longer.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_stock(&mut self, model: PartModelId, revision: i64) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::Stock, None, model.uuid());
        let locked: Option<i64> = value_if_any!(self, LOCK, model.uuid(), revision)?;
        if locked.is_none() {
            return self.stock(model).await.and(Err(StoreError::Conflict));
        }
        self.remove_substitutes(model).await?;
        execute!(self, DELETE, model.uuid(), revision)?;
        Ok(())
    }

    /// The shelf, by model.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn stocks(&mut self, page: &PageRequest) -> Result<Page<StockEntry>, StoreError> {
        let after = page.after_id(Uuid::nil())?;
        let entries = self.stock_after(after, page.rows()).await?;
        Ok(page.cut(entries, |entry: &StockEntry| Cursor::Id(entry.part_model_id.uuid())))
    }

    /// The whole shelf, by model.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn whole_stock(&mut self) -> Result<Vec<StockEntry>, StoreError> {
        self.stock_after(Uuid::nil(), i64::MAX).await
    }

    async fn stock_after(&mut self, after: Uuid, limit: i64) -> Result<Vec<StockEntry>, StoreError> {
        let rows: Vec<Row> = rows!(self, LIST, after, limit)?;
        let ends = rows.first().map(|row| row.part_model_id).zip(rows.last().map(|row| row.part_model_id));
        let Some((first, last)) = ends else { return Ok(Vec::new()) };
        let mut substitutes = self.substitutes(first, last).await?;
        rows.into_iter()
            .map(|row| {
                let model = PartModelId::from_uuid(row.part_model_id);
                row.entry(substitutes.remove(&model).unwrap_or_default())
            })
            .collect()
    }

    /// What lies on the shelf, by model.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn stock_counts(&mut self) -> Result<Vec<(PartModelId, u32)>, StoreError> {
        let rows: Vec<(Uuid, i64)> = rows!(self, COUNTS)?;
        rows.into_iter()
            .map(|(model, count)| {
                Ok((PartModelId::from_uuid(model), u32::try_from(count).sound(TABLE, "on_shelf")?))
            })
            .collect()
    }

    /// Takes one part off the shelf for a swap at `at`; never below nil.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn take_from_shelf(&mut self, model: PartModelId, at: Timestamp) -> Result<Taken, StoreError> {
        self.note(ChangedKind::Stock, None, model.uuid());
        let left: Option<i64> = value_if_any!(self, TAKE, model.uuid(), at.micros())?;
        if let Some(left) = left {
            return Ok(Taken::One { left: u32::try_from(left).sound(TABLE, "on_shelf")? });
        }
        Ok(match self.counted(model).await? {
            Some((_, counted_at)) if counted_at <= at => Taken::Empty,
            _ => Taken::NotCounted,
        })
    }

    /// Adds parts to a model's count, or takes them away, held between nil and the largest legal count; the count
    /// after it, none when nobody keeps count of the model.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn move_shelf(&mut self, model: PartModelId, by: i64) -> Result<Option<u32>, StoreError> {
        self.note(ChangedKind::Stock, None, model.uuid());
        let count: Option<i64> = value_if_any!(self, MOVE, model.uuid(), by)?;
        count.map(|count| u32::try_from(count).sound(TABLE, "on_shelf")).transpose()
    }

    /// A model's count, and when somebody counted last; none when nobody keeps count of it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn counted(&mut self, model: PartModelId) -> Result<Option<(u32, Timestamp)>, StoreError> {
        let row: Option<(i64, i64)> = row_if_any!(self, COUNTED, model.uuid())?;
        row.map(|(count, counted_at)| {
            Ok((u32::try_from(count).sound(TABLE, "on_shelf")?, instant(counted_at, TABLE, "counted_at")?))
        })
        .transpose()
    }

    async fn substitutes(
        &mut self,
        first: Uuid,
        last: Uuid,
    ) -> Result<BTreeMap<PartModelId, Vec<PartModelId>>, StoreError> {
        let rows: Vec<(Uuid, Uuid)> = rows!(self, SUBSTITUTES, first, last)?;
        let mut found: BTreeMap<PartModelId, Vec<PartModelId>> = BTreeMap::new();
        for (model, substitute) in rows {
            found.entry(PartModelId::from_uuid(model)).or_default().push(PartModelId::from_uuid(substitute));
        }
        Ok(found)
    }

    async fn remove_substitutes(&mut self, model: PartModelId) -> Result<(), StoreError> {
        execute!(self, REMOVE_SUBSTITUTES, model.uuid())?;
        Ok(())
    }

    async fn add_substitutes(
        &mut self,
        model: PartModelId,
        substitutes: &[PartModelId],
    ) -> Result<(), StoreError> {
        for (rank, substitute) in substitutes.iter().enumerate() {
            execute!(self, ADD_SUBSTITUTE, model.uuid(), rank as i64, substitute.uuid())?;
        }
        Ok(())
    }
}
