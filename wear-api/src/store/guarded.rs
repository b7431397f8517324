//! What the tables of a workshop's things have in common: pages by id, and changes guarded by a revision.

use std::future::Future;

use uuid::Uuid;

use super::error::StoreError;
use super::on_bike::EitherRow;
use super::{Tx, rows};
use crate::domain::{Cursor, Page, PageRequest};

impl Tx {
    /// A page by id: the things of `$1` workshop after `$2` id, or before it in a list with the latest first, at most
    /// `$3`. The first page is asked for from `edge`.
    pub(super) async fn page_by_id<R: EitherRow, T: TryFrom<R, Error = StoreError>>(
        &mut self,
        sql: &'static str,
        edge: Uuid,
        page: &PageRequest,
        id_of: impl Fn(&T) -> Uuid,
    ) -> Result<Page<T>, StoreError> {
        let after = page.after_id(edge)?;
        let rows: Vec<R> = rows!(self, sql, after, page.rows())?;
        page_of(rows, page, |thing| Cursor::Id(id_of(thing)))
    }
}

/// The page that was asked for, from the rows that were found.
pub(super) fn page_of<R, T: TryFrom<R, Error = StoreError>>(
    rows: Vec<R>,
    page: &PageRequest,
    place_of: impl Fn(&T) -> Cursor,
) -> Result<Page<T>, StoreError> {
    let things = rows.into_iter().map(T::try_from).collect::<Result<_, _>>()?;
    Ok(page.cut(things, place_of))
}

/// What a change guarded by a revision gave. Where it found nothing, `there` tells a stale revision from a thing that
/// isn't there.
pub(super) async fn guarded<C, T>(
    changed: Option<C>,
    there: impl Future<Output = Result<T, StoreError>>,
) -> Result<C, StoreError> {
    match changed {
        Some(changed) => Ok(changed),
        None => there.await.and(Err(StoreError::Conflict)),
    }
}
