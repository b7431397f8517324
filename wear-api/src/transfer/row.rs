//! One row of a table, read cell by cell; what is wrong is kept with line and column.

use std::str::FromStr;

use super::cells::{Decimal, number, restored};
use super::mistake::TableCause;
use super::reader::{Findings, Header, Line, Notation};
use crate::domain::{Field, FieldErrors, Form, Invalid};
use crate::input::parse;

/// One row.
pub struct Row<'a> {
    header: &'a Header,
    line: &'a Line,
    notation: &'a mut Notation,
    findings: &'a mut Findings,
    wrong: bool,
}

impl<'a> Row<'a> {
    /// A row to be read.
    pub fn new(
        header: &'a Header,
        line: &'a Line,
        notation: &'a mut Notation,
        findings: &'a mut Findings,
    ) -> Self {
        Self { header, line, notation, findings, wrong: false }
    }

    /// Line of the file.
    #[must_use]
    pub const fn line(&self) -> u64 {
        self.line.number
    }

    /// Whether anything was wrong so far.
    #[must_use]
    pub const fn is_wrong(&self) -> bool {
        self.wrong
    }

    /// The cell as it stands, without white space around it; none when it is empty or the table hasn't the column.
    #[must_use]
    pub fn raw(&self, column: &str) -> Option<&'a str> {
        let place = *self.header.places.get(column)?;
        self.line.record.get(place).map(str::trim).filter(|cell| !cell.is_empty())
    }

    /// Whether the table has the column, filled in here or not.
    #[must_use]
    pub fn has(&self, column: &str) -> bool {
        self.header.places.contains_key(column)
    }

    /// Keeps a mistake in a cell.
    pub fn refuse(&mut self, column: &str, cause: impl Into<Invalid>) {
        self.wrong = true;
        self.findings.cell(self.line.number, column, TableCause::Value(cause.into()));
    }

    /// Keeps mistakes whose pointers are columns: `/percent`, `/spots/3`.
    pub fn refuse_all(&mut self, errors: FieldErrors) {
        for error in errors.into_vec() {
            let column =
                error.pointer.trim_start_matches('/').split('/').next().unwrap_or_default().to_owned();
            self.refuse(&column, error.cause);
        }
    }

    /// Keeps the value, or the mistake.
    pub fn keep<T, E: Into<Invalid>>(&mut self, column: &str, result: Result<T, E>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(cause) => {
                self.refuse(column, cause);
                None
            }
        }
    }

    /// Parses a cell that may be empty.
    pub fn optional<T, E: Into<Invalid>>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let cell = restored(self.raw(column)?);
        self.keep(column, parse(cell))
    }

    /// Parses a cell that may not be empty.
    pub fn required<T, E: Into<Invalid>>(
        &mut self,
        column: &'static str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        if self.raw(column).is_none() {
            self.refuse(
                column,
                Invalid::Missing { what: Field::Named { name: column }, allowed: Form::ValueInCell },
            );
            return None;
        }
        self.optional(column, parse)
    }

    /// A word, an id, a time, a text that may be empty.
    pub fn word<T: FromStr<Err: Into<Invalid>>>(&mut self, column: &str) -> Option<T> {
        self.optional(column, parse::text)
    }

    /// The same where it may not.
    pub fn required_word<T: FromStr<Err: Into<Invalid>>>(&mut self, column: &'static str) -> Option<T> {
        self.required(column, parse::text)
    }

    /// A number that may be empty.
    pub fn number(&mut self, column: &str) -> Option<f64> {
        let cell = self.raw(column)?;
        let allowed = Form::NoThousands;
        let Some((value, decimal)) = number(restored(cell)) else {
            self.refuse(column, Invalid::unparsed(Field::Number, cell, allowed));
            return None;
        };
        if let Some(decimal) = decimal {
            if decimal == Decimal::Comma && !self.header.decimal_comma {
                let allowed = Form::DecimalPoint;
                self.refuse(column, Invalid::unparsed(Field::Number, cell, allowed));
                return None;
            }
            if *self.notation.seen.get_or_insert(decimal) != decimal {
                let allowed = Form::OneDecimalMark;
                self.refuse(column, Invalid::unparsed(Field::Number, cell, allowed));
                return None;
            }
        }
        Some(value)
    }

    /// A number that may not be empty.
    pub fn required_number(&mut self, column: &'static str) -> Option<f64> {
        if self.raw(column).is_none() {
            self.refuse(
                column,
                Invalid::Missing { what: Field::Named { name: column }, allowed: Form::Number },
            );
        }
        self.number(column)
    }

    /// A whole number that may be empty.
    pub fn whole(&mut self, column: &str) -> Option<i64> {
        let wrong = |cell: &str| Invalid::unparsed(Field::Number, cell, Form::WholeNumber);
        self.optional(column, |cell| cell.parse().map_err(|_| wrong(cell)))
    }

    /// Yes or no, which may be empty.
    pub fn flag(&mut self, column: &str) -> Option<bool> {
        self.optional(column, |cell| match cell.to_ascii_lowercase().as_str() {
            "true" | "yes" | "1" => Ok(true),
            "false" | "no" | "0" => Ok(false),
            _ => Err(Invalid::unparsed(Field::Flag, cell, Form::Flag)),
        })
    }

    /// Whole numbers with hyphens or spaces in between, `50-34`; may be empty.
    pub fn wholes(&mut self, column: &str) -> Option<Vec<u32>> {
        self.optional(column, |cell| {
            cell.split(['-', ' '])
                .filter(|it| !it.is_empty())
                .map(|it| it.parse())
                .collect::<Result<_, _>>()
                .map_err(|_| Invalid::unparsed(Field::List, cell, Form::WholesWithHyphens))
        })
    }

    /// Numbers with spaces in between, `0.31 0.33`; may be empty.
    pub fn numbers(&mut self, column: &str) -> Option<Vec<f64>> {
        let cell = self.raw(column)?;
        let allowed = Form::NumbersWithSpaces;
        let parsed: Option<Vec<(f64, Option<Decimal>)>> = cell.split_whitespace().map(number).collect();
        let comma_is_wrong = !self.header.decimal_comma;
        match parsed {
            Some(all) if !(comma_is_wrong && all.iter().any(|(_, mark)| *mark == Some(Decimal::Comma))) => {
                Some(all.into_iter().map(|(value, _)| value).collect())
            }
            _ => {
                self.refuse(column, Invalid::unparsed(Field::Numbers, cell, allowed));
                None
            }
        }
    }
}

/// Whole numbers with hyphens in between, as a row reads them.
#[must_use]
pub fn list(numbers: impl IntoIterator<Item = u32>) -> String {
    numbers.into_iter().map(|it| it.to_string()).collect::<Vec<_>>().join("-")
}
