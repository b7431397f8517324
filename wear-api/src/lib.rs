//! wear-api

pub mod command;
