//! A copy of a store's file while others write.

use super::SqliteStore;
use super::failure::Doing;
use crate::store::StoreError;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::path::Path;
use std::time::Duration;

const DOING: &str = "making a backup";
/// Pages that are copied between two looks at how far it is.
const PAGES: i32 = 4_096;
/// How long to wait for whoever holds the file.
const PAUSE: Duration = Duration::from_millis(50);

/// Copies the store in a file into a new file, as of one moment, and opens the copy to see that it is whole. `told` hears how many
/// pages are left of how many.
///
/// # Errors
/// [`StoreError::Missing`] when there is no such file, [`StoreError::Unfit`] when the copy is not whole, or when either file fails.
pub fn back_up(from: &Path, to: &Path, told: &dyn Fn(i32, i32)) -> Result<(), StoreError> {
    // Opened as a store first: no other file is copied.
    drop(SqliteStore::open_existing(from)?);
    let source = Connection::open_with_flags(
        from,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )
    .doing(DOING)?;
    source.busy_timeout(SqliteStore::PATIENCE).doing(DOING)?;
    // One moment for the whole copy: without it, each change of another program would begin the copy anew.
    source
        .execute_batch("BEGIN; SELECT count(*) FROM sqlite_schema")
        .doing(DOING)?;
    let mut copy = Connection::open(to).doing(DOING)?;
    {
        let backup = Backup::new(&source, &mut copy).doing(DOING)?;
        loop {
            let step = backup.step(PAGES).doing(DOING)?;
            let progress = backup.progress();
            told(progress.remaining, progress.pagecount);
            match step {
                StepResult::Done => break,
                StepResult::More => {}
                _ => std::thread::sleep(PAUSE),
            }
        }
    }
    let whole: String = copy
        .query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))
        .doing(DOING)?;
    if whole != "ok" {
        return Err(StoreError::Unfit(format!(
            "the copy is not whole: {whole}; look at the store with `stridebed check`"
        )));
    }
    copy.close().map_err(|(_, error)| error).doing(DOING)?;
    drop(SqliteStore::open_existing(to)?);
    Ok(())
}
