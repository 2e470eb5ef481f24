//! Companions and followers: measures, evidence, edge cases, and what chance gives.

use super::*;
use crate::model::Label;
use std::f64::consts::PI;

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

/// A line from a place on in a heading, which sways; steps of 1 m.
fn line(name: &str, from: [f64; 2], heading_deg: f64, steps: usize, sway_m: f64) -> Path {
    let (sine, cosine) = heading_deg.to_radians().sin_cos();
    let places = (0..=steps).map(|step| {
        let (on, off) = (step as f64, sway_m * (step as f64 * 0.7).sin());
        [
            from[0] + on * sine + off * cosine,
            from[1] + on * cosine - off * sine,
        ]
    });
    Path::along(label(name), places.collect(), 0.3).unwrap()
}

/// Lines that lie about in all directions and have nothing to do with each other.
fn others(count: usize) -> Vec<Path> {
    (0..count)
        .map(|no| {
            let at = [(no * 37 % 61) as f64, (no * 53 % 47) as f64];
            line(&format!("X{no}"), at, (no * 137 % 360) as f64, 20, 0.0)
        })
        .collect()
}

fn told(paths: &[Path], overlying: &[Overlying]) -> (Companions, Followers) {
    let trials = PairTrials::run(
        paths,
        None,
        Trials {
            permutations: 199,
            seed: 5,
        },
    );
    let all = CompanionOptions {
        up_to_p: 1.0,
        ..CompanionOptions::default()
    };
    let along = FollowerOptions {
        up_to_p: 1.0,
        ..FollowerOptions::default()
    };
    (
        companions(paths, &trials, overlying, &all),
        followers(paths, &trials, overlying, &along),
    )
}

#[test]
fn three_abreast_make_a_group_from_left_to_right() {
    let mut paths = others(16);
    // They go north: the one in the west is on the left.
    for (name, east) in [("B", 22.0), ("A", 20.0), ("C", 24.0)] {
        paths.push(line(name, [east, 5.0], 0.0, 30, 0.2));
    }
    let (companions, _) = told(&paths, &[]);
    let pair = &companions.pairs[0];
    assert!(
        (pair.spacing_mean_m - 2.0).abs() < 0.05,
        "{}",
        pair.spacing_mean_m
    );
    assert!(pair.spacing_cv.unwrap() < 0.05);
    assert_eq!(pair.crossings, 0);
    let first = &companions.groups[0];
    assert_eq!(first.trackways, [label("A"), label("B"), label("C")]);
    assert!((first.spacing_mean_m - 2.0).abs() < 0.05 && first.spacing_cv.unwrap() < 0.05);
    assert!(first.heading_deg.min(360.0 - first.heading_deg) < 3.0);
    let ab = companions
        .pairs
        .iter()
        .find(|pair| pair.trackways == [label("B"), label("A")])
        .unwrap();
    assert_eq!(ab.left, Some(label("A")));
    assert!((ab.length_m - 30.0).abs() < 1.5, "{}", ab.length_m);
    assert!(companions.surface.unwrap().p < 0.05);
    let kept = ab
        .evidence
        .iter()
        .find(|item| item.kind == EvidenceKind::SpacingKept)
        .unwrap();
    assert_eq!(kept.bearing, Bearing::For, "{}", kept.says);
}

#[test]
fn opposite_ways_are_no_companions() {
    let paths = [
        line("A", [0.0, 0.0], 0.0, 30, 0.0),
        line("B", [2.0, 30.0], 180.0, 30, 0.0),
    ];
    let (companions, followers) = told(&paths, &[]);
    assert!(companions.pairs.is_empty() && companions.groups.is_empty() && followers.pairs.is_empty());
    assert_eq!(companions.opposite.len(), 1);
    let opposite = &companions.opposite[0];
    assert!((opposite.spacing_mean_m - 2.0).abs() < 1e-9 && opposite.chance.is_none());
    assert_eq!(opposite.on_second_m, [0.0, 30.0]);
    assert_eq!(opposite.left, Some(label("A")));
}

/// One comes from the south-west and goes on along the other's line, in longer steps.
fn joins() -> Vec<Path> {
    let mut paths = others(12);
    paths.push(line("L", [10.0, 10.0], 90.0, 40, 0.0));
    let mut places: Vec<[f64; 2]> = (0..10)
        .map(|step| {
            let back = f64::from(10 - step) * 0.6;
            [25.0 - back, 10.1 - back]
        })
        .collect();
    places.extend((0..20).map(|step| [25.0 + 1.2 * f64::from(step), 10.1]));
    paths.push(Path::along(label("F"), places, 0.3).unwrap());
    paths
}

#[test]
fn a_follower_joins_a_line_and_its_stride_changes() {
    let (_, followers) = told(&joins(), &[]);
    let follower = &followers.pairs[0];
    assert_eq!((&follower.follower, &follower.leader), (&label("F"), &label("L")));
    assert_eq!(follower.order, FollowOrder::Unknown);
    assert!(
        (follower.joins_at_m[0] - 25.0).abs() < 1.5,
        "{:?}",
        follower.joins_at_m
    );
    assert!(follower.seen_before);
    // North of a line that leads east is to its left.
    assert!((follower.offset_mean_m + 0.1).abs() < 0.1 && follower.offset_sd_m < 0.2);
    assert!((follower.stride_along_m.unwrap() - 2.4).abs() < 0.01);
    assert!((follower.stride_before_m.unwrap() - 1.2 * 2f64.sqrt()).abs() < 0.1);
    assert!(follower.stride_change_p.unwrap() <= 0.01);
    assert!(followers.surface.unwrap().p < 0.05, "{:?}", followers.surface);
}

#[test]
fn what_treads_on_the_other_came_later() {
    let over = |upper: &str, lower: &str| Overlying {
        upper: label(upper),
        lower: label(lower),
        prints: 2,
    };
    let order = |overlying: &[Overlying]| {
        let pair = told(&joins(), overlying).1.pairs[0].clone();
        (pair.follower.to_string(), pair.order)
    };
    assert_eq!(order(&[over("F", "L")]), ("F".to_owned(), FollowOrder::Later));
    assert_eq!(order(&[over("L", "F")]), ("L".to_owned(), FollowOrder::Later));
    let both = [over("L", "F"), over("F", "L")];
    assert_eq!(order(&both).1, FollowOrder::AboutOneTime);
    let mut paths = others(8);
    paths.extend(
        ["L", "F"].map(|name| line(name, [if name == "L" { 10.0 } else { 11.0 }, 0.0], 0.0, 30, 0.0)),
    );
    let (companions, _) = told(&paths, &both);
    let pair = companions
        .pairs
        .iter()
        .find(|pair| pair.trackways == [label("L"), label("F")])
        .unwrap();
    assert!(
        pair.evidence
            .iter()
            .any(|item| item.kind == EvidenceKind::Overlying && item.bearing == Bearing::For)
    );
}

#[test]
fn few_and_odd_paths_make_sound_answers() {
    let ring = |name: &str| {
        let places = (0..=40).map(|step| {
            let at = f64::from(step) / 40.0 * 2.5 * PI;
            [5.0 * at.cos(), 5.0 * at.sin()]
        });
        Path::along(label(name), places.collect(), 0.3).unwrap()
    };
    let same = || line("A", [0.0, 0.0], 30.0, 20, 0.1);
    let sharing = || line("B", [0.0, 0.0], 100.0, 20, 0.0);
    let no_feet = || Path {
        foot_m: 0.0,
        ..line("C", [1.0, 1.0], 30.0, 20, 0.0)
    };
    let scenes: Vec<Vec<Path>> = vec![
        vec![],
        vec![same()],
        vec![same(), same()],
        vec![same(), sharing()],
        vec![ring("R"), same()],
        vec![ring("R"), ring("Q")],
        vec![no_feet(), no_feet(), same()],
        (0..60).map(|_| same()).collect(),
    ];
    for paths in scenes {
        let (companions, followers) = told(&paths, &[]);
        // JSON writes what is no number as null; what may be absent is set aside.
        let json = serde_json::to_value((&companions, &followers)).unwrap();
        sound(&json, "");
        assert_eq!(companions.surface.is_some(), paths.len() > 1);
    }
    assert_eq!(
        Path::along(label("N"), vec![[0.0, 0.0], [f64::NAN, 1.0]], 0.3),
        None
    );
    assert_eq!(Path::along(label("N"), vec![[0.0, 0.0], [0.0, 0.0]], 0.3), None);
}

fn sound(value: &serde_json::Value, name: &str) {
    const MAY_BE_ABSENT: &[&str] = &[
        "chance",
        "surface",
        "left",
        "spacing_cv",
        "p",
        "speed_ratio",
        "stride_ratio",
        "foot_ratio",
        "stride_before_m",
        "stride_along_m",
        "stride_change_p",
    ];
    match value {
        serde_json::Value::Null => assert!(MAY_BE_ABSENT.contains(&name), "{name}"),
        serde_json::Value::Array(all) => all.iter().for_each(|item| sound(item, name)),
        serde_json::Value::Object(all) => all.iter().for_each(|(name, item)| sound(item, name)),
        _ => {}
    }
}

#[test]
fn identical_paths_are_one_line() {
    let paths = [
        line("A", [0.0, 0.0], 30.0, 20, 0.1),
        line("B", [0.0, 0.0], 30.0, 20, 0.1),
    ];
    let (companions, followers) = told(&paths, &[]);
    let pair = &companions.pairs[0];
    assert!(pair.spacing_mean_m < 1e-9);
    assert_eq!((&pair.left, pair.spacing_cv), (&None, None));
    assert!((pair.length_m - paths[0].length_m()).abs() < 1e-9);
    assert_eq!(followers.pairs.len(), 1);
}

#[test]
fn the_same_paths_give_the_same_answer_on_any_number_of_cores() {
    let paths = others(30);
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(one.install(|| told(&paths, &[])), told(&paths, &[]));
}
