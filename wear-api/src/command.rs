//! Commands that read standard input and answer on standard output.

pub mod plan;
