//! Someone else's mail server that digests are handed to: a few commands of SMTP (RFC 5321), in plain.

use std::collections::VecDeque;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::io::{AsyncBufReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::{TcpListener, TcpStream};

/// A message that was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mail {
    /// Whom the envelope is to.
    pub to: Vec<String>,
    /// Header lines, unfolded.
    pub headers: Vec<String>,
    /// All of it, as it came.
    pub raw: String,
}

impl Mail {
    /// A header's value; empty when it isn't there.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        let values = self.headers.iter().filter_map(|line| line.split_once(": "));
        values.into_iter().find(|(own, _)| own.eq_ignore_ascii_case(name)).map_or("", |(_, value)| value)
    }

    /// The first part that is plain text, without its transfer encoding.
    ///
    /// # Panics
    /// When there is none.
    #[must_use]
    pub fn text(&self) -> String {
        self.part("text/plain")
    }

    /// The same of HTML.
    ///
    /// # Panics
    /// When there is none.
    #[must_use]
    pub fn html(&self) -> String {
        self.part("text/html")
    }

    fn part(&self, kind: &str) -> String {
        let (_, part) = self.raw.split_once(&format!("Content-Type: {kind}")).expect("a part of that kind");
        let (head, rest) = part.split_once("\r\n\r\n").expect("a body");
        let boundary =
            self.header("Content-Type").split("boundary=\"").nth(1).and_then(|it| it.split('"').next());
        let end = format!("\r\n--{}", boundary.expect("a boundary"));
        let body = rest.split(end.as_str()).next().expect("a body");
        if head.contains("quoted-printable") { unquoted(body) } else { body.to_owned() }
    }
}

/// Text without the quoted-printable encoding (RFC 2045, section 6.7).
fn unquoted(text: &str) -> String {
    let joined = text.replace("=\r\n", "");
    let mut bytes = Vec::new();
    let mut pieces = joined.split('=');
    bytes.extend(pieces.next().unwrap_or_default().bytes());
    for piece in pieces {
        let (code, rest) = piece.split_at_checked(2).unwrap_or((piece, ""));
        bytes.push(u8::from_str_radix(code, 16).expect("two digits"));
        bytes.extend(rest.bytes());
    }
    String::from_utf8(bytes).expect("UTF-8")
}

#[derive(Default)]
struct Kept {
    taken: Vec<Mail>,
    /// What the next messages are answered with in place of 250.
    replies: VecDeque<&'static str>,
    /// Messages that came, taken or not.
    offered: usize,
}

/// A mail server on a port of its own, which takes everything unless told otherwise.
pub struct Mailbox {
    address: SocketAddr,
    kept: Arc<Mutex<Kept>>,
}

impl Mailbox {
    /// Starts to listen.
    ///
    /// # Panics
    /// When there is no port.
    pub async fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
        let address = listener.local_addr().expect("an address");
        let kept = Arc::new(Mutex::new(Kept::default()));
        let shared = Arc::clone(&kept);
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                let shared = Arc::clone(&shared);
                tokio::spawn(async move {
                    // A client that goes away is its own affair.
                    let _ended = converse(stream, &shared).await;
                });
            }
        });
        Self { address, kept }
    }

    /// Its address as a setting.
    #[must_use]
    pub fn url(&self) -> String {
        format!("smtp://{}", self.address)
    }

    /// Answers the next message like this, after those answers that were asked for before.
    ///
    /// # Panics
    /// Never: nothing panics while it holds the lock.
    pub fn then(&self, reply: &'static str) {
        self.kept.lock().expect("the lock").replies.push_back(reply);
    }

    /// Messages taken so far.
    ///
    /// # Panics
    /// Never, likewise.
    #[must_use]
    pub fn taken(&self) -> Vec<Mail> {
        self.kept.lock().expect("the lock").taken.clone()
    }

    /// How many messages came, taken or not.
    ///
    /// # Panics
    /// Never, likewise.
    #[must_use]
    pub fn offered(&self) -> usize {
        self.kept.lock().expect("the lock").offered
    }

    /// Messages taken, once there are `count`; waits for up to a minute.
    ///
    /// # Panics
    /// When there are fewer then.
    pub async fn wait_for(&self, count: usize) -> Vec<Mail> {
        for _ in 0..2_400 {
            let taken = self.taken();
            if taken.len() >= count {
                return taken;
            }
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
        panic!("{} of {count} messages came", self.taken().len());
    }
}

async fn converse(stream: TcpStream, kept: &Mutex<Kept>) -> std::io::Result<()> {
    let (read, mut write) = stream.into_split();
    let mut lines = BufReader::new(read).lines();
    write.write_all(b"220 mail.example ESMTP\r\n").await?;
    let mut to = Vec::new();
    while let Some(line) = lines.next_line().await? {
        let command = line.split([' ', ':']).next().unwrap_or_default().to_ascii_uppercase();
        let reply: String = match command.as_str() {
            "EHLO" => "250-mail.example\r\n250 8BITMIME".to_owned(),
            "HELO" | "MAIL" | "RSET" | "NOOP" => "250 well".to_owned(),
            "RCPT" => {
                to.push(line.split(['<', '>']).nth(1).unwrap_or_default().to_owned());
                "250 well".to_owned()
            }
            "DATA" => {
                write.write_all(b"354 go on\r\n").await?;
                let mut raw = String::new();
                while let Some(line) = lines.next_line().await? {
                    if line == "." {
                        break;
                    }
                    raw += line.strip_prefix('.').unwrap_or(&line);
                    raw += "\r\n";
                }
                let mut kept = kept.lock().expect("the lock");
                kept.offered += 1;
                let reply = kept.replies.pop_front().unwrap_or("250 taken");
                if reply.starts_with('2') {
                    let head = raw.split("\r\n\r\n").next().unwrap_or_default().replace("\r\n ", " ");
                    let headers = head.split("\r\n").map(str::to_owned).collect();
                    kept.taken.push(Mail { to: std::mem::take(&mut to), headers, raw });
                }
                to.clear();
                reply.to_owned()
            }
            "QUIT" => {
                write.write_all(b"221 bye\r\n").await?;
                return Ok(());
            }
            _ => "502 not here".to_owned(),
        };
        write.write_all(format!("{reply}\r\n").as_bytes()).await?;
    }
    Ok(())
}
