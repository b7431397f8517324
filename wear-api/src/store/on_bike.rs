//! What the tables of a bike's events have in common: one by its id, the latest first, a workshop's in order, voiding.
//!
//! Each table's own statement says which columns and which instant; the parameters are the same.

use sqlx::FromRow;
use sqlx::postgres::PgRow;
use sqlx::sqlite::SqliteRow;
use uuid::Uuid;

use super::error::StoreError;
use super::guarded::page_of;
use super::many::Many;
use super::{Tx, on, row, rows, value_if_any};
use crate::domain::{BikeId, Cursor, Page, PageRequest, Timestamp, Voiding};

/// A row that both engines give.
pub(super) trait EitherRow:
    for<'r> FromRow<'r, PgRow> + for<'r> FromRow<'r, SqliteRow> + Send + Unpin
{
}

impl<R> EitherRow for R where R: for<'r> FromRow<'r, PgRow> + for<'r> FromRow<'r, SqliteRow> + Send + Unpin {}

impl Tx {
    /// The rows of these ids, in no order.
    pub(super) async fn rows_of<R: EitherRow, T: TryFrom<R>>(
        &mut self,
        many: &Many,
        ids: impl IntoIterator<Item = Uuid>,
    ) -> Result<Vec<T>, StoreError>
    where
        StoreError: From<T::Error>,
    {
        let ids: Vec<Uuid> = ids.into_iter().collect();
        let mut found = Vec::with_capacity(ids.len());
        for (sql, batch) in many.batches(self.engine(), &ids) {
            let rows: Vec<R> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for id in batch {
                    query = query.bind(*id);
                }
                query.fetch_all(conn).await
            })?;
            for row in rows {
                found.push(row.try_into()?);
            }
        }
        Ok(found)
    }

    /// The rows of these ids, in the order of their keys.
    pub(super) async fn rows_in_order<R: EitherRow, T: TryFrom<R>, K: Ord>(
        &mut self,
        many: &Many,
        ids: impl IntoIterator<Item = Uuid>,
        key: impl Fn(&T) -> K,
    ) -> Result<Vec<T>, StoreError>
    where
        StoreError: From<T::Error>,
    {
        let mut found = self.rows_of(many, ids).await?;
        found.sort_by_key(key);
        Ok(found)
    }

    /// The rows of bikes between two numbers each: instants, or days.
    pub(super) async fn rows_between<R: EitherRow, T: TryFrom<R, Error = StoreError>>(
        &mut self,
        many: &Many,
        spans: &[(BikeId, i64, i64)],
    ) -> Result<Vec<T>, StoreError> {
        let mut found = Vec::with_capacity(spans.len());
        for (sql, batch) in many.batches(self.engine(), spans) {
            let rows: Vec<R> = on!(self.connection, |conn| {
                let mut query = sqlx::query_as(sql).bind(self.workshop.uuid());
                for (bike, from, to) in batch {
                    query = query.bind(bike.uuid()).bind(*from).bind(*to);
                }
                query.fetch_all(conn).await
            })?;
            for row in rows {
                found.push(row.try_into()?);
            }
        }
        Ok(found)
    }

    /// The event of `$1` workshop, `$2` bike and `$3` id.
    pub(super) async fn one_on_bike<R: EitherRow, T: TryFrom<R, Error = StoreError>>(
        &mut self,
        sql: &'static str,
        bike: BikeId,
        id: Uuid,
    ) -> Result<T, StoreError> {
        let row: R = row!(self, sql, bike.uuid(), id)?;
        row.try_into()
    }

    /// A page of a bike's events, the latest first: those of `$1` workshop and `$2` bike before `$3` instant and `$4` id,
    /// at most `$5`.
    pub(super) async fn latest_on_bike<R: EitherRow, T: TryFrom<R, Error = StoreError>>(
        &mut self,
        sql: &'static str,
        bike: BikeId,
        page: &PageRequest,
        place_of: impl Fn(&T) -> (Timestamp, Uuid),
    ) -> Result<Page<T>, StoreError> {
        let (at, id) = page.after_number((i64::MAX, Uuid::max()))?;
        let rows: Vec<R> = rows!(self, sql, bike.uuid(), at, id, page.rows())?;
        page_of(rows, page, |event| {
            let (at, id) = place_of(event);
            Cursor::Number(at.micros(), id)
        })
    }

    /// Events of all bikes of `$1` workshop after `$2` bike and `$3` id, by bike and id, at most `$4`.
    pub(super) async fn after_on_bikes<R: EitherRow, T: TryFrom<R, Error = StoreError>>(
        &mut self,
        sql: &'static str,
        (bike, id): (Uuid, Uuid),
        most: i64,
    ) -> Result<Vec<T>, StoreError> {
        let rows: Vec<R> = rows!(self, sql, bike, id, most)?;
        rows.into_iter().map(T::try_from).collect()
    }

    /// Voids the event of `$1` workshop, `$2` bike and `$3` id at `$4` for the reason `$5`; whether there was one that
    /// counted.
    pub(super) async fn void_on_bike(
        &mut self,
        sql: &'static str,
        bike: BikeId,
        id: Uuid,
        voiding: &Voiding,
    ) -> Result<bool, StoreError> {
        let voided: Option<Uuid> =
            value_if_any!(self, sql, bike.uuid(), id, voiding.at.micros(), voiding.reason.as_str())?;
        Ok(voided.is_some())
    }

    /// Takes the voiding of the event of `$1` workshop, `$2` bike and `$3` id back; whether there was one that didn't count.
    pub(super) async fn restore_on_bike(
        &mut self,
        sql: &'static str,
        bike: BikeId,
        id: Uuid,
    ) -> Result<bool, StoreError> {
        let restored: Option<Uuid> = value_if_any!(self, sql, bike.uuid(), id)?;
        Ok(restored.is_some())
    }
}
