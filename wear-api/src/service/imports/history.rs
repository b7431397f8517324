//! Lines of readings, care and swaps.

use super::super::Mismatch;
use super::super::swaps::EnterSwap;
use super::super::{readings, swaps, tools};
use super::odometer_lines::{counts, shown};
use super::{Did, Importer, ServiceError, found};
use crate::domain::{
    BikeId, Care, CareId, CareKind, Checklist, EnteredWith, Field, Form, Instrument, Invalid, Label,
    Lubricant, LubricantId, Measured, NewReading, NewSwap, Note, OdometerTotal, Once, PartId, Place,
    Position, ReadWith, ReadingId, SwapId, SwapReason, Timestamp, Tool, Voiding,
};
use crate::input::RawMeasurement;
use crate::transfer::Row;

pub(super) fn did<T>(stored: &Once<T>) -> Did {
    if stored.is_new() { Did::New } else { Did::Nothing }
}

const fn id_of<T>(stored: &Once<T>) -> &T {
    match stored {
        Once::New(it) | Once::Again(it) => it,
    }
}

impl Importer<'_> {
    pub(super) async fn care(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let bike_id = self.bike_of(row);
        let id: Option<CareId> = row.word("care_id");
        let kind: Option<CareKind> = row.required_word("kind");
        let done_at = self.past_or_now(row, "done_at");
        let note: Option<Note> = row.word("note");
        let voided = self.voiding(row);
        let odometer = shown(row).filter(|_| counts(row, voided.as_ref()));
        let lubricant_id = self.lubricant(row, kind.zip(done_at));
        let (Some(bike_id), Some(kind), Some(done_at)) = (bike_id, kind, done_at) else { return Ok(None) };
        if row.is_wrong() || (voided.is_none() && !self.in_fleet(row, bike_id, "done_at", done_at)) {
            return Ok(None);
        }
        let id = id.unwrap_or_else(CareId::generate);
        let in_force = voided.is_none();
        let care = Care { id, bike_id, kind, done_at, note, voided, lubricant_id };
        let stored = self.tx.insert_care(&care).await?;
        if in_force && stored.is_new() {
            self.tx.reach_back(bike_id, done_at).await?;
        }
        let (id, mut what) = (*id_of(&stored), did(&stored));
        if let (Did::Nothing, Some(lubricant)) = (what, lubricant_id)
            && self.tx.name_lubricant(bike_id, id, lubricant).await?
        {
            what = Did::Changed;
        }
        self.with_counter(bike_id, (EnteredWith::Care(id), done_at), odometer, what).await.map(Some)
    }

    /// The lubricant by its name; what is wrong with it is the row's.
    fn lubricant(&self, row: &mut Row<'_>, care: Option<(CareKind, Timestamp)>) -> Option<LubricantId> {
        let name: Label = row.word("lubricant")?;
        let named = self.known.lubricants.iter().filter(|it| it.facts.name.folded() == name.folded());
        // Of several of a name one is in use, and those that were retired before came first.
        let fits = |it: &Lubricant| match care {
            Some((kind, done_at)) => it.fits(kind, done_at),
            None => Ok(()),
        };
        let found = named.map(|it| fits(it).map(|()| it.id)).reduce(Result::or);
        let none = || Err(Invalid::unparsed(Field::Lubricant, name.as_str(), Form::NameOfLubricant));
        row.keep("lubricant", found.unwrap_or_else(none))
    }

    pub(super) async fn reading(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let bike_id = self.bike_of(row);
        let id: Option<ReadingId> = row.word("reading_id");
        let part_id: Option<PartId> = row.word("part_id");
        let taken_at = self.past_or_now(row, "taken_at");
        let measured = measured(row);
        let with = self.read_with(row, taken_at, measured.as_ref());
        let voided = self.voiding(row);
        let odometer = shown(row).filter(|_| counts(row, voided.as_ref()));
        let (Some(bike_id), Some(taken_at), Some(measured)) = (bike_id, taken_at, measured) else {
            return Ok(None);
        };
        if row.is_wrong() {
            return Ok(None);
        }
        if let Some(id) = id
            && found(self.tx.reading(bike_id, id).await)?.is_some()
        {
            let with = (EnteredWith::Reading(id), taken_at);
            return self.with_counter(bike_id, with, odometer, Did::Nothing).await.map(Some);
        }
        if voided.is_none() && !self.in_fleet(row, bike_id, "taken_at", taken_at) {
            return Ok(None);
        }
        let Some(part_id) = part_id else {
            if voided.is_some() {
                let what = Field::VoidedWithoutPart;
                row.refuse("part_id", Invalid::Together { what, allowed: Form::PartWithVoided });
                return Ok(None);
            }
            let stored = readings::save(self.tx, bike_id, taken_at, (measured, with)).await?;
            let with = (EnteredWith::Reading(id_of(&stored).id), taken_at);
            return self.with_counter(bike_id, with, odometer, did(&stored)).await.map(Some);
        };
        if !self.is_chain(row, "part_id", part_id).await? {
            return Ok(None);
        }
        let id = id.unwrap_or_else(ReadingId::generate);
        let reading = NewReading { id, bike_id, part_id, taken_at, measured, with };
        if let Some(voiding) = voided {
            self.tx.insert_voided_reading(&reading, &voiding).await?;
            return Ok(Some(Did::New));
        }
        self.tx.reach_back(bike_id, taken_at).await?;
        let stored = self.tx.insert_reading(&reading).await?;
        let with = (EnteredWith::Reading(*id_of(&stored)), taken_at);
        self.with_counter(bike_id, with, odometer, did(&stored)).await.map(Some)
    }

    /// The tool by its name and who read; what is wrong with them is the row's.
    fn read_with(
        &self,
        row: &mut Row<'_>,
        taken_at: Option<Timestamp>,
        measured: Option<&Measured>,
    ) -> ReadWith {
        let name: Option<Label> = row.word("tool");
        let read_by: Option<Label> = row.word("read_by");
        let tool = name.and_then(|name| {
            let named = self.known.tools.iter().filter(|tool| tool.name.folded() == name.folded());
            // Of several of a name one is in use, and those that were retired before came first.
            let fits = |tool: &Tool| match (measured, taken_at) {
                (Some(measured), Some(at)) => tools::fits(tool, measured.measurement().instrument(), at),
                _ => Ok(()),
            };
            let found = named.map(|tool| fits(tool).map(|()| tool.id)).reduce(Result::or);
            row.keep("tool", found.unwrap_or(Err(Invalid::NoSuch { what: Field::Tool })))
        });
        ReadWith { tool_id: tool, read_by }
    }

    async fn is_chain(&mut self, row: &mut Row<'_>, column: &str, id: PartId) -> Result<bool, ServiceError> {
        self.is_part_of(row, column, id, Place::Chain).await
    }

    async fn is_part_of(
        &mut self,
        row: &mut Row<'_>,
        column: &str,
        id: PartId,
        place: Place,
    ) -> Result<bool, ServiceError> {
        match found(self.tx.part(id).await)? {
            Some(part) if part.facts.place == place => Ok(true),
            Some(_) => {
                let what = Field::PartAndPlace;
                row.refuse(column, Invalid::Together { what, allowed: Form::PartOfPlace });
                Ok(false)
            }
            None => {
                row.refuse(column, Invalid::NoSuch { what: Field::Part });
                Ok(false)
            }
        }
    }

    pub(super) fn voiding(&self, row: &mut Row<'_>) -> Option<Voiding> {
        let at = self.maybe_past(row, "voided_at");
        let reason: Option<Note> = row.word("void_reason");
        match (at, reason) {
            (Some(at), Some(reason)) => Some(Voiding { at, reason }),
            (None, None) => None,
            (at, _) => {
                let column = if at.is_some() { "void_reason" } else { "voided_at" };
                let allowed = Form::VoidedAndReason;
                row.refuse(column, Invalid::Missing { what: Field::HalfOfVoiding, allowed });
                None
            }
        }
    }

    pub(super) async fn swap(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let Some(line) = self.swap_line(row) else { return Ok(None) };
        if let Some(id) = line.id
            && found(self.tx.swap(line.bike_id, id).await)?.is_some()
        {
            let with = (EnteredWith::Swap(id), line.swapped_at);
            return self.with_counter(line.bike_id, with, line.odometer, Did::Nothing).await.map(Some);
        }
        if line.voided.is_none() && !self.in_fleet(row, line.bike_id, "swapped_at", line.swapped_at) {
            return Ok(None);
        }
        match line.on_part_id {
            Some(on_part_id) => self.swap_of_record(row, line, on_part_id).await,
            None if line.voided.is_some() || line.off_part_id.is_some() || line.reading_id.is_some() => {
                let allowed = Form::PartOnWithRest;
                row.refuse("on_part_id", Invalid::Missing { what: Field::PartThatWentOn, allowed });
                Ok(None)
            }
            None => {
                let SwapLine {
                    bike_id,
                    swapped_at,
                    place,
                    position,
                    model_id,
                    note,
                    checklist,
                    odometer,
                    reason,
                    mismatch,
                    ..
                } = line;
                let reading = None;
                if odometer.is_some() {
                    self.known.counted.insert(bike_id);
                }
                let enter = EnterSwap {
                    swapped_at,
                    place,
                    position,
                    model_id,
                    reading,
                    note,
                    checklist,
                    odometer,
                    reason,
                    mismatch,
                };
                let entered = swaps::save(self.tx, bike_id, enter, self.now).await?;
                Ok(Some(did(&entered.swap)))
            }
        }
    }

    fn swap_line(&self, row: &mut Row<'_>) -> Option<SwapLine> {
        let bike_id = self.bike_of(row);
        let id: Option<SwapId> = row.word("swap_id");
        let swapped_at = self.past_or_now(row, "swapped_at");
        let place: Option<Place> = row.required_word("place");
        let position = match row.whole("position") {
            Some(position) => row.keep("position", Position::new(position)),
            None => Some(Position::default()),
        };
        let model_id = place.and_then(|place| self.model_of(row, place));
        let off_part_id: Option<PartId> = row.word("off_part_id");
        let on_part_id: Option<PartId> = row.word("on_part_id");
        let reading_id: Option<ReadingId> = row.word("reading_id");
        let note: Option<Note> = row.word("note");
        let from_shelf = row.flag("from_shelf").unwrap_or(false);
        let checklist = row.optional("checklist", |words| {
            Checklist::new(words.split_whitespace()).map_err(|(_, cause)| cause)
        });
        let reason: Option<SwapReason> = row.word("reason");
        if reason.is_some() && place.is_some_and(|place| !swaps::takes_reason(place)) {
            let what = Field::ReasonAndPlace;
            row.refuse("reason", Invalid::Together { what, allowed: Form::ReasonWithSprockets });
        }
        let voided = self.voiding(row);
        let odometer = shown(row).filter(|_| counts(row, voided.as_ref()));
        if row.is_wrong() {
            return None;
        }
        Some(SwapLine {
            id,
            bike_id: bike_id?,
            swapped_at: swapped_at?,
            place: place?,
            position: position?,
            model_id,
            off_part_id,
            on_part_id,
            reading_id,
            note,
            from_shelf,
            checklist,
            voided,
            odometer,
            reason,
            mismatch: Mismatch::of(row.flag("accept_mismatch")),
        })
    }

    /// A swap of which the stays are known already, from the table of parts.
    async fn swap_of_record(
        &mut self,
        row: &mut Row<'_>,
        line: SwapLine,
        on_part_id: PartId,
    ) -> Result<Option<Did>, ServiceError> {
        let mut there = self.is_part_of(row, "on_part_id", on_part_id, line.place).await?;
        if let Some(off) = line.off_part_id {
            there &= self.is_part_of(row, "off_part_id", off, line.place).await?;
        }
        if let Some(reading) = line.reading_id
            && found(self.tx.reading(line.bike_id, reading).await)?.is_none()
        {
            row.refuse("reading_id", Invalid::NoSuch { what: Field::Reading });
            there = false;
        }
        if !there {
            return Ok(None);
        }
        let SwapLine {
            id,
            bike_id,
            swapped_at,
            place,
            position,
            model_id,
            off_part_id,
            on_part_id: _,
            reading_id,
            note,
            from_shelf,
            checklist,
            voided,
            odometer,
            reason,
            mismatch: _,
        } = line;
        let id = id.unwrap_or_else(SwapId::generate);
        let swap = NewSwap {
            id,
            bike_id,
            swapped_at,
            place,
            position,
            off_part_id,
            on_part_id,
            model_id,
            reading_id,
            note,
            from_shelf,
            checklist,
            reason,
        };
        if let Some(voiding) = voided {
            self.tx.insert_voided_swap(&swap, &voiding).await?;
            return Ok(Some(Did::New));
        }
        self.tx.reach_back(bike_id, swapped_at).await?;
        let stored = self.tx.insert_swap(&swap).await?;
        let with = (EnteredWith::Swap(*id_of(&stored)), swapped_at);
        self.with_counter(bike_id, with, odometer, did(&stored)).await.map(Some)
    }
}

struct SwapLine {
    id: Option<SwapId>,
    bike_id: BikeId,
    swapped_at: Timestamp,
    place: Place,
    position: Position,
    model_id: Option<crate::domain::PartModelId>,
    off_part_id: Option<PartId>,
    on_part_id: Option<PartId>,
    reading_id: Option<ReadingId>,
    note: Option<Note>,
    from_shelf: bool,
    checklist: Option<Checklist>,
    voided: Option<Voiding>,
    odometer: Option<OdometerTotal>,
    reason: Option<SwapReason>,
    mismatch: Mismatch,
}

fn measured(row: &mut Row<'_>) -> Option<Measured> {
    let instrument: Option<Instrument> = row.required_word("instrument");
    let raw = RawMeasurement {
        percent: row.number("percent"),
        spots: row.numbers("spots"),
        pitches: row.whole("pitches"),
        length_mm: row.number("length_mm"),
        mark_percent: row.number("mark_percent"),
        drops_in: row.flag("drops_in"),
        instrument: instrument?.as_str().to_owned(),
    };
    if row.is_wrong() {
        return None;
    }
    match raw.parse() {
        Ok(measured) => Some(measured),
        Err(errors) => {
            row.refuse_all(errors);
            None
        }
    }
}
