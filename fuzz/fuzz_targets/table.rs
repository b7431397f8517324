//! Whatever is sent as a table: rows and mistakes that are the same however the bytes arrive, each with its line; and
//! what is written as text comes back.
#![no_main]
#![allow(dead_code, unused_imports)]

/// The service's own source, without the service: only what reads is built.
#[path = "."]
mod domain {
    #[path = "../../wear-api/src/domain/field.rs"]
    mod field;
    #[path = "../../wear-api/src/domain/invalid.rs"]
    mod invalid;
    #[path = "../../wear-api/src/domain/measured.rs"]
    mod measured;
    #[path = "../../wear-api/src/domain/timestamp.rs"]
    mod timestamp;
    #[path = "../../wear-api/src/domain/word.rs"]
    mod word;

    pub use field::{Field, Form};
    pub use invalid::{FieldError, FieldErrors, Invalid};
    pub use measured::{Entry, Measured};
    pub use timestamp::Timestamp;
    pub use wear_core::reading::{Instrument, Measurement};
    pub(crate) use word::words;
}
#[path = "../../wear-api/src/input/mod.rs"]
mod input;
#[path = "../../wear-api/src/transfer/mod.rs"]
mod transfer;

use std::io::{BufReader, Cursor};

use domain::{Instrument, Invalid, Timestamp};
use input::WrongField;
use libfuzzer_sys::fuzz_target;
use transfer::{Cell, Findings, MOST_LISTED, Notation, Row, Separator, Table, TableError, TableKind, TableMistake, Writer};

/// A message repeats the sender's text, but not all of it.
const LONGEST_MESSAGE: usize = 2_000;

/// Each row's line and cells, or what is wrong with it; none when the header is.
type Rows = Option<Vec<Result<(u64, Vec<Option<String>>), TableMistake>>>;

fn judge(wrong: &[TableMistake]) {
    assert!(wrong.len() <= MOST_LISTED);
    for wrong in wrong.iter().cloned().map(WrongField::from) {
        let text = wrong.to_string();
        assert!(!wrong.message.is_empty() && text.len() <= LONGEST_MESSAGE, "{text}");
    }
}

fn rows(kind: TableKind, text: &[u8], piece: usize) -> Rows {
    let source = BufReader::with_capacity(piece, Cursor::new(text.to_vec()));
    let mut table = match Table::open(Box::new(source), kind) {
        Ok(table) => table,
        Err(TableError::Header(findings)) => {
            assert!(findings.found() > 0);
            judge(&findings.into_listed());
            return None;
        }
        Err(error) => panic!("{error}: memory can't break off"),
    };
    let header = table.header();
    let (mut notation, mut findings) = (Notation::default(), Findings::default());
    let (mut rows, mut last) = (Vec::new(), 1);
    loop {
        let lines = table.next_lines(7);
        if lines.is_empty() {
            break;
        }
        for line in lines {
            match line {
                Err(wrong) => {
                    judge(std::slice::from_ref(&wrong));
                    rows.push(Err(wrong));
                }
                Ok(line) => {
                    let mut row = Row::new(&header, &line, &mut notation, &mut findings);
                    let number = row.line();
                    assert!(number > last, "line {number} after {last}");
                    last = number;
                    let mut cells = Vec::new();
                    for &column in kind.columns() {
                        cells.push(row.optional(column, |cell| Ok::<_, Invalid>(cell.to_owned())));
                        let _ = row.word::<Timestamp>(column);
                        let _ = row.word::<Instrument>(column);
                        if let Some(number) = row.number(column) {
                            assert!(number.is_finite());
                        }
                        let _ = (row.whole(column), row.flag(column), row.wholes(column));
                        assert!(row.numbers(column).into_iter().flatten().all(f64::is_finite));
                    }
                    rows.push(Ok((number, cells)));
                }
            }
        }
    }
    let breaks = text.iter().filter(|byte| matches!(byte, b'\r' | b'\n')).count() as u64;
    assert!(last <= breaks + 1);
    judge(&findings.into_listed());
    Some(rows)
}

fn written(kind: TableKind, separator: Separator, cells: &[Option<String>]) -> Vec<u8> {
    let mut writer = Writer::new(kind, separator).unwrap();
    let cells: Vec<Cell> = cells.iter().map(|cell| Cell::or_empty(cell.as_ref(), Cell::text)).collect();
    writer.row(&cells).unwrap();
    writer.take().unwrap()
}

fuzz_target!(|data: &[u8]| {
    let Some((which, rest)) = data.split_first() else { return };
    let kind = TableKind::ALL[usize::from(which & 0x3f) % TableKind::ALL.len()];
    let mut text = Vec::new();
    if which & 0x80 != 0 {
        let separator = if which & 0x40 != 0 { ";" } else { "," };
        text.extend(kind.columns().join(separator).into_bytes());
        text.push(b'\n');
    }
    text.extend(rest);
    let all = rows(kind, &text, 64 * 1024);
    assert_eq!(rows(kind, &text, 5), all, "in small pieces");
    for (_, cells) in all.into_iter().flatten().flatten() {
        // White space round a cell is dropped, and a cell of nothing else is empty.
        let kept = |cell: &String| !cell.is_empty() && cell.trim() == cell;
        if !cells.iter().flatten().all(kept) || cells.iter().all(Option::is_none) {
            continue;
        }
        for separator in [Separator::Comma, Separator::Semicolon] {
            let back = rows(kind, &written(kind, separator, &cells), 64 * 1024);
            assert_eq!(back, Some(vec![Ok((2, cells.clone()))]));
        }
    }
});
