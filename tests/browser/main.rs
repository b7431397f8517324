//! Pages in a real browser: each user's task from signing in to its effect in the store.

mod axe;
mod cautions;
mod driver;
mod entering;
mod files;
mod fleet;
mod keyboard;
mod kinds;
mod manager;
mod mechanic;
mod plain;
mod riding;
mod session;
mod shots;
mod sign_ins;
mod weight;
mod yard;
