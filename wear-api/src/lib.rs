//! REST service and command line over [`wear_core`].

pub mod clock;
pub mod command;
pub mod demo;
pub mod domain;
pub mod estimate;
pub mod icalendar;
pub mod input;
pub mod mail;
pub mod metrics;
pub mod ride_file;
pub mod service;
pub mod settings;
pub mod startup;
pub mod store;
pub mod telemetry;
pub mod transfer;
pub mod web;
pub mod webhook;
mod words;
pub mod worker;
