//! Carries one message to one receiver, once.

use std::error::Error as StdError;
use std::future::Future;
use std::io::ErrorKind;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

use http_body_util::{BodyExt as _, Full};
use hyper::body::{Bytes, Incoming};
use hyper::header::{CONTENT_TYPE, RETRY_AFTER, USER_AGENT};
use hyper::{Request, Response, StatusCode};
use hyper_rustls::{HttpsConnector, HttpsConnectorBuilder};
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::client::legacy::connect::dns::Name;
use hyper_util::rt::TokioExecutor;
use rustls::ClientConfig;
use rustls::crypto::ring;
use rustls_platform_verifier::BuilderVerifierExt as _;
use thiserror::Error;
use tower_service::Service;

use super::address::{AddressPolicy, Lookup, RefusedAddress, SystemLookup};
use super::{schedule, signature};
use crate::domain::{AttemptOutcome, HookSecrets, HookUrl, Timestamp};

/// An answer is read so far and dropped, so that its sender isn't cut off; nothing of it is kept.
const MOST_READ: usize = 64 * 1024;

/// How long an answer's body may take once its status is there.
const READ_WITHIN: Duration = Duration::from_secs(2);

/// How we name ourselves to receivers.
const AGENT: &str = concat!("wear/", env!("CARGO_PKG_VERSION"));

/// Carries messages. Clones share what they hold.
#[derive(Clone)]
pub struct Courier {
    client: Client<HttpsConnector<HttpConnector<Guarded>>, Full<Bytes>>,
    policy: Arc<AddressPolicy>,
    within: Duration,
}

impl std::fmt::Debug for Courier {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Courier").field("policy", &self.policy).field("within", &self.within).finish()
    }
}

/// Why no courier can be had.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum CourierError {
    /// The machine's trusted certificates can't be read.
    #[error("the trusted certificates can't be read: {0}")]
    Certificates(#[from] rustls::Error),
}

/// A message on its way.
#[derive(Debug)]
pub struct Message<'a> {
    /// Where to.
    pub url: &'a HookUrl,
    /// What signs it.
    pub secrets: &'a HookSecrets,
    /// Its id as receivers see it.
    pub id: &'a str,
    /// Its body.
    pub body: &'a str,
}

/// What an attempt came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// In a word.
    pub outcome: AttemptOutcome,
    /// The status of the answer, where there was one.
    pub status: Option<u16>,
    /// How long the receiver asks us to wait.
    pub wish: Option<chrono::Duration>,
    /// How long it took.
    pub took: Duration,
}

impl Courier {
    /// A courier that waits `within` for an answer's status.
    ///
    /// # Errors
    /// [`CourierError`].
    pub fn new(policy: AddressPolicy, within: Duration) -> Result<Self, CourierError> {
        Self::with_lookup(policy, within, SystemLookup)
    }

    /// The same, with another way of looking names up.
    ///
    /// # Errors
    /// [`CourierError`].
    pub fn with_lookup(
        policy: AddressPolicy,
        within: Duration,
        lookup: impl Lookup,
    ) -> Result<Self, CourierError> {
        let policy = Arc::new(policy);
        let guarded = Guarded { lookup: Arc::new(lookup), policy: Arc::clone(&policy) };
        let trust = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()?
            .with_platform_verifier()?
            .with_no_client_auth();
        let mut http = HttpConnector::new_with_resolver(guarded);
        http.enforce_http(false);
        http.set_connect_timeout(Some(within));
        let connector = HttpsConnectorBuilder::new()
            .with_tls_config(trust)
            .https_or_http()
            .enable_http1()
            .wrap_connector(http);
        // No connection is kept: each attempt looks up and is judged by itself.
        let client = Client::builder(TokioExecutor::new()).pool_max_idle_per_host(0).build(connector);
        Ok(Self { client, policy, within })
    }

    /// What hooks may reach.
    #[must_use]
    pub fn policy(&self) -> &AddressPolicy {
        &self.policy
    }

    /// The longest that an attempt takes.
    #[must_use]
    pub fn longest(&self) -> chrono::Duration {
        chrono::Duration::from_std(self.within + READ_WITHIN).unwrap_or(chrono::Duration::MAX)
    }

    /// Sends a message, signed as of `now`.
    pub async fn send(&self, message: &Message<'_>, now: Timestamp) -> Report {
        let began = Instant::now();
        let report = |outcome, status, wish| Report { outcome, status, wish, took: began.elapsed() };
        let plain = !message.url.is_https() && !self.policy.plain_http;
        if plain || message.url.literal().is_some_and(|address| !self.policy.allows(address)) {
            return report(AttemptOutcome::AddressNotAllowed, None, None);
        }
        let timestamp = now.micros().div_euclid(1_000_000);
        let signed =
            signature::header(message.secrets.at(now), message.id, timestamp, message.body.as_bytes());
        let request = Request::post(message.url.as_str())
            .header(CONTENT_TYPE, "application/json")
            .header(USER_AGENT, AGENT)
            .header(signature::ID, message.id)
            .header(signature::TIMESTAMP, timestamp)
            .header(signature::SIGNATURE, signed)
            .body(Full::from(message.body.to_owned()));
        let Ok(request) = request else { return report(AttemptOutcome::NoAddress, None, None) };
        let answer = match tokio::time::timeout(self.within, self.client.request(request)).await {
            Err(_) => return report(AttemptOutcome::TimedOut, None, None),
            Ok(Err(error)) => return report(cause(&error), None, None),
            Ok(Ok(answer)) => answer,
        };
        let status = answer.status();
        let wish = answer
            .headers()
            .get(RETRY_AFTER)
            .and_then(|value| value.to_str().ok())
            .and_then(|text| schedule::retry_after(text, now.datetime()));
        drain(answer).await;
        report(outcome(status), Some(status.as_u16()), wish)
    }
}

fn outcome(status: StatusCode) -> AttemptOutcome {
    match status {
        StatusCode::GONE => AttemptOutcome::Gone,
        status if status.is_success() => AttemptOutcome::Delivered,
        status if status.is_redirection() => AttemptOutcome::Redirected,
        _ => AttemptOutcome::Refused,
    }
}

/// What stood in the way, from the chain of causes.
fn cause(error: &hyper_util::client::legacy::Error) -> AttemptOutcome {
    let mut deeper: Option<&(dyn StdError + 'static)> = Some(error);
    while let Some(error) = deeper {
        if error.is::<RefusedAddress>() {
            return AttemptOutcome::AddressNotAllowed;
        }
        if error.is::<NoAddress>() {
            return AttemptOutcome::NoAddress;
        }
        if error.is::<rustls::Error>() {
            return AttemptOutcome::Insecure;
        }
        let wrapper = error.downcast_ref::<std::io::Error>();
        if wrapper.is_some_and(|error| error.kind() == ErrorKind::TimedOut) {
            return AttemptOutcome::TimedOut;
        }
        // What an I/O error wraps is not its source, but the source of its source.
        let wrapped =
            wrapper.and_then(std::io::Error::get_ref).map(|inner| inner as &(dyn StdError + 'static));
        deeper = wrapped.or_else(|| error.source());
    }
    AttemptOutcome::NoConnection
}

async fn drain(mut answer: Response<Incoming>) {
    let reading = async {
        let mut read = 0;
        while let Some(Ok(frame)) = answer.frame().await {
            read += frame.data_ref().map_or(0, Bytes::len);
            if read > MOST_READ {
                return;
            }
        }
    };
    // What the body says or whether it ends changes nothing.
    let _in_time = tokio::time::timeout(READ_WITHIN, reading).await;
}

/// Looks names up and passes on only addresses that were judged: the connection goes to one of these, and no second
/// lookup can come between.
#[derive(Clone)]
struct Guarded {
    lookup: Arc<dyn Lookup>,
    policy: Arc<AddressPolicy>,
}

/// A name without an address.
#[derive(Debug, Clone, Copy, Error)]
#[error("the name leads to no address")]
struct NoAddress;

/// Why a name is no use.
type Unusable = Box<dyn StdError + Send + Sync>;

impl Service<Name> for Guarded {
    type Response = std::vec::IntoIter<SocketAddr>;
    type Error = Unusable;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, Unusable>> + Send>>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Unusable>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, name: Name) -> Self::Future {
        let (lookup, policy) = (Arc::clone(&self.lookup), Arc::clone(&self.policy));
        Box::pin(async move {
            let found: Vec<SocketAddr> = lookup.lookup(name.as_str()).await.map_err(|_| NoAddress)?;
            if found.is_empty() {
                return Err(NoAddress.into());
            }
            Ok(policy.filter(found)?.into_iter())
        })
    }
}
