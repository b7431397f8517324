//! The service as its callers meet it: one story a file, on both stores.

mod bad_input;
mod bench;
mod demo;
mod document;
mod estimate_command;
mod killed;
mod manners;
mod pages;
mod program;
mod revisions;
mod roles;
mod same_events;
mod shelf;
mod strangers;
mod tour;
mod track_record;
mod two_years;
