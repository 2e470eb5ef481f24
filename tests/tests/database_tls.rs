//! A database on another machine, over a line that nobody listens in on. Certificates are made by the test itself.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::{Cluster, Database};
use rcgen::{CertifiedKey, KeyPair};
use std::path::{Path, PathBuf};
use std::process::Command;
use tests::story::{Ledger, Ran, Server, ran, walk};

struct Museum {
    cluster: Cluster,
    database: Database,
    ledger: Ledger,
}

impl Museum {
    /// The program on the database, by TLS or not; the server's certificate must be among those in `trusted`.
    fn command(&self, tls: bool, trusted: &Path, arguments: &[&str]) -> Command {
        let mode = if tls { "require" } else { "disable" };
        let store = format!("{}?sslmode={mode}", self.database.url());
        let mut command = self.ledger.command_on(store, arguments);
        command.env("SSL_CERT_FILE", trusted);
        command
    }

    fn run(&self, trusted: &Path, arguments: &[&str]) -> Ran {
        ran(&mut self.command(true, trusted, arguments))
    }

    /// How many connections the program has, and how many of them are encrypted.
    fn lines(&self) -> (i64, i64) {
        const LINES: &str = "SELECT count(*), count(*) FILTER (WHERE ssl) FROM pg_stat_ssl \
             JOIN pg_stat_activity USING (pid) WHERE application_name = 'stridebed'";
        let row = self.database.connect().query_one(LINES, &[]).unwrap();
        (row.get(0), row.get(1))
    }

    /// Has the server prove itself with this certificate; the file that one who trusts it names.
    fn prove(&self, made: &CertifiedKey<KeyPair>, name: &str) -> PathBuf {
        self.cluster
            .speak_tls(&made.cert.pem(), &made.signing_key.serialize_pem());
        self.ledger.write(name, made.cert.pem())
    }
}

fn certificate(names: &[&str]) -> CertifiedKey<KeyPair> {
    let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
    rcgen::generate_simple_self_signed(names).unwrap()
}

#[test]
fn the_database_is_asked_over_tls() {
    let cluster = Cluster::start().unwrap();
    let museum = Museum {
        database: cluster.database(),
        ledger: Ledger::new(),
        cluster,
    };
    let (own, other) = (
        certificate(&["localhost", "127.0.0.1"]),
        certificate(&["db.example"]),
    );
    let told = |ran: Ran, words: &str| {
        assert_eq!(ran.code, 1, "{}", ran.out);
        assert!(ran.err.contains(words), "{}", ran.err);
    };
    let add = ["site", "add", "ledge", "--crs", "EPSG:25830"];
    let own_file = museum.ledger.write("own.pem", own.cert.pem());
    told(museum.run(&own_file, &add), "offers no TLS");

    let other_file = museum.prove(&other, "other.pem");
    told(museum.run(&own_file, &add), "cannot be reached over TLS");
    // Trusted, but of another machine.
    told(museum.run(&other_file, &add), "cannot be reached over TLS");

    museum.prove(&own, "own.pem");
    told(museum.run(&other_file, &add), "cannot be reached over TLS");
    museum.run(&own_file, &add).done();
    let sheet = museum.ledger.write("sheet.csv", walk("S1", 0, 50));
    museum
        .run(&own_file, &["import", "ledge", sheet.to_str().unwrap()])
        .done();
    for tls in [true, false] {
        let serve = ["serve", "--listen", "127.0.0.1:0"];
        let server = Server::start(museum.command(tls, &own_file, &serve));
        let page = server
            .get("/collections/prints/items?limit=1")
            .with_status(200)
            .json();
        assert_eq!(page["numberMatched"], 50);
        let (lines, encrypted) = museum.lines();
        assert!(lines >= 2, "one is asked, another tells of changes: {lines}");
        assert_eq!(encrypted, if tls { lines } else { 0 });
    }
}
