//! What is wrong with a line or cell of a table.

use std::fmt;

use crate::domain::Invalid;
use crate::input::{Place, WrongField};

wear_core::sentences! {
    /// What is wrong with a line, or with the header.
    #[derive(Eq)]
    TableFault {
        NoHeader = "no_header", "has no header";
        UnknownColumn = "unknown_column", "is not a column of this table";
        ColumnTwice = "column_twice", "is there twice";
        ColumnMissing = "column_missing", "is missing";
        Cells { count: u32 } = "cells", "has {count} cells";
        NotUtf8 = "not_utf8", "is not UTF-8";
        Endless { bytes: u32 } = "endless", "is longer than {bytes} bytes; a quote may not be closed";
        OpenQuote = "open_quote", "has a quote that isn't closed";
        Unreadable { cause: String } = "unreadable", "can't be read: {cause}";
    }
}

wear_core::sentences! {
    /// What a line, or the header, should be.
    #[derive(Eq)]
    TableForm {
        HeaderWith { columns: String } = "header_with", "a header with {columns}";
        Columns { columns: String } = "columns", "{columns}";
        EachOnce = "each_once", "each column once";
        ThisColumn = "this_column", "a column of this name";
        BikeColumn = "bike_column", "a column bike with labels, or bike_id with ids";
        CellsAsHeader { count: u32 } = "cells_as_header", "{count} cells, as the header has";
        Utf8 = "utf8", "text in UTF-8";
        ShorterLines = "shorter_lines", "shorter lines";
        ClosingQuote = "closing_quote", "a closing quote";
        Csv = "csv", "CSV (RFC 4180)";
    }
}

/// What can be wrong.
#[derive(Debug, Clone, PartialEq)]
pub enum TableCause {
    /// A value.
    Value(Invalid),
    /// A line or the header.
    Line(TableFault, TableForm),
}

/// One mistake in a table.
#[derive(Debug, Clone, PartialEq)]
pub struct TableMistake {
    /// Line of the file, from 1.
    pub line: u64,
    /// The column; empty for the whole line.
    pub column: String,
    /// What is wrong.
    pub cause: TableCause,
}

impl From<TableMistake> for WrongField {
    fn from(TableMistake { line, column, cause }: TableMistake) -> Self {
        let place = Place::Cell { line, column };
        let (message, allowed) = match cause {
            TableCause::Value(cause) => {
                let Self { message, allowed, .. } = cause.at("").into();
                (message, allowed)
            }
            TableCause::Line(fault, form) => (fault.to_string(), form.to_string()),
        };
        Self { place, message, allowed }
    }
}

impl fmt::Display for TableMistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        WrongField::from(self.clone()).fmt(f)
    }
}
