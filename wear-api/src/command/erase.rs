//! `wear-api erase`.

use std::process::ExitCode;

use clap::Args;

use super::Ended;
use super::database::Database;
use super::token::parse;
use crate::domain::{RiderId, WorkshopName};
use crate::service::{erasing, tokens};

#[derive(Debug, Args)]
pub(super) struct Erase {
    #[command(flatten)]
    database: Database,

    /// Name of the workshop that is erased, or whose rider's rides are
    #[arg(long, value_name = "NAME", value_parser = parse::<WorkshopName>)]
    workshop: WorkshopName,

    /// Erase the rides of this rider's bikes alone
    #[arg(long, value_name = "ID")]
    rider: Option<RiderId>,

    /// Say that it is meant: only a backup brings back what is erased
    #[arg(long)]
    for_good: bool,
}

impl Erase {
    pub(super) fn run(self) -> Ended {
        let Self { database, workshop, rider, for_good } = self;
        database.run(|services| async move {
            let Some(workshop_id) = tokens::find_workshop(&services, &workshop).await? else {
                eprintln!("there is no workshop named {workshop}");
                return Ok(ExitCode::FAILURE);
            };
            if !for_good {
                eprintln!(
                    "nothing is erased: only a backup would bring it back; say --for-good if it is meant"
                );
                return Ok(ExitCode::FAILURE);
            }
            match rider {
                Some(rider) => println!("{} rides", erasing::rides(&services, workshop_id, rider).await?),
                None => erasing::workshop(&services, workshop_id).await?,
            }
            Ok(ExitCode::SUCCESS)
        })
    }
}
