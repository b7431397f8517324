//! Estimates without a store: cases in, outlooks out. The command line and the endpoint share this.

mod answer;
mod case;

pub use answer::{Answer, Learned, answer};
pub use case::{Case, RawCase};
