//! Riders.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::instant;
use super::{Tx, execute, row, statements, value_if_any};
use crate::domain::{Label, Page, PageRequest, Rider, RiderId, Timestamp};

const TABLE: &str = "riders";

statements! {
    INSERT = "
        insert into riders (workshop_id, rider_id, name, created_at, revision) values ($1, $2, $3, $4, 1)";
    GET = "
        select rider_id, name, created_at, revision
        from riders where workshop_id = $1 and rider_id = $2 and name is not null";
    LIST = "
        select rider_id, name, created_at, revision
        from riders where workshop_id = $1 and rider_id > $2 and name is not null
        order by rider_id limit $3";
    RENAME = "
        update riders set name = $4, revision = revision + 1
        where workshop_id = $1 and rider_id = $2 and revision = $3 and name is not null
        returning revision";
    DELETE = "
        update riders set name = null, deleted_at = $4, revision = revision + 1
        where workshop_id = $1 and rider_id = $2 and revision = $3 and name is not null
        returning revision";
}

#[derive(sqlx::FromRow)]
struct Row {
    rider_id: Uuid,
    name: String,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for Rider {
    type Error = StoreError;

    fn try_from(Row { rider_id, name, created_at, revision }: Row) -> Result<Self, StoreError> {
        Ok(Self {
            id: RiderId::from_uuid(rider_id),
            name: Label::new(&name).sound(TABLE, "name")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a new rider.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn insert_rider(&mut self, rider: &Rider) -> Result<(), StoreError> {
        let Rider { id, name, created_at, revision: _ } = rider;
        execute!(self, INSERT, id.uuid(), name.as_str(), created_at.micros())?;
        Ok(())
    }

    /// A rider.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], also for one that was deleted.
    pub async fn rider(&mut self, id: RiderId) -> Result<Rider, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The workshop's riders in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn riders(&mut self, page: &PageRequest) -> Result<Page<Rider>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |rider: &Rider| rider.id.uuid()).await
    }

    /// Gives a rider another name and returns the new revision.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn rename_rider(
        &mut self,
        id: RiderId,
        revision: i64,
        name: &Label,
    ) -> Result<i64, StoreError> {
        let renamed: Option<i64> = value_if_any!(self, RENAME, id.uuid(), revision, name.as_str())?;
        guarded(renamed, self.rider(id)).await
    }

    /// Deletes a rider: the name goes, the id stays with what names it.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_rider(
        &mut self,
        id: RiderId,
        revision: i64,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        let deleted: Option<i64> = value_if_any!(self, DELETE, id.uuid(), revision, at.micros())?;
        guarded(deleted, self.rider(id)).await.map(|_| ())
    }
}
