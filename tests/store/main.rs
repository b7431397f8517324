//! The store, on both engines.

mod architecture;
mod bikes;
mod claims;
mod connecting;
mod erasing;
mod idempotency;
mod outlooks;
mod parity;
mod passages;
mod plans;
mod readings;
mod rides;
mod riding;
mod row_security;
mod secured;
mod speed;
mod statements;
mod upgrade;
mod workshops;
