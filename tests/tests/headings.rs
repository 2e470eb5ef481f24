//! Directions are summed up as published, whole and by group; where one mean makes no sense none is given; and the
//! rose is a picture at every door.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::collections::BTreeMap;
use tests::story::{Ledger, features, problem};

fn ask(ledger: &Ledger, inputs: &[&str]) -> Value {
    let answer = ledger.ask("headings", inputs);
    assert!(
        features(&answer)
            .iter()
            .all(|one| one["geometry"].is_null() && one["properties"]["part"] == "summary")
    );
    answer
}

fn whole(answer: &Value) -> &Value {
    &features(answer)[0]["properties"]
}

fn groups(answer: &Value) -> BTreeMap<String, Value> {
    let named = features(answer)
        .iter()
        .map(|one| &one["properties"])
        .filter(|own| own["group"].is_string());
    named
        .map(|own| (own["group"].as_str().unwrap().to_owned(), own.clone()))
        .collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Reads a table of `fixtures/reference/circular`; see its README for the sources.
fn reference(file: &str) -> Vec<Vec<String>> {
    let path = format!(
        "{}/../fixtures/reference/circular/{file}",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut table = csv::Reader::from_path(path).unwrap();
    table
        .records()
        .map(|row| row.unwrap().iter().map(str::to_owned).collect())
        .collect()
}

#[test]
fn published_samples_come_out_of_the_program() {
    let ledger = Ledger::demo();
    let samples: BTreeMap<String, String> = reference("samples.csv")
        .into_iter()
        .map(|row| (row[0].clone(), row[2].replace(' ', ",")))
        .collect();
    let mut compared = 0;
    for [set, statistic, value] in reference("published_sets.csv")
        .iter()
        .map(|row| [&row[0], &row[1], &row[2]])
    {
        let answer = ask(&ledger, &[&format!("azimuths_deg={}", samples[set])]);
        let own = whole(&answer);
        let value: f64 = value.parse().unwrap();
        // A mean that makes no sense is withheld; the direction of the sum is still told.
        let (found, within) = match statistic.as_str() {
            "mean_deg" => (number(&own["resultant_deg"]), 1e-6),
            "kappa" => (number(&own["kappa"]), 1e-5),
            name => match name.split_once('.') {
                Some((test, "statistic")) => (number(&own[test]["statistic"]), 1e-6),
                Some((test, "p")) => (number(&own[test]["p"]), 1e-6),
                // A million draws beside a hundred thousand.
                Some((test, _)) => (number(&own[test]["p"]), 0.003),
                None => (number(&own[name]), 1e-6),
            },
        };
        assert!(
            (found - value).abs() <= within,
            "{set} {statistic}: {found} is not {value}"
        );
        compared += 1;
    }
    assert!(compared >= 60, "{compared}");
}

#[test]
fn turning_every_direction_turns_the_mean_and_nothing_else() {
    let ledger = Ledger::demo();
    let plain = ask(
        &ledger,
        &["azimuths_deg=45,55,81,96,110,117,132,154", "named_azimuth_deg=90"],
    );
    let turned = ask(
        &ledger,
        &["azimuths_deg=345,355,21,36,50,57,72,94", "named_azimuth_deg=30"],
    );
    let (plain, turned) = (whole(&plain), whole(&turned));
    assert!((number(&plain["mean_deg"]) - 60.0 - number(&turned["mean_deg"])).abs() < 1e-9);
    for name in ["r_bar", "circular_sd_deg", "kappa", "kappa_corrected"] {
        assert!(
            (number(&plain[name]) - number(&turned[name])).abs() < 1e-9,
            "{name}"
        );
    }
    for test in ["rayleigh", "rao_spacing", "kuiper", "watson_u2", "v_test"] {
        for name in ["statistic", "p"] {
            assert!(
                (number(&plain[test][name]) - number(&turned[test][name])).abs() < 1e-9,
                "{test} {name}"
            );
        }
        assert!(plain[test]["p_method"].is_string());
    }
}

#[test]
fn where_one_mean_makes_no_sense_none_is_given() {
    let ledger = Ledger::demo();
    let of = |start: f64, step: f64| {
        (0..20).map(move |k| (start + step * f64::from(k)).rem_euclid(360.0).to_string())
    };
    let listed = |parts: Vec<String>| format!("azimuths_deg={}", parts.join(","));
    let even = listed(of(0.0, 18.0).collect());
    let opposite = listed(of(80.0, 1.0).chain(of(260.0, 1.0)).collect());
    let two = listed(of(10.0, 1.0).chain(of(110.0, 1.0)).collect());
    let one = listed(of(10.0, 1.0).collect());
    for (sample, shape) in [
        (&even, "uniform"),
        (&opposite, "axial"),
        (&two, "bimodal"),
        (&one, "unimodal"),
    ] {
        let answer = ask(&ledger, &[sample]);
        let own = whole(&answer);
        assert_eq!(own["shape"], shape, "{own}");
        let sense = shape == "unimodal";
        assert_eq!(
            (own["mean_deg"].is_number(), &own["mean_makes_sense"]),
            (sense, &json!(sense)),
            "{own}"
        );
        assert!(!own["reasons"].as_array().unwrap().is_empty());
    }
    // Of axes, opposite directions are one.
    let answer = ask(&ledger, &[&opposite, "axial=true"]);
    assert_eq!(whole(&answer)["shape"], "unimodal");
    assert!((number(&whole(&answer)["mean_deg"]) - 89.5).abs() < 1e-9);
}

#[test]
fn a_trackway_counts_once_and_prints_count_each() {
    let ledger = Ledger::demo();
    let by_trackway = ask(&ledger, &["surface=gannet-ledge:S2"]);
    let measured = ledger
        .run(&["query", "gait", "surface=gannet-ledge:S2", "--json"])
        .done()
        .json();
    let headings: Vec<f64> = features(&measured)
        .iter()
        .map(|one| number(&one["properties"]["heading_deg"]))
        .collect();
    assert_eq!(whole(&by_trackway)["n"], headings.len());
    let listed = headings.iter().map(f64::to_string).collect::<Vec<_>>().join(",");
    let plain = ask(&ledger, &[&format!("azimuths_deg={listed}")]);
    for name in ["r_bar", "resultant_deg"] {
        let (one, other) = (number(&whole(&plain)[name]), number(&whole(&by_trackway)[name]));
        assert!((one - other).abs() < 1e-9, "{name}: {one} {other}");
    }
    let by_print = ask(&ledger, &["surface=gannet-ledge:S2", "by=print"]);
    let own = whole(&by_print);
    assert_eq!(
        own["n"].as_u64().unwrap() + own["without_direction"].as_u64().unwrap(),
        133,
        "all its prints"
    );
    assert!(by_print["caution"].as_str().unwrap().contains("not independent"));
}

#[test]
fn groups_of_every_kind_add_up_and_are_compared() {
    let ledger = Ledger::demo();
    for inputs in [
        &["site=gannet-ledge,heron-bend,tussock-quarry", "group=site"][..],
        &["site=gannet-ledge", "group=surface"],
        &["surface=gannet-ledge:S2", "group=morphotype"],
        &["site=heron-bend", "group=animal"],
        &["surface=gannet-ledge:S2", "group=trackway", "by=print"],
        &[
            "site=gannet-ledge",
            "group=animal",
            "animals=slender-toed:runner,broad-toed:wader",
        ],
    ] {
        let answer = ask(&ledger, inputs);
        let groups = groups(&answer);
        assert!(groups.len() >= 2, "{inputs:?}: {groups:?}");
        let sum: u64 = groups.values().map(|group| group["n"].as_u64().unwrap()).sum();
        assert_eq!(whole(&answer)["n"], sum, "{inputs:?}");
        let compared = &features(&answer).last().unwrap()["properties"];
        assert!(compared["between"].is_array(), "{inputs:?}: {compared}");
        if compared["not_enough_data"].is_null() {
            for test in ["watson_williams", "mardia_watson_wheeler"] {
                assert!(compared[test]["p_method"].is_string(), "{inputs:?}: {compared}");
            }
            let two = compared["between"].as_array().unwrap().len() == 2;
            assert_eq!(
                (
                    compared["watson_two_sample"].is_object(),
                    compared["pairs"].is_array()
                ),
                (two, !two)
            );
        }
    }
    let animals = ask(
        &ledger,
        &["site=gannet-ledge", "group=animal", "animals=slender-toed:runner"],
    );
    assert!(groups(&animals).contains_key("runner") && groups(&animals).contains_key("other"));
}

#[test]
fn named_twice_is_counted_once() {
    let ledger = Ledger::demo();
    let once = ask(&ledger, &["surface=gannet-ledge:S1,gannet-ledge:S2"]);
    let twice = ask(
        &ledger,
        &["surface=gannet-ledge:S1,gannet-ledge:S2,gannet-ledge:S1"],
    );
    assert_eq!(whole(&once), whole(&twice));
    let once = ask(&ledger, &["trackway=gannet-ledge:S2:T1,gannet-ledge:S2:T2"]);
    let twice = ask(
        &ledger,
        &["trackway=gannet-ledge:S2:T1,gannet-ledge:S2:T2,gannet-ledge:S2:T1"],
    );
    assert_eq!(whole(&once)["n"], 2);
    assert_eq!(whole(&once), whole(&twice));
}

#[test]
fn the_values_may_come_from_a_file() {
    let ledger = Ledger::demo();
    ledger.write("azimuths.txt", "12\n48, 350\n\n");
    let listed = ask(&ledger, &["azimuths_deg=12,48,350"]);
    assert_eq!(ask(&ledger, &["azimuths_deg=@azimuths.txt"]), listed);
    let missing = ledger.run(&["query", "headings", "azimuths_deg=@none.txt"]);
    assert_eq!(missing.code, 2, "{missing:?}");
}

#[test]
fn the_same_bytes_on_one_core_and_on_many() {
    let ledger = Ledger::demo();
    let ask = |threads: &str| {
        let mut command = ledger.command(&[
            "query",
            "headings",
            "site=gannet-ledge,heron-bend",
            "group=surface",
            "--json",
        ]);
        tests::story::ran(command.env("RAYON_NUM_THREADS", threads))
            .done()
            .out
    };
    let first = ask("1");
    for threads in ["2", "5"] {
        assert!(ask(threads) == first, "{threads} threads");
    }
}

#[test]
fn what_does_not_fit_is_refused_in_words() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (path, faulty) in [
        ("headings", "surface"),
        ("headings?surface=gannet-ledge:S2&site=gannet-ledge", "site"),
        ("headings?azimuths_deg=1,two,3", "azimuths_deg"),
        ("headings?azimuths_deg=1,NaN", "azimuths_deg"),
        ("headings?azimuths_deg=1,2&group=site", "group"),
        ("headings?azimuths_deg=1,2&restore=true", "restore"),
        ("headings?surface=gannet-ledge:S2&group=colour", "group"),
        ("headings?surface=gannet-ledge:S2&by=animal", "by"),
        ("headings?surface=gannet-ledge:S2&animals=a:b", "animals"),
        (
            "headings?surface=gannet-ledge:S2&group=animal&animals=a",
            "animals",
        ),
        (
            "headings?surface=gannet-ledge:S2&group=animal&animals=a:b,a:c",
            "animals",
        ),
        ("headings?site=gannet-ledge,heron-bend&north=grid", "north"),
        ("headings?site=Gannet", "site"),
        (
            "headings?surface=gannet-ledge:S2&named_azimuth_deg=inf",
            "named_azimuth_deg",
        ),
    ] {
        let told = problem(&server.get(&format!("/queries/{path}")), 400);
        assert_eq!(told["faults"][0]["input"], faulty, "{path}: {told}");
    }
    for missing in [
        "site=nowhere",
        "surface=gannet-ledge:S9",
        "trackway=gannet-ledge:S2:T99",
    ] {
        problem(&server.get(&format!("/queries/headings?{missing}")), 404);
    }
}

#[test]
fn the_rose_is_one_picture_at_every_door() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let path = "/queries/headings?site=gannet-ledge,heron-bend&group=site";
    let drawn = server.get(&format!("{path}&f=svg"));
    assert_eq!(drawn.media(), "image/svg+xml");
    let drawn = drawn.with_status(200).text().to_owned();
    assert!(drawn.starts_with("<svg") && drawn.contains("gannet-ledge") && drawn.contains("heron-bend"));
    let asked = server.client.get_with(path, &[("accept", "image/svg+xml")]);
    assert_eq!(asked.with_status(200).text(), drawn);
    let inputs = ["query", "headings", "site=gannet-ledge,heron-bend", "group=site"];
    let answer = ledger
        .run(&[&inputs[..], &["--json", "--svg", "rose.svg"]].concat())
        .done()
        .out;
    assert_eq!(std::fs::read_to_string(ledger.file("rose.svg")).unwrap(), drawn);
    assert_eq!(
        answer,
        ledger.run(&[&inputs[..], &["--json"]].concat()).done().out
    );
    assert_eq!(
        ledger
            .run(&[&inputs[..], &["--svg", "-"]].concat())
            .done()
            .out
            .trim_end(),
        drawn.trim_end()
    );
    // The page shows both.
    let page = server.get(&format!("{path}&f=html"));
    assert!(page.with_status(200).text().contains("<svg"));
    // What has no picture says so.
    problem(
        &server.get("/queries/individuals?surface=gannet-ledge:S2&f=svg"),
        400,
    );
    let none = ledger.run(&[
        "query",
        "individuals",
        "surface=gannet-ledge:S2",
        "--svg",
        "x.svg",
    ]);
    assert_eq!(none.code, 1, "{none:?}");
    assert!(!ledger.file("x.svg").exists());
}

#[test]
fn a_rose_of_nothing_is_still_a_picture() {
    let ledger = Ledger::with_site("invented-shore");
    ledger
        .import(
            "invented-shore",
            "one.csv",
            "surface,print,easting_m,northing_m,length_m\nS1,P1,480000,4790000,0.3\n",
        )
        .done();
    let drawn = ledger
        .run(&["query", "headings", "surface=invented-shore:S1", "--svg", "-"])
        .done()
        .out;
    assert!(drawn.contains("no directions"), "{drawn}");
    let answer = ask(&ledger, &["surface=invented-shore:S1"]);
    assert_eq!(
        (&whole(&answer)["n"], &whole(&answer)["mean_deg"]),
        (&json!(0), &Value::Null)
    );
}
