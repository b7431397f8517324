//! HTTP: requests into commands, one service call, answers and problem documents out.

pub mod answer;
pub mod api;
pub mod auth;
pub mod body;
pub mod change;
pub mod conventions;
pub mod copied;
pub mod download;
pub mod etag;
pub mod metrics_page;
pub mod once;
pub mod openapi;
pub mod origins;
pub mod pages;
pub mod pagination;
pub mod problem;
pub mod problem_page;
pub mod query;
pub mod rate;
pub mod request_id;
pub mod router;
pub mod schema;
pub mod sealed;
pub(crate) mod speech;
pub mod upload;
pub mod words;
