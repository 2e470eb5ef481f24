//! A sheet is taken with memory that does not grow with it.
//!
//! `STRIDEBED_SOAK=1` takes a sheet of 1,000,000 rows. The figures are printed (`--nocapture`).
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use spatial::model::Print;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::process::{Child, Stdio};
use std::thread;
use std::time::{Duration, Instant};
use tests::story::{Ledger, walk};

const SITE: &str = "gull-ledge";
struct Measured {
    peak_kb: u64,
    took: Duration,
}

/// Takes a sheet of so many rows into a store of its own.
fn import(rows: u64, format: &str) -> Measured {
    let ledger = Ledger::with_site(SITE);
    let path = ledger.file(&format!("sheet.{format}"));
    let mut file = BufWriter::new(File::create(&path).unwrap());
    match format {
        "csv" => write!(file, "{}", walk("S1", 0, rows)).unwrap(),
        _ => write_geojson(&mut file, rows),
    }
    file.flush().unwrap();
    drop(file);
    let started = Instant::now();
    let child = ledger
        .command(&["import", SITE, path.to_str().unwrap()])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let peak_kb = peak_until_it_ends(child);
    let took = started.elapsed();
    let shown = ledger.run(&["site", "show", SITE, "--json"]).done().json();
    assert_eq!(shown["surfaces"][0]["prints"], rows);
    Measured { peak_kb, took }
}

fn write_geojson(file: &mut impl Write, rows: u64) {
    write!(file, "{{\"type\":\"FeatureCollection\",\"features\":[").unwrap();
    for no in 0..rows {
        let comma = if no == 0 { "" } else { "," };
        let (lon, lat) = (
            -3.25 + (no % 1_000) as f64 * 1e-5,
            43.26 + (no / 1_000) as f64 * 1e-5,
        );
        write!(
            file,
            "{comma}\n{{\"type\":\"Feature\",\"geometry\":{{\"type\":\"Point\",\"coordinates\":[{lon:.9},{lat:.9}]}},\
             \"properties\":{{\"surface\":\"S1\",\"print\":\"P{no:07}\",\"length_m\":0.3}}}}"
        )
        .unwrap();
    }
    write!(file, "]}}").unwrap();
}

/// The kernel keeps the greatest size that a process has had (VmHWM); read until there is none left to read.
fn peak_until_it_ends(mut child: Child) -> u64 {
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kb = 0;
    let ended = loop {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let seen = line.and_then(|line| line.trim().split(' ').next()?.parse().ok());
        peak_kb = peak_kb.max(seen.unwrap_or(0));
        if let Some(ended) = child.try_wait().unwrap() {
            break ended;
        }
        thread::sleep(Duration::from_millis(2));
    };
    assert!(ended.success(), "{ended}");
    assert!(peak_kb > 1_000, "{peak_kb} kB: nothing was measured");
    peak_kb
}

#[test]
fn memory_does_not_grow_with_the_sheet() {
    let soak = std::env::var_os("STRIDEBED_SOAK").is_some();
    let (few, many) = if soak {
        (100_000, 1_000_000)
    } else {
        (20_000, 100_000)
    };
    for format in ["csv", "geojson"] {
        let (short, long) = (import(few, format), import(many, format));
        println!(
            "{format}: {many} rows in {:.1} s, {} kB at most; {few} rows, {} kB",
            long.took.as_secs_f64(),
            long.peak_kb,
            short.peak_kb
        );
        // What does grow is the store's page cache, until it is full at 64 MB. Keeping the rows in memory would
        // take a print's size for each on top of that. A peak read between two looks can be short by some MB.
        let rows_kb = (many - few) * size_of::<Print>() as u64 / 1024;
        assert!(
            long.peak_kb <= short.peak_kb + rows_kb,
            "{format}: see the figures above; the rows alone have {rows_kb} kB"
        );
    }
}
