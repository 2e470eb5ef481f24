//! Kills the program (SIGKILL) while it takes sheets, and looks at what is left.
//!
//! Each test starts itself again as a child that takes one sheet after the other and says a line for
//! each step. The child is killed at a moment drawn from a fixed seed. Then every sheet that it said
//! was taken must be there whole, and no sheet may be there in part.
//! `CRASH_ROUNDS=1000 cargo test -p api --test crash` goes on for longer than the usual 30 kills.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use api::store::{
    Change, Outcome, RecordId, RecordStore, SheetPrint, SheetStore, SqliteStore, Store, SurfaceSummary,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rusqlite::Connection;
use spatial::index::SurfaceContents;
use spatial::model::{Label, Print, Remarks, Site, Slug, SurfaceId};
use std::env;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

/// Tells the child where its store is.
const STORE: &str = "CRASH_STORE";
/// Tells the child which sheet comes next.
const NEXT: &str = "CRASH_NEXT";
/// How many kills there shall be.
const ROUNDS: &str = "CRASH_ROUNDS";

/// Prints that every sheet of a surface changes.
const SHARED: u64 = 20;
const SURFACES: u64 = 3;
const BATCH: usize = 50;
/// After so many kills a new store is begun, or a long soak would spend its time reading.
const ROUNDS_A_STORE: u64 = 10;

#[test]
fn what_was_acknowledged_is_whole_and_nothing_is_there_in_part() {
    if let Some(store) = env::var_os(STORE) {
        take_sheets(Path::new(&store), env::var(NEXT).unwrap().parse().unwrap());
    }
    let name = "what_was_acknowledged_is_whole_and_nothing_is_there_in_part";
    let rounds: u64 = env::var(ROUNDS).map_or(30, |rounds| rounds.parse().unwrap());
    let mut draw = ChaCha8Rng::seed_from_u64(20_260_501);
    let (mut sheets, mut cut_short, mut unsaid) = (0, 0, 0);
    for first in (0..rounds).step_by(ROUNDS_A_STORE as usize) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ledge.db");
        make_store(&path);
        let mut next = 0;
        for _ in first..rounds.min(first + ROUNDS_A_STORE) {
            let mut child = Running::start(name, &path, next);
            let steps = draw.random_range(1..40);
            let said = child.kill_after(steps, Duration::from_micros(draw.random_range(0..5_000)));
            let before = next;
            next = check(&path);
            assert!(
                next >= said.taken.map_or(before, |no| no + 1),
                "an acknowledged sheet is lost: {said:?}, {next}"
            );
            assert!(next <= said.begun.map_or(before, |no| no + 1), "{said:?}, {next}");
            unsaid += u64::from(next > said.taken.map_or(before, |no| no + 1));
            cut_short += u64::from(said.begun.is_some_and(|no| no >= next));
        }
        sheets += next;
    }
    println!(
        "{rounds} kills: {cut_short} inside a sheet, {unsaid} between its commit and the word of it; \
         {sheets} sheets stand, each whole"
    );
}

/// Killed when much of the sheet has been written to the log already, because the page cache is full.
#[test]
fn a_large_sheet_is_not_left_half_taken() {
    if let Some(store) = env::var_os(STORE) {
        take_large_sheet(Path::new(&store));
        return;
    }
    let name = "a_large_sheet_is_not_left_half_taken";
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledge.db");
    make_store(&path);
    Running::start(name, &path, 0).kill_after(LARGE_BATCHES - 15, Duration::ZERO);
    let log = std::fs::metadata(folder.path().join("ledge.db-wal"))
        .unwrap()
        .len();
    assert!(log > 1_000_000, "{log} bytes of the sheet were on the disk");
    assert_eq!(check(&path), 0);
    assert!(Running::start(name, &path, 0).0.wait().unwrap().success());
    let surfaces = SqliteStore::open_existing(&path).unwrap().surfaces().unwrap();
    assert_eq!(surfaces[0].prints, LARGE_BATCHES * 1_000);
}

fn make_store(path: &Path) {
    let store = SqliteStore::open(path).unwrap();
    store.add_site(&Site::new(site(), 25830), &change(0)).unwrap();
}

fn site() -> Slug {
    "gull-ledge".parse().unwrap()
}

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

fn change(no: u64) -> Change {
    Change {
        author: "an invented party".to_owned(),
        at: jiff::Timestamp::from_second(1_780_000_000 + no as i64).unwrap(),
        deed: format!("import sheet-{no}.csv"),
    }
}

/// How many prints of its own a sheet has; some sheets are much larger than the others.
fn own_prints(no: u64) -> u64 {
    1 + no * 7_919 % 400 + if no % 7 == 6 { 1_500 } else { 0 }
}

/// The sheet: prints of its own in one field trackway, and prints that all sheets of the surface share.
fn sheet(no: u64) -> Vec<SheetPrint> {
    let at = |text: String, step: u64| {
        Print::new(
            label(&text),
            600_000.0 + step as f64,
            4_800_000.0 + no as f64,
            0.3,
        )
    };
    let own = (0..own_prints(no)).map(|step| Print {
        field_trackway: Some(label(&format!("T{no}"))),
        field_order: Some(step as u32),
        ..at(format!("N{no}-{step}"), step)
    });
    let shared = (0..SHARED).map(|step| Print {
        elevation_m: Some(no as f64),
        ..at(format!("R{step}"), step)
    });
    let prints = own.chain(shared);
    let surface = label(&format!("S{}", no % SURFACES));
    (2..)
        .zip(prints)
        .map(|(row, print)| SheetPrint {
            row,
            surface: surface.clone(),
            print,
        })
        .collect()
}

/// The child: takes sheets until it is killed.
fn take_sheets(path: &Path, first: u64) -> ! {
    let store = SqliteStore::open_existing(path).unwrap();
    for no in first.. {
        say("begun", no);
        let mut taking = store.begin_sheet(&site(), &change(no)).unwrap();
        for batch in sheet(no).chunks(BATCH) {
            assert_eq!(taking.put_prints(batch).unwrap(), []);
        }
        say("put", no);
        assert!(matches!(taking.finish().unwrap(), Outcome::Taken(_)));
        say("taken", no);
    }
    unreachable!("the sheets do not end")
}

const LARGE_BATCHES: u64 = 60;

/// The child: takes one sheet whose pages are more than the writer keeps in memory.
fn take_large_sheet(path: &Path) {
    let store = SqliteStore::open_existing(path).unwrap();
    let mut taking = store.begin_sheet(&site(), &change(0)).unwrap();
    let remarks = Remarks {
        note: Some("an invented note, long enough to fill a page. ".repeat(45)),
        ..Remarks::default()
    };
    for batch in 0..LARGE_BATCHES {
        let prints: Vec<SheetPrint> = (batch * 1_000..(batch + 1) * 1_000)
            .map(|no| SheetPrint {
                row: no + 2,
                surface: label("S0"),
                print: Print {
                    remarks: Some(Box::new(remarks.clone())),
                    ..Print::new(label(&format!("L{no:06}")), 600_000.0, 4_800_000.0, 0.3)
                },
            })
            .collect();
        taking.put_prints(&prints).unwrap();
        say("put", batch);
    }
    assert!(matches!(taking.finish().unwrap(), Outcome::Taken(_)));
}

/// Says what was done, at once, on a line of its own. Where nobody listens any more the child ends.
fn say(what: &str, no: u64) {
    let mut out = std::io::stdout().lock();
    write!(out, "\n{what} {no}\n").and_then(|()| out.flush()).unwrap();
}

/// The child at work; killed at the latest when the test is over.
struct Running(Child);

/// The last that a child said of each kind.
#[derive(Debug, Default)]
struct Said {
    begun: Option<u64>,
    taken: Option<u64>,
}

impl Running {
    fn start(test: &str, store: &Path, next: u64) -> Self {
        let child = Command::new(env::current_exe().unwrap())
            .args([test, "--exact", "--nocapture"])
            .env(STORE, store)
            .env(NEXT, next.to_string())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        Self(child.unwrap())
    }

    /// Lets it say some lines and work on for a while, and kills it; gives all that it had said by then.
    fn kill_after(&mut self, steps: u64, pause: Duration) -> Said {
        let mut lines = BufReader::new(self.0.stdout.take().unwrap()).lines();
        let mut said = Said::default();
        let mut heard = 0;
        while heard < steps {
            heard += u64::from(said.hear(&lines.next().expect("it works until it is killed").unwrap()));
        }
        thread::sleep(pause);
        // On Unix this is SIGKILL: no handler, no destructor, no flush.
        self.0.kill().unwrap();
        for line in lines {
            said.hear(&line.unwrap());
        }
        self.0.wait().unwrap();
        said
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Said {
    /// Takes in a line; false where it is no word of the child's.
    fn hear(&mut self, line: &str) -> bool {
        let Some((what, Ok(no))) = line.split_once(' ').map(|(what, no)| (what, no.parse())) else {
            return false;
        };
        match what {
            "begun" => self.begun = Some(no),
            "taken" => self.taken = Some(no),
            "put" => {}
            _ => return false,
        }
        true
    }
}

/// Checks that sheets 0 to some number stand, each whole, and nothing else; gives the number after the last.
fn check(path: &Path) -> u64 {
    check_file(path);
    let store = SqliteStore::open_existing(path).unwrap();
    let summaries = store.surfaces().unwrap();
    let standing: u64 = summaries.iter().map(|summary| summary.contents_revision).sum();
    for summary in &summaries {
        let (contents, revision) = store.contents(&summary.id).unwrap().unwrap();
        assert_eq!(revision, summary.contents_revision);
        check_surface(&store, summary, &contents, standing);
    }
    standing
}

fn check_file(path: &Path) {
    let conn = Connection::open(path).unwrap();
    let sound: String = conn
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(sound, "ok");
    let mut astray = conn.prepare("PRAGMA foreign_key_check").unwrap();
    assert!(!astray.exists([]).unwrap());
}

/// A surface must be what all sheets below `standing` that speak of it make of it, to the last print.
fn check_surface(store: &dyn Store, summary: &SurfaceSummary, contents: &SurfaceContents, standing: u64) {
    let surface = &summary.id.label;
    let of_surface: Vec<u64> = (0..standing)
        .filter(|no| *surface == label(&format!("S{}", no % SURFACES)))
        .collect();
    let last = *of_surface.last().expect("a surface comes with its first sheet");
    let revisions = of_surface.len() as u64;
    assert_eq!(summary.contents_revision, revisions);

    let mut expected: Vec<Print> = of_surface.iter().flat_map(|no| own_of(sheet(*no))).collect();
    expected.extend(shared_of(sheet(last)).map(|print| Print {
        revision: revisions as u32,
        ..print
    }));
    expected.sort_by(|a, b| a.label.cmp(&b.label));
    assert!(
        contents.prints == expected,
        "{surface}: prints are not those of {of_surface:?}"
    );
    assert_eq!(summary.prints, expected.len() as u64);

    let mut trackways: Vec<(Label, u64)> = of_surface
        .iter()
        .map(|no| (label(&format!("T{no}")), own_prints(*no)))
        .collect();
    trackways.sort();
    let found: Vec<(Label, u64)> = contents
        .trackways
        .iter()
        .map(|t| (t.label.clone(), t.prints.len() as u64))
        .collect();
    assert_eq!(found, trackways);
    assert_eq!(summary.trackways, revisions);
    check_history(store, &summary.id, &of_surface);
}

fn own_of(sheet: Vec<SheetPrint>) -> impl Iterator<Item = Print> {
    let own = sheet.len() - SHARED as usize;
    sheet.into_iter().take(own).map(|row| Print {
        revision: 1,
        ..row.print
    })
}

fn shared_of(sheet: Vec<SheetPrint>) -> impl Iterator<Item = Print> {
    let own = sheet.len() - SHARED as usize;
    sheet.into_iter().skip(own).map(|row| row.print)
}

/// Every sheet has left its revision of a print that all of them changed.
fn check_history(store: &dyn Store, id: &SurfaceId, of_surface: &[u64]) {
    let history = store.history(&RecordId::Print(id.clone(), label("R7"))).unwrap();
    let told: Vec<(u32, String, f64)> = history
        .into_iter()
        .map(|revision| {
            (
                revision.revision,
                revision.deed,
                revision.record["elevation_m"].as_f64().unwrap(),
            )
        })
        .collect();
    let expected: Vec<(u32, String, f64)> = (1..)
        .zip(of_surface)
        .map(|(revision, no)| (revision, change(*no).deed, *no as f64))
        .collect();
    assert_eq!(told, expected);
}
