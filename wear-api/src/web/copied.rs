//! A request's body as its handler reads it, hashed on the way, and kept so that the handler can read it again.

use std::cell::RefCell;
use std::pin::Pin;
use std::rc::Rc;
use std::task::{Context, Poll};

use actix_web::dev::Payload;
use actix_web::error::PayloadError;
use actix_web::web::Bytes;
use futures_util::stream::{self, Stream, StreamExt as _};
use sha2::{Digest as _, Sha256};

use super::waiting::READ_WITHIN;

/// Largest body that is kept for another reading, bytes: a batch of rides fits, an import doesn't.
const KEPT: usize = 8 * 1024 * 1024;

/// Largest rest that is read though the handler didn't, bytes.
const DRAINED: usize = 8 * 1024 * 1024;

/// A body that handlers read through a copy. Clones are the same one.
#[derive(Clone)]
pub struct CopiedBody(Rc<RefCell<Inner>>);

struct Inner {
    source: Payload,
    hash: Sha256,
    size: usize,
    kept: Option<Vec<Bytes>>,
    ended: bool,
}

impl CopiedBody {
    /// Takes over a request's body.
    #[must_use]
    pub fn new(source: Payload) -> Self {
        let kept = Some(Vec::new());
        Self(Rc::new(RefCell::new(Inner { source, hash: Sha256::new(), size: 0, kept, ended: false })))
    }

    /// The body from its beginning; `None` when it was too large to be kept.
    #[must_use]
    pub fn payload(&self) -> Option<Payload> {
        let read = self.0.borrow().kept.clone()?;
        let rest = Rest(self.clone());
        let whole = stream::iter(read.into_iter().map(Ok)).chain(rest);
        Some(Payload::Stream { payload: Box::pin(whole) })
    }

    /// Reads what nobody read, then tells the SHA-256 of `before` and the body; `None` when the body broke off,
    /// is too large or too slow.
    pub async fn fingerprint(&self, before: &str) -> Option<[u8; 32]> {
        let mut rest = Rest(self.clone());
        let reading = async {
            let mut drained = 0_usize;
            while let Some(chunk) = rest.next().await {
                drained = drained.saturating_add(chunk.ok()?.len());
                if drained > DRAINED {
                    return None;
                }
            }
            Some(())
        };
        tokio::time::timeout(READ_WITHIN, reading).await.ok()??;
        let body = self.0.borrow().hash.clone().finalize();
        Some(Sha256::new().chain_update(before).chain_update([0]).chain_update(body).finalize().into())
    }
}

/// What of the body nobody has read.
struct Rest(CopiedBody);

impl Stream for Rest {
    type Item = Result<Bytes, PayloadError>;

    fn poll_next(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let mut inner = self.0.0.borrow_mut();
        if inner.ended {
            return Poll::Ready(None);
        }
        let polled = Pin::new(&mut inner.source).poll_next(context);
        match &polled {
            Poll::Ready(Some(Ok(chunk))) => {
                inner.hash.update(chunk);
                inner.size = inner.size.saturating_add(chunk.len());
                if inner.size > KEPT {
                    inner.kept = None;
                } else if let Some(kept) = &mut inner.kept {
                    kept.push(chunk.clone());
                }
            }
            Poll::Ready(None) => inner.ended = true,
            Poll::Ready(Some(Err(_))) | Poll::Pending => {}
        }
        polled
    }
}
