//! Whether a stranger's clock tells what is hidden from him: how long he waits for it, beside what there is not.
//!
//! `cargo bench -p tests --bench hidden`, on an idle machine. Both are asked for in turns; the difference of the medians of each
//! block of turns gives the mean difference and its standard error.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)] // A bench talks, and ends where it cannot go on.

use std::time::Instant;
use tests::story::{Ledger, Line, walk};

/// What is asked for, once of a site that is hidden or shown as one point, and once of one that there is not.
const PATHS: [(&str, &str); 7] = [
    ("a closed site", "/collections/sites/items/shut*"),
    ("a print of it", "/collections/prints/items/shut*:S1:P0000001"),
    ("a query to it", "/queries/nearest?surface=shut*:S1&at=0,0"),
    ("its plan", "/surfaces/shut*:S1/plan.svg"),
    ("its prints", "/collections/prints/items?site=shut*"),
    (
        "a print of a generalised site",
        "/collections/prints/items/near*:S1:P0000001",
    ),
    (
        "for comparison, of an open one",
        "/collections/prints/items/open*:S1:P0000001",
    ),
];
const BLOCKS: usize = 60;
const TURNS: usize = 100;

fn main() {
    // `cargo test --benches` would call it, too.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    let ledger = Ledger::new();
    let sheet = ledger.write("sheet.csv", walk("S1", 0, 2_000));
    for (site, policy) in [("shut", "closed"), ("near", "generalised"), ("open", "open")] {
        let add = ["site", "add", site, "--crs", "EPSG:25830", "--policy", policy];
        ledger.run(&add).done();
        ledger.run(&["import", site, sheet.to_str().unwrap()]).done();
    }
    // From the first token on, whoever has none is a stranger.
    ledger
        .run(&["token", "issue", "--role", "admin", "--holder", "Steward"])
        .done();
    let server = ledger.serve(&["--workers", "0"]);
    let mut line = Line::to(server.base());
    for (name, path) in PATHS {
        let [there, missing] = ["", "x"].map(|end| path.replace('*', end));
        let blocks = (0..=BLOCKS).map(|_| block(&mut line, &there, &missing));
        // The first one warms both.
        let blocks: Vec<[f64; 2]> = blocks.skip(1).collect();
        let mean = |of: &dyn Fn(&[f64; 2]) -> f64| blocks.iter().map(of).sum::<f64>() / BLOCKS as f64;
        let more = mean(&|[there, missing]| there - missing);
        let spread = mean(&|[there, missing]| (there - missing - more).powi(2));
        println!(
            "{name:<31} {} {:>6.1} us, what there is not {} {:>6.1} us: {more:+.2} us, standard error {:.2}",
            line.get(&there).0,
            mean(&|[there, _]| *there),
            line.get(&missing).0,
            mean(&|[_, missing]| *missing),
            (spread / (BLOCKS - 1) as f64).sqrt()
        );
    }
}

/// The medians of what both take, microseconds.
fn block(line: &mut Line, there: &str, missing: &str) -> [f64; 2] {
    let mut times = [Vec::new(), Vec::new()];
    for turn in 0..TURNS {
        // Each is first as often as the other.
        for which in [turn % 2, 1 - turn % 2] {
            let begun = Instant::now();
            line.get([there, missing][which]);
            times[which].push(begun.elapsed().as_secs_f64() * 1e6);
        }
    }
    times.map(|mut times| {
        times.sort_by(f64::total_cmp);
        times[TURNS / 2]
    })
}
