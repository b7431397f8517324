//! Forms that carry files.

use std::pin::Pin;
use std::time::Duration;

use actix_multipart::Multipart;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest, web};
use futures_util::StreamExt as _;

use super::failure::Failure;
use super::frame::{Viewer, own_site};
use crate::web::auth::Needed;
use crate::web::upload::UploadLimits;

/// Largest table that a page takes, bytes: what was checked travels with the page on which it is confirmed.
pub const LARGEST_FILE: usize = 4 << 20;

/// Largest form with such a table, also as text (base64 makes three bytes four), and its other fields.
pub const LARGEST_FORM: usize = LARGEST_FILE / 3 * 4 + 16 * 1024;

/// How long the largest form may take (A).
const LONGEST: Duration = Duration::from_secs(300);

/// A form with files from one of our own pages, of at most so many bytes, from someone whose role covers `R`.
pub struct PostedFile<R, const MOST: usize = LARGEST_FORM> {
    /// Who sent it.
    pub viewer: Viewer<R>,
    /// What was sent; none when it was more than a page takes.
    pub parts: Option<Parts>,
}

/// The fields of such a form.
#[derive(Debug, Default)]
pub struct Parts(Vec<Part>);

#[derive(Debug)]
struct Part {
    name: String,
    file_name: String,
    bytes: Vec<u8>,
}

impl Parts {
    /// A field as it was sent; empty when it isn't there.
    pub fn bytes(&self, name: &str) -> &[u8] {
        self.0.iter().rfind(|part| part.name == name).map_or(&[], |part| part.bytes.as_slice())
    }

    /// A field as text, trimmed; empty when it isn't there or no text.
    pub fn text(&self, name: &str) -> &str {
        std::str::from_utf8(self.bytes(name)).unwrap_or_default().trim()
    }

    /// The files of a field that may hold several: what each is called on the device it came from, and what is in it.
    pub fn files<'a>(&'a self, name: &'a str) -> impl Iterator<Item = (&'a str, &'a [u8])> {
        let files = self.0.iter().filter(move |part| part.name == name && !part.bytes.is_empty());
        files.map(|part| (part.file_name.as_str(), part.bytes.as_slice()))
    }
}

impl<R: Needed + 'static, const MOST: usize> FromRequest for PostedFile<R, MOST> {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let form = Multipart::new(request.headers(), payload.take());
        Box::pin(async move {
            let viewer = Viewer::<R>::of(&request).await?;
            own_site(&request)?;
            let limits = request.app_data::<web::Data<UploadLimits>>().ok_or(Failure::Internal)?;
            // As slow as a table may come, for as many pieces as the largest form has; five minutes at most.
            let within = limits.piece_within.saturating_mul(24).min(LONGEST);
            let read = tokio::time::timeout(within, read(form, |given| viewer.proves(given), MOST)).await;
            Ok(Self { viewer, parts: read.map_err(|_| Failure::TooSlow)?? })
        })
    }
}

/// Reads the form. Its proof comes first: without it nothing else is read.
async fn read(
    mut form: Multipart,
    proves: impl Fn(&str) -> bool,
    most: usize,
) -> Result<Option<Parts>, Failure> {
    let mut parts = Parts::default();
    let mut size = 0;
    while let Some(field) = form.next().await {
        let mut field = field.map_err(|_| Failure::Garbled)?;
        let name = field.name().unwrap_or_default().to_owned();
        let file_name = field.content_disposition().and_then(|it| it.get_filename());
        let file_name = file_name.unwrap_or_default().chars().take(128).collect();
        let mut bytes = Vec::new();
        while let Some(chunk) = field.next().await {
            let chunk = chunk.map_err(|_| Failure::Garbled)?;
            size += chunk.len();
            if size <= most {
                bytes.extend_from_slice(&chunk);
            } else if size > 2 * most {
                return Err(Failure::Garbled);
            }
        }
        if parts.0.is_empty() && (name != "csrf" || !std::str::from_utf8(&bytes).is_ok_and(&proves)) {
            return Err(Failure::Forged);
        }
        parts.0.push(Part { name, file_name, bytes });
    }
    if parts.0.is_empty() {
        return Err(Failure::Forged);
    }
    Ok(Some(parts).filter(|_| size <= most))
}
