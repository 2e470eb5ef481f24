//! The CRS database travels inside the program and is unpacked where PROJ can open it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

static DATABASE: &[u8] = include_bytes!(env!("STRIDEBED_PROJ_DB"));

/// The folder that holds `proj.db`, unpacked on first use: the user's cache folder, or where that
/// cannot be written, the system's temporary one.
///
/// # Errors
/// When neither folder can be written.
pub(super) fn folder() -> Result<&'static Path, String> {
    static FOLDER: OnceLock<Result<PathBuf, String>> = OnceLock::new();
    FOLDER.get_or_init(unpack).as_deref().map_err(Clone::clone)
}

/// Whether the database has a CRS with this EPSG code. PROJ itself writes to the standard error
/// output when it is asked for one that it does not have.
pub(super) fn knows(code: u32) -> bool {
    const SQL: &str = "SELECT 1 FROM crs_view WHERE auth_name = 'EPSG' AND code = ?1";
    let Ok(folder) = folder() else { return false };
    rusqlite::Connection::open_with_flags(folder.join("proj.db"), rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY)
        .and_then(|database| database.prepare(SQL)?.exists([code.to_string()]))
        .unwrap_or(false)
}

fn unpack() -> Result<PathBuf, String> {
    let mut tried = String::new();
    for folder in candidates() {
        match unpack_into(&folder) {
            Ok(()) => return Ok(folder),
            Err(error) => tried.push_str(&format!(" {}: {error}.", folder.display())),
        }
    }
    Err(format!("the CRS database cannot be unpacked anywhere.{tried}"))
}

fn candidates() -> impl Iterator<Item = PathBuf> {
    let named = |parent: PathBuf| parent.join("stridebed/proj");
    let cache = std::env::var_os("XDG_CACHE_HOME").map(PathBuf::from);
    let home = std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".cache"));
    cache
        .into_iter()
        .chain(home)
        .chain([std::env::temp_dir()])
        .filter(|p| p.is_absolute())
        .map(named)
}

fn unpack_into(folder: &Path) -> std::io::Result<()> {
    let target = folder.join("proj.db");
    // Compared whole: the file may be of another version of the program, or cut short, or not ours.
    if std::fs::read(&target).is_ok_and(|there| there == DATABASE) {
        return Ok(());
    }
    std::fs::create_dir_all(folder)?;
    // Written beside and renamed, so that another process never opens half a database.
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    file.write_all(DATABASE)?;
    file.persist(&target)?;
    Ok(())
}
