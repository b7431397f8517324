//! What bikes' counters showed.

use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::readings::voiding;
use super::{Tx, rows, statements, value, value_if_any};
use crate::domain::{
    BikeId, ChangedKind, EnteredWith, OdometerStatement, OdometerTotal, Once, Page, PageRequest, StatementId,
    Timestamp, Voiding,
};

const TABLE: &str = "odometer_statements";

statements! {
    AFTER = "
        select bike_id, statement_id, read_at, total_mm, entered_with, event_id, entered_at, voided_at, void_reason
        from odometer_statements where workshop_id = $1 and (bike_id, statement_id) > ($2, $3)
        order by bike_id, statement_id limit $4";
    INSERT = "
        insert into odometer_statements (workshop_id, bike_id, statement_id, read_at, total_mm, entered_with, event_id,
            entered_at, voided_at, void_reason)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
        on conflict (workshop_id, bike_id, read_at, total_mm) where voided_at is null do nothing
        returning statement_id";
    SAME = "
        select statement_id from odometer_statements
        where workshop_id = $1 and bike_id = $2 and read_at = $3 and total_mm = $4 and voided_at is null";
    GET = "
        select bike_id, statement_id, read_at, total_mm, entered_with, event_id, entered_at, voided_at, void_reason
        from odometer_statements where workshop_id = $1 and bike_id = $2 and statement_id = $3";
    LIST = "
        select bike_id, statement_id, read_at, total_mm, entered_with, event_id, entered_at, voided_at, void_reason
        from odometer_statements
        where workshop_id = $1 and bike_id = $2 and (read_at, statement_id) < ($3, $4)
        order by read_at desc, statement_id desc limit $5";
    RESTORE = "
        update odometer_statements set voided_at = null, void_reason = null
        where workshop_id = $1 and bike_id = $2 and statement_id = $3 and voided_at is not null
        returning statement_id";
    VOID = "
        update odometer_statements set voided_at = $4, void_reason = $5
        where workshop_id = $1 and bike_id = $2 and statement_id = $3 and voided_at is null
        returning statement_id";
    RESTORE_WITH = "
        update odometer_statements set voided_at = null, void_reason = null
        where workshop_id = $1 and bike_id = $2 and entered_with = $3 and event_id = $4 and voided_at = $5
        returning statement_id";
    VOID_WITH = "
        update odometer_statements set voided_at = $5, void_reason = $6
        where workshop_id = $1 and bike_id = $2 and entered_with = $3 and event_id = $4 and voided_at is null
        returning statement_id";
}

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select bike_id, statement_id, read_at, total_mm, entered_with, event_id, entered_at, voided_at, void_reason
         from odometer_statements where workshop_id = $1 and voided_at is null and bike_id = ?",
    )
});

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    statement_id: Uuid,
    read_at: i64,
    total_mm: i64,
    entered_with: Option<String>,
    event_id: Option<Uuid>,
    entered_at: i64,
    voided_at: Option<i64>,
    void_reason: Option<String>,
}

impl TryFrom<Row> for OdometerStatement {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_id,
            statement_id,
            read_at,
            total_mm,
            entered_with,
            event_id,
            entered_at,
            voided_at,
            void_reason,
        } = row;
        let with = |(kind, id): (String, Uuid)| -> Result<EnteredWith, StoreError> {
            Ok(EnteredWith::new(kind.parse().sound(TABLE, "entered_with")?, id))
        };
        Ok(Self {
            id: StatementId::from_uuid(statement_id),
            bike_id: BikeId::from_uuid(bike_id),
            read_at: instant(read_at, TABLE, "read_at")?,
            total: OdometerTotal::from_mm(total_mm).sound(TABLE, "total_mm")?,
            entered_with: entered_with.zip(event_id).map(with).transpose()?,
            entered_at: instant(entered_at, TABLE, "entered_at")?,
            voided: voiding(voided_at, void_reason, TABLE)?,
        })
    }
}

impl Tx {
    /// Stores what a counter showed. The same total at the same instant on the same bike is the same statement; one
    /// that doesn't count is like no other.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn insert_statement(
        &mut self,
        statement: &OdometerStatement,
    ) -> Result<Once<StatementId>, StoreError> {
        let OdometerStatement { id, bike_id, read_at, total, entered_with, entered_at, voided } = statement;
        let (kind, event_id) = entered_with.map(|with| (with.kind().as_str(), with.id())).unzip();
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            bike_id.uuid(),
            id.uuid(),
            read_at.micros(),
            total.mm(),
            kind,
            event_id,
            entered_at.micros(),
            voided.as_ref().map(|voiding| voiding.at.micros()),
            voided.as_ref().map(|voiding| voiding.reason.as_str())
        )?;
        if inserted.is_some() {
            self.note(ChangedKind::Odometer, Some(*bike_id), id.uuid());
            return Ok(Once::New(*id));
        }
        let same: Uuid = value!(self, SAME, bike_id.uuid(), read_at.micros(), total.mm())?;
        Ok(Once::Again(StatementId::from_uuid(same)))
    }

    /// A statement, voided or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn statement(
        &mut self,
        bike: BikeId,
        id: StatementId,
    ) -> Result<OdometerStatement, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// What a bike's counters showed, voided statements too, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn statements(
        &mut self,
        bike: BikeId,
        page: &PageRequest,
    ) -> Result<Page<OdometerStatement>, StoreError> {
        self.latest_on_bike::<Row, _>(LIST, bike, page, |statement: &OdometerStatement| {
            (statement.read_at, statement.id.uuid())
        })
        .await
    }

    /// At most so many of the workshop's statements after one of a bike, by bike and id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn statements_after(
        &mut self,
        after: (Uuid, Uuid),
        most: i64,
    ) -> Result<Vec<OdometerStatement>, StoreError> {
        self.after_on_bikes::<Row, _>(AFTER, after, most).await
    }

    /// The statements of these bikes that count, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn odometer_of_bikes(
        &mut self,
        bikes: &[BikeId],
    ) -> Result<Vec<OdometerStatement>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_BIKES, ids, |statement: &OdometerStatement| {
            (statement.read_at, statement.id)
        })
        .await
    }

    /// Voids a statement.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it is voided already.
    pub async fn void_statement(
        &mut self,
        bike: BikeId,
        id: StatementId,
        voiding: &Voiding,
    ) -> Result<(), StoreError> {
        if self.void_on_bike(VOID, bike, id.uuid(), voiding).await? {
            self.note_gone(ChangedKind::Odometer, Some(bike), id.uuid());
            return Ok(());
        }
        self.statement(bike, id).await.and(Err(StoreError::Conflict))
    }

    /// Takes back that what was entered with an event was voided with it, at that time.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when the same was entered anew since.
    pub async fn restore_statement_of(
        &mut self,
        bike: BikeId,
        with: EnteredWith,
        voided_at: Timestamp,
    ) -> Result<(), StoreError> {
        let (kind, id) = (with.kind().as_str(), with.id());
        let restored: Vec<(Uuid,)> = rows!(self, RESTORE_WITH, bike.uuid(), kind, id, voided_at.micros())?;
        restored.iter().for_each(|(id,)| self.note(ChangedKind::Odometer, Some(bike), *id));
        Ok(())
    }

    /// Voids what was entered with an event, if anything was.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn void_statement_of(
        &mut self,
        bike: BikeId,
        with: EnteredWith,
        voiding: &Voiding,
    ) -> Result<(), StoreError> {
        let (kind, id) = (with.kind().as_str(), with.id());
        let (at, reason) = (voiding.at.micros(), voiding.reason.as_str());
        let voided: Vec<(Uuid,)> = rows!(self, VOID_WITH, bike.uuid(), kind, id, at, reason)?;
        voided.iter().for_each(|(id,)| self.note_gone(ChangedKind::Odometer, Some(bike), *id));
        Ok(())
    }

    /// Takes a voiding back.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it isn't void, or the same was entered anew since.
    pub async fn restore_statement(&mut self, bike: BikeId, id: StatementId) -> Result<(), StoreError> {
        if self.restore_on_bike(RESTORE, bike, id.uuid()).await? {
            self.note(ChangedKind::Odometer, Some(bike), id.uuid());
            return Ok(());
        }
        self.statement(bike, id).await.and(Err(StoreError::Conflict))
    }
}
