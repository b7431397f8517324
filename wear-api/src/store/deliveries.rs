//! Deliveries.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::{guarded, page_of};
use super::instant::{date, day_number, instant};
use super::{Tx, execute, row, rows, statements, value_if_any};
use crate::domain::{
    ChangedKind, Cursor, Delivery, DeliveryCount, DeliveryFacts, DeliveryFilter, DeliveryId, Note, Page,
    PageRequest, PartModelId, PartsUnderWay,
};

const TABLE: &str = "deliveries";

statements! {
    INSERT = "
        insert into deliveries (workshop_id, delivery_id, part_model_id, parts, expected_on, arrived_on, on_shelf,
            note, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, 1)";
    GET = "
        select delivery_id, part_model_id, parts, expected_on, arrived_on, on_shelf, note, created_at, revision
        from deliveries where workshop_id = $1 and delivery_id = $2";
    LIST = "
        select delivery_id, part_model_id, parts, expected_on, arrived_on, on_shelf, note, created_at, revision
        from deliveries
        where workshop_id = $1 and (expected_on, delivery_id) > ($2, $3)
            and ($4 or part_model_id = $5)
            and ($6 or arrived_on is null) and ($7 or arrived_on is not null)
        order by expected_on, delivery_id limit $8";
    UPDATE = "
        update deliveries set parts = $4, expected_on = $5, arrived_on = $6, on_shelf = $7, note = $8,
            revision = revision + 1
        where workshop_id = $1 and delivery_id = $2 and revision = $3
        returning revision";
    DELETE = "
        delete from deliveries where workshop_id = $1 and delivery_id = $2 and revision = $3
        returning delivery_id";
    UNDER_WAY = "
        select part_model_id, expected_on, cast(sum(parts) as bigint) from deliveries
        where workshop_id = $1 and arrived_on is null
        group by part_model_id, expected_on order by expected_on, part_model_id";
}

#[derive(sqlx::FromRow)]
struct Row {
    delivery_id: Uuid,
    part_model_id: Uuid,
    parts: i64,
    expected_on: i64,
    arrived_on: Option<i64>,
    on_shelf: bool,
    note: Option<String>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for Delivery {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            delivery_id,
            part_model_id,
            parts,
            expected_on,
            arrived_on,
            on_shelf,
            note,
            created_at,
            revision,
        } = row;
        Ok(Self {
            id: DeliveryId::from_uuid(delivery_id),
            facts: DeliveryFacts {
                part_model_id: PartModelId::from_uuid(part_model_id),
                count: DeliveryCount::new(parts).sound(TABLE, "parts")?,
                expected_on: date(expected_on, TABLE, "expected_on")?,
                arrived_on: arrived_on.map(|day| date(day, TABLE, "arrived_on")).transpose()?,
                note: note.as_deref().map(Note::new).transpose().sound(TABLE, "note")?,
            },
            on_shelf,
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a new delivery, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such model.
    pub async fn insert_delivery(&mut self, delivery: &Delivery) -> Result<(), StoreError> {
        self.note(ChangedKind::Delivery, None, delivery.id.uuid());
        let Delivery { id, facts, on_shelf, created_at, revision: _ } = delivery;
        let DeliveryFacts { part_model_id, count, expected_on, arrived_on, note } = facts;
        execute!(
            self,
            INSERT,
            id.uuid(),
            part_model_id.uuid(),
            i64::from(count.get()),
            day_number(*expected_on),
            arrived_on.map(day_number),
            *on_shelf,
            note.as_ref().map(Note::as_str),
            created_at.micros()
        )?;
        Ok(())
    }

    /// A delivery.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn delivery(&mut self, id: DeliveryId) -> Result<Delivery, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// Changes a delivery, all but its model, and returns its new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_delivery(
        &mut self,
        id: DeliveryId,
        revision: i64,
        facts: &DeliveryFacts,
        on_shelf: bool,
    ) -> Result<i64, StoreError> {
        self.note(ChangedKind::Delivery, None, id.uuid());
        let DeliveryFacts { part_model_id: _, count, expected_on, arrived_on, note } = facts;
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            i64::from(count.get()),
            day_number(*expected_on),
            arrived_on.map(day_number),
            on_shelf,
            note.as_ref().map(Note::as_str)
        )?;
        guarded(updated, self.delivery(id)).await
    }

    /// Takes a delivery off the list.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_delivery(&mut self, id: DeliveryId, revision: i64) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::Delivery, None, id.uuid());
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, id.uuid(), revision)?;
        guarded(deleted, self.delivery(id)).await.map(|_| ())
    }

    /// Deliveries by the date on which they are expected.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn deliveries(
        &mut self,
        filter: &DeliveryFilter,
        page: &PageRequest,
    ) -> Result<Page<Delivery>, StoreError> {
        let (day, id) = page.after_number((i64::MIN, Uuid::nil()))?;
        let DeliveryFilter { part_model_id, arrived } = filter;
        let rows: Vec<Row> = rows!(
            self,
            LIST,
            day,
            id,
            part_model_id.is_none(),
            part_model_id.map_or(Uuid::nil(), PartModelId::uuid),
            *arrived != Some(false),
            *arrived != Some(true),
            page.rows()
        )?;
        page_of(rows, page, |delivery: &Delivery| {
            Cursor::Number(day_number(delivery.facts.expected_on), delivery.id.uuid())
        })
    }

    /// Parts that are on their way, by date and model.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn parts_under_way(&mut self) -> Result<Vec<PartsUnderWay>, StoreError> {
        let rows: Vec<(Uuid, i64, i64)> = rows!(self, UNDER_WAY)?;
        rows.into_iter()
            .map(|(model, expected_on, count)| {
                Ok(PartsUnderWay {
                    part_model_id: PartModelId::from_uuid(model),
                    expected_on: date(expected_on, TABLE, "expected_on")?,
                    count: u32::try_from(count).sound(TABLE, "parts")?,
                })
            })
            .collect()
    }
}
