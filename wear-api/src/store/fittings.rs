//! Fittings.

use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::guarded;
use super::instant::{instant, maybe_instant};
use super::many::Many;
use super::{Tx, row, rows, statements, value, value_if_any};
use crate::domain::{
    BikeId, ChangedKind, Fitting, FittingId, FittingStart, KmBefore, PartId, Place, Position, Timestamp,
};

const TABLE: &str = "fittings";

statements! {
    INSERT = "
        insert into fittings (workshop_id, bike_id, fitting_id, part_id, place, position, fitted_at, removed_at,
            start, hint_mm)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
        on conflict do nothing
        returning fitting_id";
    GET = "
        select bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start,
            hint_mm
        from fittings where workshop_id = $1 and bike_id = $2 and fitting_id = $3";
    REVISION = "
        select revision from fittings where workshop_id = $1 and bike_id = $2 and fitting_id = $3";
    CLOSE = "
        update fittings set removed_at = $4, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and fitting_id = $3 and removed_at is null
        returning fitting_id";
    SPAN = "
        update fittings set fitted_at = $4, removed_at = $5, revision = revision + 1
        where workshop_id = $1 and bike_id = $2 and fitting_id = $3
        returning fitting_id";
    DELETE = "
        delete from fittings where workshop_id = $1 and bike_id = $2 and fitting_id = $3
        returning fitting_id";
    OF_BIKE = "
        select bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start,
            hint_mm
        from fittings where workshop_id = $1 and bike_id = $2
        order by fitted_at, fitting_id";
    OPEN_OF_BIKE = "
        select bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start,
            hint_mm
        from fittings where workshop_id = $1 and bike_id = $2 and removed_at is null
        order by place, position";
    OF_PARTS = "
        select bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start,
            hint_mm
        from fittings where workshop_id = $1 and part_id >= $2 and part_id <= $3
        order by part_id, fitted_at, fitting_id";
    OF_PART = "
        select bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start,
            hint_mm
        from fittings where workshop_id = $1 and part_id = $2
        order by fitted_at, fitting_id";
}

const COLUMNS: &str = "select bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start, hint_mm from fittings where workshop_id = $1";

static OF_THESE_BIKES: LazyLock<Many> =
    LazyLock::new(|| Many::look_up(&format!("{COLUMNS} and bike_id = ?")));

static OF_THESE_PARTS: LazyLock<Many> =
    LazyLock::new(|| Many::look_up(&format!("{COLUMNS} and part_id = ?")));

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

pub(super) fn of_these_parts() -> &'static [&'static str] {
    OF_THESE_PARTS.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    fitting_id: Uuid,
    part_id: Uuid,
    place: String,
    position: i64,
    fitted_at: i64,
    removed_at: Option<i64>,
    start: String,
    hint_mm: Option<i64>,
}

impl TryFrom<Row> for Fitting {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bike_id, fitting_id, part_id, place, position, fitted_at, removed_at, start, hint_mm } =
            row;
        let ridden = hint_mm.map(KmBefore::from_mm).transpose().sound(TABLE, "hint_mm")?;
        Ok(Self {
            id: FittingId::from_uuid(fitting_id),
            part_id: PartId::from_uuid(part_id),
            bike_id: BikeId::from_uuid(bike_id),
            place: place.parse::<Place>().sound(TABLE, "place")?,
            position: Position::new(position).sound(TABLE, "position")?,
            fitted_at: instant(fitted_at, TABLE, "fitted_at")?,
            removed_at: maybe_instant(removed_at, TABLE, "removed_at")?,
            start: if start == FittingStart::AS_FOUND.as_str() {
                FittingStart::AsFound { ridden }
            } else {
                FittingStart::New
            },
        })
    }
}

fn all(rows: Vec<Row>) -> Result<Vec<Fitting>, StoreError> {
    rows.into_iter().map(Fitting::try_from).collect()
}

impl Tx {
    /// All that was and is on these bikes, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fittings_of_bikes(&mut self, bikes: &[BikeId]) -> Result<Vec<Fitting>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_BIKES, ids, |fitting: &Fitting| {
            (fitting.fitted_at, fitting.id)
        })
        .await
    }

    /// Where these parts have been, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn stays_of_parts(&mut self, parts: &[PartId]) -> Result<Vec<Fitting>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_PARTS, ids, |stay: &Fitting| (stay.fitted_at, stay.id))
            .await
    }

    /// The stays of the parts from `first` to `last`, by part and time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fittings_of_parts(
        &mut self,
        first: PartId,
        last: PartId,
    ) -> Result<Vec<Fitting>, StoreError> {
        all(rows!(self, OF_PARTS, first.uuid(), last.uuid())?)
    }

    /// Stores a fitting, open or closed.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when it is open and its place is taken or the part is on a bike;
    /// [`StoreError::NotFound`] when there is no such bike, or no such part for this place.
    pub async fn insert_fitting(&mut self, fitting: &Fitting) -> Result<(), StoreError> {
        self.note(ChangedKind::Fitting, Some(fitting.bike_id), fitting.id.uuid());
        let Fitting { id, part_id, bike_id, place, position, fitted_at, removed_at, start } = fitting;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            bike_id.uuid(),
            id.uuid(),
            part_id.uuid(),
            place.as_str(),
            i64::from(position.get()),
            fitted_at.micros(),
            removed_at.map(Timestamp::micros),
            start.as_str(),
            start.ridden().map(KmBefore::mm)
        )?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// A fitting.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn fitting(&mut self, bike: BikeId, id: FittingId) -> Result<Fitting, StoreError> {
        let row: Row = row!(self, GET, bike.uuid(), id.uuid())?;
        row.try_into()
    }

    /// How often a fitting was changed, and once more.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn fitting_revision(&mut self, bike: BikeId, id: FittingId) -> Result<i64, StoreError> {
        Ok(value!(self, REVISION, bike.uuid(), id.uuid())?)
    }

    /// Takes a part off.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it is off already. A time before the
    /// fitting is a [`StoreError::Defect`]: the caller checks that.
    pub async fn close_fitting(
        &mut self,
        bike: BikeId,
        id: FittingId,
        removed_at: Timestamp,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::Fitting, Some(bike), id.uuid());
        let closed: Option<Uuid> = value_if_any!(self, CLOSE, bike.uuid(), id.uuid(), removed_at.micros())?;
        guarded(closed, self.fitting(bike, id)).await.map(|_| ())
    }

    /// Moves the ends of a fitting: what a swap does that is reported late. Opening one whose place is
    /// taken is a [`StoreError::Conflict`].
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Conflict`].
    pub async fn move_fitting(
        &mut self,
        bike: BikeId,
        id: FittingId,
        fitted_at: Timestamp,
        removed_at: Option<Timestamp>,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::Fitting, Some(bike), id.uuid());
        let moved: Option<Uuid> = value_if_any!(
            self,
            SPAN,
            bike.uuid(),
            id.uuid(),
            fitted_at.micros(),
            removed_at.map(Timestamp::micros)
        )?;
        moved.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Deletes a fitting that never was.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn delete_fitting(&mut self, bike: BikeId, id: FittingId) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::Fitting, Some(bike), id.uuid());
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, bike.uuid(), id.uuid())?;
        deleted.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// All that was and is on a bike, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fittings_of_bike(&mut self, bike: BikeId) -> Result<Vec<Fitting>, StoreError> {
        all(rows!(self, OF_BIKE, bike.uuid())?)
    }

    /// What is on a bike.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn open_fittings(&mut self, bike: BikeId) -> Result<Vec<Fitting>, StoreError> {
        all(rows!(self, OPEN_OF_BIKE, bike.uuid())?)
    }

    /// Where a part has been, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn fittings_of_part(&mut self, part: PartId) -> Result<Vec<Fitting>, StoreError> {
        all(rows!(self, OF_PART, part.uuid())?)
    }
}
