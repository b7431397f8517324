//! `wear-api token`.

use std::process::ExitCode;
use std::str::FromStr;

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

pub(super) fn parse<T>(given: &str) -> Result<T, String>
where
    T: FromStr<Err: Into<Invalid>>,
{
    given.parse().map_err(|error: T::Err| {
        let invalid: Invalid = error.into();
        format!("{invalid}; allowed: {}", invalid.allowed())
    })
}

impl MakeToken {
    pub(super) fn run(self) -> Ended {
        let Self { database, workshop, role, label } = self;
        database.run(|services| async move {
            let workshop_id = tokens::workshop_named(&services, workshop).await?;
            let program = Actor::program(workshop_id);
            let (_, secret) = services
                .change(&program, async |work| tokens::create(&services, work, role, label).await)
                .await?;
            println!("{}", secret.reveal());
            Ok(ExitCode::SUCCESS)
        })
    }
}
