//! `wear-api export`.

use std::io::Write as _;
use std::process::ExitCode;

use clap::Args;

use super::Ended;
use super::database::Database;
use super::token::parse;
use crate::domain::WorkshopName;
use crate::service::exports::Exporter;
use crate::service::{Actor, tokens};
use crate::transfer::{Separator, TableKind};

#[derive(Debug, Args)]
pub(super) struct Export {
    /// Which table: part-models, bikes, parts, readings, swaps, care or rides
    #[arg(value_name = "KIND", value_parser = parse::<TableKind>)]
    kind: TableKind,

    #[command(flatten)]
    database: Database,

    /// Name of the workshop
    #[arg(long, value_name = "NAME", value_parser = parse::<WorkshopName>)]
    workshop: WorkshopName,

    /// comma, or semicolon with decimal commas and a byte order mark
    #[arg(long, value_name = "SEPARATOR", default_value = "comma", value_parser = parse::<Separator>)]
    separator: Separator,
}

impl Export {
    pub(super) fn run(self) -> Ended {
        let Self { kind, database, workshop, separator } = self;
        database.run(|services| async move {
            let Some(workshop_id) = tokens::find_workshop(&services, &workshop).await? else {
                eprintln!("there is no workshop named {workshop}");
                return Ok(ExitCode::FAILURE);
            };
            let program = Actor::program(workshop_id);
            let mut exporter = Exporter::begin(&services, &program, kind, separator).await?;
            let mut out = std::io::stdout().lock();
            while let Some(piece) = exporter.next().await? {
                out.write_all(&piece)?;
            }
            out.flush()?;
            Ok(ExitCode::SUCCESS)
        })
    }
}
