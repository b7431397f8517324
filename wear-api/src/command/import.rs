//! `wear-api import`.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::Ended;
use super::database::Database;
use super::token::parse;
use crate::domain::WorkshopName;
use crate::service::imports::{self, Imported};
use crate::service::{Actor, tokens, worker};
use crate::transfer::TableKind;

#[derive(Debug, Args)]
pub(super) struct Import {
    /// Which table: part-models, bikes, parts, readings, swaps, care or rides
    #[arg(value_name = "KIND", value_parser = parse::<TableKind>)]
    kind: TableKind,

    /// The file; standard input when left out
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,

    #[command(flatten)]
    database: Database,

    /// Name of the workshop; `wear-api token` makes one
    #[arg(long, value_name = "NAME", value_parser = parse::<WorkshopName>)]
    workshop: WorkshopName,

    /// Only say what the import would do
    #[arg(long)]
    dry_run: bool,
}

impl Import {
    pub(super) fn run(self) -> Ended {
        let Self { kind, file, database, workshop, dry_run } = self;
        let source: Box<dyn BufRead + Send> = match file {
            Some(path) => Box::new(BufReader::with_capacity(64 * 1024, File::open(path)?)),
            None => Box::new(BufReader::with_capacity(64 * 1024, std::io::stdin())),
        };
        database.run(|services| async move {
            let Some(workshop_id) = tokens::find_workshop(&services, &workshop).await? else {
                eprintln!("there is no workshop named {workshop}");
                return Ok(ExitCode::FAILURE);
            };
            let program = Actor::program(workshop_id);
            match services
                .change(&program, async |work| imports::import(&services, work, kind, source, dry_run).await)
                .await?
            {
                imports::Ended::Done(imported) => {
                    let Imported { lines, accepted, replaced, unchanged, odd, warnings, notices } = imported;
                    let would = if dry_run { "would be " } else { "" };
                    println!(
                        "{kind}: {lines} lines, {would}{accepted} new, {replaced} changed, {unchanged} known"
                    );
                    for (line, warning) in &warnings {
                        eprintln!("line {line}: {warning}");
                    }
                    if odd > 0 {
                        eprintln!("{kind}: {odd} lines count for nothing as things stand");
                    }
                    for (bike, notice) in &notices {
                        eprintln!("{kind}: bike {bike}: {notice}");
                    }
                    if !dry_run {
                        worker::drain(&services).await?;
                    }
                    Ok(ExitCode::SUCCESS)
                }
                imports::Ended::Refused(findings) => {
                    let found = findings.found();
                    for mistake in findings.into_listed() {
                        eprintln!("{mistake}");
                    }
                    eprintln!("{kind}: {found} mistakes; nothing was changed");
                    Ok(ExitCode::FAILURE)
                }
            }
        })
    }
}
