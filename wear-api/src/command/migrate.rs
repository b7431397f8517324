//! `wear-api migrate`.

use std::process::ExitCode;

use clap::Args;

use super::Ended;
use super::database::Database;

#[derive(Debug, Args)]
pub(super) struct Migrate {
    #[command(flatten)]
    database: Database,
}

impl Migrate {
    pub(super) fn run(self) -> Ended {
        self.database.run(|_| async { Ok(ExitCode::SUCCESS) })
    }
}
