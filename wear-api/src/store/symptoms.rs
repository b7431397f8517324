//! What riders report.

use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::readings::voiding;
use super::{Tx, statements, value_if_any};
use crate::domain::{
    BikeId, ChangedKind, NewReport, Note, Once, Page, PageRequest, Report, SymptomId, Teeth, Voiding,
};

const TABLE: &str = "symptoms";

statements! {
    INSERT = "
        insert into symptoms (workshop_id, bike_id, symptom_id, symptom, reported_at, cog_teeth, new_chain, note)
        values ($1, $2, $3, $4, $5, $6, $7, $8)
        on conflict (workshop_id, bike_id, reported_at, symptom, cog_teeth) where voided_at is null do nothing
        returning symptom_id";
    SAME = "
        select symptom_id from symptoms
        where workshop_id = $1 and bike_id = $2 and reported_at = $3 and symptom = $4 and cog_teeth = $5
            and voided_at is null";
    GET = "
        select bike_id, symptom_id, symptom, reported_at, cog_teeth, new_chain, note, voided_at, void_reason
        from symptoms where workshop_id = $1 and bike_id = $2 and symptom_id = $3";
    LIST = "
        select bike_id, symptom_id, symptom, reported_at, cog_teeth, new_chain, note, voided_at, void_reason
        from symptoms where workshop_id = $1 and bike_id = $2 and (reported_at, symptom_id) < ($3, $4)
        order by reported_at desc, symptom_id desc limit $5";
    RESTORE = "
        update symptoms set voided_at = null, void_reason = null
        where workshop_id = $1 and bike_id = $2 and symptom_id = $3 and voided_at is not null
        returning symptom_id";
    VOID = "
        update symptoms set voided_at = $4, void_reason = $5
        where workshop_id = $1 and bike_id = $2 and symptom_id = $3 and voided_at is null
        returning symptom_id";
}

static SKIPS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select bike_id, symptom_id, symptom, reported_at, cog_teeth, new_chain, note, voided_at, void_reason
         from symptoms
         where workshop_id = $1 and symptom = 'skips_under_load' and voided_at is null and bike_id = ?",
    )
});

pub(super) fn skip_statements() -> &'static [&'static str] {
    SKIPS.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    symptom_id: Uuid,
    symptom: String,
    reported_at: i64,
    cog_teeth: i64,
    new_chain: bool,
    note: Option<String>,
    voided_at: Option<i64>,
    void_reason: Option<String>,
}

impl TryFrom<Row> for Report {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            bike_id,
            symptom_id,
            symptom,
            reported_at,
            cog_teeth,
            new_chain,
            note,
            voided_at,
            void_reason,
        } = row;
        let cog = match cog_teeth {
            0 => None,
            teeth => Some(Teeth::new(u32::try_from(teeth).unwrap_or(u32::MAX)).sound(TABLE, "cog_teeth")?),
        };
        let facts = NewReport {
            id: SymptomId::from_uuid(symptom_id),
            bike_id: BikeId::from_uuid(bike_id),
            reported_at: instant(reported_at, TABLE, "reported_at")?,
            symptom: symptom.parse().sound(TABLE, "symptom")?,
            cog,
            new_chain,
            note: note.as_deref().map(Note::new).transpose().sound(TABLE, "note")?,
        };
        Ok(Self { facts, voided: voiding(voided_at, void_reason, TABLE)? })
    }
}

fn teeth(cog: Option<Teeth>) -> i64 {
    cog.map_or(0, |cog| i64::from(cog.get()))
}

impl Tx {
    /// Stores a report. The same symptom on the same cog at the same instant is one.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike.
    pub async fn insert_report(&mut self, report: &NewReport) -> Result<Once<SymptomId>, StoreError> {
        let NewReport { id, bike_id, reported_at, symptom, cog, new_chain, note } = report;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            bike_id.uuid(),
            id.uuid(),
            symptom.as_str(),
            reported_at.micros(),
            teeth(*cog),
            *new_chain,
            note.as_ref().map(Note::as_str)
        )?;
        if inserted.is_some() {
            self.note(ChangedKind::Symptom, Some(*bike_id), id.uuid());
            return Ok(Once::New(*id));
        }
        let same: Option<Uuid> =
            value_if_any!(self, SAME, bike_id.uuid(), reported_at.micros(), symptom.as_str(), teeth(*cog))?;
        same.map(|id| Once::Again(SymptomId::from_uuid(id))).ok_or(StoreError::Interrupted)
    }

    /// A report, voided or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn report(&mut self, bike: BikeId, id: SymptomId) -> Result<Report, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// The reports of skips on these bikes that count, the earliest first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn skip_reports(&mut self, bikes: &[BikeId]) -> Result<Vec<NewReport>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        let reports = self
            .rows_in_order::<Row, _, _>(&SKIPS, ids, |report: &Report| {
                (report.facts.reported_at, report.facts.cog)
            })
            .await?;
        Ok(reports.into_iter().map(|report| report.facts).collect())
    }

    /// A bike's reports, voided ones too, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn reports(&mut self, bike: BikeId, page: &PageRequest) -> Result<Page<Report>, StoreError> {
        self.latest_on_bike::<Row, _>(LIST, bike, page, |report: &Report| {
            (report.facts.reported_at, report.facts.id.uuid())
        })
        .await
    }

    /// Voids a report.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it is voided already.
    pub async fn void_report(
        &mut self,
        bike: BikeId,
        id: SymptomId,
        voiding: &Voiding,
    ) -> Result<(), StoreError> {
        if self.void_on_bike(VOID, bike, id.uuid(), voiding).await? {
            self.note_gone(ChangedKind::Symptom, Some(bike), id.uuid());
            return Ok(());
        }
        self.report(bike, id).await.and(Err(StoreError::Conflict))
    }

    /// Takes a voiding back.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it isn't void, or the same was entered anew since.
    pub async fn restore_report(&mut self, bike: BikeId, id: SymptomId) -> Result<(), StoreError> {
        if self.restore_on_bike(RESTORE, bike, id.uuid()).await? {
            self.note(ChangedKind::Symptom, Some(bike), id.uuid());
            return Ok(());
        }
        self.report(bike, id).await.and(Err(StoreError::Conflict))
    }
}
