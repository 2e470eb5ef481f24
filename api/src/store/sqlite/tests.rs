//! The contract, and what only holds of a file.

use super::SqliteStore;
use crate::store::contract::{Trial, World, every_store_must};
use crate::store::{RecordStore, SheetStore, Store, StoreError};
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A store in a folder that is gone after the test.
pub(crate) struct Fresh {
    folder: TempDir,
    store: SqliteStore,
}

impl Fresh {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let store = SqliteStore::open(&folder.path().join("ledge.db")).unwrap();
        Self { folder, store }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("ledge.db")
    }
}

impl Trial for Fresh {
    fn store(&self) -> &dyn Store {
        &self.store
    }

    fn again(&self) -> Box<dyn Store> {
        Box::new(SqliteStore::open_existing(&self.path()).unwrap())
    }
}

every_store_must!(super::Fresh::new());

mod file {
    use super::*;
    use crate::store::contract::world::{
        change, gull_ledge, label, labels, local_grid, member, print, square,
    };
    use crate::store::{Conflict, Outcome, RecordId, RowConflict};
    use spatial::model::{Basis, PlacePolicy, Site, Trackway};
    use std::time::Duration;

    fn refusal(path: &Path) -> String {
        match SqliteStore::open(path) {
            Err(error @ StoreError::Unfit(_)) => error.to_string(),
            other => panic!("{:?}", other.err()),
        }
    }

    #[test]
    fn an_existing_store_is_not_made() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("none.db");
        let missing = SqliteStore::open_existing(&path).err().unwrap();
        assert_eq!(
            missing.to_string(),
            format!("there is no store at {}", path.display())
        );
        assert!(!path.exists());
        std::fs::write(&path, "").unwrap();
        assert!(matches!(
            SqliteStore::open_existing(&path),
            Err(StoreError::Unfit(_))
        ));
        assert_eq!(std::fs::metadata(&path).unwrap().len(), 0);
    }

    #[test]
    fn a_file_of_another_program_is_refused_and_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let text = folder.path().join("sheet.csv");
        std::fs::write(&text, "surface,print,easting_m,northing_m,length_m\n".repeat(50)).unwrap();
        assert!(refusal(&text).contains("it is not a SQLite file"));
        let other = folder.path().join("other.db");
        Connection::open(&other)
            .unwrap()
            .execute_batch("CREATE TABLE bird (name TEXT)")
            .unwrap();
        let before = std::fs::read(&other).unwrap();
        assert!(refusal(&other).contains("of another program"));
        assert_eq!(std::fs::read(&other).unwrap(), before);
        assert!(refusal(folder.path()).contains("cannot be opened"));
        assert!(refusal(&folder.path().join("no/such/folder.db")).contains("cannot be opened"));
    }

    #[test]
    fn a_store_of_a_later_version_is_refused() {
        let fresh = Fresh::new();
        let conn = Connection::open(fresh.path()).unwrap();
        conn.pragma_update(None, "user_version", 1_000).unwrap();
        assert!(refusal(&fresh.path()).contains("later version"));
    }

    /// What version 1 of the schema made, opened by this program.
    #[test]
    fn a_store_of_the_first_schema_comes_up_to_date_with_its_data() {
        const FIRST: &str = include_str!("../../../../migrations/sqlite/0001_record.sql");
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledge.db");
        Connection::open(&path)
            .unwrap()
            .execute_batch(&format!(
                "{FIRST}
                 PRAGMA application_id = {};
                 PRAGMA user_version = 1;
                 INSERT INTO change (author, at, deed)
                     VALUES ('worker', '2026-01-01T00:00:00Z', 'site add gull-ledge');
                 INSERT INTO site (slug, name, crs, age, policy, revision, change)
                     VALUES ('gull-ledge', 'Gull Ledge', 25830, 'Aptian', 'closed', 1, 1);
                 INSERT INTO surface (site, label, revision, change, prints) VALUES ('gull-ledge', 'S1', 1, 1, 1);
                 INSERT INTO print
                     (surface, label, easting_m, northing_m, length_m, sheet_row, revision, change)
                     VALUES (1, 'P1', 480000.5, 4790000.25, 0.31, 2, 1, 1);",
                i32::from_be_bytes(*b"Strb")
            ))
            .unwrap();
        let store = SqliteStore::open_existing(&path).unwrap();
        let version: usize = Connection::open(&path)
            .unwrap()
            .pragma_query_value(None, "user_version", |row| row.get(0))
            .unwrap();
        assert_eq!(version, super::super::file::MIGRATIONS.len());
        let world = World { store: &store };
        let site = store.sites().unwrap().remove(0);
        assert_eq!(
            (site.age.as_deref(), site.policy, site.revision),
            (Some("Aptian"), PlacePolicy::Closed, 1)
        );
        assert_eq!(site.local_grid, None);
        assert_eq!(store.queue().reviews().unwrap(), []);
        assert_eq!(world.contents("S1").0.prints[0].easting_m, 480_000.5);
        let tied = Site {
            local_grid: Some(local_grid()),
            ..site
        };
        assert_eq!(store.change_site(&tied, &change(1)).unwrap().revision, 2);
        drop(store);
        let again = SqliteStore::open_existing(&path).unwrap();
        assert_eq!(again.sites().unwrap()[0].local_grid, Some(local_grid()));
        let history = again.history(&RecordId::Site(gull_ledge())).unwrap();
        assert_eq!(
            (history.len(), history[0].deed.as_str()),
            (2, "site add gull-ledge")
        );
    }

    #[test]
    fn two_programs_may_make_one_store_at_once() {
        for _ in 0..8 {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("ledge.db");
            std::thread::scope(|scope| {
                let open = || SqliteStore::open(&path).unwrap().sites().unwrap();
                let both = [scope.spawn(open), scope.spawn(open)];
                for one in both {
                    assert_eq!(one.join().unwrap(), []);
                }
            });
        }
    }

    #[test]
    fn commits_are_durable_and_the_log_is_ahead() {
        let fresh = Fresh::new();
        let writing = fresh.store.writer.begin().unwrap();
        let ask = |pragma| -> i64 {
            writing
                .pragma_query_value(None, pragma, |row| row.get(0))
                .unwrap()
        };
        assert_eq!(
            (ask("synchronous"), ask("foreign_keys"), ask("temp_store")),
            (2, 1, 1)
        );
        let mode: String = writing
            .pragma_query_value(None, "journal_mode", |row| row.get(0))
            .unwrap();
        assert_eq!(mode, "wal");
    }

    #[test]
    fn a_writer_gives_up_after_a_while() {
        let fresh = Fresh::new();
        let world = World::new(&fresh.store);
        let hasty = SqliteStore::open_with(&fresh.path(), false, Duration::from_millis(20)).unwrap();
        let held = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
        let begun = hasty.begin_sheet(&gull_ledge(), &change(2));
        assert!(matches!(begun.err(), Some(StoreError::Busy)));
        drop(held);
        let held = hasty.begin_sheet(&gull_ledge(), &change(2)).unwrap();
        assert!(matches!(
            hasty.begin_sheet(&gull_ledge(), &change(2)).err(),
            Some(StoreError::Busy)
        ));
        drop(held);
        assert!(hasty.begin_sheet(&gull_ledge(), &change(2)).is_ok());
    }

    /// Nothing above the store accepts or edits trackways yet, so they are put there by hand.
    #[test]
    fn what_others_made_of_a_trackway_is_not_overwritten() {
        let fresh = Fresh::new();
        let world = World::new(&fresh.store);
        world.take(1, &[("S1", vec![print("P1"), print("P2")])]);
        Connection::open(fresh.path())
            .unwrap()
            .execute_batch(
                "INSERT INTO trackway (surface, label, prints, basis, status, revision, change) VALUES \
                     (1, 'T1', '[\"P1\"]', 'editor', 'proposed', 1, 1), \
                     (1, 'G1', '[\"P2\"]', 'grouping', 'accepted', 1, 1)",
            )
            .unwrap();
        let before = world.contents("S1");
        let not_of_field = |row, text| RowConflict {
            row,
            conflict: Conflict::NotOfField(label(text)),
        };
        let other_prints = vec![member("P1", "G1", None), member("P2", "T1", None)];
        assert_eq!(
            world.finish(2, &[("S1", other_prints)]),
            Outcome::Refused(vec![not_of_field(2, "G1"), not_of_field(3, "T1")])
        );
        assert_eq!(world.contents("S1"), before);
        // The field party may say the same of it.
        world.take(
            3,
            &[("S1", vec![member("P1", "T1", None), member("P2", "G1", None)])],
        );
        assert_eq!(world.contents("S1").0.trackways, before.0.trackways);
        // And the grouping leaves alone what it proposed and somebody accepted.
        let again = Trackway {
            basis: Basis::Grouping,
            probability: Some(0.3),
            prints: labels(&["P2"]),
            ..before.0.trackways[0].clone()
        };
        assert_eq!(
            fresh
                .store
                .propose(&before.0.id, &[again], &change(4))
                .unwrap()
                .unchanged,
            1
        );
        assert_eq!(
            fresh
                .store
                .propose(&before.0.id, &[], &change(4))
                .unwrap()
                .changed,
            0
        );
        assert_eq!(world.contents("S1").0.trackways, before.0.trackways);
    }

    /// Even a statement that forgets the history cannot lose a revision.
    #[test]
    fn the_schema_refuses_what_would_lose_a_revision() {
        let fresh = Fresh::new();
        let world = World::new(&fresh.store);
        world.take(1, &[("S1", vec![member("P1", "T1", None), print("P2")])]);
        world.take_extents(1, &[square("E1", 0.0, 0.0)]);
        let moved = spatial::model::Print {
            easting_m: 0.0,
            ..print("P2")
        };
        world.take(2, &[("S1", vec![moved])]);
        let conn = Connection::open(fresh.path()).unwrap();
        let mut tried = 0;
        for table in ["site", "surface", "extent", "print", "trackway", "past", "change"] {
            let rows: i64 = conn
                .query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0))
                .unwrap();
            assert!(rows > 0, "{table}");
            tried += refused(&conn, &format!("DELETE FROM {table}"));
        }
        for table in ["site", "surface", "extent", "print", "trackway"] {
            tried += refused(
                &conn,
                &format!("UPDATE {table} SET label = label, revision = revision"),
            );
            tried += refused(&conn, &format!("UPDATE {table} SET revision = revision + 1"));
            tried += refused(&conn, &format!("UPDATE {table} SET revision = revision + 2"));
        }
        tried += refused(&conn, "UPDATE past SET record = '{}'");
        tried += refused(&conn, "UPDATE change SET author = 'nobody'");
        assert_eq!(tried, 24);
    }

    fn refused(conn: &Connection, statement: &str) -> usize {
        let statement = match statement.starts_with("UPDATE site") {
            true => statement.replace("label = label", "slug = slug"),
            false => statement.to_owned(),
        };
        let error = conn.execute_batch(&statement).expect_err(&statement).to_string();
        assert!(
            error.contains("would be lost") || error.contains("is never"),
            "{statement}: {error}"
        );
        1
    }
}
