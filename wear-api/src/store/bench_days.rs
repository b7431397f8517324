//! Bench days, and how the bench works on all others.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::{guarded, page_of};
use super::instant::{date, day_number, day_numbers, instant};
use super::{Tx, row, row_if_any, rows, statements, value_if_any};
use crate::domain::{
    BenchDay, BenchDayFacts, BenchDayId, BenchSettings, ChangedKind, ClosingTime, Cursor, DateRange, Minutes,
    Note, Page, PageRequest, WeekMinutes,
};

const TABLE: &str = "bench_days";
const SETTINGS: &str = "bench_settings";

statements! {
    INSERT = "
        insert into bench_days (workshop_id, bench_day_id, day, minutes, note, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, 1)
        on conflict (workshop_id, day) do nothing
        returning bench_day_id";
    GET = "
        select bench_day_id, day, minutes, note, created_at, revision
        from bench_days where workshop_id = $1 and bench_day_id = $2";
    UPDATE = "
        update bench_days set minutes = $4, note = $5, revision = revision + 1
        where workshop_id = $1 and bench_day_id = $2 and revision = $3
        returning revision";
    DELETE = "
        delete from bench_days where workshop_id = $1 and bench_day_id = $2 and revision = $3
        returning bench_day_id";
    LIST = "
        select bench_day_id, day, minutes, note, created_at, revision
        from bench_days
        where workshop_id = $1 and (day, bench_day_id) > ($2, $3) and day between $4 and $5
        order by day, bench_day_id limit $6";
    BETWEEN = "
        select bench_day_id, day, minutes, note, created_at, revision
        from bench_days where workshop_id = $1 and day between $2 and $3
        order by day";
    GET_SETTINGS = "select settings, revision from bench_settings where workshop_id = $1";
    FIRST_SETTINGS = "
        insert into bench_settings (workshop_id, settings, revision) values ($1, $2, 2)
        on conflict (workshop_id) do nothing
        returning revision";
    UPDATE_SETTINGS = "
        update bench_settings set settings = $3, revision = revision + 1
        where workshop_id = $1 and revision = $2
        returning revision";
}

#[derive(sqlx::FromRow)]
struct Row {
    bench_day_id: Uuid,
    day: i64,
    minutes: i64,
    note: Option<String>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for BenchDay {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bench_day_id, day, minutes, note, created_at, revision } = row;
        Ok(Self {
            id: BenchDayId::from_uuid(bench_day_id),
            facts: BenchDayFacts {
                date: date(day, TABLE, "day")?,
                minutes: Minutes::new(minutes).sound(TABLE, "minutes")?,
                note: note.as_deref().map(Note::new).transpose().sound(TABLE, "note")?,
            },
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingsDoc {
    week: [u32; 7],
    chain: u32,
    cassette: u32,
    ring: u32,
    setup: u32,
    /// Minutes after midnight; none in settings of an earlier version.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    closes_at: Option<u32>,
}

impl From<&BenchSettings> for SettingsDoc {
    fn from(settings: &BenchSettings) -> Self {
        let BenchSettings { week: WeekMinutes(week), chain, cassette, ring, setup, closes_at } = settings;
        Self {
            week: week.map(Minutes::get),
            chain: chain.get(),
            cassette: cassette.get(),
            ring: ring.get(),
            setup: setup.get(),
            closes_at: Some(closes_at.minutes()),
        }
    }
}

impl TryFrom<SettingsDoc> for BenchSettings {
    type Error = StoreError;

    fn try_from(doc: SettingsDoc) -> Result<Self, StoreError> {
        let SettingsDoc { week, chain, cassette, ring, setup, closes_at } = doc;
        let minutes = |given: u32| Minutes::new(i64::from(given)).sound(SETTINGS, "settings");
        let mut days = [Minutes::default(); 7];
        for (day, given) in days.iter_mut().zip(week) {
            *day = minutes(given)?;
        }
        Self {
            week: WeekMinutes(days),
            chain: minutes(chain)?,
            cassette: minutes(cassette)?,
            ring: minutes(ring)?,
            setup: minutes(setup)?,
            closes_at: match closes_at {
                Some(minutes) => ClosingTime::new(i64::from(minutes)).sound(SETTINGS, "settings")?,
                None => Self::default().closes_at,
            },
        }
        .check()
        .sound(SETTINGS, "settings")
    }
}

#[derive(sqlx::FromRow)]
struct SettingsRow {
    settings: Json<SettingsDoc>,
    revision: i64,
}

impl Tx {
    /// Stores a bench day, at revision 1 whatever it says.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when the date has one.
    pub async fn insert_bench_day(&mut self, day: &BenchDay) -> Result<(), StoreError> {
        self.note(ChangedKind::BenchDay, None, day.id.uuid());
        let BenchDay { id, facts, created_at, revision: _ } = day;
        let BenchDayFacts { date, minutes, note } = facts;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            id.uuid(),
            day_number(*date),
            i64::from(minutes.get()),
            note.as_ref().map(Note::as_str),
            created_at.micros()
        )?;
        inserted.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// A bench day.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn bench_day(&mut self, id: BenchDayId) -> Result<BenchDay, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// Changes a bench day's minutes and note. Its date stays.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn update_bench_day(
        &mut self,
        id: BenchDayId,
        revision: i64,
        minutes: Minutes,
        note: Option<&Note>,
    ) -> Result<(), StoreError> {
        self.note(ChangedKind::BenchDay, None, id.uuid());
        let updated: Option<i64> = value_if_any!(
            self,
            UPDATE,
            id.uuid(),
            revision,
            i64::from(minutes.get()),
            note.map(Note::as_str)
        )?;
        guarded(updated, self.bench_day(id)).await.map(|_| ())
    }

    /// Removes a bench day: its date is like any other of its weekday again.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when the revision is stale.
    pub async fn delete_bench_day(&mut self, id: BenchDayId, revision: i64) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::BenchDay, None, id.uuid());
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, id.uuid(), revision)?;
        guarded(deleted, self.bench_day(id)).await.map(|_| ())
    }

    /// Bench days from–to by date.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bench_days(
        &mut self,
        days: DateRange,
        page: &PageRequest,
    ) -> Result<Page<BenchDay>, StoreError> {
        let (first, last) = day_numbers(days);
        let (day, id) = page.after_number((i64::MIN, Uuid::nil()))?;
        let rows: Vec<Row> = rows!(self, LIST, day, id, first, last, page.rows())?;
        page_of(rows, page, |day: &BenchDay| Cursor::Number(day_number(day.facts.date), day.id.uuid()))
    }

    /// All bench days from–to by date.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bench_days_between(
        &mut self,
        from: NaiveDate,
        to: NaiveDate,
    ) -> Result<Vec<BenchDay>, StoreError> {
        let rows: Vec<Row> = rows!(self, BETWEEN, day_number(from), day_number(to))?;
        rows.into_iter().map(BenchDay::try_from).collect()
    }

    /// How the bench works, and the revision; the defaults at revision 1 until something was set.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn bench_settings(&mut self) -> Result<(BenchSettings, i64), StoreError> {
        let row: Option<SettingsRow> = row_if_any!(self, GET_SETTINGS)?;
        match row {
            Some(SettingsRow { settings: Json(doc), revision }) => Ok((doc.try_into()?, revision)),
            None => Ok((BenchSettings::default(), 1)),
        }
    }

    /// Changes how the bench works and returns the new revision.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when the revision is stale.
    pub async fn save_bench_settings(
        &mut self,
        revision: i64,
        settings: &BenchSettings,
    ) -> Result<i64, StoreError> {
        let doc = Json(SettingsDoc::from(settings));
        let saved: Option<i64> = if revision == 1 {
            value_if_any!(self, FIRST_SETTINGS, doc)?
        } else {
            value_if_any!(self, UPDATE_SETTINGS, revision, doc)?
        };
        saved.ok_or(StoreError::Conflict)
    }
}
