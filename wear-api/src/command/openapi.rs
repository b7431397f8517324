//! `wear-api openapi`.

use std::io::Write as _;
use std::process::ExitCode;

use super::Ended;
use crate::web::openapi;

pub(super) fn run() -> Ended {
    std::io::stdout().write_all(openapi::text()?.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}
