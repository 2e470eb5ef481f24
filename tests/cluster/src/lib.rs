//! A PostgreSQL server for tests.
//!
//! Each test process has one of its own, in a temporary folder and on a free port of the loopback address, and each test
//! a database of its own in it. The server is watched by a shell that waits for the end of a pipe which only the test
//! process holds open: however the process ends, in a panic or killed, the pipe closes, and server and folder go.

mod tls;

use anyhow::{Context, bail, ensure};
use postgres::{Client, NoTls};
use std::fs;
use std::io::Write;
use std::net::{Ipv4Addr, TcpListener};
use std::os::unix::fs::chown;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::sleep;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Starts the server, and stops and starts it as it is told; where its own input ends, stops the server and removes the folder.
const WATCH: &str = r#"
start() { "$1/postgres" -D "$2/data" -p "$3" >>"$2/log" 2>&1 & server=$!; }
stop() { kill -QUIT $server 2>/dev/null; wait $server; }
start "$@"
while read -r told; do
  case $told in again) stop; start "$@";; down) stop;; up) start "$@";; esac
done
stop
cd / && rm -rf "$2"
"#;

/// Nothing is kept, so nothing need survive a loss of power.
const SETTINGS: &str = "\
listen_addresses = '127.0.0.1'
unix_socket_directories = ''
fsync = off
full_page_writes = off
wal_level = minimal
max_wal_senders = 0
autovacuum = off
max_connections = 300
shared_buffers = '64MB'
timezone = 'UTC'
log_timezone = 'UTC'
";

/// What a server needs besides whose changes a second one follows.
const FOLLOWED: &str = "\
wal_level = replica
max_wal_senders = 4
wal_keep_size = '64MB'
";

/// Everybody is let in, but for `guarded`, who needs a password.
const LETS_IN: &str = "\
host all guarded 127.0.0.1/32 scram-sha-256
host all all 127.0.0.1/32 trust
host replication all 127.0.0.1/32 trust
";

/// What a cluster and its replica are made with.
const PROGRAMS: [&str; 3] = ["initdb", "postgres", "pg_basebackup"];

/// The user who owns the cluster.
pub const OWNER: &str = "party";
const PATIENCE: Duration = Duration::from_secs(60);

/// A running server.
pub struct Cluster {
    port: u16,
    folder: PathBuf,
    made: AtomicUsize,
    /// Closed with the process, and then the server ends.
    pipe: Option<ChildStdin>,
    watcher: Child,
}

impl Cluster {
    /// The one server of this process, started when it is first asked for.
    ///
    /// # Panics
    /// When PostgreSQL is not installed or does not start.
    #[must_use]
    pub fn shared() -> &'static Self {
        static SHARED: OnceLock<Cluster> = OnceLock::new();
        SHARED.get_or_init(|| Self::start().expect("a PostgreSQL server for tests starts"))
    }

    /// Makes a cluster and starts its server.
    ///
    /// # Errors
    /// When PostgreSQL is not installed or does not start.
    pub fn start() -> anyhow::Result<Self> {
        until_a_port_is_free(|| Self::try_start(""))
    }

    /// Makes a cluster, and a second one that follows its changes as a streaming replica.
    ///
    /// # Errors
    /// As [`Cluster::start`].
    pub fn start_with_replica() -> anyhow::Result<(Self, Self)> {
        let primary = until_a_port_is_free(|| Self::try_start(FOLLOWED))?;
        let replica = until_a_port_is_free(|| primary.try_follow())?;
        Ok((primary, replica))
    }

    fn try_follow(&self) -> anyhow::Result<Option<Self>> {
        let programs = programs()?;
        let user = another_user()?;
        let folder = own_folder(user)?;
        let mut copy = as_user(Command::new(programs.join("pg_basebackup")), user);
        copy.args([
            "-h",
            "127.0.0.1",
            "-U",
            OWNER,
            "-c",
            "fast",
            "-X",
            "stream",
            "-N",
            "-R",
            "-p",
        ]);
        copy.arg(self.port.to_string())
            .arg("-D")
            .arg(folder.path().join("data"));
        let made = copy.current_dir(folder.path()).output()?;
        let told = String::from_utf8_lossy(&made.stderr);
        ensure!(made.status.success(), "pg_basebackup: {told}");
        Self::watched(&programs, &folder.keep(), user)
    }

    fn try_start(more: &str) -> anyhow::Result<Option<Self>> {
        let programs = programs()?;
        let user = another_user()?;
        let folder = own_folder(user)?;
        let data = folder.path().join("data");
        let mut initdb = as_user(Command::new(programs.join("initdb")), user);
        initdb.args(["-U", OWNER, "-E", "UTF8", "--locale=C", "-A", "trust", "-N", "-D"]);
        let made = initdb.arg(&data).current_dir(folder.path()).output()?;
        ensure!(
            made.status.success(),
            "initdb: {}",
            String::from_utf8_lossy(&made.stderr)
        );
        let settings = data.join("postgresql.conf");
        fs::write(&settings, fs::read_to_string(&settings)? + SETTINGS + more)?;
        fs::write(data.join("pg_hba.conf"), LETS_IN)?;
        // From here on the watcher removes it.
        Self::watched(&programs, &folder.keep(), user)
    }

    /// Starts the server under its watcher; `None` where somebody else has taken the port meanwhile.
    fn watched(programs: &Path, folder: &Path, user: Option<[u32; 2]>) -> anyhow::Result<Option<Self>> {
        let port = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?.local_addr()?.port();
        let mut shell = as_user(Command::new("sh"), user);
        shell.args(["-c", WATCH, "watch"]).arg(programs).arg(folder);
        let mut watcher = shell
            .arg(port.to_string())
            .current_dir(folder)
            .stdin(Stdio::piped())
            // A Ctrl-C is for the tests; the watcher must outlive them.
            .process_group(0)
            .spawn()?;
        let pipe = watcher.stdin.take();
        let cluster = Self {
            port,
            folder: folder.to_owned(),
            made: AtomicUsize::new(0),
            pipe,
            watcher,
        };
        Ok(cluster.wait_until_ready()?.then_some(cluster))
    }

    fn wait_until_ready(&self) -> anyhow::Result<bool> {
        let begun = Instant::now();
        loop {
            match Client::connect(&self.url_of("postgres"), NoTls) {
                // Another server may have the port: ours has its data in our folder.
                Ok(mut conn) => {
                    let place: String = conn.query_one("SHOW data_directory", &[])?.get(0);
                    return Ok(Path::new(&place) == self.folder.join("data"));
                }
                Err(error) => {
                    let log = fs::read_to_string(self.folder.join("log")).unwrap_or_default();
                    if log.contains("could not create any TCP/IP sockets") {
                        return Ok(false);
                    }
                    let late = begun.elapsed() > PATIENCE;
                    ensure!(!late, "the server does not answer: {error}; its log: {log}");
                    sleep(Duration::from_millis(20));
                }
            }
        }
    }

    fn url_of(&self, database: &str) -> String {
        format!("postgres://{OWNER}@127.0.0.1:{}/{database}", self.port)
    }

    /// The port that the server listens on.
    #[must_use]
    pub fn port(&self) -> u16 {
        self.port
    }

    /// The folder that holds the cluster.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// A new database without anything in it.
    #[must_use]
    pub fn database(&self) -> Database {
        self.copy_of("template1")
    }

    /// A new database that begins as a copy of another one, to which nobody may be connected.
    ///
    /// # Panics
    /// When it cannot be made.
    #[must_use]
    pub fn copy_of(&self, template: &str) -> Database {
        let name = format!("trial_{}", self.made.fetch_add(1, Ordering::Relaxed));
        self.run(&format!(
            "CREATE DATABASE {name} TEMPLATE {template} STRATEGY file_copy"
        ));
        Database {
            url: self.url_of(&name),
            name,
        }
    }

    /// Runs statements as the owner.
    ///
    /// # Panics
    /// When they fail.
    pub fn run(&self, statements: &str) {
        Client::connect(&self.url_of("postgres"), NoTls)
            .and_then(|mut conn| conn.batch_execute(statements))
            .unwrap_or_else(|error| panic!("{statements}: {error:?}"));
    }

    /// Stops the server at once, as a loss of power would, and starts it again.
    ///
    /// # Panics
    /// When it does not come back.
    pub fn restart(&self) {
        const BEGUN: &str = "SELECT pg_postmaster_start_time()::text";
        let begun = || -> Option<String> {
            let mut conn = Client::connect(&self.url_of("postgres"), NoTls).ok()?;
            Some(conn.query_one(BEGUN, &[]).ok()?.get(0))
        };
        let before = begun().expect("the server runs");
        self.tell("again\n");
        let asked = Instant::now();
        while begun().is_none_or(|begun| begun == before) {
            assert!(asked.elapsed() < PATIENCE, "the server does not come back");
            sleep(Duration::from_millis(20));
        }
    }

    /// Stops the server at once, as a loss of power would, and leaves it so.
    pub fn stop(&self) {
        self.tell("down\n");
        let asked = Instant::now();
        while Client::connect(&self.url_of("postgres"), NoTls).is_ok() {
            assert!(asked.elapsed() < PATIENCE, "the server does not stop");
            sleep(Duration::from_millis(20));
        }
    }

    /// Starts a server that was stopped.
    ///
    /// # Panics
    /// When it does not come back.
    pub fn start_again(&self) {
        self.tell("up\n");
        assert!(self.wait_until_ready().expect("the server comes back"));
    }

    fn tell(&self, what: &str) {
        let mut pipe = self.pipe.as_ref().expect("the pipe is open until the drop");
        pipe.write_all(what.as_bytes()).expect("the watcher listens");
    }

    /// The address of a database of the same name as another cluster's, which this one follows.
    #[must_use]
    pub fn copy_at(&self, followed: &Database) -> Database {
        Database {
            url: self.url_of(&followed.name),
            name: followed.name.clone(),
        }
    }

    /// Ends all connections to a database, as a restart of the server would.
    pub fn cut_off(&self, database: &Database) {
        self.run(&format!(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{}'",
            database.name
        ));
    }

    /// Drops a database and whoever is connected to it.
    pub fn drop(&self, database: &Database) {
        self.run(&format!("DROP DATABASE IF EXISTS {} WITH (FORCE)", database.name));
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        self.pipe.take();
        // It ends by itself; this only waits until all is gone.
        let _ = self.watcher.wait();
    }
}

/// A database of a cluster.
pub struct Database {
    url: String,
    name: String,
}

impl Database {
    /// Its address, as the owner.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A connection as the owner.
    ///
    /// # Panics
    /// When there is none.
    #[must_use]
    pub fn connect(&self) -> Client {
        Client::connect(&self.url, NoTls).expect("the cluster lets its owner in")
    }
}

fn until_a_port_is_free(start: impl Fn() -> anyhow::Result<Option<Cluster>>) -> anyhow::Result<Cluster> {
    for _ in 0..5 {
        if let Some(cluster) = start()? {
            return Ok(cluster);
        }
    }
    bail!("somebody else took each free port that was found")
}

/// A folder for a cluster, of the user that its server runs as.
fn own_folder(user: Option<[u32; 2]>) -> anyhow::Result<TempDir> {
    let folder = tempfile::Builder::new().prefix("cluster-").tempdir()?;
    if let Some([uid, gid]) = user {
        chown(folder.path(), Some(uid), Some(gid))?;
    }
    Ok(folder)
}

/// The folder of the newest PostgreSQL that is installed; Debian keeps the server's programs off the path.
fn programs() -> anyhow::Result<PathBuf> {
    let on_path = std::env::var_os("PATH").unwrap_or_default();
    let installed = fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .flatten();
    let mut versions: Vec<(u32, PathBuf)> = installed
        .filter_map(|version| {
            let number = version.file_name().to_str()?.parse().ok()?;
            Some((number, version.path().join("bin")))
        })
        .collect();
    versions.sort();
    std::env::split_paths(&on_path)
        .chain(versions.into_iter().rev().map(|(_, folder)| folder))
        // Some folders on the path have a few of them only.
        .find(|folder| PROGRAMS.iter().all(|name| folder.join(name).is_file()))
        .context("PostgreSQL's initdb is not installed; `make test` installs it")
}

/// Whom to run the server as, where we are root: PostgreSQL refuses to run as root.
fn another_user() -> anyhow::Result<Option<[u32; 2]>> {
    let id = |arguments: &[&str]| -> Option<u32> {
        let asked = Command::new("id").args(arguments).output().ok()?;
        String::from_utf8(asked.stdout).ok()?.trim().parse().ok()
    };
    if id(&["-u"]).context("`id -u` tells who we are")? != 0 {
        return Ok(None);
    }
    let found = ["postgres", "nobody"]
        .iter()
        .find_map(|name| Some([id(&["-u", name])?, id(&["-g", name])?]));
    found
        .map(Some)
        .context("neither a user postgres nor nobody is there to run the server as")
}

fn as_user(mut command: Command, user: Option<[u32; 2]>) -> Command {
    if let Some([uid, gid]) = user {
        command.uid(uid).gid(gid);
    }
    command
}
