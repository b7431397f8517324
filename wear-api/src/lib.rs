//! wear-api

pub mod domain;
pub mod store;
