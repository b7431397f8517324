//! E-mail: handed to a mail server by SMTP, one message at a time.

pub mod digest;
mod settings;

use std::error::Error as _;
use std::time::Duration;

use lettre::message::header::{Header, HeaderName, HeaderValue};
use lettre::message::{Mailbox, MultiPart};
use lettre::transport::smtp::{self, AsyncSmtpTransport};
use lettre::{AsyncTransport as _, Message, Tokio1Executor};

use crate::domain::EmailAddress;

pub use settings::{MailFault, MailSettings};

/// How long the mail server gets for each answer.
const WITHIN: Duration = Duration::from_secs(20);

/// The longest that one message takes: the connection, greeting, TLS, signing in, and the message's own steps.
pub const LONGEST: chrono::Duration = chrono::Duration::seconds(20 * 12);

/// A message to be sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    /// Who gets it.
    pub to: EmailAddress,
    /// Names the message: the same on each attempt, without host.
    pub id: String,
    /// What it is about; anything that would end the line is taken out of it.
    pub subject: String,
    /// It as plain text.
    pub text: String,
    /// It as HTML.
    pub html: String,
    /// Its language.
    pub language: &'static str,
    /// What stops such messages: a path of the service, which a `POST` is enough for (RFC 8058).
    pub unsubscribe: String,
}

/// Why a message wasn't taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotTaken {
    /// The mail server refuses it for good (5xx), or it makes no message.
    ForGood(String),
    /// It may be taken later: 4xx, no connection, no answer in time.
    ForNow(String),
}

/// Hands messages to a mail server. Clones share what they hold.
#[derive(Clone)]
pub struct Mailer {
    transport: AsyncSmtpTransport<Tokio1Executor>,
    from: Mailbox,
    public_url: String,
}

impl std::fmt::Debug for Mailer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Mailer").field("public_url", &self.public_url).finish_non_exhaustive()
    }
}

macro_rules! headers {
    ($($(#[$doc:meta])* $type:ident, $name:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Clone)]
        struct $type(String);

        impl Header for $type {
            fn name() -> HeaderName {
                HeaderName::new_from_ascii_str($name)
            }

            fn parse(text: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
                Ok(Self(text.to_owned()))
            }

            fn display(&self) -> HeaderValue {
                HeaderValue::new(Self::name(), self.0.clone())
            }
        }
    )+};
}

headers! {
    /// RFC 2369.
    ListUnsubscribe, "List-Unsubscribe";
    /// RFC 8058.
    ListUnsubscribePost, "List-Unsubscribe-Post";
    /// RFC 3834.
    AutoSubmitted, "Auto-Submitted";
    /// RFC 3282.
    ContentLanguage, "Content-Language";
}

impl Mailer {
    /// Over the mail server of the settings; nothing is sent yet.
    ///
    /// # Errors
    /// [`MailFault`] when the server's address makes none.
    pub fn new(settings: &MailSettings) -> Result<Self, MailFault> {
        let transport = AsyncSmtpTransport::<Tokio1Executor>::from_url(settings.smtp_url())
            .map_err(|_| MailFault::SmtpUrl)?
            .timeout(Some(WITHIN))
            .build();
        Ok(Self { transport, from: settings.from().clone(), public_url: settings.public_url().to_owned() })
    }

    /// Where people reach the service, without a slash at the end.
    #[must_use]
    pub fn public_url(&self) -> &str {
        &self.public_url
    }

    /// The message in the form in which it is sent.
    ///
    /// # Errors
    /// [`NotTaken::ForGood`] when it makes none.
    fn message(&self, letter: &Letter) -> Result<Message, NotTaken> {
        let Letter { to, id, subject, text, html, language, unsubscribe } = letter;
        let address = format!("{}{unsubscribe}", self.public_url);
        let mut builder = Message::builder()
            .from(self.from.clone())
            .to(Mailbox::new(None, to.address().clone()))
            .subject(on_one_line(subject))
            .message_id(Some(format!("<{id}@{}>", self.from.email.domain())))
            .date_now()
            .header(ListUnsubscribe(format!("<{address}>")))
            .header(AutoSubmitted("auto-generated".to_owned()))
            .header(ContentLanguage((*language).to_owned()));
        // One click is for https alone (RFC 8058, section 3.1).
        if address.starts_with("https://") {
            builder = builder.header(ListUnsubscribePost("List-Unsubscribe=One-Click".to_owned()));
        }
        builder
            .multipart(MultiPart::alternative_plain_html(text.clone(), html.clone()))
            .map_err(|error| NotTaken::ForGood(error.to_string()))
    }

    /// Hands one message to the mail server.
    ///
    /// # Errors
    /// [`NotTaken`].
    pub async fn send(&self, letter: &Letter) -> Result<(), NotTaken> {
        let message = self.message(letter)?;
        self.transport.send(message).await.map(|_| ()).map_err(|error| not_taken(&error))
    }
}

fn not_taken(error: &smtp::Error) -> NotTaken {
    let cause = error.source().map(|cause| format!(": {cause}")).unwrap_or_default();
    let said: String = on_one_line(&format!("{error}{cause}")).chars().take(500).collect();
    if error.is_permanent() { NotTaken::ForGood(said) } else { NotTaken::ForNow(said) }
}

/// Names and labels hold no line's end; this keeps it so whatever comes.
fn on_one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letter(subject: &str) -> Letter {
        Letter {
            to: EmailAddress::new("yard@bikes.example").expect("an address"),
            id: "digest.1.2026-11-25".to_owned(),
            subject: subject.to_owned(),
            text: "Nothing is due.\r\n.\r\nMAIL FROM:<x@x.example>".to_owned(),
            html: "<p>Nothing is due.</p>".to_owned(),
            language: "en",
            unsubscribe: "/unsubscribe/abc".to_owned(),
        }
    }

    fn headers_of(public_url: &str, subject: &str) -> String {
        let settings = MailSettings::new("smtp://127.0.0.1:25", "Wear <wear@bikes.example>", public_url);
        let mailer = Mailer::new(&settings.expect("settings")).expect("a mailer");
        let formatted = mailer.message(&letter(subject)).expect("a message").formatted();
        let text = String::from_utf8(formatted).expect("text");
        text.split("\r\n\r\n").next().expect("headers").to_owned()
    }

    #[tokio::test]
    async fn a_subject_adds_no_header() {
        for subject in [
            "a\r\nBcc: b@b.example",
            "a\nBcc: b@b.example",
            "a\r\n\r\nbody",
            "a\u{85}Bcc: b",
            "Häfen\r\nBcc: b",
        ] {
            let headers = headers_of("https://wear.example", subject);
            let names: Vec<&str> = headers
                .split("\r\n")
                .filter(|line| !line.starts_with([' ', '\t']))
                .filter_map(|line| line.split_once(':').map(|(name, _)| name))
                .collect();
            assert!(!names.contains(&"Bcc"), "{headers}");
            assert_eq!(names.iter().filter(|name| **name == "Subject").count(), 1, "{headers}");
            assert_eq!(
                names.len(),
                headers.split("\r\n").filter(|line| !line.starts_with([' ', '\t'])).count()
            );
        }
    }

    #[tokio::test]
    async fn one_click_is_for_https_alone() {
        let secure = headers_of("https://wear.example", "a");
        assert!(secure.contains("List-Unsubscribe: <https://wear.example/unsubscribe/abc>"), "{secure}");
        assert!(secure.contains("List-Unsubscribe-Post: List-Unsubscribe=One-Click"), "{secure}");
        assert!(secure.contains("Message-ID: <digest.1.2026-11-25@bikes.example>"), "{secure}");
        let plain = headers_of("http://wear.example", "a");
        assert!(plain.contains("List-Unsubscribe: <http://") && !plain.contains("-Post"), "{plain}");
    }
}
