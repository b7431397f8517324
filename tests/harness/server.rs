//! The service in this process, on a store of its own, with a client that holds a token of each role.

use chrono::Duration;
use reqwest::{Method, RequestBuilder, StatusCode};
use serde_json::{Value, json};
use sqlx::{AssertSqlSafe, Connection as _, Executor as _, PgConnection, SqliteConnection};
use wear_api::clock::Clock;
use wear_api::domain::{Label, Role, Timestamp, WorkshopName};
use wear_api::service::{Actor, Services, health, jobs, tokens, worker};
use wear_api::settings::SettingsArgs;
use wear_api::startup::Application;
use wear_api::store::Engine;

use crate::TestStore;

/// How long a test waits for the workers, on a busy machine too.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(300);

/// A running service whose clock stands at 2026-11-25T12:00:00Z.
pub struct TestServer {
    /// Its clock.
    pub clock: Clock,
    /// The store and clock that it works with.
    pub services: Services,
    url: String,
    client: reqwest::Client,
    tokens: Vec<(Role, String)>,
    stop: actix_web::dev::ServerHandle,
    store: TestStore,
}

/// What came back.
#[derive(Debug)]
pub struct Answer {
    /// Status code.
    pub status: StatusCode,
    /// Headers.
    pub headers: reqwest::header::HeaderMap,
    /// Body as JSON; null when there is none.
    pub body: Value,
}

impl Answer {
    /// A header's text.
    ///
    /// # Panics
    /// When it isn't there.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        let value = self.headers.get(name).unwrap_or_else(|| panic!("no header {name} in {self:?}"));
        value.to_str().expect("a header in ASCII")
    }

    /// The answer, when it has the status.
    ///
    /// # Panics
    /// When it has another.
    #[must_use]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.body);
        self
    }

    /// Nothing more than that it has the status.
    ///
    /// # Panics
    /// When it has another.
    pub fn check(self, status: u16) {
        let _answer = self.expect(status);
    }

    /// The `id` of the body.
    ///
    /// # Panics
    /// When there is none.
    #[must_use]
    pub fn id(&self) -> String {
        self.body["id"].as_str().expect("an id").to_owned()
    }

    /// The pointers of a problem's errors.
    #[must_use]
    pub fn pointers(&self) -> Vec<&str> {
        let errors = self.body["errors"].as_array().map(Vec::as_slice).unwrap_or_default();
        errors.iter().filter_map(|error| error["pointer"].as_str()).collect()
    }

    /// Last part of the problem's type.
    #[must_use]
    pub fn problem(&self) -> &str {
        self.body["type"].as_str().and_then(|kind| kind.split_once('#')).map_or("", |(_, slug)| slug)
    }
}

impl TestServer {
    /// Starts the service with the usual settings.
    pub async fn start(store: TestStore) -> Self {
        Self::start_with(store, |_| {}).await
    }

    /// Starts the service with settings of the test's own.
    ///
    /// # Panics
    /// When it doesn't start.
    pub async fn start_with(store: TestStore, change: impl FnOnce(&mut SettingsArgs)) -> Self {
        let mut settings = SettingsArgs {
            database_url: Some(store.url.clone()),
            listen: Some("127.0.0.1:0".into()),
            connections: Some(4),
            threads: Some(1),
            requests_per_minute: Some(1_000_000),
            stop_seconds: Some(1),
            // E-mail can be asked for, and reaches nobody.
            smtp_url: Some("smtp://127.0.0.1:9".into()),
            mail_from: Some("wear@bikes.example".into()),
            public_url: Some("https://wear.example".into()),
            ..SettingsArgs::default()
        };
        change(&mut settings);
        let settings = settings.check().expect("legal settings");
        let clock = Clock::stopped("2026-11-25T12:00:00Z".parse().expect("a time"));
        let application = Application::build(settings, clock.clone()).await.expect("a running service");
        let url = format!("http://{}", application.address());
        let stop = application.handle();
        tokio::spawn(application.run_until_stopped());
        let services = Services::new(store.store.clone(), clock.clone());
        // The server closes what is idle for five seconds.
        let client = reqwest::Client::builder().pool_idle_timeout(std::time::Duration::from_secs(2)).build();
        let client = client.expect("a client");
        let mut server = Self { clock, services, url, client, tokens: Vec::new(), stop, store };
        for role in Role::ALL {
            let token = server.token("Harbour", *role).await;
            server.tokens.push((*role, token));
        }
        server
    }

    /// A token of a workshop, which is made when there is none of that name.
    ///
    /// # Panics
    /// When the store refuses.
    pub async fn token(&self, workshop: &str, role: Role) -> String {
        let name = WorkshopName::new(workshop).expect("a name");
        let workshop_id = tokens::workshop_named(&self.services, name).await.expect("a workshop");
        let program = Actor::program(workshop_id);
        let label = Label::new(role.as_str()).expect("a label");
        let made = self
            .services
            .change(&program, async |work| tokens::create(&self.services, work, role, label).await)
            .await;
        let (_, secret) = made.expect("a token");
        secret.reveal()
    }

    /// Goes on in another workshop: from now on its tokens are those of [`Self::token_of`].
    ///
    /// # Panics
    /// When the store refuses.
    pub async fn move_to(&mut self, workshop: &str) {
        let mut tokens = Vec::new();
        for role in Role::ALL {
            tokens.push((*role, self.token(workshop, *role).await));
        }
        self.tokens = tokens;
    }

    /// A second service on the same store, as if another process ran it; its address.
    ///
    /// # Panics
    /// When it doesn't start.
    pub async fn beside(&self) -> String {
        let settings = SettingsArgs {
            database_url: Some(self.store.url.clone()),
            listen: Some("127.0.0.1:0".into()),
            connections: Some(4),
            threads: Some(1),
            stop_seconds: Some(1),
            ..SettingsArgs::default()
        };
        let settings = settings.check().expect("legal settings");
        let application = Application::build(settings, self.clock.clone()).await.expect("a running service");
        let url = format!("http://{}", application.address());
        tokio::spawn(application.run_until_stopped());
        url
    }

    /// Address of the store.
    #[must_use]
    pub fn database_url(&self) -> &str {
        &self.store.url
    }

    /// The token of a role in the workshop `Harbour`.
    ///
    /// # Panics
    /// Never: there is one of each.
    #[must_use]
    pub fn token_of(&self, role: Role) -> &str {
        let found = self.tokens.iter().find(|(held, _)| *held == role);
        found.map(|(_, token)| token.as_str()).expect("a token of each role")
    }

    /// Where it listens, `http://127.0.0.1:PORT`.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// A request without a token, for numbers that can be compared.
    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        self.request_of_people(method, path).header("Prefer", "numbers=exact")
    }

    /// A request without a token, for numbers as people read them.
    pub fn request_of_people(&self, method: Method, path: &str) -> RequestBuilder {
        self.client.request(method, format!("{}{path}", self.url))
    }

    /// Sends a request as it is.
    ///
    /// # Panics
    /// When nothing comes back.
    pub async fn send(&self, request: RequestBuilder) -> Answer {
        let response = request.send().await.expect("an answer");
        let (status, headers) = (response.status(), response.headers().clone());
        let body = response.bytes().await.expect("a body");
        let body = serde_json::from_slice(&body).unwrap_or(Value::Null);
        Answer { status, headers, body }
    }

    /// Gets as the manager.
    pub async fn get(&self, path: &str) -> Answer {
        self.send(self.request(Method::GET, path).bearer_auth(self.token_of(Role::Manager))).await
    }

    /// Posts as the manager.
    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        let request = self.request(Method::POST, path).bearer_auth(self.token_of(Role::Manager));
        self.send(request.json(body)).await
    }

    /// Posts a body as it is, as the manager.
    pub async fn post_text(&self, path: &str, body: impl Into<reqwest::Body>) -> Answer {
        let request = self.request(Method::POST, path).bearer_auth(self.token_of(Role::Manager));
        self.send(request.header("content-type", "application/json").body(body)).await
    }

    /// Enters an 8-speed town bike whose parts were fitted on 2026-01-01; its id.
    pub async fn bike(&self, label: &str) -> String {
        self.post("/v1/bikes", &bike(label)).await.expect(201).id()
    }

    /// Until neither the server's own worker nor this one has anything left to do: every outlook is of the present, and no
    /// job is due or held.
    ///
    /// # Panics
    /// When the store refuses, or when work is left after five minutes.
    pub async fn settle(&self) {
        self.settle_within(PATIENCE).await;
    }

    /// The same for what may take longer.
    ///
    /// # Panics
    /// When the store refuses, or when work is left after that time.
    pub async fn settle_within(&self, patience: std::time::Duration) {
        let services = &self.services;
        let began = std::time::Instant::now();
        loop {
            let bikes = worker::drain(services).await.expect("outlooks");
            let jobs = jobs::drain(services).await.expect("jobs");
            let left = health::backlog(services).await.expect("a count");
            if bikes + jobs == 0 && left.bikes + left.jobs + left.begun == 0 {
                return;
            }
            assert!(began.elapsed() < patience, "still at work: {left:?}");
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        }
    }

    /// Two bikes of one label, as a store from earlier may have them; their ids.
    ///
    /// # Panics
    /// When the store refuses.
    pub async fn twins(&self, label: &str) -> [String; 2] {
        let ids = [self.bike(label).await, self.bike(&format!("{label} too")).await];
        let renamed = format!(
            "update bikes set label = '{label}', label_key = '{label}', label_held = null where label = '{label} too'"
        );
        match self.services.store.engine() {
            Engine::Postgres => {
                let mut connection = PgConnection::connect(self.database_url()).await.expect("connects");
                let sql = format!("select set_config('wear.scope', 'all', false); {renamed}");
                connection.execute(AssertSqlSafe(sql)).await.expect("renames");
            }
            Engine::Sqlite => {
                let mut connection = SqliteConnection::connect(self.database_url()).await.expect("connects");
                connection.execute(AssertSqlSafe(renamed)).await.expect("renames");
            }
        }
        ids
    }

    /// Moves the service's clock.
    pub fn wait(&self, time: Duration) {
        self.clock.advance(time);
    }

    /// The present of the service's clock.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }
}

impl TestServer {
    /// Stops answering, as a phone in a cellar sees it.
    pub async fn stop(&self) {
        self.stop.stop(false).await;
    }
}

impl Drop for TestServer {
    fn drop(&mut self) {
        // The handle sends the word at once; nobody has to wait for the end.
        drop(self.stop.stop(false));
    }
}

/// The body that enters an 8-speed town bike whose parts were fitted on 2026-01-01.
#[must_use]
pub fn bike(label: &str) -> Value {
    json!({
        "label": label, "group": "town-8s", "use": "town", "fitted_on": "2026-01-01",
        "drivetrain": {"rings": [42], "cogs": [11, 13, 15, 17, 20, 23, 26, 30], "links": 114, "limit_percent": 0.75}
    })
}
