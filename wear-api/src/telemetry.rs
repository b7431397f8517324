//! Logs: one line an event on standard error, for people or as JSON.

use std::io::IsTerminal as _;

use clap::ValueEnum;
use serde::Deserialize;
use tracing_subscriber::EnvFilter;

/// How log lines look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LogFormat {
    /// For a terminal.
    #[default]
    Human,
    /// One JSON object a line.
    Json,
}

/// An error and what brought it about, as the log tells it: each cause that isn't told yet after a colon.
#[must_use]
pub fn with_causes(error: &dyn std::error::Error) -> String {
    let mut told = error.to_string();
    let mut cause = error.source();
    while let Some(deeper) = cause {
        let text = deeper.to_string();
        if !told.contains(&text) {
            told = format!("{told}: {text}");
        }
        cause = deeper.source();
    }
    told
}

/// Starts logging for the process. A second call changes nothing.
///
/// # Errors
/// The filter's text, when it is not a filter.
pub fn start(format: LogFormat, filter: &str) -> Result<(), tracing_subscriber::filter::ParseError> {
    let subscriber = tracing_subscriber::fmt()
        .with_env_filter(EnvFilter::builder().parse(filter)?)
        .with_ansi(std::io::stderr().is_terminal())
        .with_writer(std::io::stderr);
    let _already_started = match format {
        LogFormat::Human => subscriber.try_init(),
        LogFormat::Json => subscriber.json().flatten_event(true).try_init(),
    };
    Ok(())
}
