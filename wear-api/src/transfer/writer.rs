//! Rows into the text of a table.

use super::cells::{fixed, neutralised};
use super::kind::TableKind;

wear_core::vocabulary! {
    /// What stands between the cells of an export.
    Separator, "separator" {
        /// Commas, with decimal points.
        Comma = "comma",
        /// Semicolons, with decimal commas and a byte order mark: what spreadsheets open where commas are decimal.
        Semicolon = "semicolon",
    }
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A text, which may look like a formula.
    Text(String),
    /// Something of ours that never does: an id, a word, a time.
    Plain(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// Whole millionths or thousandths, with the number of decimals.
    Fixed(i64, usize),
    /// Several numbers with spaces in between.
    Decimals(String),
    /// Yes or no.
    Flag(bool),
}

impl Cell {
    /// A cell that may be empty.
    pub fn or_empty<T>(value: Option<T>, cell: impl FnOnce(T) -> Self) -> Self {
        value.map_or(Self::Empty, cell)
    }

    /// The plain text of something.
    pub fn plain(value: impl ToString) -> Self {
        Self::Plain(value.to_string())
    }

    /// A text of somebody's.
    pub fn text(value: impl ToString) -> Self {
        Self::Text(value.to_string())
    }

    fn write(&self, separator: Separator) -> String {
        let decimal = |text: String| match separator {
            Separator::Comma => text,
            Separator::Semicolon => text.replace('.', ","),
        };
        match self {
            Self::Empty => String::new(),
            Self::Text(text) => neutralised(text).into_owned(),
            Self::Plain(text) => text.clone(),
            Self::Whole(number) => number.to_string(),
            Self::Number(number) => decimal(number.to_string()),
            Self::Decimals(text) => decimal(text.clone()),
            Self::Fixed(units, decimals) => decimal(fixed(*units, *decimals)),
            Self::Flag(flag) => flag.to_string(),
        }
    }
}

/// Writes a table piece by piece; what was written is taken out with [`Writer::take`].
pub struct Writer {
    csv: csv::Writer<Vec<u8>>,
    separator: Separator,
    columns: usize,
}

impl Writer {
    /// A table that begins with its header.
    ///
    /// # Errors
    /// None in practice: it is written to memory.
    pub fn new(kind: TableKind, separator: Separator) -> Result<Self, csv::Error> {
        Self::titled(kind.columns(), separator)
    }

    /// A table for people, with these titles of its columns.
    ///
    /// # Errors
    /// None in practice: it is written to memory.
    pub fn titled(titles: &[&str], separator: Separator) -> Result<Self, csv::Error> {
        let mut text = Vec::new();
        let delimiter = match separator {
            Separator::Comma => b',',
            Separator::Semicolon => {
                text.extend_from_slice("\u{feff}".as_bytes());
                b';'
            }
        };
        // Each text in quotes, so that a program that takes the other separator still sees one cell.
        let mut csv = csv::WriterBuilder::new()
            .delimiter(delimiter)
            .quote_style(csv::QuoteStyle::NonNumeric)
            .terminator(csv::Terminator::CRLF)
            .from_writer(text);
        csv.write_record(titles)?;
        Ok(Self { csv, separator, columns: titles.len() })
    }

    /// Writes one row, its cells in the order of the kind's columns.
    ///
    /// # Errors
    /// [`csv::Error`] for another number of cells than there are columns.
    pub fn row(&mut self, cells: &[Cell]) -> Result<(), csv::Error> {
        debug_assert_eq!(cells.len(), self.columns);
        let separator = self.separator;
        self.csv.write_record(cells.iter().map(|cell| cell.write(separator)))
    }

    /// What was written since the last time.
    ///
    /// # Errors
    /// None in practice: it is written to memory.
    pub fn take(&mut self) -> Result<Vec<u8>, csv::Error> {
        self.csv.flush()?;
        let delimiter = if self.separator == Separator::Comma { b',' } else { b';' };
        let next = csv::WriterBuilder::new()
            .delimiter(delimiter)
            .quote_style(csv::QuoteStyle::NonNumeric)
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        std::mem::replace(&mut self.csv, next).into_inner().map_err(|error| error.into_error().into())
    }
}
