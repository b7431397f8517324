//! One id for each request: in the answer, in its problem document and in every log line about it.

use std::future::Future;

use actix_web::http::header::HeaderMap;
use uuid::Uuid;

/// Name of the header, both ways.
pub const HEADER: &str = "x-request-id";

tokio::task_local! {
    static CURRENT: String;
}

/// The sender's id when it is short and plain, otherwise a new one.
#[must_use]
pub fn choose(headers: &HeaderMap) -> String {
    headers
        .get(HEADER)
        .and_then(|value| value.to_str().ok())
        .filter(|id| (1..=64).contains(&id.len()))
        .filter(|id| {
            id.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.'))
        })
        .map_or_else(|| Uuid::now_v7().to_string(), str::to_owned)
}

/// Runs `work` as part of the request `id`.
pub async fn during<F: Future>(id: String, work: F) -> F::Output {
    CURRENT.scope(id, work).await
}

/// The id of the request that is being answered, if one is.
#[must_use]
pub fn current() -> Option<String> {
    CURRENT.try_with(Clone::clone).ok()
}
