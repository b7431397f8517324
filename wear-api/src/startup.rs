//! Puts the service together and runs it until it is told to stop.

use std::net::SocketAddr;
use std::time::Duration;

use actix_web::dev::{Server, ServerHandle};
use actix_web::middleware::{Compress, Condition, from_fn};
use actix_web::{App, HttpServer, web};
use thiserror::Error;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use utoipa_actix_web::AppExt as _;

use crate::clock::Clock;
use crate::domain::TokenId;
use crate::mail::{MailFault, Mailer};
use crate::service::{Memory, Services};
use crate::settings::Settings;
use crate::store::{Standing, Store, StoreError};
use crate::web::api::SendsMail;
use crate::web::client::TrustedProxies;
use crate::web::conventions::{Addresses, every_request};
use crate::web::download::ExportPlaces;
use crate::web::metrics_page::metrics_page;
use crate::web::pages::{self, PagesOpenAs};
use crate::web::rate::{Guesses, RateLimiter};
use crate::web::upload::UploadLimits;
use crate::web::waiting::Bodies;
use crate::web::{auth, fresh, once, openapi, origins, router};
use crate::webhook::{Courier, CourierError};
use crate::worker;

/// The service, bound to its port.
pub struct Application {
    address: SocketAddr,
    server: Server,
    metrics: Option<(SocketAddr, Server)>,
    worker: JoinHandle<()>,
    stop_worker: watch::Sender<bool>,
}

/// Why the service didn't start or didn't go on.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StartupError {
    /// The store can't be opened or its tables can't be brought up to date.
    #[error("database: {0}")]
    Store(#[from] StoreError),
    /// The tables are older than this program, and it was told to leave them.
    #[error("database: its tables are behind this program; `wear-api migrate` brings them up to date")]
    NotMigrated,
    /// The database's file is damaged.
    #[error("database: its file is damaged, as the log says; restore a backup")]
    Damaged,
    /// The address can't be listened on.
    #[error("cannot listen on {address}: {cause}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why.
        cause: std::io::Error,
    },
    /// Hooks can't be delivered.
    #[error("hooks: {0}")]
    Courier(#[from] CourierError),
    /// E-mail can't be sent.
    #[error("e-mail: {0}")]
    Mail(#[from] MailFault),
    /// The server broke off.
    #[error("the server stopped: {0}")]
    Server(std::io::Error),
}

/// How long the head of a request may take (A).
const HEAD_WITHIN: Duration = Duration::from_secs(3);

/// How long what comes after the answer to a refused body is read, so that its sender gets to see the answer (A).
const LINGERS: Duration = Duration::from_millis(200);

/// Descriptors that clients don't get, beside those of the store (A).
const KEPT_DESCRIPTORS: usize = 128;

/// Most connections of a thread, however many descriptors there are.
const MOST_EACH: usize = 25_000;

/// Most descriptors of this process: as many as it is allowed to ask for.
fn descriptors() -> usize {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    /// Where the system names no limit.
    const PLENTY: u64 = 65_536;
    let Rlimit { current, maximum } = getrlimit(Resource::Nofile);
    let most = maximum.unwrap_or(PLENTY).min(1 << 20);
    let granted = if setrlimit(Resource::Nofile, Rlimit { current: Some(most), maximum }).is_ok() {
        most
    } else {
        current.unwrap_or(PLENTY)
    };
    usize::try_from(granted).unwrap_or(usize::MAX)
}

impl Application {
    /// Opens the store, migrates it and binds the port. Requests are taken from [`Self::run_until_stopped`] on.
    ///
    /// # Errors
    /// [`StartupError`].
    pub async fn build(settings: Settings, clock: Clock) -> Result<Self, StartupError> {
        let store = Store::connect(settings.database_url.expose(), settings.connections).await?;
        let store = store.with_patience(settings.patience).with_share(settings.workshop_connections);
        if settings.check_store && !store.is_sound().await? {
            return Err(StartupError::Damaged);
        }
        if settings.migrate {
            store.migrate().await?;
        } else {
            match store.standing().await {
                Ok(Standing::Fit) => {}
                Ok(Standing::Ahead) => return Err(StoreError::NewerTables.into()),
                // Where there are no tables at all, the store knows none to look at.
                Ok(Standing::Behind) | Err(StoreError::Defect(_)) => return Err(StartupError::NotMigrated),
                Err(other) => return Err(other.into()),
            }
        }
        if !store.is_walled().await? {
            tracing::warn!(
                "the database role is a superuser or may bypass row-level security: the second wall between \
                 workshops is down; connect as a role without these rights"
            );
        }
        let services = Services { keeping: settings.keeping, ..Services::new(store, clock) };
        let services = services.with_memory(Memory::of(settings.memory_mib));
        Self::over(services, &settings, PagesOpenAs::default())
    }

    /// Binds the port over a store that is open and migrated.
    ///
    /// # Errors
    /// [`StartupError::Listen`], [`StartupError::Courier`], [`StartupError::Mail`].
    pub fn over(services: Services, settings: &Settings, open: PagesOpenAs) -> Result<Self, StartupError> {
        let address = settings.listen;
        let open = web::Data::new(open);
        let data = web::Data::new(services.clone());
        let mailer = settings.mail.as_ref().map(Mailer::new).transpose()?;
        let sends_mail = web::Data::new(SendsMail(mailer.is_some()));
        let courier = Courier::new(settings.hook_addresses.clone(), settings.hook_within)?;
        let hook_addresses = web::Data::new(settings.hook_addresses.clone());
        let limiter = web::Data::new(RateLimiter::<TokenId>::new(settings.requests_per_minute));
        let guesses = web::Data::new(Guesses::default());
        let proxies = web::Data::new(TrustedProxies::of(settings.trusted_proxies.clone()));
        let in_flight = web::Data::new(once::InFlight::default());
        let limits = web::Data::new(UploadLimits::of(settings));
        let places = web::Data::new(ExportPlaces::among(settings.connections));
        let descriptors = descriptors();
        let bodies = web::Data::new(Bodies::at_most(descriptors / 4));
        let document = openapi::document();
        let addresses = web::Data::new(Addresses::of(&document));
        let allowed_origins = settings.allow_origins.clone();
        let server = HttpServer::new(move || {
            App::new()
                .app_data(data.clone())
                .app_data(hook_addresses.clone())
                .app_data(limiter.clone())
                .app_data(open.clone())
                .app_data(guesses.clone())
                .app_data(proxies.clone())
                .app_data(in_flight.clone())
                .app_data(limits.clone())
                .app_data(places.clone())
                .app_data(bodies.clone())
                .app_data(sends_mail.clone())
                .into_utoipa_app()
                .configure(router::operations)
                .into_app()
                .configure(|config| router::rest(config, &document, &addresses))
                .wrap(from_fn(once::once))
                .wrap(from_fn(fresh::fresh))
                .wrap(from_fn(pages::explain))
                .wrap(from_fn(auth::identify))
                .wrap(Condition::new(!allowed_origins.is_empty(), origins::allow(&allowed_origins)))
                .wrap(from_fn(origins::explain))
                .wrap(Compress::default())
                .wrap(from_fn(every_request))
        })
        .shutdown_timeout(settings.stop_within.as_secs())
        .client_request_timeout(HEAD_WITHIN)
        .client_disconnect_timeout(LINGERS)
        // An answer in pieces doesn't wait for the other side's acknowledgement of the first, which takes 40 ms.
        .tcp_nodelay(true);
        let threads =
            settings.threads.unwrap_or_else(|| std::thread::available_parallelism().map_or(2, usize::from));
        // The rest of the descriptors are for the store, hooks and files: a service that can't open any does nothing.
        let kept = (settings.connections as usize + KEPT_DESCRIPTORS).min(descriptors / 2);
        let each = ((descriptors - kept) / threads).clamp(1, MOST_EACH);
        let server = server.workers(threads).max_connections(each);
        let listen = |address| move |cause| StartupError::Listen { address, cause };
        let server = server.bind(address).map_err(listen(address))?;
        let metrics = match settings.metrics_listen {
            Some(address) => {
                let data = web::Data::new(services.clone());
                let page = HttpServer::new(move || App::new().app_data(data.clone()).service(metrics_page))
                    .workers(1)
                    .disable_signals()
                    .shutdown_timeout(1)
                    .bind(address)
                    .map_err(listen(address))?;
                let address = page.addrs().first().copied().unwrap_or(address);
                Some((address, page.run()))
            }
            None => None,
        };
        let address = server.addrs().first().copied().unwrap_or(address);
        let (stop_worker, stopped) = watch::channel(false);
        let worker = tokio::spawn(worker::run(services.in_background(), courier, mailer, stopped));
        Ok(Self { address, server: server.run(), metrics, worker, stop_worker })
    }

    /// Where it listens, with the port that was free when port 0 was asked for.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Where the metrics are, if anywhere.
    #[must_use]
    pub fn metrics_address(&self) -> Option<SocketAddr> {
        self.metrics.as_ref().map(|(address, _)| *address)
    }

    /// The port it listens on.
    #[must_use]
    pub fn port(&self) -> u16 {
        self.address.port()
    }

    /// Stops the service from elsewhere.
    #[must_use]
    pub fn handle(&self) -> ServerHandle {
        self.server.handle()
    }

    /// Answers requests until SIGTERM, SIGINT or [`ServerHandle::stop`]; open requests are finished first.
    ///
    /// # Errors
    /// [`StartupError::Server`].
    pub async fn run_until_stopped(self) -> Result<(), StartupError> {
        let metrics = self.metrics.map(|(_, page)| {
            let handle = page.handle();
            (handle, tokio::spawn(page))
        });
        let ended = self.server.await.map_err(StartupError::Server);
        if let Some((handle, page)) = metrics {
            handle.stop(true).await;
            let _joined = page.await;
        }
        // A closed channel or a panicked worker both mean that it has stopped.
        let _stopped = self.stop_worker.send(true);
        let _joined = self.worker.await;
        ended
    }
}
