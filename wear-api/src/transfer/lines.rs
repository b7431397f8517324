//! The bytes of a table with every line ended alike, none of them endless and every quote closed.
//!
//! The CSV reader counts line feeds, and of a carriage return and line feed it leaves the second to the next record. Once
//! each record ends in one line feed, where a record began follows from where it ended.

use std::io::{self, BufRead, Read};

use thiserror::Error;

/// Largest line, bytes: what is longer has lost a closing quote.
pub(super) const LONGEST: usize = 256 * 1024;

/// What no reader can get over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub(super) enum LineFault {
    /// A line is longer than [`LONGEST`].
    #[error("is longer than {LONGEST} bytes")]
    Endless {
        /// Where it begins, from 1.
        line: u64,
    },
    /// The file ends inside a quote.
    #[error("has a quote that isn't closed")]
    Open {
        /// Where the line begins, from 1.
        line: u64,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum At {
    FieldStart,
    Plain,
    Quoted,
    /// After a quote inside quotes: it closes them unless another one follows.
    MaybeClosed,
}

/// A source whose lines all end in one line feed, except inside quotes, where nothing is changed.
pub(super) struct Lines<R> {
    source: R,
    separator: u8,
    at: At,
    after_return: bool,
    line: u64,
    began: u64,
    length: usize,
}

impl<R: BufRead> Lines<R> {
    pub(super) const fn new(source: R, separator: u8) -> Self {
        Self { source, separator, at: At::FieldStart, after_return: false, line: 1, began: 1, length: 0 }
    }

    /// What the reader gets for a byte; nothing for the second half of a line's end.
    fn pass(&mut self, byte: u8) -> Result<Option<u8>, LineFault> {
        self.length += 1;
        if self.length > LONGEST {
            return Err(LineFault::Endless { line: self.began });
        }
        let second_half = self.after_return && byte == b'\n';
        self.after_return = false;
        if second_half {
            self.length = 0;
            return Ok(None);
        }
        if self.at == At::Quoted {
            self.line += u64::from(byte == b'\n');
            if byte == b'"' {
                self.at = At::MaybeClosed;
            }
            return Ok(Some(byte));
        }
        if matches!(byte, b'\r' | b'\n') {
            self.after_return = byte == b'\r';
            self.line += 1;
            (self.at, self.began, self.length) = (At::FieldStart, self.line, 0);
            return Ok(Some(b'\n'));
        }
        self.at = match (self.at, byte) {
            (_, byte) if byte == self.separator => At::FieldStart,
            (At::FieldStart | At::MaybeClosed, b'"') => At::Quoted,
            _ => At::Plain,
        };
        Ok(Some(byte))
    }

    /// What comes after the last byte: the end of the last line where it had none.
    fn end(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match (self.at, self.length) {
            (At::Quoted, _) => Err(fault(LineFault::Open { line: self.began })),
            (_, 0) => Ok(0),
            _ => {
                (self.at, self.length) = (At::FieldStart, 0);
                buffer[0] = b'\n';
                Ok(1)
            }
        }
    }
}

fn fault(fault: LineFault) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, fault)
}

impl<R: BufRead> Read for Lines<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if buffer.is_empty() {
            return Ok(0);
        }
        loop {
            let available = self.source.fill_buf()?;
            if available.is_empty() {
                return self.end(buffer);
            }
            let size = available.len().min(buffer.len());
            buffer[..size].copy_from_slice(&available[..size]);
            self.source.consume(size);
            let mut written = 0;
            for read in 0..size {
                if let Some(byte) = self.pass(buffer[read]).map_err(fault)? {
                    buffer[written] = byte;
                    written += 1;
                }
            }
            if written > 0 {
                return Ok(written);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(text: &str, piece: usize) -> Result<String, LineFault> {
        let source = io::BufReader::with_capacity(piece, text.as_bytes());
        let mut read = String::new();
        match Lines::new(source, b',').read_to_string(&mut read) {
            Ok(_) => Ok(read),
            Err(error) => {
                Err(*error.get_ref().and_then(|cause| cause.downcast_ref()).expect("a fault of a line"))
            }
        }
    }

    #[test]
    fn every_line_ends_alike_and_quoted_text_stays() {
        for (text, read) in [
            ("a,b\r\n1,2\r\n", "a,b\n1,2\n"),
            ("a,b\r1,2\r", "a,b\n1,2\n"),
            ("a,b\n1,2", "a,b\n1,2\n"),
            ("\r\n\r\na\r\n", "\n\na\n"),
            ("\"x\r\ny\",\"z\"\r\n1,2", "\"x\r\ny\",\"z\"\n1,2\n"),
            ("\"say \"\"so\r\n\"\"\",2\r\n", "\"say \"\"so\r\n\"\"\",2\n"),
            // A quote inside a plain cell opens nothing.
            ("5\" ring,\"a\"\r\n1,2\r\n", "5\" ring,\"a\"\n1,2\n"),
            ("", ""),
        ] {
            for piece in [1, 2, 3, 64] {
                assert_eq!(through(text, piece).as_deref(), Ok(read), "{text:?} in pieces of {piece}");
            }
        }
    }

    #[test]
    fn what_never_ends_is_named_by_the_line_on_which_it_begins() {
        let open = "a,b\r\n1,\"two\nthree\"\r\n4,\"five\n";
        assert_eq!(through(open, 7), Err(LineFault::Open { line: 4 }));
        let endless = format!("a,b\n{}", "x".repeat(LONGEST + 1));
        assert_eq!(through(&endless, 4096), Err(LineFault::Endless { line: 2 }));
        assert!(through(&format!("a\n{}\n", "x".repeat(LONGEST - 1)), 4096).is_ok());
    }
}
