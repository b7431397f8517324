//! Use cases: open a transaction, load, compute with the core, save, commit.

mod actor;
mod error;

pub use actor::{Actor, Services};
pub use error::ServiceError;
