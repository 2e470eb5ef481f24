//! The service beside PostGIS: the same million prints, the same questions, many clients at once.
//!
//! `cargo bench --profile dist -p tests --bench postgis`. PostGIS has the prints in the site's CRS with a GiST index, and beside it in longitude
//! and latitude, so that it need not project what it answers; it is asked over a pool of connections that have the questions prepared,
//! and answers each print as a GeoJSON feature (`ST_AsGeoJSON`). The service is asked over HTTP. Both tell the same prints in the same
//! order, which is looked at before anything is measured. Each side has the machine for itself while it is asked, and its clients run
//! on the same machine.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)] // A bench talks, and ends where it cannot go on.

use cluster::Cluster;
use postgres::{Client, NoTls, Row, Statement};
use r2d2_postgres::PostgresConnectionManager;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use std::io::Write;
use std::process::Command;
use std::time::{Duration, Instant};
use tests::story::{Ledger, Line, Server, ran, walk};

const PRINTS: u64 = 1_000_000;
const CLIENTS: u64 = 50;
/// As many connections as keep two cores busy; more of them made PostGIS no quicker here.
const CONNECTIONS: u32 = 8;
/// What both sides make of their own at the first questions is made by then.
const WARM: Duration = Duration::from_secs(4);
const FOR: Duration = Duration::from_secs(10);
/// The prints lie 0.7 m apart in rows of ten thousand, the rows 3 m apart.
const WIDTH_M: f64 = 7_000.0;
const HEIGHT_M: f64 = 300.0;
const ORIGIN: [f64; 2] = [480_000.0, 4_790_000.0];
/// The properties of a print, as PostGIS has them.
const PROPERTIES: &str = "id, site, surface, print, easting_m, northing_m, elevation_m, position_sd_m, length_m, width_m, depth_m, \
     azimuth_deg, azimuth_sd_deg, side, limb, morphotype, digits, preservation, record, trackway, \"order\", observed_on, observer, \
     overlies, depth_samples, note, further, revision";
/// The place that is asked for.
const AT: &str = "ST_SetSRID(ST_MakePoint($1, $2), 25830)";

/// What is asked.
#[derive(Clone, Copy)]
enum Question {
    /// All prints of a square with a side of so many metres.
    Box(f64),
    /// The ten nearest prints to a place.
    Nearest,
}

impl Question {
    const ALL: [(&'static str, Self); 3] = [
        ("box of 100", Self::Box(14.5)),
        ("box of 10,000", Self::Box(143.0)),
        ("nearest 10", Self::Nearest),
    ];

    /// A place somewhere on the surface, the same for both sides.
    fn place(self, random: &mut ChaCha8Rng) -> [f64; 2] {
        let side = match self {
            Self::Box(side) => side,
            Self::Nearest => 0.0,
        };
        [
            ORIGIN[0] + random.random_range(0.0..WIDTH_M - side),
            ORIGIN[1] + random.random_range(0.0..HEIGHT_M - side),
        ]
    }
}

/// What was measured of one side.
struct Measured {
    asked: usize,
    bytes: usize,
    took: Duration,
    sorted_ms: Vec<f64>,
}

impl Measured {
    fn per_second(&self) -> f64 {
        self.asked as f64 / self.took.as_secs_f64()
    }

    fn quantile_ms(&self, part: f64) -> f64 {
        let at = (part * (self.sorted_ms.len() - 1) as f64).round() as usize;
        self.sorted_ms[at]
    }

    fn told(&self) -> String {
        format!(
            "{:>9.1} answers/s   median {:>8.2} ms   p99 {:>8.2} ms   {:>9.0} bytes each",
            self.per_second(),
            self.quantile_ms(0.5),
            self.quantile_ms(0.99),
            self.bytes as f64 / self.asked as f64
        )
    }
}

/// Has all clients ask for a while, of which the beginning does not count; `ask` gives the size of an answer.
fn measure<C>(
    client: impl Fn() -> C + Sync,
    question: Question,
    ask: impl Fn(&mut C, [f64; 2]) -> usize + Sync,
) -> Measured {
    let begun = Instant::now();
    let all: Vec<(Vec<f64>, usize)> = std::thread::scope(|scope| {
        let asking = (0..CLIENTS).map(|no| {
            let (client, ask) = (&client, &ask);
            scope.spawn(move || {
                let mut client = client();
                let mut random = ChaCha8Rng::seed_from_u64(no);
                let (mut times, mut bytes) = (Vec::new(), 0);
                while begun.elapsed() < WARM {
                    ask(&mut client, question.place(&mut random));
                }
                while begun.elapsed() < WARM + FOR {
                    let asked = Instant::now();
                    bytes += ask(&mut client, question.place(&mut random));
                    times.push(asked.elapsed().as_secs_f64() * 1e3);
                }
                (times, bytes)
            })
        });
        let asking: Vec<_> = asking.collect();
        asking.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let took = begun.elapsed() - WARM;
    let bytes = all.iter().map(|(_, bytes)| bytes).sum();
    let mut sorted_ms: Vec<f64> = all.into_iter().flat_map(|(times, _)| times).collect();
    sorted_ms.sort_by(f64::total_cmp);
    Measured {
        asked: sorted_ms.len(),
        bytes,
        took,
        sorted_ms,
    }
}

fn over_http(line: &mut Line, question: Question, [x, y]: [f64; 2]) -> usize {
    let crs = "http://www.opengis.net/def/crs/EPSG/0/25830";
    let path = match question {
        Question::Box(side) => format!(
            "/collections/prints/items?limit=10000&bbox={x},{y},{},{}&bbox-crs={crs}",
            x + side,
            y + side
        ),
        Question::Nearest => format!("/queries/nearest?surface=ledge:S1&at={x},{y}&crs=EPSG:25830&k=10"),
    };
    let (status, length) = line.get(&path);
    assert_eq!(status, 200, "{path}");
    length
}

/// A connection to PostGIS whose questions are parsed and planned once, as a program that asks the same again and again has them.
struct Prepared {
    client: Client,
    in_box: Statement,
    nearest: Statement,
}

struct Preparing(PostgresConnectionManager<NoTls>);

impl r2d2::ManageConnection for Preparing {
    type Connection = Prepared;
    type Error = postgres::Error;

    fn connect(&self) -> Result<Prepared, postgres::Error> {
        let mut client = self.0.connect()?;
        Ok(Prepared {
            in_box: client.prepare(&format!(
                "SELECT ST_AsGeoJSON(found.*, 'geom', 9) FROM (SELECT {PROPERTIES}, geom FROM print \
                 WHERE ST_Intersects(place, ST_MakeEnvelope($1, $2, $3, $4, 25830)) ORDER BY id) AS found"
            ))?,
            nearest: client.prepare(&format!(
                "SELECT ST_AsGeoJSON(found.*, 'place', 4) FROM (SELECT {PROPERTIES}, place, place <-> {AT} AS distance_m \
                 FROM print ORDER BY place <-> {AT} LIMIT 10) AS found"
            ))?,
            client,
        })
    }

    fn is_valid(&self, prepared: &mut Prepared) -> Result<(), postgres::Error> {
        self.0.is_valid(&mut prepared.client)
    }

    fn has_broken(&self, prepared: &mut Prepared) -> bool {
        self.0.has_broken(&mut prepared.client)
    }
}

type Pool = r2d2::Pool<Preparing>;

/// The answer's features.
fn rows_of_postgis(pool: &mut Pool, question: Question, [x, y]: [f64; 2]) -> Vec<Row> {
    let mut conn = pool.get().unwrap();
    let Prepared {
        client,
        in_box,
        nearest,
    } = &mut *conn;
    let rows = match question {
        Question::Box(side) => client.query(in_box, &[&x, &y, &(x + side), &(y + side)]),
        Question::Nearest => client.query(nearest, &[&x, &y]),
    };
    rows.unwrap()
}

fn of_postgis(pool: &mut Pool, question: Question, place: [f64; 2]) -> usize {
    let rows = rows_of_postgis(pool, question, place);
    rows.iter().map(|row| row.get::<_, &str>(0).len()).sum()
}

/// Looks whether both sides tell the same prints in the same order.
fn compare(line: &mut Line, pool: &mut Pool, question: Question) {
    let id = |feature: &Value| match &feature["id"] {
        Value::Null => feature["properties"]["id"].to_string(),
        id => id.to_string(),
    };
    let mut random = ChaCha8Rng::seed_from_u64(CLIENTS);
    for _ in 0..20 {
        let place = question.place(&mut random);
        over_http(line, question, place);
        let answer = line.json();
        let ours: Vec<String> = answer["features"].as_array().unwrap().iter().map(id).collect();
        let rows = rows_of_postgis(pool, question, place);
        let features = rows.iter().map(|row| serde_json::from_str(row.get(0)).unwrap());
        let theirs: Vec<String> = features.map(|feature: Value| id(&feature)).collect();
        let differ = ours.iter().zip(&theirs).find(|(one, other)| one != other);
        assert!(
            ours.len() == theirs.len() && differ.is_none(),
            "{} and {} prints at {place:?}, {differ:?}",
            ours.len(),
            theirs.len()
        );
    }
}

/// The same prints in PostGIS, with the same properties.
fn fill(database: &cluster::Database) {
    const TABLE: &str = "CREATE EXTENSION postgis; CREATE TABLE print (id text COLLATE \"C\", site text, surface text, print text, \
         easting_m double precision, northing_m double precision, elevation_m double precision, position_sd_m double precision, \
         length_m double precision, width_m double precision, depth_m double precision, azimuth_deg double precision, \
         azimuth_sd_deg double precision, side text, limb text, morphotype text, digits integer, preservation real, record text, \
         trackway text, \"order\" integer, observed_on date, observer text, overlies json, depth_samples json, note text, \
         further json, revision integer, place geometry(Point, 25830), geom geometry(Point, 4326))";
    const FINISH: &str = "UPDATE print SET id = 'ledge:S1:' || print, site = 'ledge', surface = 'ledge:S1', revision = 1, \
             place = ST_SetSRID(ST_MakePoint(easting_m, northing_m), 25830), \
             geom = ST_Transform(ST_SetSRID(ST_MakePoint(easting_m, northing_m), 25830), 4326); \
         CREATE INDEX ON print USING gist (place); VACUUM FULL print; ANALYZE print";
    let mut conn = database.connect();
    conn.batch_execute(TABLE).unwrap();
    let mut copy = conn
        .copy_in(
            "COPY print (surface, print, easting_m, northing_m, length_m) FROM STDIN (FORMAT csv, HEADER)",
        )
        .unwrap();
    copy.write_all(walk("S1", 0, PRINTS).as_bytes()).unwrap();
    copy.finish().unwrap();
    for statement in FINISH.split(';') {
        conn.batch_execute(statement).unwrap();
    }
}

/// The same sheet into the service's store in a database, and with psql's `\copy` into one table whose indexes are built
/// afterwards: by label, and by place.
fn imports(cluster: &Cluster) {
    const INDEXES: &str = "ALTER TABLE print ADD PRIMARY KEY (surface, print); \
         CREATE INDEX ON print USING gist (ST_SetSRID(ST_MakePoint(easting_m, northing_m), 25830))";
    let [of_service, plain] = [(); 2].map(|()| cluster.database());
    let ledger = Ledger::new();
    let sheet = ledger.write("sheet.csv", walk("S1", 0, PRINTS));
    let sheet = sheet.to_str().unwrap();
    let with_store = |arguments: &[&str]| {
        ran(&mut ledger.command_on(of_service.url(), arguments)).done();
    };
    with_store(&["site", "add", "ledge", "--crs", "EPSG:25830"]);
    let begun = Instant::now();
    with_store(&["import", "ledge", sheet]);
    let ours_s = begun.elapsed().as_secs_f64();
    let mut conn = plain.connect();
    conn.batch_execute(
        "CREATE EXTENSION postgis; CREATE TABLE print (surface text, print text, easting_m double precision, \
             northing_m double precision, length_m double precision)",
    )
    .unwrap();
    let begun = Instant::now();
    let copy = format!("\\copy print FROM '{sheet}' WITH (FORMAT csv, HEADER)");
    ran(Command::new("psql").args(["-q", "-v", "ON_ERROR_STOP=1", "-c", &copy, plain.url()])).done();
    let copied_s = begun.elapsed().as_secs_f64();
    conn.batch_execute(INDEXES).unwrap();
    let theirs_s = begun.elapsed().as_secs_f64();
    println!(
        "{PRINTS} prints into PostgreSQL in {ours_s:.1} s; psql's copy {copied_s:.1} s, with its indexes {theirs_s:.1} s: \
             {:.2} times that",
        ours_s / theirs_s
    );
    for database in [&of_service, &plain] {
        cluster.drop(database);
    }
}

fn main() {
    // `cargo test --benches` would call it, too.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    let ledger = Ledger::with_site("ledge");
    let begun = Instant::now();
    ledger.import("ledge", "sheet.csv", walk("S1", 0, PRINTS)).done();
    println!(
        "{PRINTS} prints imported in {:.1} s",
        begun.elapsed().as_secs_f64()
    );
    let cluster = Cluster::start().unwrap();
    cluster.run("ALTER SYSTEM SET shared_buffers = '1GB'");
    cluster.run("ALTER SYSTEM SET jit = off");
    cluster.run("ALTER SYSTEM SET max_parallel_workers_per_gather = 0");
    cluster.restart();
    imports(&cluster);
    let database = cluster.database();
    let begun = Instant::now();
    fill(&database);
    println!(
        "PostGIS filled and indexed in {:.1} s",
        begun.elapsed().as_secs_f64()
    );
    let manager = PostgresConnectionManager::new(database.url().parse().unwrap(), NoTls);
    let pool = r2d2::Pool::builder()
        .max_size(CONNECTIONS)
        .test_on_check_out(false)
        .build(Preparing(manager))
        .unwrap();
    for (name, question) in Question::ALL {
        let mut serve = ledger.command(&["serve", "--listen", "127.0.0.1:0", "--workers", "0"]);
        // PostgreSQL keeps no log of its questions either.
        serve.env("RUST_LOG", "warn");
        let server = Server::start(serve);
        let base = server.base();
        compare(&mut Line::to(base), &mut pool.clone(), question);
        let ours = measure(
            || Line::to(base),
            question,
            |line, place| over_http(line, question, place),
        );
        drop(server);
        let theirs = measure(
            || pool.clone(),
            question,
            |pool, place| of_postgis(pool, question, place),
        );
        println!(
            "{name}, {CLIENTS} clients\n  Stridebed {}\n  PostGIS   {}",
            ours.told(),
            theirs.told()
        );
        println!(
            "  {:.1} times the throughput",
            ours.per_second() / theirs.per_second()
        );
    }
}
