//! Someone else's server that hooks are delivered to.

use std::net::SocketAddr;
use std::time::Duration;

use wiremock::matchers::any;
use wiremock::{Mock, MockServer, Request, ResponseTemplate};

/// What counts least of wiremock's priorities.
const LAST: u8 = u8::MAX;

/// A receiver on a port of its own, which answers 204 unless told otherwise.
pub struct Receiver {
    server: MockServer,
}

impl Receiver {
    /// Starts to listen.
    pub async fn start() -> Self {
        let server = MockServer::start().await;
        let taken = Mock::given(any()).respond_with(ResponseTemplate::new(204));
        taken.with_priority(LAST).mount(&server).await;
        Self { server }
    }

    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        *self.server.address()
    }

    /// An address of it, `http://127.0.0.1:PORT/path`.
    #[must_use]
    pub fn url(&self, path: &str) -> String {
        format!("{}{path}", self.server.uri())
    }

    /// Answers like this from now on.
    pub async fn usually(&self, reply: ResponseTemplate) {
        Mock::given(any()).respond_with(reply).with_priority(LAST - 1).mount(&self.server).await;
    }

    /// Answers the next request like this, after those answers that were asked for before.
    pub async fn then(&self, reply: ResponseTemplate) {
        Mock::given(any()).respond_with(reply).up_to_n_times(1).mount(&self.server).await;
    }

    /// Requests received so far.
    ///
    /// # Panics
    /// Never: wiremock records requests unless it is told not to.
    pub async fn received(&self) -> Vec<Request> {
        self.server.received_requests().await.expect("requests are recorded")
    }

    /// Requests received, once there are `count`; waits for up to ten seconds.
    ///
    /// # Panics
    /// When there are fewer then.
    pub async fn wait_for(&self, count: usize) -> Vec<Request> {
        for _ in 0..400 {
            let received = self.received().await;
            if received.len() >= count {
                return received;
            }
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
        panic!("{} of {count} requests came", self.received().await.len());
    }
}

/// A request's header as text, empty when it isn't there.
#[must_use]
pub fn header<'a>(request: &'a Request, name: &str) -> &'a str {
    request.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default()
}
