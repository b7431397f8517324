//! A browser that tests steer: Chromium through its driver, over the W3C's WebDriver protocol.
//!
//! The protocol is plain JSON over HTTP, and the few commands used here are fewer lines than the reasons that the
//! crates for it would need: one brings a licence that nothing else here has and ten second versions, the other changes
//! the order of fields in every JSON object of the workspace.

use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tempfile::TempDir;
use wear_api::domain::Role;
use wear_tests::TestServer;

/// The key under which the protocol hands out elements.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// How long a test waits for the page.
const PATIENCE: Duration = Duration::from_secs(20);

/// What a browser starts with.
#[derive(Clone, Copy)]
pub struct Start {
    /// Whether pages may run scripts.
    pub scripts: bool,
    /// Width and height of the window.
    pub size: (u32, u32),
}

/// A desk's screen.
pub const DESK: Start = Start { scripts: true, size: (1280, 900) };

/// A phone's screen.
pub const PHONE: Start = Start { scripts: true, size: (390, 844) };

/// A phone that runs no scripts.
pub const PLAIN: Start = Start { scripts: false, size: (390, 844) };

/// A browser.
pub struct Browser {
    driver: Child,
    session: String,
    client: reqwest::Client,
    /// Where the pages are.
    pub site: String,
    taps: std::cell::Cell<u32>,
    _profile: TempDir,
}

impl Browser {
    /// Starts one for the pages at `site`.
    pub async fn start(site: &str, start: Start) -> Self {
        let mut driver = Command::new("chromedriver")
            .args(["--port=0"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is installed; tests/run does that");
        let mut lines = BufReader::new(driver.stdout.take().expect("its words")).lines();
        let port = lines.by_ref().map_while(Result::ok).find_map(|line| {
            let (_, rest) = line.split_once("successfully on port ")?;
            rest.trim_end_matches('.').parse::<u16>().ok()
        });
        let port = port.expect("chromedriver names its port");
        std::thread::spawn(move || lines.for_each(drop));
        let profile = tempfile::tempdir().expect("a folder");
        let args = [
            "--headless".to_owned(),
            "--no-sandbox".to_owned(),
            "--disable-gpu".to_owned(),
            "--disable-quic".to_owned(),
            "--no-first-run".to_owned(),
            "--disable-background-networking".to_owned(),
            "--disable-component-update".to_owned(),
            "--disable-sync".to_owned(),
            "--disable-dev-shm-usage".to_owned(),
            format!("--user-data-dir={}", profile.path().display()),
            format!("--window-size={},{}", start.size.0, start.size.1),
        ];
        let scripts = if start.scripts { 1 } else { 2 };
        let options = json!({
            "args": args,
            "prefs": {"profile.managed_default_content_settings.javascript": scripts},
        });
        let capabilities = json!({"capabilities": {"alwaysMatch": {"goog:chromeOptions": options}}});
        let client = reqwest::Client::new();
        let base = format!("http://127.0.0.1:{port}/session");
        let made: Value = client
            .post(&base)
            .json(&capabilities)
            .send()
            .await
            .expect("a session")
            .json()
            .await
            .expect("JSON");
        let id = made["value"]["sessionId"].as_str().unwrap_or_else(|| panic!("no session: {made}"));
        let browser = Self {
            driver,
            session: format!("{base}/{id}"),
            client,
            site: site.to_owned(),
            taps: std::cell::Cell::new(0),
            _profile: profile,
        };
        if start.size.0 < 500 {
            browser.device(start.size).await;
        }
        browser
    }

    /// Starts one in which someone of the workshop `Harbour` has signed in.
    pub async fn signed_in(server: &TestServer, start: Start, role: Role) -> Self {
        let browser = Self::start(server.url(), start).await;
        browser.sign_in(server.token_of(role)).await;
        browser
    }

    async fn command(&self, path: &str, body: Value) -> Result<Value, Value> {
        let sent = self.client.post(format!("{}/{path}", self.session)).json(&body).send();
        let answer: Value = sent.await.expect("an answer").json().await.expect("JSON");
        let value = answer["value"].clone();
        if value.get("error").is_some() { Err(value) } else { Ok(value) }
    }

    async fn ask(&self, path: &str) -> Value {
        let sent = self.client.get(format!("{}/{path}", self.session)).send();
        let answer: Value = sent.await.expect("an answer").json().await.expect("JSON");
        answer["value"].clone()
    }

    /// A command of the browser's own protocol.
    pub async fn own(&self, command: &str, params: Value) -> Value {
        let body = json!({"cmd": command, "params": params});
        self.command("goog/cdp/execute", body).await.unwrap_or_else(|error| panic!("{command}: {error}"))
    }

    /// Looks like a phone's screen of that size.
    pub async fn device(&self, (width, height): (u32, u32)) {
        let params = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": true});
        self.own("Emulation.setDeviceMetricsOverride", params).await;
    }

    /// Shows pages as for this colour scheme or for paper.
    pub async fn media(&self, media: &str, scheme: &str) {
        let features = json!([{"name": "prefers-color-scheme", "value": scheme}]);
        self.own("Emulation.setEmulatedMedia", json!({"media": media, "features": features})).await;
    }

    /// Cuts the connection, or mends it.
    pub async fn offline(&self, offline: bool) {
        self.own("Network.enable", json!({})).await;
        let params =
            json!({"offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1});
        self.own("Network.emulateNetworkConditions", params).await;
    }

    /// Opens a page.
    pub async fn open(&self, path: &str) {
        let url = format!("{}{path}", self.site);
        self.command("url", json!({"url": url})).await.unwrap_or_else(|error| panic!("{path}: {error}"));
    }

    /// Path and query of the page that is open.
    pub async fn path(&self) -> String {
        let url = self.ask("url").await;
        url.as_str().unwrap_or_default().trim_start_matches(&self.site).to_owned()
    }

    /// Waits until the open page's path is as wanted.
    pub async fn arrives(&self, wanted: impl Fn(&str) -> bool) -> String {
        let began = Instant::now();
        loop {
            let path = self.path().await;
            if wanted(&path) {
                return path;
            }
            assert!(began.elapsed() < PATIENCE, "still at {path}: {}", self.text("main").await);
            tokio::time::sleep(Duration::from_millis(40)).await;
        }
    }

    async fn find(&self, css: &str) -> Option<String> {
        let found = self.command("element", json!({"using": "css selector", "value": css})).await.ok()?;
        found[ELEMENT].as_str().map(str::to_owned)
    }

    async fn element(&self, css: &str) -> String {
        let began = Instant::now();
        loop {
            if let Some(element) = self.find(css).await {
                return element;
            }
            let path = self.path().await;
            assert!(began.elapsed() < PATIENCE, "no {css} at {path}");
            tokio::time::sleep(Duration::from_millis(40)).await;
        }
    }

    /// Whether something is on the page.
    pub async fn has(&self, css: &str) -> bool {
        self.find(css).await.is_some()
    }

    /// Waits until something is on the page.
    pub async fn sees(&self, css: &str) {
        let _element = self.element(css).await;
    }

    /// Taps something; counted.
    pub async fn tap(&self, css: &str) {
        let element = self.element(css).await;
        self.taps.set(self.taps.get() + 1);
        let began = Instant::now();
        while let Err(error) = self.command(&format!("element/{element}/click"), json!({})).await {
            assert!(began.elapsed() < PATIENCE, "{css}: {error}");
            tokio::time::sleep(Duration::from_millis(40)).await;
        }
    }

    /// Waits until an element holds this text, and taps it.
    pub async fn tap_text(&self, css: &str, text: &str) {
        let began = Instant::now();
        while began.elapsed() < PATIENCE {
            let found = self.command("elements", json!({"using": "css selector", "value": css})).await;
            let found = found.unwrap_or_default();
            for element in found.as_array().map(Vec::as_slice).unwrap_or_default() {
                let id = element[ELEMENT].as_str().unwrap_or_default();
                if self.ask(&format!("element/{id}/text")).await == json!(text) {
                    // A page that is about to go takes its elements with it.
                    if self.command(&format!("element/{id}/click"), json!({})).await.is_ok() {
                        self.taps.set(self.taps.get() + 1);
                        return;
                    }
                }
            }
            tokio::time::sleep(Duration::from_millis(40)).await;
        }
        panic!("no {css} says {text}");
    }

    /// Taps since the last time it was asked.
    pub fn taps(&self) -> u32 {
        self.taps.replace(0)
    }

    /// Types into a field, in place of what stands there.
    pub async fn type_into(&self, css: &str, text: &str) {
        let element = self.element(css).await;
        // Fields of dates and times take keys in the order of the browser's own language; they are set instead.
        let kind = self.ask(&format!("element/{element}/property/type")).await;
        if matches!(kind.as_str(), Some("date" | "datetime-local")) {
            let script = "arguments[0].value = arguments[1];";
            let args = json!([{ELEMENT: element}, text]);
            self.command("execute/sync", json!({"script": script, "args": args})).await.expect("set");
            return;
        }
        let _cleared = self.command(&format!("element/{element}/clear"), json!({})).await;
        let typed = self.command(&format!("element/{element}/value"), json!({"text": text})).await;
        typed.unwrap_or_else(|error| panic!("{css}: {error}"));
    }

    /// Chooses a file of this machine.
    pub async fn attach(&self, css: &str, path: &str) {
        let element = self.element(css).await;
        let chosen = self.command(&format!("element/{element}/value"), json!({"text": path})).await;
        chosen.unwrap_or_else(|error| panic!("{css}: {error}"));
    }

    /// Chooses an option by its value.
    pub async fn choose(&self, css: &str, value: &str) {
        self.tap(&format!("{css} option[value=\"{value}\"]")).await;
    }

    /// Presses keys where the focus is.
    pub async fn keys(&self, keys: &[&str]) {
        for key in keys {
            let code = match *key {
                "Tab" => "\u{e004}",
                "Enter" => "\u{e007}",
                "Space" => " ",
                other => other,
            };
            let actions = json!({"actions": [{"type": "key", "id": "keyboard", "actions": [
                {"type": "keyDown", "value": code}, {"type": "keyUp", "value": code}]}]});
            self.command("actions", actions).await.unwrap_or_else(|error| panic!("{key}: {error}"));
        }
    }

    /// Text of the focused element, or its label.
    pub async fn focused(&self) -> String {
        let script = "const e = document.activeElement; return e === document.body ? '' : e.getAttribute('aria-label') || e.innerText || e.name || e.tagName;";
        self.run(script).await.as_str().unwrap_or_default().trim().replace('\u{a0}', " ")
    }

    /// Text of an element.
    pub async fn text(&self, css: &str) -> String {
        match self.find(css).await {
            Some(element) => {
                self.ask(&format!("element/{element}/text")).await.as_str().unwrap_or_default().to_owned()
            }
            None => String::new(),
        }
    }

    /// A field's value.
    pub async fn value(&self, css: &str) -> String {
        let element = self.element(css).await;
        let value = self.ask(&format!("element/{element}/property/value")).await;
        value.as_str().unwrap_or_default().to_owned()
    }

    /// Waits until an element's text holds this.
    pub async fn says(&self, css: &str, text: &str) {
        let began = Instant::now();
        loop {
            let now = self.text(css).await;
            if now.contains(text) {
                return;
            }
            assert!(began.elapsed() < PATIENCE, "{css} says {now:?}, not {text:?}");
            tokio::time::sleep(Duration::from_millis(40)).await;
        }
    }

    /// Runs a script in the page and returns what it returns.
    pub async fn run(&self, script: &str) -> Value {
        let body = json!({"script": script, "args": []});
        self.command("execute/sync", body).await.unwrap_or_else(|error| panic!("{error}"))
    }

    /// Runs a script that calls its last argument when it is done.
    pub async fn run_async(&self, script: &str) -> Value {
        let body = json!({"script": script, "args": []});
        self.command("execute/async", body).await.unwrap_or_else(|error| panic!("{error}"))
    }

    /// Signs in with a token and comes to the fleet.
    pub async fn sign_in(&self, token: &str) {
        self.open("/sign-in").await;
        self.type_into("#token", token).await;
        self.tap("form.narrow button").await;
        self.arrives(|path| path == "/fleet").await;
        self.taps();
    }
}

impl Browser {
    /// Without the runtime, which may be ending too.
    fn delete_session(&self) -> std::io::Result<()> {
        let Some((host, path)) = self.session.strip_prefix("http://").and_then(|rest| rest.split_once('/'))
        else {
            return Ok(());
        };
        let mut connection = std::net::TcpStream::connect(host)?;
        connection.set_read_timeout(Some(PATIENCE))?;
        write!(connection, "DELETE /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")?;
        let mut status = String::new();
        let _length = BufReader::new(connection).read_line(&mut status)?;
        Ok(())
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The driver ends its browser when the session is deleted, and leaves it behind when it is ended itself.
        if let Err(error) = self.delete_session() {
            eprintln!("the browser's session is not deleted: {error}");
        }
        let pid = self.driver.id().to_string();
        let _asked = Command::new("kill").args(["-TERM", &pid]).status();
        let _reaped = self.driver.wait();
    }
}
