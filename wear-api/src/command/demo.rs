//! `wear-api demo`: an invented fleet, its pages and a token, at once.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::Ended;
use crate::clock::Clock;
use crate::demo;
use crate::service::Services;
use crate::settings::SettingsArgs;
use crate::startup::Application;
use crate::store::Store;
use crate::telemetry;
use crate::web::pages::PagesOpenAs;

#[derive(Debug, Args)]
pub(super) struct Demo {
    /// Folder for the database; left out, a temporary one that goes when the program ends
    #[arg(long, value_name = "DIR")]
    folder: Option<PathBuf>,

    /// Address to listen on; port 0 takes a free one
    #[arg(long, value_name = "HOST:PORT", default_value = "127.0.0.1:8080")]
    listen: String,
}

impl Demo {
    pub(super) fn run(self) -> Ended {
        let temporary = tempfile::tempdir()?;
        let folder = self.folder.unwrap_or_else(|| temporary.path().to_owned());
        std::fs::create_dir_all(&folder)?;
        let file = folder.join("demo.db");
        if file.exists() {
            return Err(
                format!("{} is there already; choose another folder or remove it", file.display()).into()
            );
        }
        let settings = SettingsArgs {
            database_url: Some(format!("sqlite:{}", file.display())),
            listen: Some(self.listen),
            log_filter: Some("warn".to_owned()),
            ..SettingsArgs::default()
        }
        .check()?;
        telemetry::start(settings.log_format, &settings.log_filter)?;
        actix_web::rt::System::new().block_on(async {
            let store = Store::connect(settings.database_url.expose(), settings.connections).await?;
            store.migrate().await?;
            let services = Services::new(store, Clock::system());
            let (actor, secret) = demo::fill(&services).await?;
            // The invented yard's pages are open to whoever can reach the address.
            let open = PagesOpenAs(Some(actor));
            let application = Application::over(services, &settings, open)?;
            let url = format!("http://{}", application.address());
            let token = secret.reveal();
            println!("url {url}");
            println!("token {token}");
            println!("{}", curl_lines(&url, &token));
            application.run_until_stopped().await?;
            Ok(ExitCode::SUCCESS)
        })
    }
}

fn curl_lines(url: &str, token: &str) -> String {
    let get = format!("curl -s -H 'Authorization: Bearer {token}'");
    [
        format!("{get} '{url}/v1/outlooks?limit=3'"),
        format!("{get} '{url}/v1/outlooks?advice=swap_now'"),
        format!("{get} '{url}/v1/bikes?search=road-11s&limit=5'"),
    ]
    .join("\n")
}
