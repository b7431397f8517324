//! Readings.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wear_core::units::{ElongationReading, GaugeMark};

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::{Tx, rows, statements, value, value_if_any};
use crate::domain::{
    BikeId, ChangedKind, Entry, Label, Measured, Measurement, NewReading, Note, Once, Page, PageRequest,
    PartId, ReadWith, Reading, ReadingId, Timestamp, ToolId, Voiding,
};

const TABLE: &str = "readings";

statements! {
    AFTER = "
        select bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at, void_reason
        from readings where workshop_id = $1 and (bike_id, reading_id) > ($2, $3)
        order by bike_id, reading_id limit $4";
    INSERT = "
        insert into readings (workshop_id, bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at,
            void_reason)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
        on conflict (workshop_id, part_id, taken_at, entered) where voided_at is null do nothing
        returning reading_id";
    SAME = "
        select reading_id from readings
        where workshop_id = $1 and part_id = $2 and taken_at = $3 and entered = $4 and voided_at is null";
    GET = "
        select bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at, void_reason
        from readings where workshop_id = $1 and bike_id = $2 and reading_id = $3";
    OF_PART = "
        select bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at, void_reason
        from readings where workshop_id = $1 and part_id = $2 and voided_at is null
        order by taken_at, reading_id";
    LIST = "
        select bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at, void_reason
        from readings where workshop_id = $1 and bike_id = $2 and (taken_at, reading_id) < ($3, $4)
        order by taken_at desc, reading_id desc limit $5";
    RESTORE = "
        update readings set voided_at = null, void_reason = null
        where workshop_id = $1 and bike_id = $2 and reading_id = $3 and voided_at is not null
        returning reading_id";
    VOID = "
        update readings set voided_at = $4, void_reason = $5
        where workshop_id = $1 and bike_id = $2 and reading_id = $3 and voided_at is null
        returning reading_id";
    MOVE = "
        update readings set part_id = $4
        where workshop_id = $1 and bike_id = $2 and part_id = $3 and taken_at >= $5 and taken_at < $6
        returning reading_id";
}

static OF_THESE_PARTS: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at, void_reason
         from readings where workshop_id = $1 and voided_at is null and part_id = ?",
    )
});

pub(super) fn of_these_parts() -> &'static [&'static str] {
    OF_THESE_PARTS.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    reading_id: Uuid,
    part_id: Uuid,
    taken_at: i64,
    entered: String,
    tool_id: Option<Uuid>,
    read_by: Option<String>,
    voided_at: Option<i64>,
    void_reason: Option<String>,
}

/// Its keys come in this order: the text of two equal entries is the same.
#[derive(Serialize, Deserialize)]
#[serde(tag = "entry", rename_all = "snake_case", deny_unknown_fields)]
enum EntryDoc {
    Percent { instrument: String, percent: f64 },
    Spots { instrument: String, spots: Vec<f64> },
    Length { instrument: String, pitches: u32, length_mm: f64 },
    Gauge { instrument: String, mark_percent: f64, drops_in: bool },
}

impl From<&Entry> for EntryDoc {
    fn from(entry: &Entry) -> Self {
        match entry {
            Entry::Percent { instrument, percent } => {
                Self::Percent { instrument: instrument.as_str().to_owned(), percent: percent.get() }
            }
            Entry::Spots { instrument, spots } => Self::Spots {
                instrument: instrument.as_str().to_owned(),
                spots: spots.iter().map(|spot| spot.get()).collect(),
            },
            Entry::Length { instrument, pitches, length_mm } => Self::Length {
                instrument: instrument.as_str().to_owned(),
                pitches: *pitches,
                length_mm: *length_mm,
            },
            Entry::Gauge { instrument, mark, drops_in } => Self::Gauge {
                instrument: instrument.as_str().to_owned(),
                mark_percent: mark.get(),
                drops_in: *drops_in,
            },
        }
    }
}

impl TryFrom<EntryDoc> for Measured {
    type Error = StoreError;

    fn try_from(doc: EntryDoc) -> Result<Self, StoreError> {
        let instrument = |word: String| word.parse().sound(TABLE, "entered");
        let percent = |value: f64| ElongationReading::new(value).sound(TABLE, "entered");
        let entry = match doc {
            EntryDoc::Percent { instrument: word, percent: value } => {
                Entry::Percent { instrument: instrument(word)?, percent: percent(value)? }
            }
            EntryDoc::Spots { instrument: word, spots } => Entry::Spots {
                instrument: instrument(word)?,
                spots: spots.into_iter().map(percent).collect::<Result<_, _>>()?,
            },
            EntryDoc::Length { instrument: word, pitches, length_mm } => {
                Entry::Length { instrument: instrument(word)?, pitches, length_mm }
            }
            EntryDoc::Gauge { instrument: word, mark_percent, drops_in } => Entry::Gauge {
                instrument: instrument(word)?,
                mark: GaugeMark::new(mark_percent).sound(TABLE, "entered")?,
                drops_in,
            },
        };
        Self::new(entry).sound(TABLE, "entered")
    }
}

/// The measurement that an entry makes.
pub(super) fn measurement(entered: &str) -> Result<Measurement, StoreError> {
    let doc: EntryDoc = serde_json::from_str(entered).sound(TABLE, "entered")?;
    Ok(*Measured::try_from(doc)?.measurement())
}

/// What a reading was taken with, and by whom.
pub(super) fn read_with(tool_id: Option<Uuid>, read_by: Option<String>) -> Result<ReadWith, StoreError> {
    Ok(ReadWith {
        tool_id: tool_id.map(ToolId::from_uuid),
        read_by: read_by.map(|name| Label::new(&name)).transpose().sound(TABLE, "read_by")?,
    })
}

/// Both or neither.
pub(super) fn voiding(
    voided_at: Option<i64>,
    void_reason: Option<String>,
    table: &'static str,
) -> Result<Option<Voiding>, StoreError> {
    match voided_at.zip(void_reason) {
        None => Ok(None),
        Some((at, reason)) => Ok(Some(Voiding {
            at: instant(at, table, "voided_at")?,
            reason: Note::new(&reason).sound(table, "void_reason")?,
        })),
    }
}

impl TryFrom<Row> for Reading {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bike_id, reading_id, part_id, taken_at, entered, tool_id, read_by, voided_at, void_reason } =
            row;
        let doc: EntryDoc = serde_json::from_str(&entered).sound(TABLE, "entered")?;
        Ok(Self {
            id: ReadingId::from_uuid(reading_id),
            bike_id: BikeId::from_uuid(bike_id),
            part_id: PartId::from_uuid(part_id),
            taken_at: instant(taken_at, TABLE, "taken_at")?,
            measured: doc.try_into()?,
            with: read_with(tool_id, read_by)?,
            voided: voiding(voided_at, void_reason, TABLE)?,
        })
    }
}

fn text_of(measured: &Measured) -> Result<String, StoreError> {
    serde_json::to_string(&EntryDoc::from(measured.entry())).sound(TABLE, "entered")
}

impl Tx {
    /// The readings of these parts that count, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn readings_of_parts(&mut self, parts: &[PartId]) -> Result<Vec<Reading>, StoreError> {
        let ids = parts.iter().map(|part| part.uuid());
        self.rows_in_order::<Row, _, _>(&OF_THESE_PARTS, ids, |reading: &Reading| {
            (reading.taken_at, reading.id)
        })
        .await
    }

    /// At most so many of the workshop's readings after one of a bike, by bike and id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn readings_after(
        &mut self,
        after: (Uuid, Uuid),
        most: i64,
    ) -> Result<Vec<Reading>, StoreError> {
        self.after_on_bikes::<Row, _>(AFTER, after, most).await
    }

    /// Stores a reading. The same entry at the same instant on the same chain is the same reading.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike or part.
    pub async fn insert_reading(&mut self, reading: &NewReading) -> Result<Once<ReadingId>, StoreError> {
        let NewReading { id, bike_id, part_id, taken_at, measured, with: _ } = reading;
        let entered = text_of(measured)?;
        if self.write_reading(reading, &entered, None).await? {
            self.note(ChangedKind::Reading, Some(*bike_id), id.uuid());
            return Ok(Once::New(*id));
        }
        let same: Uuid = value!(self, SAME, part_id.uuid(), taken_at.micros(), &entered)?;
        Ok(Once::Again(ReadingId::from_uuid(same)))
    }

    /// Stores a reading that doesn't count.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike or part; [`StoreError::Conflict`] when its id is known.
    pub async fn insert_voided_reading(
        &mut self,
        reading: &NewReading,
        voiding: &Voiding,
    ) -> Result<(), StoreError> {
        self.note_gone(ChangedKind::Reading, Some(reading.bike_id), reading.id.uuid());
        self.write_reading(reading, &text_of(&reading.measured)?, Some(voiding)).await.map(|_| ())
    }

    /// Whether the reading is stored: it isn't when it counts and says what one that counts says.
    async fn write_reading(
        &mut self,
        reading: &NewReading,
        entered: &str,
        voiding: Option<&Voiding>,
    ) -> Result<bool, StoreError> {
        let NewReading { id, bike_id, part_id, taken_at, measured: _, with: ReadWith { tool_id, read_by } } =
            reading;
        let inserted: Option<Uuid> = value_if_any!(
            self,
            INSERT,
            bike_id.uuid(),
            id.uuid(),
            part_id.uuid(),
            taken_at.micros(),
            entered,
            tool_id.map(ToolId::uuid),
            read_by.as_ref().map(Label::as_str),
            voiding.map(|voiding| voiding.at.micros()),
            voiding.map(|voiding| voiding.reason.as_str())
        )?;
        Ok(inserted.is_some())
    }

    /// A reading, voided or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn reading(&mut self, bike: BikeId, id: ReadingId) -> Result<Reading, StoreError> {
        self.one_on_bike::<Row, _>(GET, bike, id.uuid()).await
    }

    /// The readings of a chain that count, in order of time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn readings_of_part(&mut self, part: PartId) -> Result<Vec<Reading>, StoreError> {
        let rows: Vec<Row> = rows!(self, OF_PART, part.uuid())?;
        rows.into_iter().map(Reading::try_from).collect()
    }

    /// The readings taken on a bike, voided ones too, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn readings(&mut self, bike: BikeId, page: &PageRequest) -> Result<Page<Reading>, StoreError> {
        self.latest_on_bike::<Row, _>(LIST, bike, page, |reading: &Reading| {
            (reading.taken_at, reading.id.uuid())
        })
        .await
    }

    /// Says that readings taken from one instant up to, but not with, another were of another part.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when the other part has such a reading already.
    pub async fn move_readings(
        &mut self,
        bike: BikeId,
        part: PartId,
        other: PartId,
        (from, to): (Timestamp, Timestamp),
    ) -> Result<(), StoreError> {
        let (from, to) = (from.micros(), to.micros());
        let moved: Vec<(Uuid,)> = rows!(self, MOVE, bike.uuid(), part.uuid(), other.uuid(), from, to)?;
        moved.iter().for_each(|(id,)| self.note(ChangedKind::Reading, Some(bike), *id));
        Ok(())
    }

    /// Voids a reading.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it is voided already.
    pub async fn void_reading(
        &mut self,
        bike: BikeId,
        id: ReadingId,
        voiding: &Voiding,
    ) -> Result<(), StoreError> {
        if self.void_on_bike(VOID, bike, id.uuid(), voiding).await? {
            self.note_gone(ChangedKind::Reading, Some(bike), id.uuid());
            return Ok(());
        }
        self.reading(bike, id).await.and(Err(StoreError::Conflict))
    }

    /// Takes a voiding back.
    ///
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Conflict`] when it isn't void, or the same was entered anew since.
    pub async fn restore_reading(&mut self, bike: BikeId, id: ReadingId) -> Result<(), StoreError> {
        if self.restore_on_bike(RESTORE, bike, id.uuid()).await? {
            self.note(ChangedKind::Reading, Some(bike), id.uuid());
            return Ok(());
        }
        self.reading(bike, id).await.and(Err(StoreError::Conflict))
    }
}
