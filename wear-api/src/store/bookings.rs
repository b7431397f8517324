//! Bookings: when bikes are away.

use chrono::NaiveDate;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::{guarded, page_of};
use super::instant::{date, day_number, day_numbers, instant};
use super::{Tx, execute, row, rows, statements, value_if_any};
use crate::domain::{
    BikeId, Booking, BookingFacts, BookingFilter, BookingId, ChangedKind, Cursor, Note, Page, PageRequest,
};

const TABLE: &str = "bookings";

statements! {
    INSERT = "
        insert into bookings (workshop_id, booking_id, bike_id, from_day, to_day, note, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, 1)";
    GET = "
        select booking_id, bike_id, from_day, to_day, note, created_at, revision
        from bookings where workshop_id = $1 and booking_id = $2";
    UPDATE = "
        update bookings set from_day = $4, to_day = $5, note = $6, revision = revision + 1
        where workshop_id = $1 and booking_id = $2 and revision = $3
        returning revision";
    DELETE = "
        delete from bookings where workshop_id = $1 and booking_id = $2 and revision = $3
        returning booking_id";
    LIST = "
        select booking_id, bike_id, from_day, to_day, note, created_at, revision
        from bookings
        where workshop_id = $1 and (from_day, booking_id) > ($2, $3) and to_day >= $4 and from_day <= $5
            and (cast($6 as text) is null or bike_id = $7)
        order by from_day, booking_id limit $8";
    BETWEEN = "
        select booking_id, bike_id, from_day, to_day, note, created_at, revision
        from bookings where workshop_id = $1 and to_day >= $2 and from_day <= $3
        order by from_day, booking_id";
}

#[derive(sqlx::FromRow)]
struct Row {
    booking_id: Uuid,
    bike_id: Uuid,
    from_day: i64,
    to_day: i64,
    note: Option<String>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for Booking {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { booking_id, bike_id, from_day, to_day, note, created_at, revision } = row;
        Ok(Self {
            id: BookingId::from_uuid(booking_id),
            facts: BookingFacts {
                bike_id: BikeId::from_uuid(bike_id),
                from: date(from_day, TABLE, "from_day")?,
                to: date(to_day, TABLE, "to_day")?,
                note: note.as_deref().map(Note::new).transpose().sound(TABLE, "note")?,
            },
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

impl Tx {
    /// Stores a booking, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn insert_booking(&mut self, booking: &Booking) -> Result<(), StoreError> {
        self.note(ChangedKind::Booking, Some(booking.facts.bike_id), booking.id.uuid());
        let Booking { id, facts, created_at, revision: _ } = booking;
        let BookingFacts { bike_id, from, to, note } = facts;
        execute!(
            self,
            INSERT,
            id.uuid(),
            bike_id.uuid(),
            day_number(*from),
            day_number(*to),
            note.as_ref().map(Note::as_str),
            created_at.micros()
        )?;
        Ok(())
    }

    /// A booking.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn booking(&mut self, id: BookingId) -> Result<Booking, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// Changes a booking's days and note. Its bike stays.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_booking(
        &mut self,
        id: BookingId,
        revision: i64,
        facts: &BookingFacts,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::Booking, Some(facts.bike_id), id.uuid());
        let BookingFacts { bike_id: _, from, to, note } = facts;
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            day_number(*from),
            day_number(*to),
            note.as_ref().map(Note::as_str)
        )?;
        guarded(updated, self.booking(id)).await.map(|_| ())
    }

    /// Removes a booking.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_booking(&mut self, id: BookingId, revision: i64) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::Booking, None, id.uuid());
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, id.uuid(), revision)?;
        guarded(deleted, self.booking(id)).await.map(|_| ())
    }

    /// Bookings by their first day.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bookings(
        &mut self,
        filter: &BookingFilter,
        page: &PageRequest,
    ) -> Result<Page<Booking>, StoreError> {
        let (day, id) = page.after_number((i64::MIN, Uuid::nil()))?;
        let BookingFilter { bike_id, days } = filter;
        let (first, last) = day_numbers(*days);
        let rows: Vec<Row> = rows!(
            self,
            LIST,
            day,
            id,
            first,
            last,
            bike_id.map(|_| "one"),
            bike_id.map_or(Uuid::nil(), BikeId::uuid),
            page.rows()
        )?;
        page_of(rows, page, |booking: &Booking| {
            Cursor::Number(day_number(booking.facts.from), booking.id.uuid())
        })
    }

    /// All bookings that touch the days from–to.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bookings_between(
        &mut self,
        from: NaiveDate,
        to: NaiveDate,
    ) -> Result<Vec<Booking>, StoreError> {
        let rows: Vec<Row> = rows!(self, BETWEEN, day_number(from), day_number(to))?;
        rows.into_iter().map(Booking::try_from).collect()
    }
}
