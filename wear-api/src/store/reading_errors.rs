//! How a workshop's tools and people err, as far as its chains have told.

use std::sync::LazyLock;

use wear_core::fleet::{LearnedBias, LearnedTools, Tool};
use wear_core::reading::InstrumentCalibrations;

use super::error::{Sound, StoreError};
use super::many::Many;
use super::{Tx, execute, on, rows, statements};

const TABLE: &str = "reading_errors";

const TOOL: &str = "tool";
const PERSON: &str = "person";
const BOTH: &str = "both";

statements! {
    CLEAR = "delete from reading_errors where workshop_id = $1";
    ALL = "
        select subject, instrument, tool, person, bias, sd, spread, covariance, readings
        from reading_errors where workshop_id = $1 order by subject, instrument, tool, person";
}

static INSERT: LazyLock<Many> = LazyLock::new(|| {
    Many::new(
        "insert into reading_errors (workshop_id, subject, instrument, tool, person, bias, sd, spread, covariance,
            readings)
        values ",
        "($1, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        1,
        "",
    )
});

pub(super) fn insert_statements() -> &'static [&'static str] {
    INSERT.texts()
}

#[derive(sqlx::FromRow)]
struct Row {
    subject: String,
    instrument: String,
    tool: String,
    person: String,
    bias: f64,
    sd: f64,
    spread: f64,
    covariance: f64,
    readings: i64,
}

impl Row {
    fn of(subject: &str, tool: Option<&Tool>, person: &str, bias: LearnedBias, covariance: f64) -> Self {
        let LearnedBias { bias, sd, readings, spread } = bias;
        Self {
            subject: subject.to_owned(),
            instrument: tool.map_or("", |tool| tool.instrument.as_str()).to_owned(),
            tool: tool.and_then(|tool| tool.name.clone()).unwrap_or_default(),
            person: person.to_owned(),
            bias,
            sd,
            spread,
            covariance,
            readings: i64::try_from(readings).unwrap_or(i64::MAX),
        }
    }

    fn tool(&self) -> Result<Tool, StoreError> {
        let instrument = self.instrument.parse().sound(TABLE, "instrument")?;
        Ok(Tool { instrument, name: Some(self.tool.clone()).filter(|name| !name.is_empty()) })
    }

    fn bias(&self) -> Result<LearnedBias, StoreError> {
        let Self { bias, sd, spread, readings, .. } = *self;
        Ok(LearnedBias { bias, sd, spread, readings: usize::try_from(readings).sound(TABLE, "readings")? })
    }
}

impl Tx {
    /// Stores how tools and people err, in place of what had been learned before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_reading_errors(&mut self, learned: &LearnedTools) -> Result<(), StoreError> {
        let nothing = LearnedBias { bias: 0.0, sd: 0.0, readings: 0, spread: 1.0 };
        let tools = learned.tools().map(|(tool, bias)| Row::of(TOOL, Some(tool), "", bias, 0.0));
        let persons = learned.persons().map(|(person, bias)| Row::of(PERSON, None, person, bias, 0.0));
        let both = learned
            .together()
            .map(|(tool, person, covariance)| Row::of(BOTH, Some(tool), person, nothing, covariance));
        let rows: Vec<Row> = tools.chain(persons).chain(both).collect();
        execute!(self, CLEAR)?;
        for (sql, batch) in INSERT.batches(self.engine(), &rows) {
            on!(self.connection, |conn| {
                let mut query = sqlx::query(sql).bind(self.workshop.uuid());
                for Row { subject, instrument, tool, person, bias, sd, spread, covariance, readings } in batch
                {
                    query = query
                        .bind(subject)
                        .bind(instrument)
                        .bind(tool)
                        .bind(person)
                        .bind(*bias)
                        .bind(*sd)
                        .bind(*spread)
                        .bind(*covariance)
                        .bind(*readings);
                }
                query.execute(conn).await.map(|_| ())
            })?;
        }
        Ok(())
    }

    /// How tools and people err, of a workshop whose instruments err so; nothing before the first time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn reading_errors(
        &mut self,
        calibrations: &InstrumentCalibrations,
        gauges_judged: bool,
    ) -> Result<LearnedTools, StoreError> {
        let rows: Vec<Row> = rows!(self, ALL)?;
        let (mut tools, mut persons, mut together) = (Vec::new(), Vec::new(), Vec::new());
        for row in rows {
            match row.subject.as_str() {
                TOOL => tools.push((row.tool()?, row.bias()?)),
                PERSON => {
                    let bias = row.bias()?;
                    persons.push((row.person, bias));
                }
                _ => {
                    let tool = row.tool()?;
                    together.push(((tool, row.person), row.covariance));
                }
            }
        }
        Ok(LearnedTools::kept(calibrations, gauges_judged, tools, persons, together))
    }
}
