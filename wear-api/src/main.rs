//! The `wear-api` program: command line, then the command.

use std::process::ExitCode;

use clap::Parser as _;
use mimalloc::MiMalloc;

/// Gives back what a thread no longer uses; the C library keeps the most that each thread ever had.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    wear_api::command::CommandLine::parse().run()
}
