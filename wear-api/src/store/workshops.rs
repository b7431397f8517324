//! Workshops.

use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use uuid::Uuid;
use wear_core::units::{InstrumentBias, InstrumentSd, Limit, Probability};

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{SystemTx, Tx, on, row, statements, value_if_any};
use crate::domain::{
    Calibration, ChangedKind, Costs, DefaultLimits, SoonDays, Workshop, WorkshopId, WorkshopName,
    WorkshopSettings, parse_time_zone,
};

const TABLE: &str = "workshops";

statements! {
    INSERT = "
        insert into workshops (workshop_id, name, name_key, time_zone, units_shown, language, currency, risk,
            limit_eleven_or_more, limit_up_to_ten, limit_single_sprocket,
            swap_labour_minor, reading_minor, failure_minor, calibrations, created_at, care, soon_days, revision)
        values ($1, $2, $3, $4, $5, $16, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $17, $18, 1)
        on conflict do nothing
        returning workshop_id";
    GET = "
        select workshop_id, name, time_zone, units_shown, language, currency, risk,
            limit_eleven_or_more, limit_up_to_ten, limit_single_sprocket,
            swap_labour_minor, reading_minor, failure_minor, calibrations, care, soon_days, created_at, revision
        from workshops where workshop_id = $1";
    FIND = "
        select workshop_id, name, time_zone, units_shown, language, currency, risk,
            limit_eleven_or_more, limit_up_to_ten, limit_single_sprocket,
            swap_labour_minor, reading_minor, failure_minor, calibrations, care, soon_days, created_at, revision
        from workshops where name_key = $1";
    IDS = "select workshop_id from workshops order by workshop_id";
    UPDATE = "
        update workshops set name = $3, name_key = $4, time_zone = $5, units_shown = $6, currency = $7,
            risk = $8, limit_eleven_or_more = $9, limit_up_to_ten = $10, limit_single_sprocket = $11,
            swap_labour_minor = $12, reading_minor = $13, failure_minor = $14, calibrations = $15, language = $16,
            care = $17, soon_days = $18, revision = revision + 1
        where workshop_id = $1 and revision = $2
        returning revision";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    name: String,
    time_zone: String,
    units_shown: String,
    language: String,
    currency: String,
    risk: f64,
    limit_eleven_or_more: Option<f64>,
    limit_up_to_ten: Option<f64>,
    limit_single_sprocket: Option<f64>,
    swap_labour_minor: i64,
    reading_minor: i64,
    failure_minor: i64,
    calibrations: Json<Vec<CalibrationDoc>>,
    care: Option<String>,
    soon_days: i64,
    created_at: i64,
    revision: i64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CalibrationDoc {
    instrument: String,
    bias_percent: f64,
    sd_percent: f64,
}

impl From<&Calibration> for CalibrationDoc {
    fn from(Calibration { instrument, bias, sd }: &Calibration) -> Self {
        Self { instrument: instrument.as_str().to_owned(), bias_percent: bias.get(), sd_percent: sd.get() }
    }
}

impl TryFrom<CalibrationDoc> for Calibration {
    type Error = StoreError;

    fn try_from(doc: CalibrationDoc) -> Result<Self, StoreError> {
        let CalibrationDoc { instrument, bias_percent, sd_percent } = doc;
        Ok(Self {
            instrument: instrument.parse().sound(TABLE, "calibrations")?,
            bias: InstrumentBias::new(bias_percent).sound(TABLE, "calibrations")?,
            sd: InstrumentSd::new(sd_percent).sound(TABLE, "calibrations")?,
        })
    }
}

impl TryFrom<Row> for Workshop {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            workshop_id,
            name,
            time_zone,
            units_shown,
            language,
            currency,
            risk,
            limit_eleven_or_more,
            limit_up_to_ten,
            limit_single_sprocket,
            swap_labour_minor,
            reading_minor,
            failure_minor,
            calibrations: Json(calibrations),
            care,
            soon_days,
            created_at,
            revision,
        } = row;
        let limit = |percent: Option<f64>, column| percent.map(Limit::new).transpose().sound(TABLE, column);
        let currency = currency.parse().sound(TABLE, "currency")?;
        let settings = WorkshopSettings {
            name: WorkshopName::new(&name).sound(TABLE, "name")?,
            time_zone: parse_time_zone(&time_zone).sound(TABLE, "time_zone")?,
            units_shown: units_shown.parse().sound(TABLE, "units_shown")?,
            language: language.parse().sound(TABLE, "language")?,
            currency,
            risk: Probability::new(risk).sound(TABLE, "risk")?,
            limits: DefaultLimits {
                eleven_or_more: limit(limit_eleven_or_more, "limit_eleven_or_more")?,
                up_to_ten: limit(limit_up_to_ten, "limit_up_to_ten")?,
                single_sprocket: limit(limit_single_sprocket, "limit_single_sprocket")?,
            },
            costs: Costs { swap_labour_minor, reading_minor, failure_minor }
                .check(currency)
                .sound(TABLE, "failure_minor")?,
            calibrations: calibrations.into_iter().map(Calibration::try_from).collect::<Result<_, _>>()?,
            care: care.map(|care| care.parse()).transpose().sound(TABLE, "care")?,
            soon_days: SoonDays::new(soon_days).sound(TABLE, "soon_days")?,
        };
        Ok(Self {
            id: WorkshopId::from_uuid(workshop_id),
            settings,
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

fn docs(calibrations: &[Calibration]) -> Json<Vec<CalibrationDoc>> {
    Json(calibrations.iter().map(CalibrationDoc::from).collect())
}

impl SystemTx {
    /// Stores a new workshop, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when another one has the name.
    pub async fn insert_workshop(&mut self, workshop: &Workshop) -> Result<(), StoreError> {
        let settings = &workshop.settings;
        let limit = |limit: Option<Limit>| limit.map(Limit::get);
        let inserted: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(INSERT)
            .bind(workshop.id.uuid())
            .bind(settings.name.as_str())
            .bind(settings.name.folded())
            .bind(settings.time_zone.name())
            .bind(settings.units_shown.as_str())
            .bind(settings.currency.as_str())
            .bind(settings.risk.get())
            .bind(limit(settings.limits.eleven_or_more))
            .bind(limit(settings.limits.up_to_ten))
            .bind(limit(settings.limits.single_sprocket))
            .bind(settings.costs.swap_labour_minor)
            .bind(settings.costs.reading_minor)
            .bind(settings.costs.failure_minor)
            .bind(docs(&settings.calibrations))
            .bind(workshop.created_at.micros())
            .bind(settings.language.as_str())
            .bind(settings.care.map(|care| care.to_string()))
            .bind(i64::from(settings.soon_days.get()))
            .fetch_optional(conn)
            .await)?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// The workshop of that name, in any case.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_workshop(&mut self, name: &WorkshopName) -> Result<Option<Workshop>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| {
            sqlx::query_as(FIND).bind(name.folded()).fetch_optional(conn).await
        })?;
        row.map(Workshop::try_from).transpose()
    }

    /// Every workshop's id.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn workshop_ids(&mut self) -> Result<Vec<WorkshopId>, StoreError> {
        let ids: Vec<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(IDS).fetch_all(conn).await)?;
        Ok(ids.into_iter().map(WorkshopId::from_uuid).collect())
    }
}

impl Tx {
    /// This transaction's workshop.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn workshop(&mut self) -> Result<Workshop, StoreError> {
        let row: Row = row!(self, GET)?;
        row.try_into()
    }

    /// Changes the settings and returns the new revision.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when the revision is stale or another workshop has the name.
    pub async fn update_workshop(
        &mut self,
        revision: i64,
        settings: &WorkshopSettings,
    ) -> Result<i64, StoreError> {
        self.note(ChangedKind::Workshop, None, self.workshop.uuid());
        let limit = |limit: Option<Limit>| limit.map(Limit::get);
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            revision,
            settings.name.as_str(),
            settings.name.folded(),
            settings.time_zone.name(),
            settings.units_shown.as_str(),
            settings.currency.as_str(),
            settings.risk.get(),
            limit(settings.limits.eleven_or_more),
            limit(settings.limits.up_to_ten),
            limit(settings.limits.single_sprocket),
            settings.costs.swap_labour_minor,
            settings.costs.reading_minor,
            settings.costs.failure_minor,
            docs(&settings.calibrations),
            settings.language.as_str(),
            settings.care.map(|care| care.to_string()),
            i64::from(settings.soon_days.get())
        )?;
        updated.ok_or(StoreError::Conflict)
    }
}
