//! wear-api

use std::io;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use wear_api::command::plan;

#[derive(Parser)]
#[command(name = "wear-api", version, about = "Drivetrain wear: service and commands")]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Reads a bench problem (JSON) from standard input and writes the bench plan (JSON).
    Plan,
}

fn main() -> ExitCode {
    match Line::parse().command {
        Command::Plan => match plan::run(io::stdin().lock(), io::stdout().lock()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("wear-api plan: {error}");
                ExitCode::from(error.exit_code())
            }
        },
    }
}
