//! Finds the CRS database that the build of PROJ made, so that the program can carry it inside itself.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let out = PathBuf::from(std::env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    // OUT_DIR is <profile>/build/api-<hash>/out. PROJ's own build script has run by now, because
    // this crate depends on `proj-sys` directly; its folder stands beside ours.
    let siblings = out
        .ancestors()
        .nth(2)
        .expect("OUT_DIR lies in cargo's build folder");
    let Some(database) = newest_database(siblings) else {
        panic!(
            "no proj.db below {}: the build of PROJ did not finish. Run `cargo clean -p proj-sys` and build again.",
            siblings.display()
        );
    };
    println!("cargo:rustc-env=STRIDEBED_PROJ_DB={}", database.display());
    println!("cargo:rerun-if-changed={}", database.display());
}

/// After a change of features or toolchain, cargo leaves the older builds in place: the newest is the one in use.
fn newest_database(siblings: &Path) -> Option<PathBuf> {
    let built = |path: &PathBuf| {
        path.metadata()
            .and_then(|m| m.modified())
            .unwrap_or(SystemTime::UNIX_EPOCH)
    };
    std::fs::read_dir(siblings)
        .ok()?
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("proj-sys-"))
        .map(|entry| entry.path().join("out/share/proj/proj.db"))
        .filter(|path| path.is_file())
        .max_by_key(built)
}
