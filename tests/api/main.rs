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
mod orders;
mod once;
mod operating;
mod pages;
mod parts;
mod policy;
mod program;
mod revisions;
mod ride_files;
mod roles;
mod same_events;
mod shelf;
mod strangers;
mod taking_back;
mod symptoms;
mod tour;
mod track_record;
