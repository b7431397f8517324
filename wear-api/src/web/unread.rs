//! What nobody read of a body isn't read on after the answer: the server would take in pieces without end from whoever sends
//! them, and closes the connection instead.

use std::cell::RefCell;
use std::pin::Pin;
use std::rc::Rc;
use std::task::{Context, Poll};

use actix_web::HttpMessage as _;
use actix_web::body::{BodySize, MessageBody};
use actix_web::dev::{Payload, ServiceRequest};
use actix_web::error::PayloadError;
use actix_web::web::Bytes;
use futures_util::stream::Stream;

/// A request's body, kept from being dropped until its answer is written: the server goes on reading what was dropped.
#[derive(Clone)]
pub struct Unread(#[allow(dead_code)] Rc<RefCell<Payload>>);

impl Unread {
    /// Keeps the body of a request that sends it in pieces; one of known length isn't read on by itself.
    #[must_use]
    pub fn of(request: &mut ServiceRequest) -> Option<Self> {
        if !request.chunked().unwrap_or(false) {
            return None;
        }
        let kept = Rc::new(RefCell::new(request.take_payload()));
        request.set_payload(Payload::Stream { payload: Box::pin(Through(Rc::clone(&kept))) });
        Some(Self(kept))
    }
}

/// Reads through what is kept.
struct Through(Rc<RefCell<Payload>>);

impl Stream for Through {
    type Item = Result<Bytes, PayloadError>;

    fn poll_next(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        Pin::new(&mut *self.0.borrow_mut()).poll_next(context)
    }
}

/// An answer's body that keeps the request's until it is written.
pub struct Answering<B> {
    answer: Pin<Box<B>>,
    _unread: Option<Unread>,
}

impl<B> Answering<B> {
    /// Keeps it.
    pub fn new(answer: B, unread: Option<Unread>) -> Self {
        Self { answer: Box::pin(answer), _unread: unread }
    }
}

impl<B: MessageBody> MessageBody for Answering<B> {
    type Error = B::Error;

    fn size(&self) -> BodySize {
        self.answer.size()
    }

    fn poll_next(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Bytes, Self::Error>>> {
        self.answer.as_mut().poll_next(context)
    }
}
