//! wear-api

pub mod domain;
