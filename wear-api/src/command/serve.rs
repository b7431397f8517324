//! `wear-api serve`.

use std::process::ExitCode;

use clap::Args;

use super::Ended;
use crate::clock::Clock;
use crate::settings::{SettingsArgs, know_all_variables};
use crate::startup::Application;
use crate::telemetry;

#[derive(Debug, Args)]
pub(super) struct Serve {
    #[command(flatten)]
    settings: SettingsArgs,
}

impl Serve {
    pub(super) fn run(self) -> Ended {
        let names = std::env::vars_os().filter_map(|(name, _)| name.into_string().ok());
        know_all_variables(names)?;
        let settings = self.settings.check()?;
        telemetry::start(settings.log_format, &settings.log_filter)?;
        actix_web::rt::System::new().block_on(async {
            let application = Application::build(settings, Clock::system()).await?;
            tracing::info!(address = %application.address(), "listening");
            if let Some(metrics) = application.metrics_address() {
                tracing::info!(%metrics, "metrics");
            }
            application.run_until_stopped().await?;
            Ok(ExitCode::SUCCESS)
        })
    }
}
