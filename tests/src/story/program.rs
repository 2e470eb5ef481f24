//! The real program as a command.

use serde_json::Value;
use std::ffi::OsStr;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;
use std::thread;
use std::time::Duration;

/// The built program: the one beside the tests, built once where it is missing.
///
/// # Panics
/// When it is not there and cannot be built.
pub fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        let test = std::env::current_exe().expect("a running test has a file");
        // The test is target/PROFILE/deps/STORY-HASH.
        let folder = test
            .parent()
            .and_then(Path::parent)
            .expect("tests stand two folders deep");
        let program = folder.join("stridebed");
        if !program.exists() {
            build(folder);
        }
        assert!(program.exists(), "{} was not built", program.display());
        program
    })
}

fn build(folder: &Path) {
    let mut cargo = Command::new(env!("CARGO"));
    // A profile's folder has its name, but that of `dev`.
    let profile = match folder.file_name().and_then(OsStr::to_str) {
        Some("debug") | None => "dev",
        Some(named) => named,
    };
    cargo.args([
        "build",
        "--quiet",
        "-p",
        "api",
        "--bin",
        "stridebed",
        "--profile",
        profile,
    ]);
    let built = cargo
        .current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
        .status();
    assert!(
        built.expect("cargo starts").success(),
        "the program does not build"
    );
}

/// What a command did.
#[derive(Debug)]
pub struct Ran {
    /// Its exit status; −1 where a signal ended it.
    pub code: i32,
    /// Its standard output.
    pub out: String,
    /// Its standard error output.
    pub err: String,
}

impl Ran {
    /// The standard output as JSON.
    ///
    /// # Panics
    /// When it is not one JSON document.
    #[must_use]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    /// The same, once the command has ended well.
    ///
    /// # Panics
    /// When it has not.
    pub fn done(self) -> Self {
        assert_eq!(self.code, 0, "{self:?}");
        self
    }
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).expect("the program writes UTF-8"),
            err: String::from_utf8(output.stderr).expect("the program writes UTF-8"),
        }
    }
}

/// Runs a command to its end.
///
/// A copy of the program that was just written can be busy for a moment: a process that another test starts
/// meanwhile holds the file open until it becomes what it is to be.
///
/// # Panics
/// When it cannot be started.
pub fn ran(command: &mut Command) -> Ran {
    let mut tries = 0;
    loop {
        match command.output() {
            Ok(output) => return output.into(),
            Err(error) if error.kind() == ErrorKind::ExecutableFileBusy && tries < 200 => {
                tries += 1;
                thread::sleep(Duration::from_millis(20));
            }
            Err(error) => panic!("{command:?} does not start: {error}"),
        }
    }
}

/// Runs one of GDAL's programs, which must end well.
///
/// # Panics
/// When it is missing or fails.
pub fn gdal(program: &str, arguments: &[&str]) -> Ran {
    let mut command = Command::new(program);
    let present = Command::new(program).arg("--version").output();
    assert!(
        present.is_ok(),
        "{program} is missing: install GDAL's programs (Debian: gdal-bin), as `make test` does"
    );
    // Its cache of answers must not outlive a server whose port another one may get.
    ran(command
        .env("CPL_VSIL_CURL_NON_CACHED", "/vsicurl/")
        .args(arguments))
    .done()
}
