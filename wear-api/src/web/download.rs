//! Tables on their way out, piece by piece.

use std::sync::Arc;
use std::time::Duration;

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::Bytes;
use futures_util::{Stream, stream};
use tokio::sync::mpsc::error::SendTimeoutError;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc};

use super::problem::{Kind, Problem};
use crate::service::exports::Exporter;
use crate::service::{Actor, ServiceError, Services};
use crate::transfer::{Separator, TableKind};

/// How long a piece may wait to be taken before the export is broken off: it holds a transaction.
const TAKEN_WITHIN: Duration = Duration::from_secs(60);

/// How long an export waits for others to end.
const BEGUN_WITHIN: Duration = Duration::from_secs(10);

/// Exports that may run at once: each holds a connection of the store for as long as its receiver takes.
pub struct ExportPlaces(Arc<Semaphore>);

impl ExportPlaces {
    /// A quarter of so many connections, at least one.
    #[must_use]
    pub fn among(connections: u32) -> Self {
        Self(Arc::new(Semaphore::new((connections / 4).max(1) as usize)))
    }

    async fn take(&self) -> Result<OwnedSemaphorePermit, Problem> {
        let place = tokio::time::timeout(BEGUN_WITHIN, Arc::clone(&self.0).acquire_owned()).await;
        place.ok().and_then(Result::ok).ok_or_else(|| {
            Problem::new(Kind::Unavailable, "as many exports as may run at once are running").retry_after(10)
        })
    }
}

/// A table as an answer that is written while it is read.
///
/// # Errors
/// [`Kind::Unavailable`] while too many others are running, and those of the store.
pub async fn table(
    services: &Services,
    actor: &Actor,
    places: &ExportPlaces,
    kind: TableKind,
    separator: Separator,
) -> Result<HttpResponse, Problem> {
    let place = places.take().await?;
    let exporter = Exporter::begin(services, actor, kind, separator).await?;
    let (give, pieces) = mpsc::channel(2);
    tokio::spawn(give_out(exporter, give, place));
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "text/csv; charset=utf-8; header=present"))
        .insert_header((header::CONTENT_DISPOSITION, format!("attachment; filename=\"{kind}.csv\"")))
        .streaming(body_of(pieces)))
}

/// A piece of the table, or its end.
type Piece = Option<Bytes>;

/// Gives out piece after piece. A receiver that takes none for a while, or has gone, ends the transaction.
async fn give_out(mut exporter: Exporter, give: mpsc::Sender<Piece>, place: OwnedSemaphorePermit) {
    let _place = place;
    loop {
        let piece = match exporter.next().await {
            Ok(piece) => piece.map(Bytes::from),
            Err(error) => return tracing::error!(%error, "an export broke off"),
        };
        let ended = piece.is_none();
        match give.send_timeout(piece, TAKEN_WITHIN).await {
            Ok(()) if ended => return,
            Ok(()) => {}
            Err(SendTimeoutError::Closed(_)) => return,
            Err(SendTimeoutError::Timeout(_)) => return tracing::warn!("nobody took a piece of an export"),
        }
    }
}

/// The pieces as a body. One that ends without the end of the table is an error: the connection breaks off, so that
/// half a table can't be taken for a whole one.
fn body_of(pieces: mpsc::Receiver<Piece>) -> impl Stream<Item = Result<Bytes, ServiceError>> {
    stream::try_unfold(pieces, |mut pieces| async move {
        match pieces.recv().await {
            Some(Some(piece)) => Ok(Some((piece, pieces))),
            Some(None) => Ok(None),
            None => Err(ServiceError::BrokenOff),
        }
    })
}
