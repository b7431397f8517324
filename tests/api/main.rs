//! The service as its callers meet it: one story a file, on both stores.

mod bad_input;
mod bench;
mod demo;
mod document;
mod estimate_command;
mod fit_bytes;
mod going_together;
mod killed;
mod manners;
mod pages;
mod policy;
mod program;
mod revisions;
mod ride_files;
mod roles;
mod same_events;
mod shelf;
mod strangers;
mod symptoms;
mod tour;
mod track_record;
