//! Several nodes on one database: what one writes the others show, also while the database is away, and reads from a replica.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::{Cluster, Database};
use serde_json::Value;
use std::process::Command;
use tests::story::{Answer, Ledger, Server, problem, until, walk};

/// A consortium's database, and a folder for its sheets.
struct Consortium {
    ledger: Ledger,
    database: Database,
}

impl Consortium {
    fn on(cluster: &Cluster) -> Self {
        let consortium = Self {
            ledger: Ledger::new(),
            database: cluster.database(),
        };
        let site = ["site", "add", "cove", "--crs", "EPSG:25830"];
        let ran = tests::story::ran(&mut consortium.command(&site));
        assert_eq!(ran.code, 0, "{ran:?}");
        consortium
    }

    fn command(&self, arguments: &[&str]) -> Command {
        self.ledger.command_on(self.database.url(), arguments)
    }

    fn node(&self, more: &[&str]) -> Server {
        let serve = ["serve", "--listen", "127.0.0.1:0", "--workers", "0"];
        Server::start(self.command(&[&serve, more].concat()))
    }
}

fn import(node: &Server, prints: u64) -> Answer {
    node.client
        .post("/sites/cove/imports", "text/csv", walk("S1", 0, prints))
}

/// How many prints a node shows.
fn prints(node: &Server) -> Option<u64> {
    let answer = node.client.try_get("/collections/prints/items?limit=1")?;
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.json()["numberMatched"].as_u64()
}

fn stale(node: &Server) -> Option<String> {
    node.get("/collections/prints/items?limit=1")
        .header("stale-since")
        .map(str::to_owned)
}

#[test]
fn what_one_node_writes_the_others_show() {
    let cluster = Cluster::shared();
    let consortium = Consortium::on(cluster);
    let nodes = [consortium.node(&[]), consortium.node(&[]), consortium.node(&[])];
    for round in 1..=6 {
        let writer = &nodes[round as usize % 3];
        import(writer, round * 5).with_status(200);
        assert_eq!(prints(writer), Some(round * 5), "who writes reads what he wrote");
        for node in &nodes {
            until("the others show it", || {
                (prints(node) == Some(round * 5)).then_some(())
            });
        }
    }
    // Another program's changes are noticed, too.
    let sheet = consortium.ledger.write("sheet.csv", walk("S2", 0, 7));
    let sheet = sheet.to_str().unwrap();
    let ran = tests::story::ran(&mut consortium.command(&["import", "cove", sheet]));
    assert_eq!(ran.code, 0, "{ran:?}");
    for node in &nodes {
        until("the others show it", || (prints(node) == Some(37)).then_some(()));
    }
    for node in nodes {
        let (status, _) = node.stop();
        assert!(status.success());
    }
    cluster.drop(&consortium.database);
}

#[test]
fn notices_that_get_lost_are_made_up_for() {
    let cluster = Cluster::shared();
    let consortium = Consortium::on(cluster);
    let (one, other) = (consortium.node(&[]), consortium.node(&[]));
    let silence =
        "DROP TRIGGER site_is_told ON stridebed.site; DROP TRIGGER surface_is_told ON stridebed.surface";
    consortium.database.connect().batch_execute(silence).unwrap();
    import(&one, 9).with_status(200);
    until("the other shows it", || (prints(&other) == Some(9)).then_some(()));
    drop((one, other));
    cluster.drop(&consortium.database);
}

#[test]
fn while_the_database_is_away_nodes_show_what_they_know_and_take_no_change() {
    let cluster = Cluster::start().unwrap();
    let consortium = Consortium::on(&cluster);
    let (one, other) = (consortium.node(&[]), consortium.node(&[]));
    import(&one, 12).with_status(200);
    let query = "/queries/nearest?surface=cove:S1&at=-3.2,43.26&k=3";
    until("the other shows it", || {
        (prints(&other) == Some(12)).then_some(())
    });
    // A node shows what it has looked at before.
    assert_eq!(prints(&one), Some(12));
    let before = other.get(query).with_status(200);
    assert_eq!(stale(&other), None);
    cluster.stop();
    for node in [&one, &other] {
        let since = until("the loss is noticed", || stale(node));
        let since: jiff::Timestamp = since.parse().unwrap();
        assert!(since <= jiff::Timestamp::now());
        assert_eq!(prints(node), Some(12));
        let refused = import(node, 13);
        problem(&refused, 503);
        assert!(refused.header("retry-after").unwrap().parse::<u64>().unwrap() > 0);
    }
    let after = other.get(query).with_status(200);
    assert_eq!(before.text(), after.text());
    assert!(after.header("stale-since").is_some());
    other.get("/health/ready").with_status(200);
    cluster.start_again();
    for node in [&one, &other] {
        until("the node is back", || stale(node).is_none().then_some(()));
    }
    until("changes are taken again", || {
        (import(&one, 14).status == 200).then_some(())
    });
    until("and told", || (prints(&other) == Some(14)).then_some(()));
}

#[test]
fn reads_go_to_a_replica_and_who_writes_reads_what_he_wrote() {
    let (primary, replica) = Cluster::start_with_replica().unwrap();
    let consortium = Consortium::on(&primary);
    let copy = replica.copy_at(&consortium.database);
    let there = "SELECT count(*) FROM pg_catalog.pg_database WHERE datname = $1";
    until("the replica has the database", || {
        let mut conn =
            postgres::Client::connect(&copy.url().replace(copy.name(), "postgres"), postgres::NoTls).ok()?;
        let count: i64 = conn.query_one(there, &[&copy.name()]).ok()?.get(0);
        (count == 1 && reads(&copy, "SELECT count(*) FROM stridebed.site") == Some(1)).then_some(())
    });
    let node = consortium.node(&["--read-store", copy.url()]);
    let plain = consortium.node(&["--read-store", copy.url()]);
    import(&node, 5).with_status(200);
    assert_eq!(prints(&node), Some(5));
    until("the replica has it", || (prints(&plain) == Some(5)).then_some(()));
    // The replica stands still: the writer reads on from the primary, others see what the replica has.
    replica.run("SELECT pg_wal_replay_pause()");
    for count in 6..12 {
        import(&node, count).with_status(200);
        assert_eq!(prints(&node), Some(count), "who writes reads what he wrote");
        assert_eq!(prints(&plain), Some(5), "reads go to the replica");
    }
    replica.run("SELECT pg_wal_replay_resume()");
    until("the replica has come after", || {
        (prints(&plain) == Some(11)).then_some(())
    });
    let mark = "SELECT sum(commits)::bigint FROM stridebed.mark";
    assert_eq!(reads(&copy, mark), reads(&consortium.database, mark));
    assert_eq!(prints(&node), Some(11));
    // Without the replica reads go to the primary; without the primary they go to the replica, and nothing is taken.
    replica.stop();
    import(&node, 12).with_status(200);
    assert_eq!(prints(&node), Some(12));
    until("the loss is noticed", || {
        (prints(&plain) == Some(12)).then_some(())
    });
    replica.start_again();
    until("the replica has come after", || {
        (reads(&copy, mark) == reads(&consortium.database, mark)).then_some(())
    });
    primary.stop();
    until("the loss is noticed", || {
        (import(&node, 13).status == 503).then_some(())
    });
    assert_eq!(prints(&node), Some(12));
    assert_eq!(prints(&plain), Some(12));
}

fn reads(database: &Database, ask: &str) -> Option<i64> {
    let mut conn = postgres::Client::connect(database.url(), postgres::NoTls).ok()?;
    Some(conn.query_one(ask, &[]).ok()?.get(0))
}

#[test]
fn only_a_database_has_a_replica() {
    let ledger = Ledger::with_site("cove");
    let ran = ledger.run(&["serve", "--read-store", "other.db"]);
    assert_eq!(ran.code, 1, "{ran:?}");
    assert!(ran.err.contains("replica"), "{ran:?}");
    let site: Value = ledger.run(&["site", "show", "cove", "--json"]).done().json();
    assert_eq!(site["slug"], "cove");
}
