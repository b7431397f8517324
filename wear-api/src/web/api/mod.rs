//! The operations, one action a file, by resource.

pub mod health;
