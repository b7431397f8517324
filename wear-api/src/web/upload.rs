//! Tables on their way in: a table is kept in a file without a name until all of it has come, so that a slow sender
//! holds no transaction and a large table no memory.

use std::fs::File;
use std::io::{Seek as _, Write as _};
use std::time::Duration;

use actix_web::HttpRequest;
use actix_web::http::header;
use actix_web::web::{self, Bytes, BytesMut};
use futures_util::{Stream, StreamExt as _};

use super::problem::{Kind, Problem};
use crate::settings::Settings;

/// Bytes that are kept in memory before they go to the disk.
const PIECE: usize = 256 * 1024;

/// How large a table may be and how slowly it may come.
#[derive(Debug, Clone, Copy)]
pub struct UploadLimits {
    /// Largest table, bytes.
    pub bytes: u64,
    /// Time in which each 256 KiB, or the rest, have to come.
    pub piece_within: Duration,
}

impl UploadLimits {
    /// As the service is set.
    #[must_use]
    pub fn of(settings: &Settings) -> Self {
        Self { bytes: settings.import_bytes, piece_within: settings.import_piece_within }
    }

    fn too_large(self) -> Problem {
        let detail = format!("the table is larger than {} bytes, the most allowed here", self.bytes);
        Problem::new(Kind::BodyTooLarge, detail)
    }

    /// Refuses a body that is announced as too large, before any of it is read.
    ///
    /// # Errors
    /// [`Kind::BodyTooLarge`].
    pub fn check(self, request: &HttpRequest) -> Result<(), Problem> {
        let announced = request.headers().get(header::CONTENT_LENGTH);
        let announced = announced.and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
        if announced.is_some_and(|bytes| bytes > self.bytes) { Err(self.too_large()) } else { Ok(()) }
    }

    /// The body as a file, read from its beginning.
    ///
    /// # Errors
    /// [`Kind::BodyTooLarge`], [`Kind::TooSlow`], [`Kind::InvalidTable`] when the body breaks off.
    pub async fn spooled<E: std::fmt::Display>(
        self,
        mut body: impl Stream<Item = Result<Bytes, E>> + Unpin,
    ) -> Result<File, Problem> {
        let mut file = tempfile::tempfile().map_err(|error| Problem::internal(&error))?;
        let mut read = 0_u64;
        loop {
            let piece = tokio::time::timeout(self.piece_within, piece_of(&mut body)).await;
            let (piece, ended) = piece.map_err(|_| self.too_slow())??;
            read += piece.len() as u64;
            if read > self.bytes {
                return Err(self.too_large());
            }
            let written = web::block(move || {
                file.write_all(&piece)?;
                if ended {
                    file.rewind()?;
                }
                Ok::<_, std::io::Error>(file)
            });
            let written = written.await.map_err(|error| Problem::internal(&error))?;
            file = written.map_err(|error| Problem::internal(&error))?;
            if ended {
                return Ok(file);
            }
        }
    }

    fn too_slow(self) -> Problem {
        let seconds = self.piece_within.as_secs();
        Problem::new(Kind::TooSlow, format!("{PIECE} bytes took longer than {seconds} s"))
    }
}

/// The next piece, and whether it is the last.
async fn piece_of<E: std::fmt::Display>(
    body: &mut (impl Stream<Item = Result<Bytes, E>> + Unpin),
) -> Result<(BytesMut, bool), Problem> {
    let mut piece = BytesMut::with_capacity(PIECE);
    while piece.len() < PIECE {
        match body.next().await {
            Some(Ok(chunk)) => piece.extend_from_slice(&chunk),
            Some(Err(cause)) => {
                return Err(Problem::new(Kind::InvalidTable, format!("the body broke off: {cause}")));
            }
            None => return Ok((piece, true)),
        }
    }
    Ok((piece, false))
}
