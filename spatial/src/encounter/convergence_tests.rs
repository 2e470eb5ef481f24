//! Where ways meet, against cases worked by hand, at the edges, and on drawn surfaces.

use super::{Convergence, ConvergenceOptions, Path, Trials, convergence};
use crate::continuation::{Direction, Surroundings};
use crate::frame::LonLat;
use crate::index::{SurfaceContents, SurfaceIndex};
use crate::model::{Extent, ExtentKind, Label, Surface};
use crate::simulate::{Passers, Walker};
use geo::{LineString, Polygon};

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

fn index(contents: SurfaceContents) -> SurfaceIndex {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| {
        Ok::<_, std::convert::Infallible>(vec![nowhere; all.len()])
    })
    .unwrap()
}

fn bare(extents: Vec<Extent>) -> SurfaceIndex {
    index(SurfaceContents {
        id: "here:S1".parse().unwrap(),
        crs: 25830,
        surface: Surface::new(label("S1")),
        prints: Vec::new(),
        extents,
        trackways: Vec::new(),
    })
}

/// Where the hand-worked scenes lie; large, as projected coordinates are.
const PLACE: [f64; 2] = [412_000.0, 4_795_000.0];

/// A straight path of 11 places that walks on an azimuth, and whose last place is so far short of [`PLACE`] and so far aside.
fn straight(name: &str, azimuth_deg: f64, short_m: f64, aside_m: f64) -> Path {
    let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
    let at = |gone: f64| {
        [
            PLACE[0] + gone * sine + aside_m * cosine,
            PLACE[1] + gone * cosine - aside_m * sine,
        ]
    };
    let line = (0..=10).map(|step| at(f64::from(step) - 10.0 - short_m));
    Path::along(label(name), line.collect(), 0.3).unwrap()
}

fn options(permutations: u32, backward: bool) -> ConvergenceOptions {
    ConvergenceOptions {
        backward,
        reach_m: Some(20.0),
        trials: Trials {
            permutations,
            seed: 1,
        },
        ..ConvergenceOptions::default()
    }
}

fn met(paths: &[Path], backward: bool) -> Convergence {
    let index = bare(Vec::new());
    convergence(&index, &Surroundings::of(&index), paths, &options(99, backward))
}

fn four() -> Vec<Path> {
    (0..4u8)
        .map(|no| straight(&format!("T{no}"), f64::from(no) * 90.0, 6.0, 0.0))
        .collect()
}

fn sound(found: &Convergence) {
    for focus in &found.foci {
        assert!(focus.members.len() >= 2);
        assert!(focus.position_m.iter().all(|part| part.is_finite()));
        assert!(focus.sd_minor_m > 0.0 && focus.sd_minor_m <= focus.sd_major_m);
        assert!((0.0..=1.0).contains(&focus.chance.p) && focus.chance.p <= focus.chance.p_corrected);
        assert!(
            focus
                .members
                .iter()
                .all(|member| member.deviation_sd.abs() <= 1.96 + 1e-6)
        );
    }
}

#[test]
fn four_walkers_to_one_point() {
    let found = met(&four(), false);
    sound(&found);
    let focus = &found.foci[0];
    assert_eq!(focus.members.len(), 4);
    let off_m = (focus.position_m[0] - PLACE[0]).hypot(focus.position_m[1] - PLACE[1]);
    assert!(off_m < 1e-3, "{off_m}");
    assert!(
        (focus.sd_major_m / focus.sd_minor_m - 1.0).abs() < 1e-6,
        "a round ellipse"
    );
    // Fans 6 m on: σ² = (0.1 · 0.3)² + (0.1 · 6)² + (0.035 · 16)² = 0.6745 m², nearly; two constrain each axis across, two
    // along (reach 20 m): 1 / (2 / 0.6745 + 2 · 12 / 400) = 0.3306 m², 0.5749 m.
    assert!((focus.sd_major_m - 0.5749).abs() < 1e-3, "{}", focus.sd_major_m);
    for (member, azimuth_deg) in focus.members.iter().zip([0.0, 90.0, 180.0, 270.0]) {
        assert!((member.azimuth_deg - azimuth_deg).abs() < 1e-6);
        assert!((member.distance_m - 6.0).abs() < 1e-3 && member.deviation_sd.abs() < 1e-6);
    }
    assert!(found.strongest.unwrap().p <= 0.1, "{:?}", found.strongest);
    assert_eq!(found.fans.len(), 4);
}

#[test]
fn origins_are_the_foci_of_the_reversed_paths() {
    let reversed: Vec<Path> = (four().iter())
        .map(|path| {
            Path::along(
                path.trackway.clone(),
                path.line_m.iter().rev().copied().collect(),
                0.3,
            )
            .unwrap()
        })
        .collect();
    let (forward, backward) = (met(&four(), false), met(&reversed, true));
    assert_eq!(backward.direction, Direction::Before);
    let (one, other) = (&forward.foci[0], &backward.foci[0]);
    assert!((one.position_m[0] - other.position_m[0]).abs() < 1e-6);
    assert!((one.chance.statistic - other.chance.statistic).abs() < 1e-5);
    assert!((one.members[0].distance_m - other.members[0].distance_m).abs() < 1e-6);
    // T0 walks away from the origin southward, and was walking so there.
    assert!((other.members[0].azimuth_deg - 180.0).abs() < 1e-6);
}

#[test]
fn none_and_one_meet_nobody() {
    for count in [0, 1] {
        let found = met(&four()[..count], false);
        assert!(found.foci.is_empty() && found.strongest.is_none());
    }
}

#[test]
fn two_cross_somewhere_and_that_says_little() {
    let found = met(
        &[straight("T1", 0.0, 5.0, 0.0), straight("T2", 90.0, 5.0, 0.0)],
        false,
    );
    sound(&found);
    assert_eq!(found.foci[0].members.len(), 2);
    assert!(found.strongest.unwrap().p > 0.02);
}

#[test]
fn parallel_paths_far_apart_never_meet_and_are_still_ranked() {
    let paths: Vec<Path> = (0..5u8)
        .map(|no| straight(&format!("T{no}"), 0.0, 0.0, 400.0 * f64::from(no)))
        .collect();
    let found = met(&paths, false);
    assert!(found.foci.is_empty());
    let strongest = found.strongest.unwrap();
    assert!(
        (strongest.statistic + 400.0).abs() < 1e-6,
        "the least distance: {}",
        strongest.statistic
    );
}

#[test]
fn all_from_one_place() {
    let paths: Vec<Path> = (0..6u8)
        .map(|no| {
            let towards = straight(&format!("T{no}"), f64::from(no) * 60.0, 3.0, 0.0);
            Path::along(
                towards.trackway,
                towards.line_m.iter().rev().copied().collect(),
                0.3,
            )
            .unwrap()
        })
        .collect();
    let (origins, foci) = (met(&paths, true), met(&paths, false));
    assert_eq!(origins.foci[0].members.len(), 6);
    assert!(origins.strongest.unwrap().p <= 0.05);
    assert!(foci.foci.is_empty(), "they part");
}

#[test]
fn identical_paths_share_their_whole_way() {
    let paths = vec![straight("T1", 30.0, 5.0, 0.0); 3];
    let found = met(&paths, false);
    sound(&found);
    assert_eq!(found.foci.len(), 1);
    assert_eq!(found.foci[0].members.len(), 3);
}

#[test]
fn a_focus_in_covered_ground_says_so() {
    let corner = |east: f64, north: f64| (PLACE[0] + east, PLACE[1] + north);
    let square = LineString::from(vec![
        corner(-2.0, -2.0),
        corner(2.0, -2.0),
        corner(2.0, 2.0),
        corner(-2.0, 2.0),
    ]);
    let covered = Extent {
        label: label("E1"),
        kind: ExtentKind::Covered,
        polygon: Polygon::new(square, Vec::new()),
        surveyed_on: None,
        revision: 0,
    };
    let index = bare(vec![covered]);
    let found = convergence(&index, &Surroundings::of(&index), &four(), &options(9, false));
    let lies = &found.foci[0].in_extent;
    assert_eq!(
        (lies.kind, lies.label.clone()),
        (ExtentKind::Covered, Some(label("E1")))
    );
}

/// A surface of passers and five that head for its middle, as the study draws many of.
fn drawn(planted: usize, seed: u64) -> Convergence {
    let passers = Passers::new(10);
    let mut walkers = passers.walkers(seed);
    for no in 0..planted {
        let model = Walker {
            // It goes where it aims: a random turn at each pace would lead it past.
            heading_sd_rad: 0.002,
            ..Walker::steady([0.0; 2], 0.0, 10, 0.3)
        };
        let stops_m = 3.0 + no as f64;
        walkers.push(Passers::towards(
            passers.middle_m(),
            0.4 + 1.3 * no as f64,
            25.0,
            stops_m,
            &model,
        ));
    }
    let index = index(passers.surface(&walkers, seed));
    let (paths, _) = Path::all(&index);
    let options = ConvergenceOptions {
        trials: Trials {
            permutations: 99,
            seed,
        },
        ..ConvergenceOptions::default()
    };
    convergence(&index, &Surroundings::of(&index), &paths, &options)
}

#[test]
fn animals_that_head_for_one_place_are_told_from_chance() {
    let found = drawn(5, 4);
    sound(&found);
    assert!(found.strongest.unwrap().p <= 0.05, "{:?}", found.strongest);
    let middle = Passers::new(1).middle_m();
    let focus = &found.foci[0];
    let off_m = (focus.position_m[0] - middle[0]).hypot(focus.position_m[1] - middle[1]);
    assert!(off_m < 1.5, "{off_m}");
    assert!(focus.members.len() >= 4);
    assert!(found.fans.is_empty());
    assert_eq!(found, drawn(5, 4), "drawn from the seed alone");
}

#[test]
fn animals_that_heed_nobody_are_chance() {
    // Of 40 the share within 0.2 is 0.2 ± 0.063; within 0.5 it is 0.5 ± 0.079; three standard deviations are allowed.
    let p: Vec<f64> = (0..40)
        .map(|seed| drawn(0, 300 + seed).strongest.unwrap().p)
        .collect();
    let part = |within: f64| p.iter().filter(|p| **p <= within).count() as f64 / p.len() as f64;
    assert!((0.0..0.4).contains(&part(0.2)), "{}", part(0.2));
    assert!((0.26..0.74).contains(&part(0.5)), "{}", part(0.5));
}
