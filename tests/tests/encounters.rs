//! Who met whom: paths that cross, go side by side, follow one another and lead to one place, and the scene made of them.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::fmt::Write;
use tests::story::{Ledger, features};

const PLACE: &str = "salt-pan:S1";
const EAST: f64 = 480_000.0;
const NORTH: f64 = 4_790_000.0;
/// Where four trackways lead.
const POOL: [f64; 2] = [60.0, 40.0];

/// One animal: its label, where it begins, its heading, how many steps it makes and how long its feet are.
struct Walk {
    label: &'static str,
    from: [f64; 2],
    heading_deg: f64,
    steps: u32,
    foot_m: f64,
    overlies: &'static [(u32, &'static str)],
}

const fn walk(label: &'static str, from: [f64; 2], heading_deg: f64, steps: u32) -> Walk {
    Walk {
        label,
        from,
        heading_deg,
        steps,
        foot_m: 0.3,
        overlies: &[],
    }
}

impl Walk {
    fn rows(&self, out: &mut String) {
        let (sine, cosine) = self.heading_deg.to_radians().sin_cos();
        for no in 0..self.steps {
            // Some unevenness that repeats keeps it from being a machine's.
            let along = 0.85 * f64::from(no) + 0.03 * f64::from(no * 7 % 5);
            let (off, side) = if no % 2 == 0 {
                (0.12, "right")
            } else {
                (-0.12, "left")
            };
            let off = off + 0.01 * f64::from(no * 3 % 4);
            let east = EAST + self.from[0] + along * sine + off * cosine;
            let north = NORTH + self.from[1] + along * cosine - off * sine;
            let azimuth = (self.heading_deg + f64::from(no * 5 % 7) - 3.0).rem_euclid(360.0);
            let over: Vec<&str> = self
                .overlies
                .iter()
                .filter(|(at, _)| *at == no)
                .map(|(_, below)| *below)
                .collect();
            let (label, foot) = (self.label, self.foot_m);
            let (order, over) = (no + 1, over.join(" "));
            writeln!(out, "S1,{label}-{no:02},{east:.3},{north:.3},{foot},{azimuth},{side},slender-toed,{label},{order},{over}").unwrap();
        }
    }
}

/// A walk that comes from this azimuth to the pool and stops six metres short of it.
fn to_pool(label: &'static str, from_deg: f64) -> Walk {
    let steps = 26;
    let far = 6.0 + 0.85 * f64::from(steps - 1);
    let (sine, cosine) = from_deg.to_radians().sin_cos();
    walk(
        label,
        [POOL[0] + far * sine, POOL[1] + far * cosine],
        from_deg + 180.0,
        steps,
    )
}

fn walks() -> Vec<Walk> {
    vec![
        walk("T01", [0.0, 0.0], 10.0, 36),
        Walk {
            foot_m: 0.18,
            ..walk("T02", [1.6, -0.3], 10.0, 36)
        },
        Walk {
            overlies: &[(10, "T01-12")],
            ..walk("T03", [-6.5, 10.2], 90.0, 24)
        },
        to_pool("T04", 15.0),
        to_pool("T05", 115.0),
        to_pool("T06", 200.0),
        to_pool("T07", 290.0),
        walk("T08", [85.0, -10.0], 300.0, 34),
        Walk {
            overlies: &[(12, "T08-14"), (20, "T08-22")],
            ..walk("T09", [83.4, -9.2], 300.0, 30)
        },
        walk("T10", [10.0, 60.0], 130.0, 14),
        walk("T11", [95.0, 60.0], 250.0, 12),
        walk("T12", [20.0, -15.0], 75.0, 14),
        walk("T13", [100.0, 5.0], 20.0, 12),
        walk("T14", [-10.0, 45.0], 200.0, 14),
        walk("T15", [30.0, 75.0], 330.0, 12),
        walk("T16", [5.0, 85.0], 85.0, 14),
    ]
}

/// A salt pan on which all of them walked; the pool lies under cover.
fn pan() -> Ledger {
    let ledger = Ledger::with_site("salt-pan");
    let mut sheet =
        "surface,print,easting_m,northing_m,length_m,azimuth_deg,side,morphotype,trackway,order,overlies\n"
            .to_owned();
    walks().iter().for_each(|walk| walk.rows(&mut sheet));
    ledger.import("salt-pan", "sheet.csv", sheet).done();
    let corner = |east: f64, north: f64| [EAST + POOL[0] + east, NORTH + POOL[1] + north];
    let ring = [
        corner(-5.0, -5.0),
        corner(5.0, -5.0),
        corner(5.0, 5.0),
        corner(-5.0, 5.0),
        corner(-5.0, -5.0),
    ];
    let extents = json!({
        "type": "FeatureCollection",
        "crs": { "type": "name", "properties": { "name": "urn:ogc:def:crs:EPSG::25830" } },
        "features": [{
            "type": "Feature",
            "properties": { "surface": "S1", "extent": "E1", "kind": "covered" },
            "geometry": { "type": "Polygon", "coordinates": [ring] },
        }],
    });
    ledger
        .import("salt-pan", "extents.geojson", extents.to_string())
        .done();
    ledger
}

fn ask(ledger: &Ledger, id: &str, inputs: &[&str]) -> Value {
    let surface = format!("surface={PLACE}");
    ledger.ask(id, &[&[surface.as_str()], inputs].concat())
}

fn parts<'a>(answer: &'a Value, part: &str) -> Vec<&'a Value> {
    features(answer)
        .iter()
        .filter(|feature| feature["properties"]["part"] == part)
        .collect()
}

fn ids(labels: &[&str]) -> Value {
    labels.iter().map(|label| format!("{PLACE}:{label}")).collect()
}

#[test]
fn a_crossing_tells_its_place_its_angle_and_which_came_first() {
    let ledger = pan();
    let answer = ask(&ledger, "crossings", &["north=grid", "crs=EPSG:25830"]);
    let of_both = |crossing: &&&Value| crossing["properties"]["trackways"] == ids(&["T01", "T03"]);
    let crossing = *parts(&answer, "focus").iter().find(of_both).unwrap();
    let told = &crossing["properties"];
    assert_eq!(told["contact"], "crosses");
    assert!((told["angle_deg"].as_f64().unwrap() - 80.0).abs() < 5.0, "{told}");
    assert_eq!(told["first"], format!("{PLACE}:T01"));
    assert_eq!(
        told["overprints"],
        json!([{ "upper": format!("{PLACE}:T03-10"), "lower": format!("{PLACE}:T01-12") }])
    );
    let north = crossing["geometry"]["coordinates"][1].as_f64().unwrap();
    assert!((north - NORTH - 10.2).abs() < 0.3, "{crossing}");
    let order = &parts(&answer, "summary")[0]["properties"];
    assert_eq!(order["contradictions"], json!([]));
    let pairs: Vec<[&Value; 2]> = (order["order"].as_array().unwrap().iter())
        .map(|one| [&one["earlier"], &one["later"]])
        .collect();
    assert_eq!(json!(pairs), json!([ids(&["T01", "T03"]), ids(&["T08", "T09"])]));
}

#[test]
fn those_who_went_side_by_side_stand_against_chance() {
    let ledger = pan();
    let answer = ask(&ledger, "companions", &[]);
    let told = &parts(&answer, "path")
        .into_iter()
        .find(|path| path["properties"]["trackways"] == ids(&["T01", "T02"]))
        .unwrap()["properties"];
    assert_eq!(told["kind"], "side by side");
    assert!(
        (told["spacing_mean_m"].as_f64().unwrap() - 1.6).abs() < 0.2,
        "{told}"
    );
    assert!(
        (told["size_ratio"].as_f64().unwrap() - 0.3 / 0.18).abs() < 0.05,
        "{told}"
    );
    assert!(told["p_corrected"].as_f64().unwrap() < 0.05, "{told}");
    let summary = &parts(&answer, "summary")[0]["properties"];
    assert!(
        summary["p"].as_f64().unwrap() < 0.05 && summary["null_quantiles"].is_object(),
        "{summary}"
    );
    assert!(answer["caution"].as_str().unwrap().contains("different times"));
    let again = ask(&ledger, "companions", &[]);
    assert_eq!(answer, again, "the same seed gives the same answer");
}

#[test]
fn a_follower_is_the_later_one_where_its_prints_lie_over_the_others() {
    let answer = ask(&pan(), "followers", &[]);
    let told = &parts(&answer, "path")[0]["properties"];
    assert_eq!(told["follower"], format!("{PLACE}:T09"));
    assert_eq!(told["leader"], format!("{PLACE}:T08"));
    assert_eq!(told["order"], "follower_later");
    assert_eq!(told["overprints"].as_array().unwrap().len(), 2);
    assert!(told["p_corrected"].as_f64().unwrap() < 0.05, "{told}");
}

#[test]
fn four_that_lead_to_one_place_give_a_target_under_cover() {
    let answer = ask(&pan(), "convergence", &["crs=EPSG:25830"]);
    let focus = parts(&answer, "focus")[0];
    let told = &focus["properties"];
    let members = told["trackways"].as_array().unwrap();
    let of_pool = ["T04", "T05", "T06", "T07"].map(|label| format!("{PLACE}:{label}"));
    let found = of_pool.iter().filter(|id| members.contains(&json!(id))).count();
    assert!(found >= 3, "{told}");
    let at = &focus["geometry"]["coordinates"];
    let off =
        [(0, EAST + POOL[0]), (1, NORTH + POOL[1])].map(|(axis, wanted)| at[axis].as_f64().unwrap() - wanted);
    assert!(off[0].hypot(off[1]) < 3.0, "{focus}");
    assert_eq!(
        (&told["in_extent"], &told["target"]),
        (&json!("covered"), &json!(true))
    );
    assert!(told["p"].as_f64().unwrap() < 0.05, "{told}");
    assert!(
        answer["caution"].as_str().unwrap().contains("permits"),
        "digging needs its caution"
    );
    assert!(told["members"][0]["speed_m_s"].as_f64().unwrap() > 0.0);
}

#[test]
fn a_scene_is_statements_with_evidence_and_a_page_that_can_be_read() {
    let ledger = pan();
    let answer = ask(&ledger, "scene", &[]);
    let statements = parts(&answer, "statement");
    for statement in &statements {
        let told = &statement["properties"];
        assert!(told["says"].as_str().unwrap().ends_with('.'), "{told}");
        assert!(!told["evidence"].as_array().unwrap().is_empty(), "{told}");
        assert!(!told["caution"].as_str().unwrap().is_empty(), "{told}");
        if told["strength"] == "weak" && told["p_corrected"].is_number() {
            assert!(told["says"].as_str().unwrap().starts_with("Weak"), "{told}");
        }
    }
    let about = |name: &str| {
        statements
            .iter()
            .any(|statement| statement["properties"]["about"] == name)
    };
    for name in [
        "trackways",
        "individuals",
        "headings",
        "gait",
        "companions",
        "followers",
        "convergence",
        "order",
        "crossings",
    ] {
        assert!(about(name), "nothing about {name}");
    }
    let server = ledger.serve(&[]);
    let page = server
        .get(&format!("/queries/scene?surface={PLACE}&f=html"))
        .with_status(200);
    let page = page.text();
    assert!(
        page.contains("T03 came after T01") && page.contains("class=\"weak\""),
        "{page}"
    );
    // What a statement rests on can be asked.
    for statement in &statements {
        for evidence in statement["properties"]["evidence"].as_array().unwrap() {
            server.get(evidence["href"].as_str().unwrap()).with_status(200);
        }
    }
}

#[test]
fn nothing_is_told_of_an_empty_surface_and_bad_inputs_are_named() {
    let ledger = Ledger::with_site("salt-pan");
    let sheet = "surface,print,easting_m,northing_m,length_m\nS1,P1,480000,4790000,0.3\n";
    ledger.import("salt-pan", "one.csv", sheet).done();
    for id in [
        "crossings",
        "companions",
        "followers",
        "convergence",
        "scene",
        "timeline",
    ] {
        let answer = ask(&ledger, id, &[]);
        assert!(
            parts(&answer, "focus").is_empty() && parts(&answer, "path").is_empty(),
            "{id}"
        );
    }
    let surface = format!("surface={PLACE}");
    let refused = ledger.run(&["query", "companions", &surface, "permutations=3", "--json"]);
    assert_eq!(refused.code, 1, "{refused:?}");
    let told = refused.json();
    assert!(told["faults"].to_string().contains("permutations"), "{told}");
}
