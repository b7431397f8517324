//! A Postgres server of the tests' own: from the system's server binaries, on a unix socket, without fsync.
//!
//! Every test process uses the same server. The first one starts it; a watching shell stops it once no test
//! process has been alive for half a minute. A template database is migrated once, and each test gets a
//! copy of it. As root the server runs as `postgres` (or `nobody`), as it must not run as root.

use std::fs::{self, File, OpenOptions};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::net::UnixStream;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};
use uuid::Uuid;
use wear_api::store::Store;

/// The server's superuser, whom row-level security doesn't bind.
pub const SUPERUSER: &str = "postgres";

/// The role that the tests and the program run as.
const ROLE: &str = "wear";

const SOCKET: &str = ".s.PGSQL.5432";

/// A shell in the background that stops the server after six looks in a row, five seconds apart, at which no
/// test process lived. It holds the lock while it looks and stops, so that no test process finds a server
/// about to go.
const WATCH: &str = r#"(
idle=0
while sleep 5; do
    [ -S "$1/run/$2" ] || exit 0
    exec 8<"$1/lock"
    flock 8
    if flock -n "$1/users" true; then idle=$((idle + 1)); else idle=0; fi
    if [ "$idle" -ge 6 ]; then
        "$3/pg_ctl" stop -D "$1/data" -m immediate
        rm -rf "$1"/data/*
        exit 0
    fi
    exec 8<&-
done
) &"#;

/// A copy of the template, dropped with this value.
pub struct Database {
    server: &'static Server,
    name: String,
}

impl Database {
    /// Makes a copy; starts the server when it isn't up. Blocks.
    pub fn create() -> Self {
        let server = server();
        let name = format!("test_{}", Uuid::now_v7().simple());
        server.execute(ROLE, &[format!("create database {name} template {}", server.template)]);
        Self { server, name }
    }

    /// Its address, for the role that row-level security binds.
    pub fn url(&self) -> String {
        self.server.url(ROLE, &self.name)
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        let (server, name) = (self.server, self.name.clone());
        // On a thread of its own: there may be a runtime on this one, and blocking inside one panics.
        let dropped = std::thread::spawn(move || {
            server.execute(ROLE, &[format!("drop database {name} with (force)")]);
        });
        if dropped.join().is_err() {
            eprintln!("database {} is left behind", self.name);
        }
    }
}

struct Server {
    base: PathBuf,
    template: String,
    /// Locked for as long as this process lives: the watcher sees that someone is there.
    _user: File,
}

fn server() -> &'static Server {
    static SERVER: OnceLock<Server> = OnceLock::new();
    SERVER.get_or_init(Server::join)
}

impl Server {
    fn join() -> Self {
        let workspace = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace's folder");
        let uid = fs::metadata("/proc/self").expect("this process").uid();
        let base = std::env::temp_dir().join(format!("wear-tests-{uid}-{:08x}", hash(&workspace) as u32));
        fs::create_dir_all(&base).expect("a folder for the server");
        let owner = fs::metadata(&base).expect("the folder is there").uid();
        assert_eq!(owner, uid, "{} is someone else's", base.display());
        let lock = open(&base.join("lock"));
        lock.lock().expect("takes the lock");
        let user = open(&base.join("users"));
        user.lock_shared().expect("shows that it is there");
        let binaries = binaries();
        if UnixStream::connect(base.join("run").join(SOCKET)).is_err() {
            start(&base, &binaries, uid);
        }
        let migrations = workspace.join("migrations/postgres");
        let server =
            Self { template: format!("template_{:016x}", hash_folder(&migrations)), base, _user: user };
        server.prepare_template();
        lock.unlock().expect("gives the lock back");
        server
    }

    fn url(&self, role: &str, database: &str) -> String {
        format!("postgres://{role}@localhost/{database}?host={}", self.base.join("run").display())
    }

    fn prepare_template(&self) {
        let (template, admin) = (&self.template, self.url(SUPERUSER, "postgres"));
        let draft = format!("draft_{template}");
        block_on(async {
            let mut connection = PgConnection::connect(&admin).await.expect("the server answers");
            let made: bool = sqlx::query_scalar("select exists (select from pg_database where datname = $1)")
                .bind(template)
                .fetch_one(&mut connection)
                .await
                .expect("databases can be listed");
            if made {
                return;
            }
            // An order of letters that isn't that of bytes: nothing may rest on the server's locale.
            let statements = [
                format!("drop database if exists {draft} with (force)"),
                format!(
                    "do $$ begin if not exists (select from pg_roles where rolname = '{ROLE}') then
                        create role {ROLE} login createdb; end if; end $$"
                ),
                format!(
                    "create database {draft} owner {ROLE} template template0 encoding 'UTF8'
                        locale 'C.UTF-8' locale_provider icu icu_locale 'en'"
                ),
            ];
            for statement in statements {
                connection.execute(AssertSqlSafe(statement)).await.expect("the template's database is made");
            }
            let store = Store::connect(&self.url(ROLE, &draft), 1).await.expect("connects to the template");
            store.migrate().await.expect("makes the tables");
            store.close().await;
            let rename = format!("alter database {draft} rename to {template}");
            connection.execute(AssertSqlSafe(rename)).await.expect("the template gets its name");
        });
    }

    fn execute(&self, role: &str, statements: &[String]) {
        block_on(async {
            let url = self.url(role, "postgres");
            let mut connection = PgConnection::connect(&url).await.expect("the server answers");
            for statement in statements {
                connection.execute(AssertSqlSafe(statement.as_str())).await.expect(statement);
            }
        });
    }
}

fn block_on<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime").block_on(work)
}

fn open(path: &Path) -> File {
    OpenOptions::new().create(true).truncate(false).write(true).open(path).expect("a file to lock")
}

fn hash(value: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    value.hash(&mut hasher);
    hasher.finish()
}

fn hash_folder(folder: &Path) -> u64 {
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder).expect("migrations").map(|entry| entry.expect("a migration").path()).collect();
    files.sort();
    hash(&files.into_iter().map(|file| fs::read(file).expect("a migration's text")).collect::<Vec<_>>())
}

/// The newest server that is installed.
fn binaries() -> PathBuf {
    let installed = fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let on_path = std::env::var_os("PATH").unwrap_or_default();
    installed
        .filter_map(|entry| {
            Some((entry.file_name().to_str()?.parse::<u32>().ok()?, entry.path().join("bin")))
        })
        .filter(|(_, folder)| folder.join("initdb").exists())
        .max()
        .map(|(_, folder)| folder)
        .or_else(|| std::env::split_paths(&on_path).find(|folder| folder.join("initdb").exists()))
        .expect("Postgres server binaries; tests/run installs them")
}

/// Ids of the user and group that the server runs as, where that isn't us.
fn server_user(uid: u32) -> Option<(u32, u32)> {
    if uid != 0 {
        return None;
    }
    let users = fs::read_to_string("/etc/passwd").expect("the list of users");
    let find = |name: &str| {
        let fields: Vec<&str> =
            users.lines().find(|line| line.split(':').next() == Some(name))?.split(':').collect();
        Some((fields.get(2)?.parse().ok()?, fields.get(3)?.parse().ok()?))
    };
    Some(find("postgres").or_else(|| find("nobody")).expect("a user who isn't root"))
}

fn start(base: &Path, binaries: &Path, uid: u32) {
    let user = server_user(uid);
    for name in ["data", "run"] {
        let folder = base.join(name);
        if folder.exists() {
            fs::remove_dir_all(&folder).expect("an earlier server's folder goes");
        }
        fs::create_dir(&folder).expect("a folder of the server's own");
        if let Some((uid, gid)) = user {
            chown(&folder, Some(uid), Some(gid)).expect("the server owns its folder");
        }
    }
    let command = |program: &Path| {
        let mut command = Command::new(program);
        command.current_dir("/").stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        if let Some((uid, gid)) = user {
            command.uid(uid).gid(gid);
        }
        command
    };
    let made = command(&binaries.join("initdb"))
        .args(["--auth=trust", "--no-sync", "--encoding=UTF8", "--locale=C.UTF-8"])
        .args(["--username", SUPERUSER, "--pgdata"])
        .arg(base.join("data"))
        .status()
        .expect("initdb runs");
    assert!(made.success(), "initdb: {made}");
    let settings = format!(
        "-k {} -c listen_addresses='' -c fsync=off -c synchronous_commit=off -c full_page_writes=off \
         -c max_connections=400 -c shared_buffers=128MB",
        base.join("run").display()
    );
    let started = command(&binaries.join("pg_ctl"))
        .args(["start", "--wait", "--timeout=60", "--pgdata"])
        .arg(base.join("data"))
        .arg("--log")
        .arg(base.join("data/log"))
        .args(["--options", &settings])
        .status()
        .expect("pg_ctl runs");
    assert!(started.success(), "pg_ctl start: {started}; see {}", base.join("data/log").display());
    let watched = command(Path::new("/bin/sh"))
        .args(["-c", WATCH, "watch"])
        .arg(base)
        .arg(SOCKET)
        .arg(binaries)
        .process_group(0)
        .status()
        .expect("the watcher runs");
    assert!(watched.success(), "the watcher: {watched}");
}

/// A Postgres of one test's own that speaks TLS on this machine, with a certificate that its own authority signed.
pub struct TlsServer {
    folder: tempfile::TempDir,
    port: u16,
    binaries: PathBuf,
}

impl TlsServer {
    /// Starts it. Blocks.
    ///
    /// # Panics
    /// When it doesn't start.
    #[must_use]
    pub fn start() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let owned = |path: &Path, mode: u32| {
            let mode = std::os::unix::fs::PermissionsExt::from_mode(mode);
            fs::set_permissions(path, mode).expect("rights");
            let uid = fs::metadata("/proc/self").expect("this process").uid();
            if let Some((uid, gid)) = server_user(uid) {
                chown(path, Some(uid), Some(gid)).expect("the server owns it");
            }
        };
        owned(folder.path(), 0o755);
        let [root, certificate, key] = certificates();
        for (name, text, mode) in
            [("root.pem", root, 0o644), ("server.pem", certificate, 0o644), ("key.pem", key, 0o600)]
        {
            let path = folder.path().join(name);
            fs::write(&path, text).expect("written");
            owned(&path, mode);
        }
        let port = std::net::TcpListener::bind("127.0.0.1:0").and_then(|it| it.local_addr());
        let server = Self { binaries: binaries(), folder, port: port.expect("a port").port() };
        let made = server
            .command("initdb")
            .args(["--auth=trust", "--no-sync", "--encoding=UTF8", "--locale=C.UTF-8"])
            .args(["--username", SUPERUSER])
            .status()
            .expect("initdb runs");
        assert!(made.success(), "initdb: {made}");
        let (path, port) = (server.folder.path().display(), server.port);
        let settings = format!(
            "-k {path} -p {port} -c listen_addresses=localhost -c fsync=off -c ssl=on \
             -c ssl_cert_file={path}/server.pem -c ssl_key_file={path}/key.pem"
        );
        let started = server
            .command("pg_ctl")
            .args(["start", "--wait", "--timeout=60", "--options", &settings, "--log"])
            .arg(server.folder.path().join("data/log"))
            .status()
            .expect("pg_ctl runs");
        assert!(started.success(), "pg_ctl start: {started}");
        server
    }

    fn command(&self, program: &str) -> Command {
        let uid = fs::metadata("/proc/self").expect("this process").uid();
        let mut command = Command::new(self.binaries.join(program));
        command.current_dir("/").stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        command.arg("--pgdata").arg(self.folder.path().join("data"));
        if let Some((uid, gid)) = server_user(uid) {
            command.uid(uid).gid(gid);
        }
        command
    }

    /// Its address by name, with what is to be added behind the `?`.
    #[must_use]
    pub fn url(&self, more: &str) -> String {
        format!("postgres://{SUPERUSER}@localhost:{}/postgres?{more}", self.port)
    }

    /// Where the certificate of its authority is.
    #[must_use]
    pub fn root(&self) -> PathBuf {
        self.folder.path().join("root.pem")
    }
}

impl Drop for TlsServer {
    fn drop(&mut self) {
        // The folder goes whether or not it stops.
        let _stopped = self.command("pg_ctl").args(["stop", "--mode=immediate"]).status();
    }
}

/// An authority's certificate, one that it signed for `localhost`, and the key of the second.
fn certificates() -> [String; 3] {
    let authority_key = rcgen::KeyPair::generate().expect("a key");
    let mut authority = rcgen::CertificateParams::new(Vec::new()).expect("parameters");
    authority.is_ca = rcgen::IsCa::Ca(rcgen::BasicConstraints::Unconstrained);
    let root = authority.self_signed(&authority_key).expect("an authority");
    let issuer = rcgen::Issuer::new(authority, authority_key);
    let key = rcgen::KeyPair::generate().expect("a key");
    let named = rcgen::CertificateParams::new(vec!["localhost".to_owned()]).expect("parameters");
    let certificate = named.signed_by(&key, &issuer).expect("a certificate");
    [root.pem(), certificate.pem(), key.serialize_pem()]
}
