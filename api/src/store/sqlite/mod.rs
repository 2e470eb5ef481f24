//! The store in one SQLite file.
/// A store in one SQLite file.
pub struct SqliteStore;
