//! A cluster is gone with its process, however that ends.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::Cluster;
use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Set in the process that starts a cluster and is ended; how it ends.
const ENDING: &str = "CLUSTER_TEST_ENDING";

fn is_gone(folder: &Path, port: u16) -> bool {
    !folder.exists() && TcpStream::connect(("127.0.0.1", port)).is_err()
}

fn wait_until_gone(folder: &Path, port: u16) {
    let begun = Instant::now();
    while !is_gone(folder, port) {
        // Only so that a failure ends; what is asserted does not rest on it.
        assert!(
            begun.elapsed() < Duration::from_secs(60),
            "{} is still there",
            folder.display()
        );
        sleep(Duration::from_millis(20));
    }
}

#[test]
fn dropped_it_is_gone() {
    let cluster = Cluster::start().unwrap();
    let (folder, port) = (cluster.folder().to_owned(), cluster.port());
    let database = cluster.database();
    let one: i32 = database.connect().query_one("SELECT 1", &[]).unwrap().get(0);
    assert_eq!(one, 1);
    drop(cluster);
    assert!(is_gone(&folder, port));
}

#[test]
fn two_clusters_do_not_meet() {
    let (one, other) = (Cluster::start().unwrap(), Cluster::start().unwrap());
    assert_ne!(one.port(), other.port());
    one.database()
        .connect()
        .batch_execute("CREATE TABLE bird (name text)")
        .unwrap();
    let there = "SELECT to_regclass('bird') IS NULL";
    assert!(
        other
            .database()
            .connect()
            .query_one(there, &[])
            .unwrap()
            .get::<_, bool>(0)
    );
}

/// Run by the tests below in a process of its own.
#[test]
fn ends_as_it_is_told() {
    let Ok(ending) = std::env::var(ENDING) else { return };
    let cluster = Cluster::shared();
    println!("cluster {} {}", cluster.port(), cluster.folder().display());
    match ending.as_str() {
        "panic" => panic!("as told"),
        "abort" => std::process::abort(),
        "wait" => sleep(Duration::from_secs(600)),
        _ => {}
    }
}

fn ended(ending: &str) {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "ends_as_it_is_told", "--nocapture"])
        .env(ENDING, ending)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let told = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(Result::unwrap)
        .find(|line| line.contains("cluster "))
        .unwrap();
    let (_, told) = told.split_once("cluster ").unwrap();
    let (port, folder) = told.split_once(' ').unwrap();
    let (port, folder): (u16, PathBuf) = (port.parse().unwrap(), folder.into());
    if ending == "wait" {
        child.kill().unwrap();
    }
    child.wait().unwrap();
    wait_until_gone(&folder, port);
}

#[test]
fn after_a_quiet_end_it_is_gone() {
    ended("quiet");
}

#[test]
fn after_a_panic_it_is_gone() {
    ended("panic");
}

#[test]
fn after_an_abort_it_is_gone() {
    ended("abort");
}

#[test]
fn after_a_kill_it_is_gone() {
    ended("wait");
}
