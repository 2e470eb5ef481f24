//! A store of its own for each story.

use super::{Ran, Schema, Server, program, ran};
use serde_json::Value;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;

/// A folder with a store, gone when the story ends.
pub struct Ledger {
    folder: TempDir,
}

impl Ledger {
    /// No store yet: the first site makes it.
    ///
    /// # Panics
    /// When the system has no room for a folder.
    #[must_use]
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("there is a temporary folder"),
        }
    }

    /// A store with one site in EPSG:25830.
    #[must_use]
    pub fn with_site(slug: &str) -> Self {
        let ledger = Self::new();
        ledger.add_site(slug, "EPSG:25830", &[]);
        ledger
    }

    /// The demonstration's store, grouped, as `stridebed demo` makes it; made once, then copied.
    ///
    /// # Panics
    /// When the demonstration fails.
    #[must_use]
    pub fn demo() -> Self {
        static MADE: OnceLock<Vec<u8>> = OnceLock::new();
        let bytes = MADE.get_or_init(|| {
            let first = Self::new();
            first.run(&["demo", "--no-serve"]).done();
            let log = first.file("stridebed.db-wal");
            assert!(
                !log.exists(),
                "the program ended and left its log: a copy of the store alone would lack changes"
            );
            std::fs::read(first.path()).expect("the demonstration made a store")
        });
        let ledger = Self::new();
        std::fs::write(ledger.path(), bytes).expect("the folder can be written");
        ledger
    }

    /// The store's file.
    #[must_use]
    pub fn path(&self) -> PathBuf {
        self.file("stridebed.db")
    }

    /// A file beside the store.
    #[must_use]
    pub fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a file beside the store.
    ///
    /// # Panics
    /// When it cannot be written.
    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.file(name);
        std::fs::write(&path, content).expect("the folder can be written");
        path
    }

    /// The program on this store, not yet started.
    #[must_use]
    pub fn command(&self, arguments: &[&str]) -> Command {
        self.command_on(self.path(), arguments)
    }

    /// The program in this folder on another store, not yet started.
    #[must_use]
    pub fn command_on(&self, store: impl AsRef<OsStr>, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command
            .current_dir(self.folder.path())
            .env("STRIDEBED_STORE", store)
            .env("STRIDEBED_BY", "an invented party")
            .args(arguments);
        command
    }

    /// Runs the program on this store to its end.
    pub fn run(&self, arguments: &[&str]) -> Ran {
        ran(&mut self.command(arguments))
    }

    /// Runs a query that answers as JSON.
    pub fn query(&self, id: &str, inputs: &[&str]) -> Ran {
        self.run(&[&["query", id], inputs, &["--json"]].concat())
    }

    /// What a query answers; it is GeoJSON as its schema has it.
    ///
    /// # Panics
    /// When it does not, or answers anything else.
    #[must_use]
    pub fn ask(&self, id: &str, inputs: &[&str]) -> Value {
        let answer = self.query(id, inputs).done().json();
        Schema::geojson().fits(&answer);
        answer
    }

    /// Adds a site.
    pub fn add_site(&self, slug: &str, crs: &str, more: &[&str]) {
        let _ = self
            .run(&[&["site", "add", slug, "--crs", crs], more].concat())
            .done();
    }

    /// Runs `import` on a sheet with this content; the ending of the name tells its format.
    pub fn import(&self, site: &str, name: &str, content: impl AsRef<[u8]>) -> Ran {
        let path = self.write(name, content);
        self.import_file(site, &path)
    }

    /// Runs `import --json` on a file.
    ///
    /// # Panics
    /// When the path is not UTF-8.
    pub fn import_file(&self, site: &str, path: &Path) -> Ran {
        let path = path.to_str().expect("our paths are UTF-8");
        self.run(&["import", site, path, "--json"])
    }

    /// What `export` writes.
    #[must_use]
    pub fn export(&self, site: &str, format: &str) -> String {
        self.run(&["export", site, "--format", format]).done().out
    }

    /// Copies the whole record into an empty database.
    ///
    /// # Panics
    /// When that fails.
    pub fn copy_to(&self, url: &str) {
        let path = self.path();
        let path = path.to_str().expect("our paths are UTF-8");
        self.run(&["store", "copy", path, url]).done();
    }

    /// Starts the program's server on this store.
    #[must_use]
    pub fn serve(&self, arguments: &[&str]) -> Server {
        Server::start(self.command(&[&["serve", "--listen", "127.0.0.1:0"], arguments].concat()))
    }
}

impl Default for Ledger {
    fn default() -> Self {
        Self::new()
    }
}
