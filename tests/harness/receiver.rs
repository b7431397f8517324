//! Someone else's server, that hooks are delivered to: it keeps what it got and answers as it is told.

use std::collections::{BTreeMap, VecDeque};
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use serde_json::Value;
use tokio::io::{
    AsyncBufReadExt as _, AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _, BufReader,
};
use tokio::net::TcpListener;
use tokio::task::JoinHandle;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::PrivateKeyDer;

/// How a receiver answers.
#[derive(Debug, Clone)]
pub enum Reply {
    /// With this status and no body.
    Status(u16),
    /// With this status and a header.
    Header(u16, &'static str, String),
    /// With nothing, for as long as the sender waits.
    Silence,
    /// With a status, and then one byte of the body a tenth of a second for ever.
    SlowBody(u16),
    /// With a status, and then a body without end, as fast as it goes.
    EndlessBody(u16),
    /// With headers without end.
    EndlessHead,
    /// By closing the connection.
    BreakOff,
    /// With something that isn't HTTP.
    Garbage,
}

/// A request as it came.
#[derive(Debug, Clone)]
pub struct Received {
    /// Method and target.
    pub line: String,
    /// Headers, names in lower case.
    pub headers: BTreeMap<String, String>,
    /// Body, byte for byte.
    pub body: Vec<u8>,
}

impl Received {
    /// A header's text, empty when it isn't there.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", String::as_str)
    }

    /// The body as JSON.
    ///
    /// # Panics
    /// When it is none.
    #[must_use]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).expect("a body in JSON")
    }
}

#[derive(Default)]
struct State {
    received: Vec<Received>,
    next: VecDeque<Reply>,
    usual: Option<Reply>,
}

/// A receiver on a port of its own; it stops when it is dropped.
pub struct Receiver {
    /// Where it listens.
    pub address: SocketAddr,
    /// Its certificate in PEM, where it speaks TLS.
    pub certificate: Option<String>,
    state: Arc<Mutex<State>>,
    task: JoinHandle<()>,
}

impl Receiver {
    /// One that answers 204.
    pub async fn start() -> Self {
        Self::start_as(None).await
    }

    /// The same over TLS, as `localhost`, with a certificate that it signed itself.
    ///
    /// # Panics
    /// When no certificate can be made.
    pub async fn start_tls() -> Self {
        let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).expect("a certificate");
        let key = PrivateKeyDer::try_from(made.signing_key.serialize_der()).expect("a key");
        let provider = Arc::new(tokio_rustls::rustls::crypto::ring::default_provider());
        let config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .expect("protocol versions")
            .with_no_client_auth()
            .with_single_cert(vec![made.cert.der().clone()], key)
            .expect("a certificate for its key");
        Self::start_as(Some((TlsAcceptor::from(Arc::new(config)), made.cert.pem()))).await
    }

    async fn start_as(tls: Option<(TlsAcceptor, String)>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let state = Arc::new(Mutex::new(State::default()));
        let (acceptor, certificate) = tls.unzip();
        let known = Arc::clone(&state);
        let task = tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                let (state, acceptor) = (Arc::clone(&known), acceptor.clone());
                tokio::spawn(async move {
                    // A sender that breaks off is the sender's affair.
                    let _ended = match acceptor {
                        None => serve(stream, &state).await,
                        Some(acceptor) => match acceptor.accept(stream).await {
                            Ok(stream) => serve(stream, &state).await,
                            Err(error) => Err(error),
                        },
                    };
                });
            }
        });
        Self { address, certificate, state, task }
    }

    /// An address of it, `http://127.0.0.1:PORT/path`.
    #[must_use]
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    /// Answers so from now on.
    ///
    /// # Panics
    /// When another thread has panicked with it.
    pub fn usually(&self, reply: Reply) {
        self.state.lock().expect("the receiver's state").usual = Some(reply);
    }

    /// Answers the next request so, after those that were told before.
    ///
    /// # Panics
    /// When another thread has panicked with it.
    pub fn then(&self, reply: Reply) {
        self.state.lock().expect("the receiver's state").next.push_back(reply);
    }

    /// What has come so far.
    ///
    /// # Panics
    /// When another thread has panicked with it.
    #[must_use]
    pub fn received(&self) -> Vec<Received> {
        self.state.lock().expect("the receiver's state").received.clone()
    }

    /// What has come, once there are `count` requests; waits for up to ten seconds.
    ///
    /// # Panics
    /// When there are fewer then.
    pub async fn wait_for(&self, count: usize) -> Vec<Received> {
        for _ in 0..400 {
            let received = self.received();
            if received.len() >= count {
                return received;
            }
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
        panic!("{} of {count} requests came", self.received().len());
    }
}

impl Drop for Receiver {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn serve(stream: impl AsyncRead + AsyncWrite + Unpin, state: &Mutex<State>) -> std::io::Result<()> {
    let mut stream = BufReader::new(stream);
    let mut line = String::new();
    stream.read_line(&mut line).await?;
    let mut headers = BTreeMap::new();
    loop {
        let mut header = String::new();
        stream.read_line(&mut header).await?;
        let Some((name, value)) = header.trim_end().split_once(':') else { break };
        headers.insert(name.to_ascii_lowercase(), value.trim().to_owned());
    }
    let length = headers.get("content-length").and_then(|text| text.parse().ok()).unwrap_or(0);
    let mut body = vec![0; length];
    stream.read_exact(&mut body).await?;
    let reply = {
        let mut state = state.lock().expect("the receiver's state");
        state.received.push(Received { line: line.trim_end().to_owned(), headers, body });
        state.next.pop_front().or_else(|| state.usual.clone()).unwrap_or(Reply::Status(204))
    };
    answer(stream, reply).await
}

async fn answer(mut stream: impl AsyncWrite + Unpin, reply: Reply) -> std::io::Result<()> {
    let head = |status: u16, rest: &str| format!("HTTP/1.1 {status} Answer\r\n{rest}");
    match reply {
        Reply::Status(status) => {
            stream.write_all(head(status, "content-length: 0\r\n\r\n").as_bytes()).await?;
        }
        Reply::Header(status, name, value) => {
            let rest = format!("{name}: {value}\r\ncontent-length: 0\r\n\r\n");
            stream.write_all(head(status, &rest).as_bytes()).await?;
        }
        Reply::Silence => tokio::time::sleep(Duration::from_secs(600)).await,
        Reply::SlowBody(status) => {
            stream.write_all(head(status, "content-length: 1000000\r\n\r\n").as_bytes()).await?;
            loop {
                stream.write_all(b"x").await?;
                stream.flush().await?;
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }
        Reply::EndlessBody(status) => {
            stream.write_all(head(status, "transfer-encoding: chunked\r\n\r\n").as_bytes()).await?;
            let chunk = format!("{:x}\r\n{}\r\n", 16_384, "x".repeat(16_384));
            loop {
                stream.write_all(chunk.as_bytes()).await?;
            }
        }
        Reply::EndlessHead => {
            stream.write_all(b"HTTP/1.1 200 Answer\r\n").await?;
            loop {
                stream.write_all(format!("x-more: {}\r\n", "x".repeat(1_000)).as_bytes()).await?;
            }
        }
        Reply::BreakOff => {}
        Reply::Garbage => stream.write_all(b"* OK ready when you are\r\n").await?,
    }
    stream.shutdown().await
}
