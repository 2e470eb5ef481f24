//! The file: telling ours from others', settings of a connection, and migrations.

use super::failure::Doing;
use crate::store::StoreError;
use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

/// Marks a SQLite file as a store of ours: `Strb` in ASCII.
const APPLICATION_ID: i32 = i32::from_be_bytes(*b"Strb");

/// The schema's versions in order; a file's `user_version` says how many it has been through.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("../../../../migrations/sqlite/0001_record.sql"),
    include_str!("../../../../migrations/sqlite/0002_local_grid.sql"),
    include_str!("../../../../migrations/sqlite/0003_judged_trackways.sql"),
    include_str!("../../../../migrations/sqlite/0004_jobs.sql"),
    include_str!("../../../../migrations/sqlite/0005_access.sql"),
    include_str!("../../../../migrations/sqlite/0006_editing.sql"),
    include_str!("../../../../migrations/sqlite/0007_moments_of_jobs.sql"),
];

/// The labels that a sheet has had and left alone, for finding those that come twice.
const SEEN: &str = "CREATE TEMP TABLE seen ( \
         kind TEXT NOT NULL, surface INTEGER NOT NULL, label TEXT NOT NULL, \
         PRIMARY KEY (kind, surface, label)) WITHOUT ROWID";

/// The writer's page cache, KiB: bounds the memory of a sheet of any size.
const WRITER_CACHE_KIB: i64 = 64 * 1024;
/// A reader's page cache, KiB: surfaces are read once through, so more would not be used again.
const READER_CACHE_KIB: i64 = 4 * 1024;
/// A larger write-ahead log is cut to this after a checkpoint, or one large sheet would keep its room for ever.
const LOG_LIMIT_BYTES: i64 = 64 * 1024 * 1024;

/// Opens the writer's connection, makes the schema where the file is new, and brings it up to date.
pub(super) fn open_writer(path: &Path, create: bool, patience: Duration) -> Result<Connection, StoreError> {
    let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    flags.set(OpenFlags::SQLITE_OPEN_CREATE, create);
    let mut conn = connect(path, flags, patience)?;
    check_ours(&conn, path, create)?;
    write_log_ahead(&conn, path, patience)?;
    settle_as_writer(&conn).doing("setting up the store")?;
    migrate(&mut conn, path)?;
    Ok(conn)
}

/// Opens a connection that only reads.
pub(super) fn open_reader(path: &Path, patience: Duration) -> Result<Connection, StoreError> {
    // Read-write all the same: after a crash the first to come must be able to recover the log.
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = connect(path, flags, patience)?;
    settle_as_reader(&conn).doing("opening the store for reading")?;
    Ok(conn)
}

fn connect(path: &Path, flags: OpenFlags, patience: Duration) -> Result<Connection, StoreError> {
    let conn = Connection::open_with_flags(path, flags)
        .map_err(|error| StoreError::Unfit(format!("{} cannot be opened: {error}", path.display())))?;
    conn.busy_timeout(patience).doing("opening the store")?;
    conn.set_prepared_statement_cache_capacity(64);
    Ok(conn)
}

/// Looks before anything is written: a file of another program stays as it is.
fn check_ours(conn: &Connection, path: &Path, create: bool) -> Result<(), StoreError> {
    let path = path.display();
    let (id, tables) = match read_marks(conn) {
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) => {
            return Err(StoreError::Unfit(format!(
                "{path} is not a store: it is not a SQLite file"
            )));
        }
        read => read.doing("opening the store")?,
    };
    match (id, tables) {
        (APPLICATION_ID, _) => Ok(()),
        (0, 0) if create => Ok(()),
        (0, 0) => Err(StoreError::Unfit(format!("{path} is empty, not a store"))),
        _ => Err(StoreError::Unfit(format!(
            "{path} is a SQLite file of another program, not a store"
        ))),
    }
}

/// The application id and how many tables there are, both of one moment: another program may be making
/// the same store just now.
fn read_marks(conn: &Connection) -> rusqlite::Result<(i32, i64)> {
    let moment = conn.unchecked_transaction()?;
    let tables = moment.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    let id = moment.pragma_query_value(None, "application_id", |row| row.get(0))?;
    Ok((id, tables))
}

/// Turns on the write-ahead log, which lets readers read while a sheet is taken.
fn write_log_ahead(conn: &Connection, path: &Path, patience: Duration) -> Result<(), StoreError> {
    let begun = Instant::now();
    loop {
        let mode: rusqlite::Result<String> =
            conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0));
        match mode.doing("setting up the store") {
            // SQLite gives up at once where two programs turn it on in one moment.
            Err(StoreError::Busy) if begun.elapsed() < patience => thread::sleep(Duration::from_millis(5)),
            Ok(mode) if mode != "wal" => {
                return Err(StoreError::Unfit(format!(
                    "{} lies on a disk that cannot hold a store: SQLite can keep no write-ahead log there",
                    path.display()
                )));
            }
            turned_on => return turned_on.map(|_| ()),
        }
    }
}

fn settle_as_writer(conn: &Connection) -> rusqlite::Result<()> {
    // FULL: a commit has returned only when it is on disk, whatever happens to the power then.
    conn.pragma_update(None, "synchronous", "FULL")?;
    conn.pragma_update(None, "foreign_keys", true)?;
    conn.pragma_update(None, "cache_size", -WRITER_CACHE_KIB)?;
    conn.pragma_update(None, "journal_size_limit", LOG_LIMIT_BYTES)?;
    // On disk: what a sheet must remember of its rows may not grow in memory with the sheet.
    conn.pragma_update(None, "temp_store", "FILE")?;
    conn.execute_batch(SEEN)
}

fn settle_as_reader(conn: &Connection) -> rusqlite::Result<()> {
    conn.pragma_update(None, "query_only", true)?;
    conn.pragma_update(None, "cache_size", -READER_CACHE_KIB)
}

/// Applies what is missing, each migration in a transaction of its own.
fn migrate(conn: &mut Connection, path: &Path) -> Result<(), StoreError> {
    // Read before anything is locked: a store that is up to date opens while another program writes.
    while let Some(version) = missing_after(conn, path)? {
        // Immediate: of two programs that open a new file at once, one waits and finds the work done.
        let step = conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .doing("bringing the store up to date")?;
        if missing_after(&step, path)? == Some(version) {
            apply(&step, version)
                .and_then(|()| step.commit())
                .doing("bringing the store up to date")?;
        }
    }
    Ok(())
}

/// The file's version where migrations are missing after it.
fn missing_after(conn: &Connection, path: &Path) -> Result<Option<usize>, StoreError> {
    let version: usize = conn
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .doing("reading the store's version")?;
    let newest = MIGRATIONS.len();
    if version > newest {
        return Err(StoreError::Unfit(format!(
            "{} was written by a later version of this program (its schema is {version}, this program knows {newest}); use that version",
            path.display()
        )));
    }
    Ok((version < newest).then_some(version))
}

fn apply(step: &Connection, version: usize) -> rusqlite::Result<()> {
    step.execute_batch(MIGRATIONS[version])?;
    step.pragma_update(None, "application_id", APPLICATION_ID)?;
    step.pragma_update(None, "user_version", version + 1)
}
