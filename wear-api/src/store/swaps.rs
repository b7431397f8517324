//! Swaps.

use std::sync::LazyLock;

use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::readings::voiding;
use super::{Tx, execute, row_if_any, rows, statements, value_if_any};
use crate::domain::{
    BikeId, ChangedKind, Checklist, NewSwap, Note, Once, Page, PageRequest, PartId, PartModelId, Place,
    Position, ReadingId, Swap, SwapId, SwapReason, Timestamp, Voiding,
};

const TABLE: &str = "swaps";

statements! {
    AFTER = "
        select bike_id, swap_id, swapped_at, place, position, off_part_id, on_part_id, model_id, reading_id,
            note, from_shelf, checklist, reason, voided_at, void_reason
        from swaps where workshop_id = $1 and (bike_id, swap_id) > ($2, $3)
        order by bike_id, swap_id limit $4";
    INSERT = "
        insert into swaps (workshop_id, bike_id, swap_id, swapped_at, place, position, off_part_id, on_part_id,
            model_id, reading_id, note, from_shelf, checklist, reason, voided_at, void_reason)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)
        on conflict (workshop_id, bike_id, place, position, swapped_at) where voided_at is null do nothing
        returning swap_id";
    SAME = "
        select bike_id, swap_id, swapped_at, place, position, off_part_id, on_part_id, model_id, reading_id,
            note, from_shelf, checklist, reason, voided_at, void_reason
        from swaps
        where workshop_id = $1 and bike_id = $2 and place = $3 and position = $4 and swapped_at = $5
            and voided_at is null";
    GET = "
        select bike_id, swap_id, swapped_at, place, position, off_part_id, on_part_id, model_id, reading_id,
            note, from_shelf, checklist, reason, voided_at, void_reason
        from swaps where workshop_id = $1 and bike_id = $2 and swap_id = $3";
    LIST = "
        select bike_id, swap_id, swapped_at, place, position, off_part_id, on_part_id, model_id, reading_id,
            note, from_shelf, checklist, reason, voided_at, void_reason
        from swaps where workshop_id = $1 and bike_id = $2 and (swapped_at, swap_id) < ($3, $4)
        order by swapped_at desc, swap_id desc limit $5";
    BETWEEN = "
        select bike_id, place, swapped_at from swaps
        where workshop_id = $1 and swapped_at >= $2 and swapped_at <= $3 and voided_at is null
        order by swapped_at";
    CAME_OFF = "
        update swaps set off_part_id = $4
        where workshop_id = $1 and bike_id = $2 and off_part_id = $3 and voided_at is null";
    VOID = "
        update swaps set voided_at = $4, void_reason = $5
        where workshop_id = $1 and bike_id = $2 and swap_id = $3 and voided_at is null
        returning swap_id";
}

static CASSETTES_OFF: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select off_part_id, reason from swaps
         where workshop_id = $1 and bike_id = ? and place = 'cassette' and voided_at is null
            and off_part_id is not null and reason is not null",
    )
});

pub(super) fn cassettes_off() -> &'static [&'static str] {
    CASSETTES_OFF.texts()
}

#[derive(sqlx::FromRow)]
struct ReasonRow {
    off_part_id: Uuid,
    reason: String,
}

struct CameOff(PartId, SwapReason);

impl TryFrom<ReasonRow> for CameOff {
    type Error = StoreError;

    fn try_from(ReasonRow { off_part_id, reason }: ReasonRow) -> Result<Self, StoreError> {
        Ok(Self(PartId::from_uuid(off_part_id), reason.parse().sound(TABLE, "reason")?))
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    swap_id: Uuid,
    swapped_at: i64,
    place: String,
    position: i64,
    off_part_id: Option<Uuid>,
    on_part_id: Uuid,
    model_id: Option<Uuid>,
    reading_id: Option<Uuid>,
    note: Option<String>,
    from_shelf: bool,
    checklist: Option<Json<Vec<String>>>,
    reason: Option<String>,
    voided_at: Option<i64>,
    void_reason: Option<String>,
}

impl TryFrom<Row> for Swap {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_id,
            swap_id,
            swapped_at,
            place,
            position,
            off_part_id,
            on_part_id,
            model_id,
            reading_id,
            note,
            from_shelf,
            checklist,
            reason,
            voided_at,
            void_reason,
        } = row;
        let facts = NewSwap {
            id: SwapId::from_uuid(swap_id),
            bike_id: BikeId::from_uuid(bike_id),
            swapped_at: instant(swapped_at, TABLE, "swapped_at")?,
            place: place.parse().sound(TABLE, "place")?,
            position: Position::new(position).sound(TABLE, "position")?,
            off_part_id: off_part_id.map(PartId::from_uuid),
            on_part_id: PartId::from_uuid(on_part_id),
            model_id: model_id.map(PartModelId::from_uuid),
            reading_id: reading_id.map(ReadingId::from_uuid),
            note: note.as_deref().map(Note::new).transpose().sound(TABLE, "note")?,
            from_shelf,
            checklist: checklist
                .map(|Json(words)| Checklist::new(words.iter().map(String::as_str)))
                .transpose()
                .map_err(|(_, cause)| cause)
                .sound(TABLE, "checklist")?,
            reason: reason.map(|word| word.parse()).transpose().sound(TABLE, "reason")?,
        };
        Ok(Self { facts, voided: voiding(voided_at, void_reason, TABLE)? })
    }
}

impl Tx {
    /// At most so many of the workshop's swaps after one of a bike, by bike and id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn swaps_after(&mut self, after: (Uuid, Uuid), most: i64) -> Result<Vec<Swap>, StoreError> {
        self.after_on_bikes::<Row, _>(AFTER, after, most).await
    }

    /// Stores a swap; the caller moves the fittings. A swap at the same place and instant is the same:
    /// ask [`Tx::swap_at`] before the fittings are touched.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when a bike, part, model or reading that it names isn't there, or doesn't
    /// fit its place.
    pub async fn insert_swap(&mut self, swap: &NewSwap) -> Result<Once<SwapId>, StoreError> {
        if self.write_swap(swap, None).await? {
            self.note(ChangedKind::Swap, Some(swap.bike_id), swap.id.uuid());
            return Ok(Once::New(swap.id));
        }
        let same = self.swap_at(swap.bike_id, swap.place, swap.position, swap.swapped_at).await?;
        same.map(|swap| Once::Again(swap.facts.id)).ok_or(StoreError::Interrupted)
    }

    /// The swap at a place and instant, if there is one that counts.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn swap_at(
        &mut self,
        bike: BikeId,
        place: Place,
        position: Position,
        at: Timestamp,
    ) -> Result<Option<Swap>, StoreError> {
        let row: Option<Row> =
            row_if_any!(self, SAME, bike.uuid(), place.as_str(), i64::from(position.get()), at.micros())?;
        row.map(Swap::try_from).transpose()
    }

    /// Stores a swap that doesn't count.
    ///
    /// # Errors
    /// As [`Tx::insert_swap`]; [`StoreError::Conflict`] when its id is known.
    pub async fn insert_voided_swap(&mut self, swap: &NewSwap, voiding: &Voiding) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::Swap, Some(swap.bike_id), swap.id.uuid());
        self.write_swap(swap, Some(voiding)).await.map(|_| ())
    }

    /// Whether the swap is stored: it isn't when it counts and one that counts stands at its place and instant.
    async fn write_swap(&mut self, swap: &NewSwap, voiding: Option<&Voiding>) -> Result<bool, StoreError> {
        let NewSwap {
            id,
            bike_id,
            swapped_at,
            place,
            position,
            off_part_id,
            on_part_id,
            model_id,
            reading_id,
            note,
            from_shelf,
            checklist,
            reason,
        } = swap;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            bike_id.uuid(),
            id.uuid(),
            swapped_at.micros(),
            place.as_str(),
            i64::from(position.get()),
            off_part_id.map(PartId::uuid),
            on_part_id.uuid(),
            model_id.map(PartModelId::uuid),
            reading_id.map(ReadingId::uuid),
            note.as_ref().map(Note::as_str),
            *from_shelf,
            checklist.as_ref().map(|list| Json(list.words())),
            reason.map(SwapReason::as_str),
            voiding.map(|voiding| voiding.at.micros()),
            voiding.map(|voiding| voiding.reason.as_str())
        )?;
        Ok(inserted.is_some())
    }

    /// A swap, voided or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn swap(&mut self, bike: BikeId, id: SwapId) -> Result<Swap, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// A bike's swaps, voided ones too, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn swaps(&mut self, bike: BikeId, page: &PageRequest) -> Result<Page<Swap>, StoreError> {
        self.latest_on_bike::<Row, _>(LIST, bike, page, |swap: &Swap| {
            (swap.facts.swapped_at, swap.facts.id.uuid())
        })
        .await
    }

    /// Why cassettes came off these bikes, where somebody said.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn reasons_of_cassettes(
        &mut self,
        bikes: &[BikeId],
    ) -> Result<Vec<(PartId, SwapReason)>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        let reasons: Vec<CameOff> = self.rows_of::<ReasonRow, _>(&CASSETTES_OFF, ids).await?;
        Ok(reasons.into_iter().map(|CameOff(part, reason)| (part, reason)).collect())
    }

    /// Says of later swaps that another part came off than was thought; none when the place was empty.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_part_that_came_off(
        &mut self,
        bike: BikeId,
        thought: PartId,
        was: Option<PartId>,
    ) -> Result<(), StoreError> {
        execute!(self, CAME_OFF, bike.uuid(), thought.uuid(), was.map(PartId::uuid))?;
        Ok(())
    }

    /// What was swapped between two instants, both included: bike, place, and when.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn swaps_between(
        &mut self,
        from: Timestamp,
        to: Timestamp,
    ) -> Result<Vec<(BikeId, Place, Timestamp)>, StoreError> {
        let rows: Vec<(Uuid, String, i64)> = rows!(self, BETWEEN, from.micros(), to.micros())?;
        rows.into_iter()
            .map(|(bike, place, at)| {
                Ok((
                    BikeId::from_uuid(bike),
                    place.parse().sound(TABLE, "place")?,
                    instant(at, TABLE, "swapped_at")?,
                ))
            })
            .collect()
    }

    /// Voids a swap; the caller moves the fittings back.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it is voided already.
    pub async fn void_swap(&mut self, bike: BikeId, id: SwapId, voiding: &Voiding) -> Result<(), StoreError> {
        if self.void_on_bike(VOID, bike, id.uuid(), voiding).await? {
            self.note_gone(ChangedKind::Swap, Some(bike), id.uuid());
            return Ok(());
        }
        self.swap(bike, id).await.and(Err(StoreError::Conflict))
    }
}
