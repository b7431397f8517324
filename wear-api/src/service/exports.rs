//! Tables out, piece by piece, all as of one instant.

use std::collections::HashMap;

use super::{Actor, ServiceError, Services, record};
use crate::domain::{
    Bike, BikeId, BikeKindId, Care, Currency, Entry, Fitting, Geometry, Label, LubricantId, Money,
    OdometerStatement, Part, PartModel, PartModelId, ReadWith, Reading, Ride, Swap, Telling, ToolId, Voiding,
};
use crate::store::Tx;
use crate::transfer::{Cell, Separator, TableKind, Writer, list};

/// What odometers showed with an event stands in a table of its own.
const IN_TABLE_OF_ODOMETERS: Cell = Cell::Empty;

/// Rows that are read and written at once.
const PIECE: i64 = 2_000;

/// A running export.
pub struct Exporter {
    tx: Tx,
    kind: TableKind,
    writer: Writer,
    labels: HashMap<BikeId, Label>,
    models: HashMap<PartModelId, Label>,
    kinds: HashMap<BikeKindId, Label>,
    tools: HashMap<ToolId, Label>,
    lubricants: HashMap<LubricantId, Label>,
    after: After,
    /// The header is still to be given out.
    begins: bool,
    ended: bool,
}

/// Where the next piece begins.
#[derive(Debug, Clone, Copy, Default)]
struct After {
    first: uuid::Uuid,
    second: uuid::Uuid,
}

type Rows = Vec<Vec<Cell>>;

impl Exporter {
    /// Begins.
    ///
    /// # Errors
    /// [`ServiceError`].
    pub async fn begin(
        services: &Services,
        actor: &Actor,
        kind: TableKind,
        separator: Separator,
    ) -> Result<Self, ServiceError> {
        // Who takes a whole table out is written down before any of it goes.
        let mut written = services.store.begin_write(actor).await?;
        record(&mut written, actor, services.now(), "export", format!("exports/{kind}")).await?;
        written.commit().await?;
        let mut tx = services.store.begin_read(actor).await?;
        let names_bike = kind.names_bike() || kind == TableKind::Parts;
        let bikes = if names_bike { tx.all_bikes().await? } else { Vec::new() };
        let names_model = matches!(kind, TableKind::Parts | TableKind::Swaps);
        let models = if names_model { tx.all_part_models().await? } else { Vec::new() };
        let kinds = if kind == TableKind::Bikes { tx.all_bike_kinds().await? } else { Vec::new() };
        let tools = if kind == TableKind::Readings { tx.all_tools().await? } else { Vec::new() };
        let lubricants = if kind == TableKind::Care { tx.all_lubricants().await? } else { Vec::new() };
        Ok(Self {
            tx,
            kind,
            writer: Writer::new(kind, separator).map_err(unwritten)?,
            labels: bikes.into_iter().map(|bike| (bike.id, bike.facts.label)).collect(),
            models: models.into_iter().map(|model| (model.id, model.facts.name)).collect(),
            kinds: kinds.into_iter().map(|kind| (kind.id, kind.facts.name)).collect(),
            tools: tools.into_iter().map(|tool| (tool.id, tool.name)).collect(),
            lubricants: lubricants.into_iter().map(|it| (it.id, it.facts.name)).collect(),
            after: After::default(),
            begins: true,
            ended: false,
        })
    }

    /// The next piece of the file; none at its end.
    ///
    /// # Errors
    /// [`ServiceError`].
    pub async fn next(&mut self) -> Result<Option<Vec<u8>>, ServiceError> {
        if self.ended {
            return Ok(None);
        }
        let rows = match self.kind {
            TableKind::PartModels => self.part_models().await?,
            TableKind::Bikes => self.bikes().await?,
            TableKind::Parts => self.parts().await?,
            TableKind::Rides => self.rides().await?,
            TableKind::Readings => self.readings().await?,
            TableKind::Care => self.care().await?,
            TableKind::Swaps => self.swaps().await?,
            TableKind::Odometer => self.statements().await?,
        };
        if rows.is_empty() {
            self.ended = true;
            if !self.begins {
                return Ok(None);
            }
        }
        self.begins = false;
        for row in rows {
            self.writer.row(&row).map_err(unwritten)?;
        }
        self.writer.take().map(Some).map_err(unwritten)
    }

    async fn part_models(&mut self) -> Result<Rows, ServiceError> {
        if !self.begins {
            return Ok(Rows::new());
        }
        Ok(self.tx.all_part_models().await?.into_iter().map(part_model).collect())
    }

    async fn bikes(&mut self) -> Result<Rows, ServiceError> {
        let bikes = self.tx.bikes_after(BikeId::from_uuid(self.after.first), PIECE).await?;
        if let Some(last) = bikes.last() {
            self.after.first = last.id.uuid();
        }
        Ok(bikes.into_iter().map(|it| bike(it, &self.kinds)).collect())
    }

    async fn parts(&mut self) -> Result<Rows, ServiceError> {
        let parts = self.tx.parts_after(crate::domain::PartId::from_uuid(self.after.first), PIECE).await?;
        let (Some(first), Some(last)) = (parts.first(), parts.last()) else { return Ok(Rows::new()) };
        self.after.first = last.id.uuid();
        let mut stays: HashMap<_, Vec<Fitting>> = HashMap::new();
        for stay in self.tx.fittings_of_parts(first.id, last.id).await? {
            stays.entry(stay.part_id).or_default().push(stay);
        }
        let mut rows = Rows::new();
        for part in parts {
            match stays.remove(&part.id) {
                None => rows.push(self.part(&part, None)),
                Some(stays) => rows.extend(stays.iter().map(|stay| self.part(&part, Some(stay)))),
            }
        }
        Ok(rows)
    }

    fn part(&self, part: &Part, stay: Option<&Fitting>) -> Vec<Cell> {
        vec![
            Cell::plain(part.id),
            Cell::plain(part.facts.place),
            Cell::or_empty(part.facts.model_id, Cell::plain),
            self.model(part.facts.model_id),
            Cell::or_empty(part.facts.label.as_ref(), Cell::text),
            Cell::or_empty(stay, |stay| Cell::plain(stay.id)),
            Cell::or_empty(stay, |stay| Cell::plain(stay.bike_id)),
            Cell::or_empty(stay, |stay| self.label(stay.bike_id)),
            Cell::or_empty(stay, |stay| Cell::Whole(i64::from(stay.position.get()))),
            Cell::or_empty(stay, |stay| Cell::plain(stay.fitted_at)),
            Cell::or_empty(stay.and_then(|stay| stay.removed_at), Cell::plain),
            Cell::or_empty(stay, |stay| Cell::plain(stay.start.as_str())),
            Cell::or_empty(stay.and_then(|stay| stay.start.ridden()), |before| Cell::Fixed(before.mm(), 6)),
            Cell::plain(part.created_at),
            Cell::or_empty(part.retired_at, Cell::plain),
        ]
    }

    async fn rides(&mut self) -> Result<Rows, ServiceError> {
        let rides = self.tx.rides_after((self.after.first, self.after.second), PIECE).await?;
        if let Some(last) = rides.last() {
            self.after = After { first: last.bike_id.uuid(), second: last.id.uuid() };
        }
        Ok(rides.iter().map(|ride| self.ride(ride)).collect())
    }

    fn ride(&self, ride: &Ride) -> Vec<Cell> {
        vec![
            Cell::plain(ride.bike_id),
            self.label(ride.bike_id),
            Cell::text(&ride.identity.source),
            Cell::text(&ride.identity.source_id),
            Cell::plain(ride.started_at),
            Cell::Fixed(ride.facts.distance_mm(), 6),
            Cell::plain(ride.facts.surface),
            Cell::Flag(ride.facts.wet),
            Cell::or_empty(ride.facts.climb_mm(), |climb| Cell::Fixed(climb, 3)),
            Cell::or_empty(ride.facts.energy_j(), |energy| Cell::Fixed(energy, 3)),
            Cell::Flag(ride.telling == Telling::Separate),
        ]
    }

    async fn readings(&mut self) -> Result<Rows, ServiceError> {
        let readings = self.tx.readings_after((self.after.first, self.after.second), PIECE).await?;
        if let Some(last) = readings.last() {
            self.after = After { first: last.bike_id.uuid(), second: last.id.uuid() };
        }
        Ok(readings.into_iter().map(|reading| self.reading(reading)).collect())
    }

    fn reading(&self, reading: Reading) -> Vec<Cell> {
        let Reading { id, bike_id, part_id, taken_at, measured, with: ReadWith { tool_id, read_by }, voided } =
            reading;
        let mut cells = vec![
            Cell::plain(id),
            Cell::plain(bike_id),
            self.label(bike_id),
            Cell::plain(part_id),
            Cell::plain(taken_at),
        ];
        cells.extend(entry(measured.entry()));
        cells.extend(voiding(voided));
        cells.push(IN_TABLE_OF_ODOMETERS);
        cells.push(Cell::or_empty(tool_id.and_then(|id| self.tools.get(&id)), Cell::text));
        cells.push(Cell::or_empty(read_by, Cell::text));
        cells
    }

    async fn care(&mut self) -> Result<Rows, ServiceError> {
        let care = self.tx.care_after((self.after.first, self.after.second), PIECE).await?;
        if let Some(last) = care.last() {
            self.after = After { first: last.bike_id.uuid(), second: last.id.uuid() };
        }
        let row = |care: &Care| {
            let mut cells = vec![
                Cell::plain(care.id),
                Cell::plain(care.bike_id),
                self.label(care.bike_id),
                Cell::plain(care.kind),
                Cell::plain(care.done_at),
                Cell::or_empty(care.note.as_ref(), Cell::text),
                IN_TABLE_OF_ODOMETERS,
                Cell::or_empty(care.lubricant_id.and_then(|id| self.lubricants.get(&id)), Cell::text),
            ];
            cells.extend(voiding(care.voided.clone()));
            cells
        };
        Ok(care.iter().map(row).collect())
    }

    async fn swaps(&mut self) -> Result<Rows, ServiceError> {
        let swaps = self.tx.swaps_after((self.after.first, self.after.second), PIECE).await?;
        if let Some(last) = swaps.last() {
            self.after = After { first: last.facts.bike_id.uuid(), second: last.facts.id.uuid() };
        }
        Ok(swaps.into_iter().map(|swap| self.swap(swap)).collect())
    }

    fn swap(&self, Swap { facts, voided }: Swap) -> Vec<Cell> {
        let mut cells = vec![
            Cell::plain(facts.id),
            Cell::plain(facts.bike_id),
            self.label(facts.bike_id),
            Cell::plain(facts.swapped_at),
            Cell::plain(facts.place),
            Cell::Whole(i64::from(facts.position.get())),
            Cell::or_empty(facts.model_id, Cell::plain),
            self.model(facts.model_id),
            Cell::or_empty(facts.off_part_id, Cell::plain),
            Cell::plain(facts.on_part_id),
            Cell::or_empty(facts.reading_id, Cell::plain),
            Cell::or_empty(facts.note, Cell::text),
            Cell::Flag(facts.from_shelf),
            Cell::or_empty(facts.checklist, |list| Cell::Plain(list.words().join(" "))),
        ];
        cells.extend(voiding(voided));
        cells.push(IN_TABLE_OF_ODOMETERS);
        cells.push(Cell::or_empty(facts.reason, Cell::plain));
        cells
    }

    async fn statements(&mut self) -> Result<Rows, ServiceError> {
        let statements = self.tx.statements_after((self.after.first, self.after.second), PIECE).await?;
        if let Some(last) = statements.last() {
            self.after = After { first: last.bike_id.uuid(), second: last.id.uuid() };
        }
        Ok(statements.into_iter().map(|statement| self.statement(statement)).collect())
    }

    fn statement(&self, statement: OdometerStatement) -> Vec<Cell> {
        let OdometerStatement { id, bike_id, read_at, total, entered_with, entered_at: _, voided } =
            statement;
        let mut cells = vec![
            Cell::plain(id),
            Cell::plain(bike_id),
            self.label(bike_id),
            Cell::plain(read_at),
            Cell::Fixed(total.mm(), 6),
            Cell::or_empty(entered_with, |with| Cell::plain(with.kind())),
            Cell::or_empty(entered_with, |with| Cell::plain(with.id())),
        ];
        cells.extend(voiding(voided));
        cells
    }

    fn label(&self, bike: BikeId) -> Cell {
        Cell::or_empty(self.labels.get(&bike), Cell::text)
    }

    fn model(&self, model: Option<PartModelId>) -> Cell {
        Cell::or_empty(model.and_then(|model| self.models.get(&model)), Cell::text)
    }
}

/// Writing to memory doesn't fail but by a fault of ours.
fn unwritten(error: csv::Error) -> ServiceError {
    tracing::error!(%error, "a table can't be written");
    ServiceError::BrokenOff
}

fn part_model(model: PartModel) -> Vec<Cell> {
    let PartModel { id, facts, created_at, revision: _ } = model;
    let (mut sprockets, mut cogs, mut one_piece) = (Cell::Empty, Cell::Empty, Cell::Empty);
    let (mut teeth, mut narrow_wide) = (Cell::Empty, Cell::Empty);
    let place = facts.geometry.place();
    match &facts.geometry {
        Geometry::Chain { sprockets: count } => {
            sprockets = Cell::or_empty(*count, |count| Cell::Whole(i64::from(count)));
        }
        Geometry::Cassette { cogs: each, one_piece: whole } => {
            cogs = Cell::Plain(list(each.iter().map(|cog| u32::from(cog.get()))));
            one_piece = Cell::Flag(*whole);
        }
        Geometry::Cog { teeth: count } => teeth = Cell::Whole(i64::from(count.get())),
        Geometry::Ring { teeth: count, narrow_wide: alternating } => {
            teeth = Cell::Whole(i64::from(count.get()));
            narrow_wide = Cell::Flag(*alternating);
        }
        Geometry::JockeyWheels { teeth: count } => teeth = Cell::Whole(i64::from(count.get())),
    }
    vec![
        Cell::plain(id),
        Cell::text(facts.name),
        Cell::plain(place),
        sprockets,
        cogs,
        one_piece,
        teeth,
        narrow_wide,
        Cell::or_empty(facts.price.map(Money::minor), Cell::Whole),
        Cell::or_empty(facts.price.map(Money::currency), |currency: Currency| Cell::plain(currency)),
        Cell::or_empty(facts.limit, |limit| Cell::Number(limit.get())),
        Cell::plain(created_at),
    ]
}

fn bike(bike: Bike, kinds: &HashMap<BikeKindId, Label>) -> Vec<Cell> {
    let Bike { id, facts, created_at, retired_at, .. } = bike;
    let drivetrain = &facts.drivetrain;
    let teeth = |all: &[crate::domain::Teeth]| list(all.iter().map(|teeth| u32::from(teeth.get())));
    vec![
        Cell::plain(id),
        Cell::text(&facts.label),
        Cell::text(&facts.group),
        Cell::or_empty(facts.kind.and_then(|kind| kinds.get(&kind)), Cell::text),
        Cell::plain(facts.usage),
        Cell::Plain(teeth(drivetrain.rings())),
        Cell::Plain(teeth(drivetrain.cogs())),
        Cell::Whole(i64::from(drivetrain.links().get())),
        Cell::plain(drivetrain.gearing()),
        Cell::Whole(drivetrain.wheel().get().round() as i64),
        Cell::or_empty(drivetrain.jockey(), |teeth| Cell::Whole(i64::from(teeth.get()))),
        Cell::Flag(drivetrain.has_light_metal_cogs()),
        Cell::Flag(facts.is_assumed),
        Cell::or_empty(facts.limit, |limit| Cell::Number(limit.get())),
        Cell::or_empty(facts.care, Cell::plain),
        // Its parts come with the table of parts.
        Cell::Empty,
        Cell::Empty,
        Cell::plain(created_at),
        Cell::or_empty(retired_at, Cell::plain),
        Cell::or_empty(facts.external_id.as_ref(), Cell::text),
    ]
}

/// From `instrument` to `drops_in`.
fn entry(entry: &Entry) -> [Cell; 7] {
    const NONE: Cell = Cell::Empty;
    match entry {
        Entry::Percent { instrument, percent } => {
            [Cell::plain(instrument), Cell::Number(percent.get()), NONE, NONE, NONE, NONE, NONE]
        }
        Entry::Spots { instrument, spots } => {
            let spots: Vec<String> = spots.iter().map(|spot| spot.get().to_string()).collect();
            [Cell::plain(instrument), NONE, Cell::Decimals(spots.join(" ")), NONE, NONE, NONE, NONE]
        }
        Entry::Length { instrument, pitches, length_mm } => [
            Cell::plain(instrument),
            NONE,
            NONE,
            Cell::Whole(i64::from(*pitches)),
            Cell::Number(*length_mm),
            NONE,
            NONE,
        ],
        Entry::Gauge { instrument, mark, drops_in } => {
            [Cell::plain(instrument), NONE, NONE, NONE, NONE, Cell::Number(mark.get()), Cell::Flag(*drops_in)]
        }
    }
}

fn voiding(voided: Option<Voiding>) -> [Cell; 2] {
    match voided {
        Some(Voiding { at, reason }) => [Cell::plain(at), Cell::text(reason)],
        None => [Cell::Empty, Cell::Empty],
    }
}
