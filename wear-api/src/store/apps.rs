//! Apps that work with a workshop.

use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::instant;
use super::{Tx, row, statements, value_if_any};
use crate::domain::{App, AppId, Label, Page, PageRequest, RedirectUri, Timestamp};

const TABLE: &str = "apps";

statements! {
    INSERT = "
        insert into apps (workshop_id, app_id, name, name_key, created_at, redirect_uris, revision)
        values ($1, $2, $3, $4, $5, $6, 1)
        on conflict do nothing
        returning app_id";
    GET = "
        select app_id, name, redirect_uris, created_at, revision
        from apps where workshop_id = $1 and app_id = $2 and deleted_at is null";
    LIST = "
        select app_id, name, redirect_uris, created_at, revision
        from apps where workshop_id = $1 and app_id > $2 and deleted_at is null
        order by app_id limit $3";
    OTHER_OF_NAME = "
        select app_id from apps
        where workshop_id = $1 and name_key = $2 and app_id <> $3 and deleted_at is null";
    CHANGE = "
        update apps set name = $4, name_key = $5, redirect_uris = $6, revision = revision + 1
        where workshop_id = $1 and app_id = $2 and revision = $3 and deleted_at is null
        returning revision";
    DELETE = "
        update apps set deleted_at = $4, revision = revision + 1
        where workshop_id = $1 and app_id = $2 and revision = $3 and deleted_at is null
        returning revision";
}

#[derive(sqlx::FromRow)]
struct Row {
    app_id: Uuid,
    name: String,
    redirect_uris: Json<Vec<String>>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for App {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { app_id, name, redirect_uris: Json(uris), created_at, revision } = row;
        let uris: Result<Vec<RedirectUri>, _> = uris.iter().map(|uri| RedirectUri::new(uri)).collect();
        Ok(Self {
            id: AppId::from_uuid(app_id),
            name: Label::new(&name).sound(TABLE, "name")?,
            redirect_uris: uris.sound(TABLE, "redirect_uris")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

fn listed(uris: &[RedirectUri]) -> Json<Vec<&str>> {
    Json(uris.iter().map(RedirectUri::as_str).collect())
}

impl Tx {
    /// Stores a new app.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when another one has the name.
    pub async fn insert_app(&mut self, app: &App) -> Result<(), StoreError> {
        let App { id, name, redirect_uris, created_at, revision: _ } = app;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            id.uuid(),
            name.as_str(),
            name.folded(),
            created_at.micros(),
            listed(redirect_uris)
        )?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// An app.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn app(&mut self, id: AppId) -> Result<App, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The workshop's apps in the order they were entered.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn apps(&mut self, page: &PageRequest) -> Result<Page<App>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |app: &App| app.id.uuid()).await
    }

    /// Whether another app than this one has the name.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn is_app_name_taken(&mut self, name: &Label, own: AppId) -> Result<bool, StoreError> {
        let other: Option<Uuid> = value_if_any!(self, OTHER_OF_NAME, name.folded(), own.uuid())?;
        Ok(other.is_some())
    }

    /// Changes an app where its revision is the one that it has here, and returns the new one.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_app(&mut self, app: &App) -> Result<i64, StoreError> {
        let App { id, name, redirect_uris, created_at: _, revision } = app;
        let changed: Option<i64> = value_if_any!(
            self,
            CHANGE,
            id.uuid(),
            *revision,
            name.as_str(),
            name.folded(),
            listed(redirect_uris)
        )?;
        guarded(changed, self.app(*id)).await
    }

    /// Deletes an app; its name is free again.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_app(&mut self, id: AppId, revision: i64, at: Timestamp) -> Result<(), StoreError> {
        let deleted: Option<i64> = value_if_any!(self, DELETE, id.uuid(), revision, at.micros())?;
        guarded(deleted, self.app(id)).await.map(|_| ())
    }
}
