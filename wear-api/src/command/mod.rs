//! The command line.

mod database;
mod demo;
mod erase;
mod estimate;
mod export;
mod import;
mod migrate;
mod openapi;
pub mod plan;
mod ready;
mod serve;
mod token;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::telemetry::with_causes;

/// Tells people who keep bicycle drivetrains running when each chain has to come off.
#[derive(Debug, Parser)]
#[command(version, arg_required_else_help = true)]
pub struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve an invented fleet: prints the address of its pages, a token and three lines to try
    Demo(demo::Demo),
    /// Migrate the database, then serve until told to stop
    Serve(Box<serve::Serve>),
    /// Answer cases as NDJSON from standard input
    Estimate(estimate::Estimate),
    /// Make a token, and its workshop if there is none of that name; print only the token
    Token(token::MakeToken),
    /// Export a table as CSV to standard output
    Export(export::Export),
    /// Import a table from CSV: all of it, or nothing where it has mistakes
    Import(import::Import),
    /// Bring the database's tables up to date
    Migrate(migrate::Migrate),
    /// Erase a workshop, or the rides of one of its riders, for good
    Erase(erase::Erase),
    /// Plan a bench: a problem as JSON from standard input, a plan as JSON to standard output
    Plan,
    /// Ask the service on this machine whether it is ready; 0 when it is
    Ready(ready::Ready),
    /// Print the OpenAPI document
    Openapi,
}

impl CommandLine {
    /// Runs the command and says how it ended; what went wrong goes to standard error.
    #[must_use]
    pub fn run(self) -> ExitCode {
        let ended = match self.command {
            Command::Demo(command) => command.run(),
            Command::Serve(command) => command.run(),
            Command::Estimate(command) => command.run(),
            Command::Token(command) => command.run(),
            Command::Export(command) => command.run(),
            Command::Import(command) => command.run(),
            Command::Migrate(command) => command.run(),
            Command::Ready(command) => command.run(),
            Command::Erase(command) => command.run(),
            Command::Plan => match plan::run(std::io::stdin().lock(), std::io::stdout().lock()) {
                Ok(()) => Ok(ExitCode::SUCCESS),
                Err(error) => {
                    eprintln!("wear-api plan: {error}");
                    Ok(ExitCode::from(error.exit_code()))
                }
            },
            Command::Openapi => openapi::run(),
        };
        ended.unwrap_or_else(|error| {
            eprintln!("{}", with_causes(error.as_ref()));
            ExitCode::FAILURE
        })
    }
}

/// How a command ends, or what kept it from its work.
type Ended = Result<ExitCode, Box<dyn std::error::Error>>;
