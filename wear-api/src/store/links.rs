//! One-time codes that link apps: the hash of each, until it is redeemed.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::page_of;
use super::instant::instant;
use super::{SystemTx, Tx, execute, on, rows, statements, value_if_any};
use crate::domain::{
    AppId, Cursor, Label, Link, LinkId, LinkedReach, Page, PageRequest, RiderId, Timestamp, TokenHash,
    WorkshopId,
};

const TABLE: &str = "links";

statements! {
    INSERT = "
        insert into links (workshop_id, link_id, hash, app_id, rider_id, label, created_at, expires_at)
        values ($1, $2, $3, $4, $5, $6, $7, $8)";
    LIST = "
        select workshop_id, link_id, app_id, rider_id, label, created_at, expires_at
        from links where workshop_id = $1 and link_id > $2 and expires_at > $3
        order by link_id limit $4";
    DELETE = "delete from links where workshop_id = $1 and link_id = $2 returning link_id";
    DELETE_OF_APP = "delete from links where workshop_id = $1 and app_id = $2";
    DELETE_OF_RIDER = "delete from links where workshop_id = $1 and rider_id = $2";
    SWEEP = "delete from links where workshop_id = $1 and expires_at <= $2";
    TAKE = "
        delete from links where hash = $1
        returning workshop_id, link_id, app_id, rider_id, label, created_at, expires_at";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    link_id: Uuid,
    app_id: Option<Uuid>,
    rider_id: Option<Uuid>,
    label: String,
    created_at: i64,
    expires_at: i64,
}

impl TryFrom<Row> for Link {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id: _, link_id, app_id, rider_id, label, created_at, expires_at } = row;
        let reach = LinkedReach::new(app_id.map(AppId::from_uuid), rider_id.map(RiderId::from_uuid));
        Ok(Self {
            id: LinkId::from_uuid(link_id),
            reach: reach.sound(TABLE, "app_id")?,
            label: Label::new(&label).sound(TABLE, "label")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            expires_at: instant(expires_at, TABLE, "expires_at")?,
        })
    }
}

impl SystemTx {
    /// Takes the link with this hash away, of whatever workshop, so that no other transaction gets it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn take_link(&mut self, hash: &TokenHash) -> Result<Option<(WorkshopId, Link)>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| {
            sqlx::query_as(TAKE).bind(hash.as_bytes().as_slice()).fetch_optional(conn).await
        })?;
        row.map(|row| Ok((WorkshopId::from_uuid(row.workshop_id), row.try_into()?))).transpose()
    }
}

impl Tx {
    /// Stores a new link.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such app or rider.
    pub async fn insert_link(&mut self, link: &Link, hash: &TokenHash) -> Result<(), StoreError> {
        let Link { id, reach, label, created_at, expires_at } = link;
        execute!(
            self,
            INSERT,
            id.uuid(),
            hash.as_bytes().as_slice(),
            reach.get().app().map(AppId::uuid),
            reach.get().rider().map(RiderId::uuid),
            label.as_str(),
            created_at.micros(),
            expires_at.micros()
        )?;
        Ok(())
    }

    /// Links that wait to be redeemed, in the order they were made.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn links(&mut self, now: Timestamp, page: &PageRequest) -> Result<Page<Link>, StoreError> {
        let after = page.after_id(Uuid::nil())?;
        let rows: Vec<Row> = rows!(self, LIST, after, now.micros(), page.rows())?;
        page_of(rows, page, |link: &Link| Cursor::Id(link.id.uuid()))
    }

    /// Takes a link back.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn delete_link(&mut self, id: LinkId) -> Result<(), StoreError> {
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, id.uuid())?;
        deleted.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Takes every link to an app back.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn delete_links_of_app(&mut self, app: AppId) -> Result<(), StoreError> {
        execute!(self, DELETE_OF_APP, app.uuid())?;
        Ok(())
    }

    /// Takes every link to a rider back.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn delete_links_of_rider(&mut self, rider: RiderId) -> Result<(), StoreError> {
        execute!(self, DELETE_OF_RIDER, rider.uuid())?;
        Ok(())
    }

    /// Removes links whose time is over.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn sweep_links(&mut self, now: Timestamp) -> Result<(), StoreError> {
        execute!(self, SWEEP, now.micros())?;
        Ok(())
    }
}
