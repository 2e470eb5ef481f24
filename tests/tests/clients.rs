//! Programs that others have made ask a service whose records are in PostgreSQL: GDAL, a script with OWSLib, and a tester of
//! OpenAPI definitions.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::{Cluster, Database};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::process::Command;
use tests::story::processes::{accepted, execute};
use tests::story::{Ledger, Server, features, gdal, ran};

const SURFACE: &str = "gannet-ledge:S1";
/// What the tester of definitions looks at in each answer.
const CHECKS: [&str; 6] = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "response_headers_conformance",
    "allow_header_conformance",
];

/// The demonstration's sites in a database, served.
struct Survey {
    database: Database,
    /// Where the sheets came from; its own file holds the same records.
    ledger: Ledger,
    server: Server,
}

impl Survey {
    fn open() -> Self {
        let (ledger, database) = (Ledger::demo(), Cluster::shared().database());
        ledger.copy_to(database.url());
        let serve = ["serve", "--listen", "127.0.0.1:0", "--workers", "1"];
        let serve = ledger.command_on(database.url(), &serve);
        Self {
            server: Server::start(serve),
            database,
            ledger,
        }
    }

    /// The longitudes and latitudes of a quarter of the surface's prints.
    fn corner(&self) -> [f64; 4] {
        let all = self
            .server
            .get("/collections/prints/items?limit=1000&filter=surface='gannet-ledge:S1'")
            .json();
        let places: Vec<[f64; 2]> = (features(&all).iter())
            .map(|print| [0, 1].map(|axis| print["geometry"]["coordinates"][axis].as_f64().unwrap()))
            .collect();
        let middle =
            [0, 1].map(|axis| places.iter().map(|place| place[axis]).sum::<f64>() / places.len() as f64);
        let least = [0, 1].map(|axis| {
            places
                .iter()
                .map(|place| place[axis])
                .fold(f64::INFINITY, f64::min)
        });
        [least[0], least[1], middle[0], middle[1]]
    }
}

impl Drop for Survey {
    fn drop(&mut self) {
        Cluster::shared().drop(&self.database);
    }
}

/// A program of those that `make test-needs` installs.
fn client(program: &str) -> Command {
    let path = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../target/clients/bin")).join(program);
    assert!(
        path.exists(),
        "{} is missing: `make test-needs` installs it",
        path.display()
    );
    Command::new(path)
}

/// The ids of an answer's features, sorted.
fn ids(answer: &Value) -> Vec<&str> {
    let mut ids: Vec<&str> = features(answer)
        .iter()
        .map(|feature| feature["id"].as_str().unwrap())
        .collect();
    ids.sort_unstable();
    ids
}

#[test]
fn gdal_reads_a_node_on_a_database_as_it_reads_one_on_a_file() {
    let survey = Survey::open();
    let on_a_file = survey.ledger.serve(&[]);
    let [west, south, east, north] = survey.corner().map(|part| part.to_string());
    let selections: [&[&str]; 4] = [
        &["prints"],
        &["prints", "-spat", &west, &south, &east, &north],
        &[
            "prints",
            "-where",
            "surface = 'gannet-ledge:S1' AND length_m > 0.3",
        ],
        &["trackways"],
    ];
    let read = |server: &Server, selection: &[&str]| {
        let source = format!("OAPIF:{}/", server.base());
        let read = gdal("ogrinfo", &[&["-al", "-q", &source], selection].concat());
        assert!(
            !read.err.contains("Warning") && !read.err.contains("ERROR"),
            "{}",
            read.err
        );
        read.out
    };
    let mut lengths = Vec::new();
    for selection in selections {
        let found = read(&survey.server, selection);
        assert_eq!(found, read(&on_a_file, selection), "{selection:?}");
        lengths.push(found.matches("OGRFeature(").count());
    }
    assert!(
        lengths[0] > lengths[1] && lengths[0] > lengths[2] && lengths.iter().all(|length| *length > 5),
        "{lengths:?}"
    );
}

#[test]
fn a_script_with_owslib_reads_edits_and_asks() {
    let survey = Survey::open();
    let [west, south, east, north] = survey.corner();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/clients/owslib_client.py");
    let bounds = format!("[{west},{south},{east},{north}]");
    let said = ran(client("python").args([script, survey.server.base(), SURFACE, &bounds, "P-new"]))
        .done()
        .json();

    let get = |path: &str| survey.server.get(path).json();
    let read = &said["read"];
    assert_eq!(read["conformance"], get("/conformance"));
    assert_eq!(read["definition"], get("/api")["openapi"]);
    assert_eq!(
        read["names"].as_array().unwrap().len(),
        get("/collections")["collections"].as_array().unwrap().len()
    );
    assert_eq!(read["collection"], get("/collections/prints"));
    assert_eq!(read["queryables"], get("/collections/prints/queryables"));
    let in_box = get(&format!(
        "/collections/prints/items?limit=1000&bbox={west},{south},{east},{north}"
    ));
    assert_eq!(ids(&read["in_box"]), ids(&in_box));
    let filtered = features(&read["filtered"]);
    assert!(
        filtered.len() > 5
            && filtered
                .iter()
                .all(|print| print["properties"]["length_m"].as_f64() > Some(0.3))
    );
    assert_eq!(features(&read["few"]).len(), 5);

    let edit = &said["edit"];
    assert_eq!(edit["made"]["properties"]["length_m"], 0.3);
    assert_eq!(edit["changed"]["properties"]["length_m"], 0.4);
    assert_eq!(edit["changed"]["id"], "gannet-ledge:S1:P-new");
    assert_eq!(edit["gone"]["status"], 404);

    let ask = &said["ask"];
    assert!(ask["names"].as_array().unwrap().contains(&"convergence".into()));
    assert_eq!(ask["description"], get("/processes/headings"));
    let answer = get("/queries/headings?surface=gannet-ledge:S1");
    for asked in ["at_once", "results"] {
        assert_eq!(ask[asked]["answer"]["value"], answer, "{asked}");
    }
    assert_eq!(ask["status"]["status"], "successful");
    assert_eq!(ask["dismissed"]["status"], "dismissed");
}

/// The name of a record of each collection for the tester, which cannot know any.
fn names(survey: &Survey) -> String {
    let first = |collection: &str| {
        let one = survey
            .server
            .get(&format!("/collections/{collection}/items?limit=1"))
            .json();
        ids(&one)[0].to_owned()
    };
    let inputs = json!({ "inputs": { "surface": SURFACE } });
    let job = execute(
        &survey.server.client,
        "headings",
        &inputs,
        &[("prefer", "respond-async")],
    );
    let job = accepted(&job);
    let job = job.rsplit('/').next().unwrap();
    let mut names = format!(
        "[parameters]\n\"path.site\" = {:?}\n\"path.trackway\" = {:?}\n\"path.job\" = {job:?}\n",
        first("sites"),
        first("trackways")
    );
    for place in ["path", "query"] {
        names += &format!("\"{place}.surface\" = {:?}\n", first("surfaces"));
    }
    for collection in ["sites", "surfaces", "extents", "prints", "trackways"] {
        names += &format!(
            "[[operations]]\ninclude-path-regex = \"/collections/{collection}/items/\"\nparameters = {{ \"path.id\" = {:?} }}\n",
            first(collection)
        );
    }
    names
}

/// `SCHEMATHESIS` is how many examples of each operation are tried, in place of a few.
#[test]
fn every_answer_is_as_the_definition_says() {
    let survey = Survey::open();
    let examples = std::env::var("SCHEMATHESIS").unwrap_or_else(|_| "3".to_owned());
    let settings = survey.ledger.write("names.toml", names(&survey));
    let definition = format!("{}/api?f=json", survey.server.base());
    let mut tester = client("schemathesis");
    tester
        .env("HYPOTHESIS_STORAGE_DIRECTORY", survey.ledger.file("examples"))
        .current_dir(survey.ledger.path().parent().unwrap())
        .args(["--config-file", settings.to_str().unwrap(), "run", &definition])
        .args([
            "--no-color",
            "--seed",
            "1",
            "--workers",
            "1",
            "--max-examples",
            &examples,
        ])
        .args(["--checks", &CHECKS.join(",")]);
    let tested = ran(&mut tester);
    println!("{}", tested.out);
    assert_eq!(tested.code, 0, "{}", tested.err);
}
