//! A reading of a chain.

use super::{BikeId, Measured, Note, PartId, ReadWith, ReadingId, Timestamp};

/// That a reading or swap doesn't count, since when and why. Nothing is deleted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Voiding {
    /// Since when.
    pub at: Timestamp,
    /// Why.
    pub reason: Note,
}

/// A reading of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Its id.
    pub id: ReadingId,
    /// The bike the chain was on.
    pub bike_id: BikeId,
    /// The chain.
    pub part_id: PartId,
    /// When it was taken.
    pub taken_at: Timestamp,
    /// What was read.
    pub measured: Measured,
    /// What it was taken with, and by whom.
    pub with: ReadWith,
    /// That it doesn't count.
    pub voided: Option<Voiding>,
}

/// A reading to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct NewReading {
    /// Its id.
    pub id: ReadingId,
    /// The bike the chain is on.
    pub bike_id: BikeId,
    /// The chain.
    pub part_id: PartId,
    /// When it was taken.
    pub taken_at: Timestamp,
    /// What was read.
    pub measured: Measured,
    /// What it was taken with, and by whom.
    pub with: ReadWith,
}
