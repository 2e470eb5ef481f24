//! What cannot be measured is said to be so, and what does not fit is refused.

use super::{ledger, only, walk};
use tests::story::{Ledger, Schema, problem};

/// Surfaces that give little to measure: nothing may come out as a number that is none.
#[test]
fn too_little_is_said_to_be_so() {
    let at = |no: u32, e: &str, n: &str, side: &str| format!("S1,P{no},{e},{n},0.3,,{side},T1,{no}\n");
    let cases = [
        ("one print", at(1, "480000", "4790000", "left")),
        (
            "two in one place",
            [
                at(1, "480000", "4790000", "left"),
                at(2, "480000", "4790000", "right"),
            ]
            .concat(),
        ),
        (
            "all of one side",
            (1..6)
                .map(|no| at(no, "480000", &format!("{}", 4_790_000 + no), "left"))
                .collect(),
        ),
        (
            "colinear",
            (1..6)
                .map(|no| at(no, "480000", &format!("{}", 4_790_000 + no), ""))
                .collect(),
        ),
    ];
    for (case, rows) in cases {
        let ledger = ledger(&rows);
        let gait = ledger.ask("gait", &["trackway=invented-shore:S1:T1"]);
        let told = only(&gait);
        assert!(
            !told["not_enough_data"].as_object().unwrap().is_empty(),
            "{case}: {told}"
        );
        for (id, inputs) in [
            ("headings", &["surface=invented-shore:S1"][..]),
            (
                "headings",
                &["surface=invented-shore:S1", "by=print", "group=trackway"],
            ),
            (
                "headings",
                &[
                    "site=invented-shore",
                    "group=morphotype",
                    "axial=true",
                    "named_azimuth_deg=90",
                ],
            ),
            ("individuals", &["surface=invented-shore:S1"]),
            ("gait", &["surface=invented-shore:S1", "steps=true"]),
        ] {
            let answer = ledger.query(id, inputs).done().out;
            assert!(
                !answer.contains("NaN") && !answer.contains("inf,") && !answer.contains("Infinity"),
                "{case}: {answer}"
            );
            assert!(
                !answer.contains("e308"),
                "{case}: a number beyond all measure: {answer}"
            );
            Schema::geojson().fits(&serde_json::from_str(&answer).unwrap());
        }
    }
}

#[test]
fn what_does_not_fit_is_refused_in_words() {
    let demo = Ledger::demo();
    let server = demo.serve(&[]);
    let trackway = "trackway=gannet-ledge:S2:T1";
    for (path, faulty) in [
        ("gait", "trackway"),
        (
            "gait?trackway=gannet-ledge:S2:T1&surface=gannet-ledge:S2",
            "surface",
        ),
        ("gait?trackway=gannet-ledge:S2", "trackway"),
        (&format!("gait?{trackway}&hip_ratio=0"), "hip_ratio"),
        (&format!("gait?{trackway}&hip_ratio=-4"), "hip_ratio"),
        (
            &format!("gait?{trackway}&hip_ratio=4&hip_height_m=1"),
            "hip_ratio",
        ),
        (
            &format!("gait?{trackway}&hip_ratio=4&morphotype_group=theropod"),
            "morphotype_group",
        ),
        (
            &format!("gait?{trackway}&morphotype_group=dragon"),
            "morphotype_group",
        ),
        (
            &format!("gait?{trackway}&morphotype_group=sauropod&allometric=true"),
            "allometric",
        ),
        (&format!("gait?{trackway}&allometric=true"), "allometric"),
        (&format!("gait?{trackway}&position_sd_m=NaN"), "position_sd_m"),
        ("speed?stride_m=0&hip_height_m=1", "stride_m"),
        ("speed?stride_m=2", "foot_length_m"),
        ("speed?stride_m=2&foot_length_m=0", "foot_length_m"),
        (
            "speed?stride_m=2&foot_length_m=0.3&hip_height_m=1",
            "foot_length_m",
        ),
        (
            "speed?stride_m=2&hip_height_m=1&foot_length_sd_m=0.1",
            "foot_length_sd_m",
        ),
        ("speed?stride_m=2&hip_height_m=1&f=svg", ""),
        ("individuals", "surface"),
        ("individuals?surface=gannet-ledge:S2&turn_deg=500", "turn_deg"),
    ] {
        let told = problem(&server.get(&format!("/queries/{path}")), 400);
        if !faulty.is_empty() {
            assert_eq!(told["faults"][0]["input"], faulty, "{path}: {told}");
        }
    }
    problem(&server.get("/queries/gait?trackway=gannet-ledge:S2:T99"), 404);
    let level = ledger(&walk("T1", 40.0, 4, 0.3));
    let path = "/queries/gait?surface=invented-shore:S1&restore=true";
    let told = problem(&level.serve(&[]).get(path), 400);
    assert!(
        told["detail"].as_str().unwrap().contains("strike and dip"),
        "{told}"
    );
}
