//! `wear-api token`.

use std::process::ExitCode;

use clap::Args;

use super::Ended;
use super::database::Database;
use crate::domain::{Invalid, Label, Role, WorkshopName};
use crate::service::{Actor, tokens};

#[derive(Debug, Args)]
pub(super) struct MakeToken {
    #[command(flatten)]
    database: Database,

    /// Name of the workshop whose data the token opens
    #[arg(long, value_name = "NAME", value_parser = parse::<WorkshopName>)]
    workshop: WorkshopName,

    /// What the token may do: manager, mechanic or app
    #[arg(long, value_name = "ROLE", value_parser = parse::<Role>)]
    role: Role,

    /// What people call the token
    #[arg(long, value_name = "LABEL", default_value = "command line", value_parser = parse::<Label>)]
    label: Label,
}

pub(super) fn parse<T: std::str::FromStr<Err = Invalid>>(given: &str) -> Result<T, String> {
    given.parse().map_err(|error: Invalid| format!("{error}; allowed: {}", error.allowed()))
}

impl MakeToken {
    pub(super) fn run(self) -> Ended {
        let Self { database, workshop, role, label } = self;
        database.run(|services| async move {
            let workshop_id = tokens::workshop_named(&services, workshop).await?;
            let program = Actor { workshop_id, token_id: None, role: Role::Manager };
            let (_, secret) = services
                .change(&program, async |work| tokens::create(&services, work, role, label).await)
                .await?;
            println!("{}", secret.reveal());
            Ok(ExitCode::SUCCESS)
        })
    }
}
