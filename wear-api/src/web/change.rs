//! A request's unit of work, lent to its handler.
//!
//! The middleware [`super::once`] makes it, lends it to the handler, which names it in its arguments as
//! `mut change: Change<Mechanic>`, and commits it once the handler has answered.

use std::future::{Ready, ready};
use std::marker::PhantomData;
use std::ops::{Deref, DerefMut};
use std::sync::Arc;

use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::{FromRequest, HttpMessage as _, HttpRequest};
use tokio::sync::{Mutex, OwnedMutexGuard};

use super::auth::{Needed, sender_as};
use super::problem::Problem;
use crate::service::{ServiceError, UnitOfWork};

/// What a request of someone whose role covers `R` changes. It lasts when the handler answers with success, and is
/// undone when it answers with an error.
pub struct Change<R>(OwnedMutexGuard<UnitOfWork>, PhantomData<R>);

impl<R> Deref for Change<R> {
    type Target = UnitOfWork;

    fn deref(&self) -> &UnitOfWork {
        &self.0
    }
}

impl<R> DerefMut for Change<R> {
    fn deref_mut(&mut self) -> &mut UnitOfWork {
        &mut self.0
    }
}

impl<R: Needed> FromRequest for Change<R> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(sender_as::<R>(request).and_then(|_| {
            let loan = request.extensions().get::<Loan>().cloned();
            let lent = loan.and_then(|loan| loan.0.try_lock_owned().ok());
            let lent = lent.ok_or_else(|| Problem::internal(&ServiceError::NotLent))?;
            Ok(Self(lent, PhantomData))
        }))
    }
}

/// A unit of work while its handler has it.
#[derive(Clone)]
pub(super) struct Loan(Arc<Mutex<UnitOfWork>>);

impl Loan {
    /// Lends it to the handler of a request.
    pub(super) fn to(request: &ServiceRequest, work: UnitOfWork) {
        request.extensions_mut().insert(Self(Arc::new(Mutex::new(work))));
    }

    /// Takes it back from a handler that has answered.
    ///
    /// # Errors
    /// [`ServiceError::NotLent`] when somebody still has it.
    pub(super) fn back(answered: &ServiceResponse<impl Sized>) -> Result<UnitOfWork, ServiceError> {
        let loan = answered.request().extensions_mut().remove::<Self>();
        let work = loan.and_then(|loan| Arc::into_inner(loan.0));
        work.map(Mutex::into_inner).ok_or(ServiceError::NotLent)
    }
}
