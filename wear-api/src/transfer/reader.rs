//! The text of a table into rows, with what is wrong by line and column.

use std::collections::HashMap;
use std::io::{self, BufRead, Read};
use std::sync::Arc;

use super::cells::Decimal;
use super::kind::TableKind;
use super::lines::{LONGEST, LineFault, Lines};
use super::mistake::{TableCause, TableFault, TableForm, TableMistake};

/// Most mistakes that are listed; the rest is counted.
pub const MOST_LISTED: usize = 100;

/// What is wrong with a table.
#[derive(Debug, Default)]
pub struct Findings {
    listed: Vec<TableMistake>,
    found: u64,
}

impl Findings {
    /// Adds a mistake.
    pub fn push(&mut self, mistake: TableMistake) {
        self.found += 1;
        if self.listed.len() < MOST_LISTED {
            self.listed.push(mistake);
        }
    }

    /// Adds a mistake in a cell.
    pub fn cell(&mut self, line: u64, column: &str, cause: TableCause) {
        self.push(TableMistake { line, column: column.to_owned(), cause });
    }

    fn header(&mut self, column: &str, fault: TableFault, form: TableForm) {
        self.cell(1, column, TableCause::Line(fault, form));
    }

    /// Mistakes found.
    #[must_use]
    pub const fn found(&self) -> u64 {
        self.found
    }

    /// The first of them.
    #[must_use]
    pub fn into_listed(self) -> Vec<TableMistake> {
        self.listed
    }
}

/// Why a table can't be read at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TableError {
    /// The header is wrong.
    #[error("the header is wrong")]
    Header(Findings),
    /// The source broke off.
    #[error("the table can't be read")]
    Read(#[from] io::Error),
}

/// One line of a table: where it begins, and its cells, as many as the header has.
#[derive(Debug)]
pub struct Line {
    /// Line of the file, from 1 for the header.
    pub(super) number: u64,
    /// Its cells.
    pub(super) record: csv::StringRecord,
}

impl Line {
    fn is_blank(&self) -> bool {
        self.record.len() == 1 && self.record.get(0).is_some_and(|cell| cell.trim().is_empty())
    }
}

/// Reads one line of the table at a time, whatever its size.
pub struct Table {
    csv: csv::Reader<Lines<Box<dyn BufRead + Send>>>,
    header: Arc<Header>,
    broken: bool,
}

/// Which column is where.
#[derive(Debug)]
pub struct Header {
    pub(super) kind: TableKind,
    pub(super) places: HashMap<&'static str, usize>,
    pub(super) columns: Vec<String>,
    pub(super) decimal_comma: bool,
}

impl Header {
    /// Which table it is of.
    #[must_use]
    pub const fn kind(&self) -> TableKind {
        self.kind
    }
}

const BUFFER: usize = 64 * 1024;

impl Table {
    /// Reads the header. The separator is the one of comma and semicolon that it has more of.
    ///
    /// # Errors
    /// [`TableError`].
    pub fn open(mut source: Box<dyn BufRead + Send>, kind: TableKind) -> Result<Self, TableError> {
        let mut start = Vec::new();
        source.by_ref().take(BUFFER as u64).read_until(b'\n', &mut start)?;
        if start.starts_with("\u{feff}".as_bytes()) {
            start.drain(..3);
        }
        let line = start.split(|byte| matches!(byte, b'\r' | b'\n')).next().unwrap_or_default();
        let count = |wanted: u8| line.iter().filter(|byte| **byte == wanted).count();
        let semicolon = count(b';') > count(b',');
        let source: Box<dyn BufRead + Send> = Box::new(io::Cursor::new(start).chain(source));
        let separator = if semicolon { b';' } else { b',' };
        let mut csv = csv::ReaderBuilder::new()
            .delimiter(separator)
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(BUFFER)
            .from_reader(Lines::new(source, separator));
        let mut findings = Findings::default();
        let first = match next(&mut csv) {
            Some(Ok(first)) => first.record,
            Some(Err(mistake)) => {
                findings.push(mistake.wrong);
                return Err(TableError::Header(findings));
            }
            None => {
                findings.header(
                    "",
                    TableFault::NoHeader,
                    TableForm::HeaderWith { columns: listed(kind.required()) },
                );
                return Err(TableError::Header(findings));
            }
        };
        let header = header(kind, &first, semicolon, &mut findings);
        if findings.found() > 0 {
            return Err(TableError::Header(findings));
        }
        Ok(Self { csv, header: Arc::new(header), broken: false })
    }

    /// Its header.
    #[must_use]
    pub fn header(&self) -> Arc<Header> {
        Arc::clone(&self.header)
    }

    /// The next lines, at most so many, each good or with what is wrong with all of it; none at the end.
    pub fn next_lines(&mut self, most: usize) -> Vec<Result<Line, TableMistake>> {
        let mut lines = Vec::new();
        while lines.len() < most && !self.broken {
            match next(&mut self.csv) {
                None => break,
                Some(Ok(line)) if line.is_blank() => {}
                Some(Ok(line)) => lines.push(self.whole(line)),
                Some(Err(Mistake { wrong, is_last })) => {
                    self.broken = is_last;
                    lines.push(Err(wrong));
                }
            }
        }
        lines
    }

    fn whole(&self, line: Line) -> Result<Line, TableMistake> {
        let (cells, columns) = (line.record.len(), self.header.columns.len());
        if cells == columns {
            return Ok(line);
        }
        let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        let cause = TableCause::Line(
            TableFault::Cells { count: count(cells) },
            TableForm::CellsAsHeader { count: count(columns) },
        );
        Err(TableMistake { line: line.number, column: String::new(), cause })
    }
}

fn listed(columns: &[&str]) -> String {
    columns.join(", ")
}

/// What is wrong with a whole line, and whether nothing can be read after it.
struct Mistake {
    wrong: TableMistake,
    is_last: bool,
}

/// The next line, with the place where it begins.
fn next(csv: &mut csv::Reader<impl Read>) -> Option<Result<Line, Mistake>> {
    let mistake = |line: u64, fault: TableFault, form: TableForm, is_last: bool| {
        let wrong = TableMistake { line, column: String::new(), cause: TableCause::Line(fault, form) };
        Some(Err(Mistake { wrong, is_last }))
    };
    let mut bytes = csv::ByteRecord::new();
    match csv.read_byte_record(&mut bytes) {
        Ok(false) => None,
        Ok(true) => {
            // Each record ends in one line feed, which is counted; those inside it are as well.
            let inside: usize =
                bytes.iter().map(|cell| cell.iter().filter(|byte| **byte == b'\n').count()).sum();
            let number = csv.position().line().saturating_sub(1 + inside as u64).max(1);
            match csv::StringRecord::from_byte_record(bytes) {
                Ok(record) => Some(Ok(Line { number, record })),
                Err(_) => mistake(number, TableFault::NotUtf8, TableForm::Utf8, false),
            }
        }
        Err(error) => {
            let line = csv.position().line();
            let fault = match error.kind() {
                csv::ErrorKind::Io(cause) => cause.get_ref().and_then(|cause| cause.downcast_ref()),
                _ => None,
            };
            match fault {
                Some(LineFault::Endless { line }) => {
                    let bytes = LONGEST as u32;
                    mistake(*line, TableFault::Endless { bytes }, TableForm::ShorterLines, true)
                }
                Some(LineFault::Open { line }) => {
                    mistake(*line, TableFault::OpenQuote, TableForm::ClosingQuote, true)
                }
                None => {
                    let fault = TableFault::Unreadable { cause: error.to_string() };
                    mistake(line, fault, TableForm::Csv, true)
                }
            }
        }
    }
}

fn header(
    kind: TableKind,
    first: &csv::StringRecord,
    decimal_comma: bool,
    findings: &mut Findings,
) -> Header {
    let columns: Vec<String> = first.iter().map(|name| name.trim().to_lowercase()).collect();
    let mut places = HashMap::new();
    for (place, name) in columns.iter().enumerate() {
        let shown: String = name.chars().take(64).collect();
        match kind.column_of(name) {
            None => {
                let columns: Vec<&'static str> =
                    kind.columns().iter().chain(kind.in_short()).copied().collect();
                let form = TableForm::Columns { columns: listed(&columns) };
                findings.header(&shown, TableFault::UnknownColumn, form);
            }
            Some(column) => {
                if places.insert(column, place).is_some() {
                    findings.header(&shown, TableFault::ColumnTwice, TableForm::EachOnce);
                }
            }
        }
    }
    for column in kind.required() {
        if !places.contains_key(column) {
            findings.header(column, TableFault::ColumnMissing, TableForm::ThisColumn);
        }
    }
    if kind.names_bike() && !places.contains_key("bike") && !places.contains_key("bike_id") {
        findings.header("bike", TableFault::ColumnMissing, TableForm::BikeColumn);
    }
    Header { kind, places, columns, decimal_comma }
}

/// Which decimal mark a table's numbers have, once one was seen.
#[derive(Debug, Default)]
pub struct Notation {
    pub(super) seen: Option<Decimal>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(text: &str) -> Vec<u64> {
        let source = Box::new(io::Cursor::new(text.to_owned()));
        let mut table = Table::open(source, TableKind::Rides).expect("a header");
        let mut numbers = Vec::new();
        loop {
            let lines = table.next_lines(2);
            if lines.is_empty() {
                return numbers;
            }
            numbers.extend(lines.into_iter().map(|line| line.expect("a good line").number));
        }
    }

    #[test]
    fn lines_are_counted_as_an_editor_does() {
        let text = "bike,started_at,distance_km\n1,a,b\n\n\n\"2\n3\",\"\",\"\n\n\"\n4,a,b\n5,a,b";
        // The second begins on line 5 and goes over four lines.
        let expected = [2, 5, 9, 10];
        assert_eq!(numbers(text), expected);
        assert_eq!(numbers(&text.replace('\n', "\r\n")), expected);
        assert_eq!(numbers(&format!("\u{feff}{text}\n")), expected);
        let plain = "bike,started_at,distance_km\r1,a,b\r\r2,a,b\r";
        assert_eq!(numbers(plain), [2, 4]);
    }
}
