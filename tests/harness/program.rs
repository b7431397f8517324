//! The real program, as a process of its own.

use std::io::{BufRead as _, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

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
}

impl Served {
    /// Starts it and waits until it listens.
    ///
    /// # Panics
    /// When it doesn't start.
    #[must_use]
    pub fn start(database_url: &str) -> Self {
        let mut child = program()
            .args([
                "serve",
                "--database-url",
                database_url,
                "--listen",
                "127.0.0.1:0",
                "--log-format",
                "json",
            ])
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut lines = BufReader::new(child.stderr.take().expect("its log")).lines();
        let address = lines.by_ref().map_while(Result::ok).find_map(|line| {
            let (_, rest) = line.split_once("\"address\":\"")?;
            rest.split_once('"').map(|(address, _)| address.to_owned())
        });
        let address = address.expect("the program listens");
        // Its log must not fill the pipe.
        std::thread::spawn(move || lines.for_each(drop));
        Self { url: format!("http://{address}"), child }
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

    /// Asks it to stop; its exit code.
    ///
    /// # Panics
    /// When it has ended before.
    #[must_use]
    pub fn terminate(mut self) -> Option<i32> {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args(["-TERM", &pid]).status().expect("a signal");
        assert!(sent.success());
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
