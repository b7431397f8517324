//! Tables as CSV, both ways: the text of a table and its rows. Knows neither the store nor HTTP.
//!
//! Files are CSV after RFC 4180, in UTF-8 with or without a byte order mark, with comma or semicolon; lines end as they
//! like. What a spreadsheet would take for a formula is neutralised on the way out and restored on the way in.

mod cells;
mod kind;
mod lines;
mod mistake;
mod reader;
mod row;
mod titles;
mod writer;

pub use kind::TableKind;
pub use mistake::{TableCause, TableFault, TableForm, TableMistake};
pub use reader::{Findings, Header, Line, MOST_LISTED, Notation, Table, TableError};
pub use row::{Row, list};
pub use writer::{Cell, Separator, Writer};
