//! The real program, as a process of its own.

use std::io::{BufRead as _, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// The program that `cargo build` made, or the one that `WEAR_API_PROGRAM` names.
///
/// # Panics
/// When there is none: build the workspace's programs first.
#[must_use]
pub fn program() -> Command {
    let beside = || {
        let test = std::env::current_exe().expect("a path");
        test.ancestors().nth(2).map(|folder| folder.join("wear-api"))
    };
    let path = std::env::var_os("WEAR_API_PROGRAM").map(PathBuf::from).or_else(beside).expect("a path");
    assert!(path.exists(), "{} is missing: run `cargo build --bins`", path.display());
    Command::new(path)
}

/// `wear-api serve` on a free port.
pub struct Served {
    /// Its address, `http://127.0.0.1:PORT`.
    pub url: String,
    child: Child,
    log: Arc<Mutex<Vec<String>>>,
}

impl Served {
    /// Starts it and waits until it listens.
    ///
    /// # Panics
    /// When it doesn't start.
    #[must_use]
    pub fn start(database_url: &str) -> Self {
        Self::start_with(database_url, &[])
    }

    /// The same with more arguments.
    ///
    /// # Panics
    /// When it doesn't start.
    #[must_use]
    pub fn start_with(database_url: &str, more: &[&str]) -> Self {
        let usual =
            ["serve", "--database-url", database_url, "--listen", "127.0.0.1:0", "--log-format", "json"];
        let mut child = program()
            .args(usual)
            .args(more)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let log = Arc::new(Mutex::new(Vec::new()));
        let lines = BufReader::new(child.stderr.take().expect("its log")).lines();
        let kept = Arc::clone(&log);
        // Read to the end: its log must not fill the pipe.
        std::thread::spawn(move || {
            lines.map_while(Result::ok).for_each(|line| kept.lock().expect("no panic").push(line));
        });
        let mut served = Self { url: String::new(), child, log };
        let address = served.logged("address").expect("the program listens");
        served.url = format!("http://{address}");
        served
    }

    /// What the program has logged so far.
    ///
    /// # Panics
    /// When the thread that reads it panicked.
    #[must_use]
    pub fn log(&self) -> Vec<String> {
        self.log.lock().expect("no panic").clone()
    }

    /// The text of a field of the log, once a line has it; none when there is none within 30 s.
    #[must_use]
    pub fn logged(&self, field: &str) -> Option<String> {
        let named = format!("\"{field}\":\"");
        for _ in 0..3_000 {
            let found = self.log().iter().find_map(|line| {
                let (_, rest) = line.split_once(&named)?;
                rest.split_once('"').map(|(text, _)| text.to_owned())
            });
            if found.is_some() {
                return found;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        None
    }

    /// Asks it to stop, and doesn't wait.
    ///
    /// # Panics
    /// When it has ended before.
    pub fn ask_to_stop(&self) {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args(["-TERM", &pid]).status().expect("a signal");
        assert!(sent.success());
    }

    /// The process's number.
    #[must_use]
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Ends it as a power cut would.
    ///
    /// # Panics
    /// When it has ended before.
    pub fn kill(mut self) {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it ends");
    }

    /// Waits for its end; its exit code.
    ///
    /// # Panics
    /// When it has ended before.
    #[must_use]
    pub fn ended(mut self) -> Option<i32> {
        self.child.wait().expect("it ends").code()
    }

    /// Asks it to stop; its exit code.
    ///
    /// # Panics
    /// When it has ended before.
    #[must_use]
    pub fn terminate(mut self) -> Option<i32> {
        self.ask_to_stop();
        self.child.wait().expect("it ends").code()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // It may have ended already.
        let _ended = self.child.kill();
        let _reaped = self.child.wait();
    }
}
