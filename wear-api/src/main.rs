//! The `wear-api` program: command line, then the command.

use std::process::ExitCode;

use clap::Parser as _;

fn main() -> ExitCode {
    wear_api::command::CommandLine::parse().run()
}
