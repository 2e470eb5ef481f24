//! A site as one file: for a mapping program, and for publication.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use std::io::{Cursor, Read};
use std::path::Path;
use tests::story::{self, Holder, Ledger, Server, problem, walk};

/// Runs a program of GDAL on a file; its output, and it must not warn.
fn gdal(program: &str, arguments: &[&str]) -> String {
    let ran = story::gdal(program, arguments);
    assert!(ran.err.trim().is_empty(), "{program} {arguments:?}: {}", ran.err);
    ran.out
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// What follows a word in a text, to the end of the line.
fn after<'t>(text: &'t str, word: &str) -> &'t str {
    let found = text
        .split_once(word)
        .unwrap_or_else(|| panic!("no {word} in {text}"));
    found.1.lines().next().unwrap().trim()
}

#[test]
fn a_geopackage_opens_in_gdal_without_a_warning() {
    let ledger = Ledger::demo();
    let file = ledger.file("ledge.gpkg");
    let said = ledger
        .run(&["export", "gannet-ledge", "--format", "gpkg", "--out", text(&file)])
        .done();
    assert!(said.out.contains("Wrote"), "{said:?}");
    let all = gdal("ogrinfo", &["-so", "-al", text(&file)]);
    let count = |layer: &str| {
        let part = all.split_once(&format!("Layer name: {layer}\n")).unwrap().1;
        after(part, "Feature Count: ").parse::<u64>().unwrap()
    };
    let server = ledger.serve(&[]);
    for layer in ["surfaces", "extents", "prints", "trackways"] {
        let path = format!("/collections/{layer}/items?site=gannet-ledge&limit=1");
        let expected = server.get(&path).with_status(200).json()["numberMatched"]
            .as_u64()
            .unwrap();
        assert_eq!(count(layer), expected, "{layer}");
    }
    assert!(all.contains("25830"), "the site's own CRS: {all}");
    for column in [
        "length_m: Real",
        "digits: Integer",
        "observed_on: Date",
        "morphotype: String",
    ] {
        assert!(all.contains(column), "{column} is not in {all}");
    }
    // A place to a tenth of a millimetre, beside what the service says.
    let crs = "crs=http://www.opengis.net/def/crs/EPSG/0/25830";
    let print = &server
        .get(&format!(
            "/collections/prints/items?site=gannet-ledge&limit=1&{crs}"
        ))
        .json()["features"][0];
    let filter = format!("id = '{}'", print["id"].as_str().unwrap());
    let one = gdal("ogrinfo", &["-al", "-where", &filter, text(&file), "prints"]);
    let point = after(&one, "POINT (").trim_end_matches(')');
    let point: Vec<f64> = point.split(' ').map(|number| number.parse().unwrap()).collect();
    for (axis, name) in ["easting_m", "northing_m"].iter().enumerate() {
        let expected = print["properties"][name].as_f64().unwrap();
        assert!((point[axis] - expected).abs() < 1e-4, "{point:?} {expected}");
    }
    // Through the spatial index.
    let (x, y) = (point[0], point[1]);
    let around = [x - 0.01, y - 0.01, x + 0.01, y + 0.01].map(|edge| format!("{edge:.3}"));
    let near = gdal(
        "ogrinfo",
        &[
            "-so",
            "-spat",
            &around[0],
            &around[1],
            &around[2],
            &around[3],
            text(&file),
            "prints",
        ],
    );
    assert_eq!(after(&near, "Feature Count: "), "1");
    let indexed = gdal(
        "ogrinfo",
        &["-sql", "SELECT HasSpatialIndex('prints', 'geom')", text(&file)],
    );
    assert!(indexed.contains("= 1"), "{indexed}");
    // GDAL can change it: the triggers keep the index.
    gdal(
        "ogrinfo",
        &["-sql", &format!("DELETE FROM prints WHERE {filter}"), text(&file)],
    );
    let near = gdal(
        "ogrinfo",
        &[
            "-so",
            "-spat",
            &around[0],
            &around[1],
            &around[2],
            &around[3],
            text(&file),
            "prints",
        ],
    );
    assert_eq!(after(&near, "Feature Count: "), "0");
}

#[test]
fn a_site_without_anything_is_a_geopackage_too() {
    let ledger = Ledger::with_site("cove");
    let file = ledger.file("cove.gpkg");
    ledger
        .run(&["export", "cove", "--format", "gpkg", "--out", text(&file)])
        .done();
    let all = gdal("ogrinfo", &["-so", "-al", text(&file)]);
    assert_eq!(all.matches("Feature Count: 0").count(), 4, "{all}");
    assert_eq!(ledger.run(&["export", "no-cove", "--format", "gpkg"]).code, 1);
    assert_eq!(ledger.run(&["export", "cove", "--format", "shp"]).code, 2);
    let nowhere = ledger.run(&[
        "export",
        "cove",
        "--format",
        "gpkg",
        "--out",
        "/nowhere/cove.gpkg",
    ]);
    assert_eq!(nowhere.code, 1, "{nowhere:?}");
    let left = std::fs::read_dir(ledger.file("cove.gpkg").parent().unwrap()).unwrap();
    assert!(
        left.flatten()
            .all(|one| !one.file_name().to_string_lossy().contains("-export-"))
    );
}

/// The files of an archive by name.
fn unpacked(bytes: &[u8]) -> impl Fn(&str) -> String + use<'_> {
    move |name| {
        let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        let mut text = String::new();
        archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
        text
    }
}

/// The rows of the core, each cell by its term.
fn rows(core: &str) -> Vec<std::collections::HashMap<String, String>> {
    let mut lines = core.lines();
    let names: Vec<&str> = lines.next().unwrap().split('\t').collect();
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split('\t').collect();
            assert_eq!(cells.len(), names.len(), "{line}");
            names
                .iter()
                .zip(cells)
                .map(|(name, cell)| ((*name).to_owned(), cell.to_owned()))
                .collect()
        })
        .collect()
}

fn archive(ledger: &Ledger, site: &str) -> Vec<u8> {
    let file = ledger.file("site.zip");
    ledger
        .run(&["export", site, "--format", "dwca", "--out", text(&file)])
        .done();
    std::fs::read(file).unwrap()
}

#[test]
fn an_archive_of_an_open_site_tells_places_as_they_are() {
    let ledger = Ledger::new();
    ledger.add_site(
        "cove",
        "EPSG:25830",
        &[
            "--name",
            "Cove & <Bay>",
            "--licence",
            "CC-BY 4.0",
            "--country",
            "Spain",
        ],
    );
    let sheet = "surface,print,easting_m,northing_m,length_m,position_sd_m,morphotype,observed_on,note\n\
                 S1,P1,480000.5,4790000.25,0.3,0.02,broad-toed,2026-05-01,\"one\tor two\nlines\"\n";
    ledger.import("cove", "sheet.csv", sheet).done();
    let bytes = archive(&ledger, "cove");
    assert_eq!(
        bytes,
        archive(&ledger, "cove"),
        "the same record gives the same bytes"
    );
    let file = unpacked(&bytes);
    let rows = rows(&file("occurrence.txt"));
    assert_eq!(rows.len(), 1);
    let row = |term: &str| rows[0][term].as_str();
    assert_eq!(row("occurrenceID"), "cove:S1:P1");
    assert_eq!(row("basisOfRecord"), "HumanObservation");
    assert_eq!(row("verbatimCoordinates"), "480000.5 4790000.25");
    assert_eq!(row("coordinateUncertaintyInMeters"), "0.04");
    assert_eq!(
        (row("eventDate"), row("verbatimIdentification")),
        ("2026-05-01", "broad-toed")
    );
    assert_eq!(
        (row("occurrenceRemarks"), row("dataGeneralizations")),
        ("one or two lines", "")
    );
    let latitude: f64 = row("decimalLatitude").parse().unwrap();
    assert!((latitude - 43.2625).abs() < 0.001, "{latitude}");
    let (meta, eml) = (file("meta.xml"), file("eml.xml"));
    let description = roxmltree::Document::parse(&meta).unwrap();
    let fields = description
        .descendants()
        .filter(|node| node.has_tag_name(("http://rs.tdwg.org/dwc/text/", "field")));
    assert_eq!(fields.count(), rows[0].len());
    assert!(
        roxmltree::Document::parse(&eml).is_ok() && eml.contains("Cove &amp; &lt;Bay&gt;"),
        "{eml}"
    );
}

#[test]
fn an_archive_of_a_generalised_site_tells_no_place_finer_than_its_cell() {
    let made = |sheet: String| {
        let ledger = Ledger::new();
        ledger.add_site("cove", "EPSG:25830", &["--policy", "generalised"]);
        ledger.import("cove", "sheet.csv", sheet).done();
        archive(&ledger, "cove")
    };
    let elsewhere = walk("S1", 0, 5).replace(",480", ",487").replace(",4790", ",4796");
    let (one, other) = (made(walk("S1", 0, 5)), made(elsewhere));
    assert_eq!(one, other, "wherever in the cell the prints lie");
    let core = rows(&unpacked(&one)("occurrence.txt"));
    assert_eq!(core.len(), 5);
    for row in core {
        assert_eq!(
            (
                row["verbatimCoordinates"].as_str(),
                row["verbatimElevation"].as_str()
            ),
            ("", "")
        );
        assert!(row["dataGeneralizations"].contains("10 km"), "{row:?}");
        assert!(!row["informationWithheld"].is_empty());
        assert!(row["coordinateUncertaintyInMeters"].parse::<f64>().unwrap() > 7_071.0);
        assert!(!row["dynamicProperties"].contains("azimuth"));
    }
    let ledger = Ledger::new();
    ledger.add_site("shut", "EPSG:25830", &["--policy", "closed"]);
    let refused = ledger.run(&["export", "shut", "--format", "dwca"]);
    assert!(refused.code == 1 && refused.err.contains("closed"), "{refused:?}");
}

fn consortium() -> (Ledger, Server, Holder) {
    let ledger = Ledger::new();
    for (site, policy) in [("open", "open"), ("vague", "generalised"), ("shut", "closed")] {
        ledger.add_site(site, "EPSG:25830", &["--policy", policy]);
        ledger.import(site, "sheet.csv", walk("S1", 0, 5)).done();
    }
    let token = ledger.token("party", "reader", &["vague", "shut"]);
    let server = ledger.serve(&[]);
    let holder = Holder::of(&server, &token);
    (ledger, server, holder)
}

#[test]
fn the_same_files_come_over_http_to_those_who_see_the_site() {
    let (ledger, server, holder) = consortium();
    for format in ["csv", "geojson", "dwca"] {
        let file = ledger.file("open.out");
        ledger
            .run(&["export", "open", "--format", format, "--out", text(&file)])
            .done();
        let answer = server
            .get(&format!("/sites/open/export?format={format}"))
            .with_status(200);
        assert_eq!(answer.body, std::fs::read(&file).unwrap(), "{format}");
        assert!(
            answer.header("content-disposition").unwrap().contains("open"),
            "{format}"
        );
    }
    let package = server.get("/sites/open/export").with_status(200);
    assert_eq!(package.media(), "application/geopackage+sqlite3");
    assert!(package.body.starts_with(b"SQLite format 3"));
    for site in ["vague", "shut", "none"] {
        let refused = problem(&server.get(&format!("/sites/{site}/export?format=csv")), 404);
        assert_eq!(refused["detail"], format!("There is no site {site:?}."));
    }
    for site in ["vague", "shut"] {
        holder
            .get(&format!("/sites/{site}/export?format=gpkg"))
            .with_status(200);
    }
    holder.get("/sites/vague/export?format=dwca").with_status(200);
    problem(&holder.get("/sites/shut/export?format=dwca"), 409);
    problem(&server.get("/sites/open/export?format=shp"), 400);
}
