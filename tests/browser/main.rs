//! Pages in a real browser: each user's task from signing in to its effect in the store.

mod axe;
mod cautions;
mod driver;
mod files;
mod keyboard;
mod kinds;
mod manager;
mod mechanic;
mod plain;
mod riding;
mod session;
mod shots;
mod weight;
mod yard;
