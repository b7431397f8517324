//! Care.

use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::readings::voiding;
use super::{Tx, statements, value, value_if_any};
use crate::domain::{BikeId, Care, CareId, ChangedKind, LubricantId, Note, Once, Page, PageRequest, Voiding};

const TABLE: &str = "care_events";

statements! {
    AFTER = "
        select bike_id, care_id, kind, done_at, note, voided_at, void_reason, lubricant_id
        from care_events where workshop_id = $1 and (bike_id, care_id) > ($2, $3)
        order by bike_id, care_id limit $4";
    INSERT = "
        insert into care_events (workshop_id, bike_id, care_id, kind, done_at, note, voided_at, void_reason,
            lubricant_id)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
        on conflict (workshop_id, bike_id, done_at, kind) do nothing
        returning care_id";
    GET = "
        select bike_id, care_id, kind, done_at, note, voided_at, void_reason, lubricant_id
        from care_events where workshop_id = $1 and bike_id = $2 and care_id = $3";
    VOID = "
        update care_events set voided_at = $4, void_reason = $5
        where workshop_id = $1 and bike_id = $2 and care_id = $3 and voided_at is null
        returning care_id";
    RESTORE = "
        update care_events set voided_at = null, void_reason = null
        where workshop_id = $1 and bike_id = $2 and care_id = $3 and voided_at is not null
        returning care_id";
    SAME = "
        select care_id from care_events
        where workshop_id = $1 and bike_id = $2 and done_at = $3 and kind = $4";
    NAME_LUBRICANT = "
        update care_events set lubricant_id = $4
        where workshop_id = $1 and bike_id = $2 and care_id = $3
            and (lubricant_id is null or lubricant_id <> $5)
        returning care_id";
    LIST = "
        select bike_id, care_id, kind, done_at, note, voided_at, void_reason, lubricant_id
        from care_events where workshop_id = $1 and bike_id = $2 and (done_at, care_id) < ($3, $4)
        order by done_at desc, care_id desc limit $5";
}

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select bike_id, care_id, kind, done_at, note, voided_at, void_reason, lubricant_id
         from care_events where workshop_id = $1 and voided_at is null and bike_id = ?",
    )
});

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    care_id: Uuid,
    kind: String,
    done_at: i64,
    note: Option<String>,
    voided_at: Option<i64>,
    void_reason: Option<String>,
    lubricant_id: Option<Uuid>,
}

impl TryFrom<Row> for Care {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bike_id, care_id, kind, done_at, note, voided_at, void_reason, lubricant_id } = row;
        Ok(Self {
            id: CareId::from_uuid(care_id),
            bike_id: BikeId::from_uuid(bike_id),
            kind: kind.parse().sound(TABLE, "kind")?,
            done_at: instant(done_at, TABLE, "done_at")?,
            note: note.as_deref().map(Note::new).transpose().sound(TABLE, "note")?,
            voided: voiding(voided_at, void_reason, TABLE)?,
            lubricant_id: lubricant_id.map(LubricantId::from_uuid),
        })
    }
}

impl Tx {
    /// At most so many of the workshop's care after one of a bike, by bike and id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn care_after(&mut self, after: (Uuid, Uuid), most: i64) -> Result<Vec<Care>, StoreError> {
        self.after_on_bikes::<Row, _>(AFTER, after, most).await
    }

    /// Stores a care event. The same kind at the same instant on the same bike is the same event.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn insert_care(&mut self, care: &Care) -> Result<Once<CareId>, StoreError> {
        let Care { id, bike_id, kind, done_at, note, voided, lubricant_id } = care;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            bike_id.uuid(),
            id.uuid(),
            kind.as_str(),
            done_at.micros(),
            note.as_ref().map(Note::as_str),
            voided.as_ref().map(|voided| voided.at.micros()),
            voided.as_ref().map(|voided| voided.reason.as_str()),
            lubricant_id.map(LubricantId::uuid)
        )?;
        if inserted.is_some() {
            self.note(ChangedKind::Care, Some(*bike_id), id.uuid());
            return Ok(Once::New(*id));
        }
        let same: Uuid = value!(self, SAME, bike_id.uuid(), done_at.micros(), kind.as_str())?;
        Ok(Once::Again(CareId::from_uuid(same)))
    }

    /// Care, void or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn care_event(&mut self, bike: BikeId, id: CareId) -> Result<Care, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// Takes care out of account; it stays on record.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it is void already.
    pub async fn void_care(&mut self, bike: BikeId, id: CareId, voiding: &Voiding) -> Result<(), StoreError> {
        if self.void_on_bike(VOID, bike, id.uuid(), voiding).await? {
            self.note_gone(ChangedKind::Care, Some(bike), id.uuid());
            return Ok(());
        }
        self.care_event(bike, id).await.and(Err(StoreError::Conflict))
    }

    /// Takes a voiding back.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it isn't void.
    pub async fn restore_care(&mut self, bike: BikeId, id: CareId) -> Result<(), StoreError> {
        if self.restore_on_bike(RESTORE, bike, id.uuid()).await? {
            self.note(ChangedKind::Care, Some(bike), id.uuid());
            return Ok(());
        }
        self.care_event(bike, id).await.and(Err(StoreError::Conflict))
    }

    /// Says what a care event was done with; whether something else was said before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn name_lubricant(
        &mut self,
        bike: BikeId,
        id: CareId,
        lubricant: LubricantId,
    ) -> Result<bool, StoreError> {
        self.note(ChangedKind::Care, Some(bike), id.uuid());
        let (bike, lubricant) = (bike.uuid(), lubricant.uuid());
        let named: Option<Uuid> = value_if_any!(self, NAME_LUBRICANT, bike, id.uuid(), lubricant, lubricant)?;
        Ok(named.is_some())
    }

    /// All care of these bikes that counts, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn care_of_bikes(&mut self, bikes: &[BikeId]) -> Result<Vec<Care>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_BIKES, ids, |care: &Care| (care.done_at, care.id)).await
    }

    /// A bike's care, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn care(&mut self, bike: BikeId, page: &PageRequest) -> Result<Page<Care>, StoreError> {
        self.latest_on_bike::<Row, _>(LIST, bike, page, |care: &Care| (care.done_at, care.id.uuid())).await
    }
}
