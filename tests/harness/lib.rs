//! Harness
