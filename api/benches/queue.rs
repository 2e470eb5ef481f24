//! Jobs through the queue, from the asker to the result, on both stores: one worker, and four at once. Every step is on disk
//! before it is acknowledged.
#![allow(missing_docs)]

use api::access::Audience;
use api::store::jobs::{Ended, JobResult, JobStore, Order, Terms};
use api::store::{PostgresAddress, PostgresStore, SqliteStore, Store};
use cluster::Cluster;
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use serde_json::Map;
use std::thread;
use std::time::Duration;

const JOBS: u64 = 100;
const RESULT: usize = 10_000;

fn order() -> Order {
    Order {
        process: "gait".to_owned(),
        inputs: Map::new(),
        document: false,
        asker: Audience::Local,
        as_of: None,
    }
}

fn terms() -> Terms {
    Terms {
        worker: "bench".to_owned(),
        lease: Duration::from_secs(600),
        attempts: 3,
        // Gone at once, so that the table does not grow from one round to the next.
        keep: Duration::ZERO,
    }
}

fn drain(queue: &dyn JobStore) {
    let ended = Ended::Answered(JobResult {
        crs: "http://www.opengis.net/def/crs/OGC/1.3/CRS84".to_owned(),
        body: vec![b' '; RESULT],
    });
    while let Some(held) = queue.claim(&terms()).expect("a claim") {
        assert!(queue.finish(&held, &ended, Duration::ZERO).expect("an end"));
    }
}

fn through(queue: &dyn JobStore, workers: usize) {
    for _ in 0..JOBS {
        queue.enqueue(&order(), 2 * JOBS).expect("a place");
    }
    thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| drain(queue));
        }
    });
    queue.expire().expect("a removal");
}

fn queue(c: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = SqliteStore::open(&folder.path().join("bench.db")).expect("a store");
    let cluster = Cluster::shared();
    // As a real server has it; the tests' own may lose what it has.
    cluster.run("ALTER SYSTEM SET fsync = on");
    cluster.run("SELECT pg_reload_conf()");
    let database = cluster.database();
    let address = PostgresAddress::parse(database.url()).expect("an address");
    let database = PostgresStore::open(&address).expect("a store");
    let stores: [(&str, &dyn Store); 2] = [("file", &file), ("database", &database)];
    let mut group = c.benchmark_group("queue");
    group.throughput(Throughput::Elements(JOBS)).sample_size(10);
    for (name, store) in stores {
        for workers in [1, 4] {
            group.bench_function(format!("{name}, {workers} at once"), |b| {
                b.iter(|| through(store.queue(), workers));
            });
        }
    }
    group.finish();
}

criterion_group!(benches, queue);
criterion_main!(benches);
