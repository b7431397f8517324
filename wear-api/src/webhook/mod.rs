//! Telling other people's servers: what signs a message, which addresses it may go to, how it is sent and
//! when it is tried again.

pub mod address;
pub mod courier;
pub mod schedule;
pub mod signature;

pub use address::{AddressPolicy, Lookup, RefusedAddress, SystemLookup};
pub use courier::{Courier, CourierError, Report};
