//! The built program works wherever its file is carried, with nothing of the build beside it.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;
use tests::story::{Ran, program, ran, walk};

/// A machine that knows nothing of the build: the program's file in a folder, an empty home.
struct Machine(TempDir);

impl Machine {
    fn new() -> Self {
        let machine = Self(tempfile::tempdir().unwrap());
        for folder in ["bin", "home", "tmp", "work"] {
            fs::create_dir(machine.at(folder)).unwrap();
        }
        fs::copy(program(), machine.at("bin/stridebed")).unwrap();
        fs::write(machine.at("work/sheet.csv"), walk("S1", 0, 5)).unwrap();
        machine
    }

    fn at(&self, path: &str) -> PathBuf {
        self.0.path().join(path)
    }

    /// The program with these variables and no others.
    fn run(&self, variables: &[(&str, &Path)], arguments: &[&str]) -> Ran {
        ran(Command::new(self.at("bin/stridebed"))
            .env_clear()
            .env("TMPDIR", self.at("tmp"))
            .envs(variables.iter().copied())
            .current_dir(self.at("work"))
            .args(arguments))
    }

    /// Adds a site, takes a sheet and asks in degrees: what needs the CRS database.
    fn works(&self, variables: &[(&str, &Path)]) {
        let add = ["site", "add", "cove", "--crs", "EPSG:25830"];
        self.run(variables, &add).done();
        self.run(variables, &["import", "cove", "sheet.csv"]).done();
        let ask = [
            "query",
            "nearest",
            "surface=cove:S1",
            "at=-3.2467,43.2623",
            "--json",
        ];
        let answer = self.run(variables, &ask).done().json();
        assert_eq!(answer["features"].as_array().unwrap().len(), 5);
        let place = &answer["features"][0]["geometry"]["coordinates"];
        // EPSG:25830 has its central meridian at 3° W; 20 km to its west, at a latitude of 43.3°, is 0.2467°.
        assert!((place[0].as_f64().unwrap() + 3.2467).abs() < 2e-3, "{place}");
    }
}

fn databases(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(databases(&path));
        } else if path.ends_with("proj.db") {
            found.push(path);
        }
    }
    found
}

#[test]
fn it_unpacks_its_crs_database_at_home() {
    let machine = Machine::new();
    machine.works(&[("HOME", &machine.at("home"))]);
    assert_eq!(databases(&machine.at("home")).len(), 1);
    assert_eq!(databases(&machine.at("tmp")).len(), 0);
}

#[test]
fn the_cache_folder_goes_before_the_home() {
    let machine = Machine::new();
    let cache = machine.at("home/elsewhere");
    machine.works(&[("HOME", &machine.at("home")), ("XDG_CACHE_HOME", &cache)]);
    assert_eq!(databases(&cache).len(), 1);
    assert_eq!(databases(&machine.at("home/.cache")).len(), 0);
}

#[test]
fn where_the_home_cannot_be_written_the_temporary_folder_serves() {
    let machine = Machine::new();
    // Neither root's powers nor another user's permissions make a file into a folder.
    let home = machine.at("home/no-folder");
    fs::write(&home, "").unwrap();
    machine.works(&[("HOME", &home)]);
    assert_eq!(databases(&machine.at("tmp")).len(), 1);
}

#[test]
fn without_any_variable_the_temporary_folder_serves() {
    let machine = Machine::new();
    machine.works(&[]);
    assert_eq!(databases(&machine.at("tmp")).len(), 1);
}

#[test]
fn a_read_only_home_is_no_hindrance() {
    let machine = Machine::new();
    let home = machine.at("home");
    fs::set_permissions(&home, fs::Permissions::from_mode(0o555)).unwrap();
    machine.works(&[("HOME", &home)]);
    // Root may write there all the same.
    let found = databases(&home).len() + databases(&machine.at("tmp")).len();
    fs::set_permissions(&home, fs::Permissions::from_mode(0o755)).unwrap();
    assert_eq!(found, 1);
}

#[test]
fn a_spoilt_database_is_replaced() {
    let machine = Machine::new();
    let home = machine.at("home");
    machine.works(&[("HOME", &home)]);
    let database = databases(&home).remove(0);
    let whole = fs::read(&database).unwrap();
    fs::write(&database, &whole[..whole.len() / 2]).unwrap();
    let _ = machine
        .run(&[("HOME", &home)], &["site", "add", "bay", "--crs", "EPSG:2193"])
        .done();
    assert!(fs::read(&database).unwrap() == whole);
}

#[test]
fn another_projection_library_of_the_system_is_not_heeded() {
    let machine = Machine::new();
    let foreign = machine.at("home/foreign");
    fs::create_dir(&foreign).unwrap();
    fs::write(foreign.join("proj.db"), "no database").unwrap();
    let home = machine.at("home");
    machine.works(&[("HOME", &home), ("PROJ_DATA", &foreign), ("PROJ_LIB", &foreign)]);
}
