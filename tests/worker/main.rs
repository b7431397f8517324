//! What happens after an answer: hooks are told, and work is done whoever does it.

mod announcements;
mod clock_steps;
mod crossings;
mod digests;
mod hook_faults;
mod hooks;
mod processes;
mod reach;
mod secrets;
