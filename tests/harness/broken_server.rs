//! A server that breaks what HTTP and TLS promise, which wiremock can't.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::io::{
    AsyncBufReadExt as _, AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _, BufReader,
};
use tokio::net::TcpListener;
use tokio::task::JoinHandle;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::PrivateKeyDer;

/// What goes wrong with an answer.
#[derive(Debug, Clone, Copy)]
pub enum Fault {
    /// After this status, one byte of the body a tenth of a second for ever.
    SlowBody(u16),
    /// After this status, a body without end, as fast as it goes.
    EndlessBody(u16),
    /// Headers without end.
    EndlessHead,
    /// The connection is closed without an answer.
    BreakOff,
    /// Something that isn't HTTP.
    Garbage,
}

/// A server on a port of its own that gets its first answer wrong and gives 204 to every later request.
pub struct BrokenServer {
    /// Where it listens.
    pub address: SocketAddr,
    heads: Heads,
    task: JoinHandle<()>,
}

/// The heads of the requests received, one text each.
type Heads = Arc<Mutex<Vec<String>>>;

impl BrokenServer {
    /// One over plain HTTP with this fault.
    pub async fn start(fault: Fault) -> Self {
        Self::listen(Some(fault), None).await
    }

    /// One whose HTTP is sound but whose certificate, for `localhost`, it signed itself.
    ///
    /// # Panics
    /// When no certificate can be made.
    pub async fn self_signed() -> Self {
        let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).expect("a certificate");
        let key = PrivateKeyDer::try_from(made.signing_key.serialize_der()).expect("a key");
        let provider = Arc::new(tokio_rustls::rustls::crypto::ring::default_provider());
        let config = ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .expect("protocol versions")
            .with_no_client_auth()
            .with_single_cert(vec![made.cert.der().clone()], key)
            .expect("a certificate for its key");
        Self::listen(None, Some(TlsAcceptor::from(Arc::new(config)))).await
    }

    async fn listen(fault: Option<Fault>, tls: Option<TlsAcceptor>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let heads = Heads::default();
        let known = Arc::clone(&heads);
        let task = tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                let (heads, tls) = (Arc::clone(&known), tls.clone());
                tokio::spawn(async move {
                    // A sender may break off whenever it likes.
                    let _ended = match tls {
                        None => serve(stream, fault, &heads).await,
                        Some(tls) => match tls.accept(stream).await {
                            Ok(stream) => serve(stream, fault, &heads).await,
                            Err(error) => Err(error),
                        },
                    };
                });
            }
        });
        Self { address, heads, task }
    }

    /// An address of it, `http://127.0.0.1:PORT/path`.
    #[must_use]
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    /// How many requests have come.
    ///
    /// # Panics
    /// When another thread has panicked with the count.
    #[must_use]
    pub fn count(&self) -> usize {
        self.heads.lock().expect("the heads").len()
    }

    /// What each request had in this header, empty where it wasn't there.
    ///
    /// # Panics
    /// When another thread has panicked with the heads.
    #[must_use]
    pub fn headers(&self, name: &str) -> Vec<String> {
        let heads = self.heads.lock().expect("the heads");
        heads.iter().map(|head| value(head, name).unwrap_or_default().to_owned()).collect()
    }
}

impl Drop for BrokenServer {
    fn drop(&mut self) {
        self.task.abort();
    }
}

fn value<'a>(head: &'a str, name: &str) -> Option<&'a str> {
    let named = |line: &'a str| line.split_once(':').filter(|(given, _)| given.eq_ignore_ascii_case(name));
    head.lines().find_map(named).map(|(_, value)| value.trim())
}

async fn serve(
    stream: impl AsyncRead + AsyncWrite + Unpin,
    fault: Option<Fault>,
    heads: &Mutex<Vec<String>>,
) -> std::io::Result<()> {
    let mut stream = BufReader::new(stream);
    let mut head = String::new();
    while stream.read_line(&mut head).await? > 2 {}
    let length = value(&head, "content-length").and_then(|text| text.parse().ok()).unwrap_or(0);
    stream.read_exact(&mut vec![0; length]).await?;
    let first = {
        let mut heads = heads.lock().expect("the heads");
        heads.push(head);
        heads.len() == 1
    };
    match fault.filter(|_| first) {
        Some(fault) => break_off(&mut stream, fault).await?,
        None => stream.write_all(b"HTTP/1.1 204 Answer\r\ncontent-length: 0\r\n\r\n").await?,
    }
    stream.shutdown().await
}

async fn break_off(stream: &mut (impl AsyncWrite + Unpin), fault: Fault) -> std::io::Result<()> {
    match fault {
        Fault::SlowBody(status) => {
            let head = format!("HTTP/1.1 {status} Answer\r\ncontent-length: 1000000\r\n\r\n");
            stream.write_all(head.as_bytes()).await?;
            loop {
                stream.write_all(b"x").await?;
                stream.flush().await?;
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }
        Fault::EndlessBody(status) => {
            let head = format!("HTTP/1.1 {status} Answer\r\ntransfer-encoding: chunked\r\n\r\n");
            stream.write_all(head.as_bytes()).await?;
            let chunk = format!("{:x}\r\n{}\r\n", 16_384, "x".repeat(16_384));
            loop {
                stream.write_all(chunk.as_bytes()).await?;
            }
        }
        Fault::EndlessHead => {
            stream.write_all(b"HTTP/1.1 200 Answer\r\n").await?;
            loop {
                stream.write_all(format!("x-more: {}\r\n", "x".repeat(1_000)).as_bytes()).await?;
            }
        }
        Fault::BreakOff => Ok(()),
        Fault::Garbage => stream.write_all(b"* OK ready when you are\r\n").await,
    }
}
