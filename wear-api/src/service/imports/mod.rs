//! Tables in: all of a file or nothing of it, in one transaction, whatever its length.
//!
//! A line that says what is there already changes nothing, so the same file twice is the same as once. Ids are kept:
//! what is exported from one workshop and imported into an empty one keeps its references. Files without ids work too:
//! bikes go by their labels, part models by place and name.

mod bikes;
mod history;
mod odometer_lines;
mod part_models;
mod parts;
mod rides;

use std::collections::{BTreeSet, HashMap};
use std::io::BufRead;

use chrono_tz::Tz;
use wear_core::bike::Warning;

use super::{ServiceError, Services, UnitOfWork, odometer};
use crate::domain::{
    Bike, BikeId, BikeKind, ExternalId, Field, Form, Invalid, Label, Lubricant, PartModel, PartModelId,
    Place, RideWarning, Timestamp, Tool,
};
use crate::input::moment;
use crate::store::{StoreError, Tx};
use crate::transfer::{Findings, Header, Line, Notation, Row, Table, TableError, TableKind, TableMistake};

/// What an import did, or would do.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Imported {
    /// Lines read, the header left out.
    pub lines: u64,
    /// Lines that were new.
    pub accepted: u64,
    /// Lines that changed what was there.
    pub replaced: u64,
    /// Lines that said what was there.
    pub unchanged: u64,
    /// How many lines were taken and count for nothing, as things stand.
    pub odd: u64,
    /// The first of them: the line, and why.
    pub warnings: Vec<(u64, RideWarning)>,
    /// What doesn't fit about odometers of which the table told, by the bike's label.
    pub notices: Vec<(Label, Warning)>,
}

/// Most lines that are named because they count for nothing (A).
const MOST_WARNINGS: usize = 100;

/// How an import ended.
#[derive(Debug)]
pub enum Ended {
    /// Every line was good.
    Done(Imported),
    /// Some weren't; nothing was changed.
    Refused(Findings),
}

/// What one line did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Did {
    New,
    Changed,
    Nothing,
}

/// Lines that are read, checked and stored together.
const BATCH: usize = 1_000;

/// The same of a dry run of rides: its bikes are locked while it tries them (A).
const TRIED: usize = 200;

/// Imports a table. A table with mistakes changes nothing, and with `dry_run` none does: the unit of work is undone.
///
/// A dry run doesn't lock the workshop's bikes. Of rides it tries two hundred at a time and undoes them before it goes on, so
/// that it keeps nobody waiting for longer than these take.
///
/// # Errors
/// [`ServiceError`] when the store fails; what is wrong with the table is no error but [`Ended::Refused`].
pub async fn import(
    services: &Services,
    work: &mut UnitOfWork,
    kind: TableKind,
    source: Box<dyn BufRead + Send>,
    dry_run: bool,
) -> Result<Ended, ServiceError> {
    let opened = blocking(move || Table::open(source, kind)).await?;
    let mut table = match opened {
        Ok(table) => table,
        Err(TableError::Header(findings)) => return Ok(Ended::Refused(findings)),
        Err(TableError::Read(_)) => return Err(ServiceError::BrokenOff),
    };
    let header = table.header();
    let now = services.now();
    let gives_way = dry_run && kind == TableKind::Rides;
    let mut known = {
        let (tx, _) = work.begin().await?;
        if !dry_run {
            // The marks are the bikes' locks, taken in one order before anything is changed.
            tx.mark_all_bikes(now).await?;
        }
        let known = Known::of(tx, gives_way).await?;
        if gives_way {
            tx.begin_trying().await?;
        }
        known
    };
    let mut findings = Findings::default();
    while !known.is_stopped {
        if gives_way {
            work.give_way().await?;
        }
        let lines;
        (table, lines) = blocking(move || {
            let lines = table.next_lines(if gives_way { TRIED } else { BATCH });
            (table, lines)
        })
        .await?;
        if lines.is_empty() {
            break;
        }
        let (tx, _) = work.begin().await?;
        let mut importer = Importer { tx, kind, now, known };
        importer.take(&header, lines, &mut findings).await?;
        known = importer.known;
    }
    if findings.found() > 0 {
        work.undo().await;
        return Ok(Ended::Refused(findings));
    }
    let Known { mut done, new_bikes, counted, bikes, .. } = known;
    let (tx, actor) = work.begin().await?;
    let counted: Vec<&Bike> = counted.iter().filter_map(|id| bikes.by_id.get(id)).collect();
    if !counted.is_empty() {
        let label = |id: BikeId| bikes.by_id.get(&id).map(|bike| bike.facts.label.clone());
        let notices = odometer::notices_of(tx, &counted, now).await?;
        done.notices = notices.into_iter().filter_map(|(id, it)| Some((label(id)?, it))).collect();
    }
    if dry_run {
        work.undo().await;
        return Ok(Ended::Done(done));
    }
    tx.mark_bikes(&new_bikes, now).await?;
    let detail =
        serde_json::json!({"lines": done.lines, "accepted": done.accepted, "replaced": done.replaced});
    super::record_with(tx, actor, now, "import", format!("imports/{kind}"), detail).await?;
    Ok(Ended::Done(done))
}

/// Runs what reads a file on a thread that may wait for it.
async fn blocking<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, ServiceError> {
    tokio::task::spawn_blocking(work).await.map_err(|_| ServiceError::BrokenOff)
}

/// A running import.
struct Importer<'a> {
    tx: &'a mut Tx,
    kind: TableKind,
    now: Timestamp,
    known: Known,
}

/// What an import knows of the workshop and of the lines so far.
struct Known {
    /// On whose clock times are that say nothing of it.
    zone: Tz,
    notation: Notation,
    done: Imported,
    bikes: Bikes,
    models: Models,
    tools: Vec<Tool>,
    lubricants: Vec<Lubricant>,
    kinds: Option<Vec<BikeKind>>,
    new_bikes: Vec<BikeId>,
    /// Bikes whose odometer the table told of.
    counted: BTreeSet<BikeId>,
    /// After the store refused a line its transaction is of no more use.
    is_stopped: bool,
    /// Rides of lines before, where the store doesn't keep them.
    told: Option<rides::Told>,
}

impl Known {
    async fn of(tx: &mut Tx, gives_way: bool) -> Result<Self, StoreError> {
        Ok(Self {
            zone: tx.workshop().await?.settings.time_zone,
            notation: Notation::default(),
            done: Imported::default(),
            bikes: Bikes::of(tx.all_bikes().await?),
            models: Models(tx.all_part_models().await?),
            tools: tx.all_tools().await?,
            lubricants: tx.all_lubricants().await?,
            kinds: None,
            new_bikes: Vec::new(),
            counted: BTreeSet::new(),
            is_stopped: false,
            told: gives_way.then(rides::Told::default),
        })
    }
}

impl Importer<'_> {
    async fn take(
        &mut self,
        header: &Header,
        lines: Vec<Result<Line, TableMistake>>,
        findings: &mut Findings,
    ) -> Result<(), ServiceError> {
        self.known.done.lines += lines.len() as u64;
        if self.kind == TableKind::Rides {
            return self.rides(header, lines, findings).await;
        }
        for line in lines {
            let line = match line {
                Ok(line) => line,
                Err(mistake) => {
                    findings.push(mistake);
                    continue;
                }
            };
            let mut notation = std::mem::take(&mut self.known.notation);
            let mut row = Row::new(header, &line, &mut notation, findings);
            let did = match self.kind {
                TableKind::PartModels => self.part_model(&mut row).await,
                TableKind::Bikes => self.bike(&mut row).await,
                TableKind::Parts => self.part(&mut row).await,
                TableKind::Readings => self.reading(&mut row).await,
                TableKind::Care => self.care(&mut row).await,
                TableKind::Swaps => self.swap(&mut row).await,
                TableKind::Odometer => self.statement(&mut row).await,
                TableKind::Rides => Ok(None),
            };
            match did {
                Ok(Some(Did::New)) => self.known.done.accepted += 1,
                Ok(Some(Did::Changed)) => self.known.done.replaced += 1,
                Ok(Some(Did::Nothing)) => self.known.done.unchanged += 1,
                Ok(None) => {}
                Err(ServiceError::Invalid(errors)) => row.refuse_all(errors),
                Err(ServiceError::Conflict(_)) => {
                    let what = Field::LineAndStored;
                    row.refuse("", Invalid::Together { what, allowed: Form::LineWithoutContradiction });
                    self.known.is_stopped = true;
                }
                Err(ServiceError::NotFound { what }) => {
                    row.refuse("", Invalid::NoSuch { what: Field::Named { name: what } });
                    self.known.is_stopped = true;
                }
                Err(other) => return Err(other),
            }
            self.known.notation = notation;
            if self.known.is_stopped {
                break;
            }
        }
        Ok(())
    }

    /// The bike that a line names by id, or by label; in the column of labels an id will do as well.
    fn bike_of(&self, row: &mut Row<'_>) -> Option<BikeId> {
        if row.raw("bike_id").is_some() {
            let id: BikeId = row.word("bike_id")?;
            if self.known.bikes.by_id.contains_key(&id) {
                return Some(id);
            }
            row.refuse("bike_id", Invalid::NoSuch { what: Field::Bike });
            return None;
        }
        let label: crate::domain::Label = row.required_word("bike")?;
        match self.known.bikes.labelled(&label.folded()) {
            [only] => Some(*only),
            [] => {
                let id = label.as_str().parse().ok().filter(|id| self.known.bikes.by_id.contains_key(id));
                if id.is_some() {
                    return id;
                }
                let allowed = Form::LabelOfBikeInUse;
                row.refuse("bike", Invalid::unparsed(Field::Bike, label.as_str(), allowed));
                None
            }
            _ => {
                let allowed = Form::LabelOfOneBike;
                row.refuse("bike", Invalid::unparsed(Field::Bike, label.as_str(), allowed));
                None
            }
        }
    }

    /// The part model that a line names by id or name; none when it names none.
    fn model_of(&self, row: &mut Row<'_>, place: Place) -> Option<PartModelId> {
        let (column, found) = if row.raw("part_model_id").is_some() {
            let id: PartModelId = row.word("part_model_id")?;
            ("part_model_id", self.known.models.0.iter().filter(|model| model.id == id).collect::<Vec<_>>())
        } else {
            let name: crate::domain::Label = row.word("part_model")?;
            ("part_model", self.known.models.named(place, &name.folded()))
        };
        match found.as_slice() {
            [only] if only.facts.geometry.place() == place => Some(only.id),
            [_] => {
                let what = Field::PartModelAndPlace;
                row.refuse(column, Invalid::Together { what, allowed: Form::ModelForPlace });
                None
            }
            [] => {
                let given = row.raw(column).unwrap_or_default();
                let allowed = Form::NameOfModelOfPlace;
                row.refuse(column, Invalid::unparsed(Field::PartModel, given, allowed));
                None
            }
            _ => {
                let given = row.raw(column).unwrap_or_default();
                row.refuse(column, Invalid::unparsed(Field::PartModel, given, Form::NameOfOneModel));
                None
            }
        }
    }

    /// Whether the bike was still in the fleet then; refused otherwise, as of one event alone.
    fn in_fleet(&self, row: &mut Row<'_>, bike_id: BikeId, column: &'static str, at: Timestamp) -> bool {
        let retired_at = self.known.bikes.by_id.get(&bike_id).and_then(|bike| bike.retired_at);
        match retired_at.filter(|retired_at| *retired_at < at) {
            Some(retired_at) => {
                row.refuse(column, Invalid::AfterRetirement { given: at, retired_at });
                false
            }
            None => true,
        }
    }

    /// A time that has to be there and isn't in the future.
    fn past(&self, row: &mut Row<'_>, column: &'static str) -> Option<Timestamp> {
        let at = row.required(column, |cell| moment::moment(cell, self.known.zone, self.now))?;
        row.keep(column, at.not_after(self.now))
    }

    /// The same with its time of day.
    fn past_by_clock(&self, row: &mut Row<'_>, column: &'static str) -> Option<Timestamp> {
        let at = row.required(column, |cell| moment::clock(cell, self.known.zone))?;
        row.keep(column, at.not_after(self.now))
    }

    /// The same in a table that may leave the column out, for what happens now. An empty cell among filled ones is a mistake.
    fn past_or_now(&self, row: &mut Row<'_>, column: &'static str) -> Option<Timestamp> {
        if row.has(column) { self.past(row, column) } else { Some(self.now) }
    }

    /// A time that may be there and isn't in the future.
    fn maybe_past(&self, row: &mut Row<'_>, column: &'static str) -> Option<Timestamp> {
        let at = row.optional(column, |cell| moment::moment(cell, self.known.zone, self.now))?;
        row.keep(column, at.not_after(self.now))
    }
}

/// The workshop's bikes by id and label.
#[derive(Debug, Default)]
struct Bikes {
    by_id: HashMap<BikeId, Bike>,
    by_label: HashMap<String, Vec<BikeId>>,
    by_external_id: HashMap<ExternalId, BikeId>,
}

impl Bikes {
    fn of(bikes: Vec<Bike>) -> Self {
        let mut all = Self::default();
        for bike in bikes {
            all.put(bike);
        }
        all
    }

    /// Bikes of the fleet with a label; retired ones go by id alone.
    fn labelled(&self, folded: &str) -> &[BikeId] {
        self.by_label.get(folded).map_or(&[], Vec::as_slice)
    }

    fn put(&mut self, bike: Bike) {
        if let Some(before) = self.by_id.get(&bike.id)
            && let Some(ids) = self.by_label.get_mut(&before.facts.label.folded())
        {
            ids.retain(|id| *id != bike.id);
        }
        if let Some(called) = self.by_id.get(&bike.id).and_then(|before| before.facts.external_id.as_ref()) {
            self.by_external_id.remove(called);
        }
        if let Some(called) = &bike.facts.external_id {
            self.by_external_id.insert(called.clone(), bike.id);
        }
        if bike.retired_at.is_none() {
            self.by_label.entry(bike.facts.label.folded()).or_default().push(bike.id);
        }
        self.by_id.insert(bike.id, bike);
    }
}

/// The workshop's part models.
#[derive(Debug)]
struct Models(Vec<PartModel>);

impl Models {
    fn named(&self, place: Place, folded: &str) -> Vec<&PartModel> {
        let fits =
            |model: &&PartModel| model.facts.geometry.place() == place && model.facts.name.folded() == folded;
        self.0.iter().filter(fits).collect()
    }
}

/// Whether the store has it: `NotFound` is no error here.
fn found<T>(result: Result<T, StoreError>) -> Result<Option<T>, StoreError> {
    match result {
        Ok(value) => Ok(Some(value)),
        Err(StoreError::NotFound) => Ok(None),
        Err(other) => Err(other),
    }
}
