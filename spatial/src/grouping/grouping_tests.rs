//! Laws of the grouping, and surfaces that could break it.

use super::group as try_group;
use super::*;
use crate::frame::LonLat;
use crate::index::SurfaceContents;
use crate::model::{Label, Print, Surface};
use crate::simulate::{Scenario, Walker};
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;
use std::convert::Infallible;

fn contents(prints: Vec<Print>) -> SurfaceContents {
    SurfaceContents {
        id: "cove:S1".parse().unwrap(),
        crs: 25830,
        surface: Surface::new("S1".parse().unwrap()),
        prints,
        extents: vec![],
        trackways: vec![],
    }
}

pub(super) fn index(contents: SurfaceContents) -> SurfaceIndex {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).unwrap()
}

/// Groups where nothing told could contradict itself.
fn group(index: &SurfaceIndex, options: &GroupingOptions) -> Grouping {
    try_group(index, options).unwrap()
}

fn group_at(places: &[[f64; 2]]) -> Grouping {
    let prints = places
        .iter()
        .enumerate()
        .map(|(no, [e, n])| Print::new(label(no), *e, *n, 0.3));
    let index = index(contents(prints.collect()));
    let grouping = group(&index, &GroupingOptions::default());
    each_print_once(&index, &grouping);
    grouping
}

fn label(no: usize) -> Label {
    format!("P{no:05}").parse().unwrap()
}

/// Every print is in one trackway or left over, and nowhere twice; every number makes sense.
pub(super) fn each_print_once(index: &SurfaceIndex, grouping: &Grouping) {
    let mut all: Vec<PrintNo> = grouping.ungrouped.clone();
    for trackway in &grouping.trackways {
        all.extend(&trackway.prints);
        assert!(trackway.midline.len() >= 3);
        assert_eq!(trackway.link_probabilities.len() + 1, trackway.prints.len());
        assert_eq!(trackway.missing.len() + 1, trackway.midline.len());
        assert!(trackway.midline.iter().all(|no| trackway.prints.contains(no)));
        assert!(
            trackway
                .link_probabilities
                .iter()
                .all(|p| (0.0..=1.0).contains(p))
        );
        assert!((0.0..=1.0).contains(&trackway.probability));
        assert!((0.5..=1.0).contains(&trackway.direction_probability));
    }
    all.sort_unstable();
    assert_eq!(all, (0..index.prints().len() as PrintNo).collect::<Vec<_>>());
}

/// A regular walk by hand: paces of 1 m, gauge 0.2 m.
fn regular(paces: usize) -> Vec<[f64; 2]> {
    (0..paces)
        .map(|step| [500_000.0 + step as f64, if step % 2 == 0 { 0.1 } else { -0.1 }])
        .collect()
}

#[test]
fn too_few_prints_make_no_trackway() {
    for count in 0..3 {
        let grouping = group_at(&regular(count));
        assert!(grouping.trackways.is_empty());
        assert_eq!(grouping.ungrouped.len(), count);
    }
}

#[test]
fn one_regular_walk_is_one_trackway() {
    let grouping = group_at(&regular(9));
    assert_eq!(grouping.trackways.len(), 1);
    let trackway = &grouping.trackways[0];
    assert!(
        trackway.prints == (0..9).collect::<Vec<_>>() || trackway.prints == (0..9).rev().collect::<Vec<_>>()
    );
    assert!(
        trackway.link_probabilities.iter().all(|p| *p > 0.9),
        "{:?}",
        trackway.link_probabilities
    );
    assert!(
        (trackway.direction_probability - 0.5).abs() < 1e-9,
        "nothing tells its direction"
    );
}

#[test]
fn a_missing_print_is_counted() {
    let mut places = regular(10);
    places.remove(5);
    let grouping = group_at(&places);
    assert_eq!(grouping.trackways.len(), 1);
    assert_eq!(
        grouping.trackways[0]
            .missing
            .iter()
            .map(|missing| u32::from(*missing))
            .sum::<u32>(),
        1
    );
}

#[test]
fn sides_tell_the_direction() {
    // Going east, the prints at +0.1 m north are left ones.
    let prints = regular(8).into_iter().enumerate().map(|(no, [e, n])| {
        let mut print = Print::new(label(no), e, n, 0.3);
        print.side = Some(if n > 0.0 {
            crate::model::Side::Left
        } else {
            crate::model::Side::Right
        });
        print
    });
    let grouping = group(&index(contents(prints.collect())), &GroupingOptions::default());
    assert_eq!(grouping.trackways[0].prints, (0..8).collect::<Vec<_>>());
    assert!(grouping.trackways[0].direction_probability > 0.9);
}

#[test]
fn degenerate_surfaces_are_answered() {
    group_at(&vec![[500_000.0, 4_000_000.0]; 40]);
    // In a heap each print is near all others; the work must not grow with their square.
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let heap: Vec<[f64; 2]> = (0..2_000)
        .map(|_| [500_000.0 + rng.random::<f64>(), rng.random::<f64>()])
        .collect();
    group_at(&heap);
    group_at(&(0..50).map(|i| [f64::from(i) * 0.01, 0.0]).collect::<Vec<_>>());
    group_at(
        &(0..60)
            .map(|i| [f64::from(i % 8), f64::from(i / 8)])
            .collect::<Vec<_>>(),
    );
    group_at(
        &(0..30)
            .map(|i| [1e15 + f64::from(i) * 1e12, -1e15])
            .collect::<Vec<_>>(),
    );
    group_at(&[
        [f64::MAX / 4.0, 0.0],
        [-f64::MAX / 4.0, 0.0],
        [0.0, 0.0],
        [1.0, 1.0],
    ]);
}

#[test]
fn measures_that_are_no_measures_are_passed_over() {
    let prints = regular(12).into_iter().enumerate().map(|(no, [e, n])| {
        let mut print = Print::new(label(no), e, n, [0.3, f64::NAN, 0.0, f64::INFINITY][no % 4]);
        print.width_m = Some([f64::NAN, -1.0, 0.2][no % 3]);
        print.azimuth_deg = Some([f64::NAN, 90.0][no % 2]);
        print
    });
    let index = index(contents(prints.collect()));
    each_print_once(&index, &group(&index, &GroupingOptions::default()));
}

/// The trackways as sets of prints, each told by positions of its prints, so that numbers do not matter.
fn partition(grouping: &Grouping, name: impl Fn(PrintNo) -> u32) -> BTreeSet<BTreeSet<u32>> {
    grouping
        .trackways
        .iter()
        .map(|trackway| trackway.prints.iter().map(|no| name(*no)).collect())
        .collect()
}

#[test]
fn the_number_of_cores_changes_nothing() {
    let index = index(Scenario::medium(500).simulate(3).contents);
    let on = |cores: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(cores)
            .build()
            .unwrap();
        pool.install(|| group(&index, &GroupingOptions::default()))
    };
    let one = on(1);
    each_print_once(&index, &one);
    assert_eq!(one, on(4));
    assert_eq!(one, on(3));
}

#[test]
fn the_order_of_labels_changes_nothing() {
    for scenario in [Scenario::medium(300), Scenario::blind(300)] {
        let simulated = scenario.simulate(5).contents;
        let mut names: Vec<usize> = (0..simulated.prints.len()).collect();
        names.shuffle(&mut ChaCha8Rng::seed_from_u64(9));
        let mut renamed = simulated.clone();
        for (print, name) in renamed.prints.iter_mut().zip(&names) {
            print.label = label(*name);
        }
        let (one, other) = (index(simulated), index(renamed));
        let options = GroupingOptions::default();
        let (before, after) = (group(&one, &options), group(&other, &options));
        // A print of the first has in the second the number that its new name has.
        let places: Vec<u32> = names.iter().map(|name| *name as u32).collect();
        assert_eq!(
            partition(&before, |no| places[no as usize]),
            partition(&after, |no| no)
        );
    }
}

#[test]
fn turning_the_surface_turns_nothing_but_directions() {
    for seed in [1, 2] {
        let simulated = Scenario::medium(300).simulate(seed).contents;
        let straight = index(simulated.clone());
        let before = group(&straight, &GroupingOptions::default());
        for turn_deg in [90.0f64, 137.0] {
            let turned = group(&index(turned(&simulated, turn_deg)), &GroupingOptions::default());
            assert_eq!(
                partition(&before, |no| no),
                partition(&turned, |no| no),
                "turned by {turn_deg} degrees"
            );
            let midlines = |grouping: &Grouping| {
                grouping
                    .trackways
                    .iter()
                    .map(|t| t.midline.clone())
                    .collect::<BTreeSet<_>>()
            };
            assert_eq!(midlines(&before), midlines(&turned), "walked the same way");
        }
    }
}

/// The surface turned clockwise about a place near it.
fn turned(contents: &SurfaceContents, turn_deg: f64) -> SurfaceContents {
    let (sine, cosine) = turn_deg.to_radians().sin_cos();
    let turn = |e: f64, n: f64| {
        let (e, n) = (e - 412_000.0, n - 4_795_000.0);
        (
            412_000.0 + e * cosine + n * sine,
            4_795_000.0 - e * sine + n * cosine,
        )
    };
    let mut turned = contents.clone();
    for print in &mut turned.prints {
        (print.easting_m, print.northing_m) = turn(print.easting_m, print.northing_m);
        print.azimuth_deg = print
            .azimuth_deg
            .map(|azimuth| crate::angle::fold_deg(azimuth + turn_deg));
    }
    for extent in &mut turned.extents {
        use geo::MapCoords;
        extent.polygon = extent.polygon.map_coords(|c| turn(c.x, c.y).into());
    }
    turned
}

#[test]
fn a_quadruped_is_one_trackway_with_its_manus_prints() {
    let manus = crate::simulate::Manus {
        length_ratio: 0.6,
        width_ratio: 1.1,
        ahead_m: 0.35,
        outward_m: 0.05,
        rotation_rad: 0.2,
        sd_m: 0.02,
    };
    let walker = Walker {
        manus: Some(manus),
        pace_m: 0.9,
        gauge_m: 0.35,
        ..Walker::steady([0.0, 0.0], 1.0, 14, 0.4)
    };
    let footfalls = walker.walk(&mut ChaCha8Rng::seed_from_u64(4));
    let prints = footfalls.iter().enumerate().map(|(no, foot)| {
        let mut print = Print::new(label(no), foot.position[0], foot.position[1], foot.length_m);
        print.azimuth_deg = Some(foot.azimuth_rad.to_degrees());
        print
    });
    let grouping = group(&index(contents(prints.collect())), &GroupingOptions::default());
    assert_eq!(grouping.trackways.len(), 1, "{grouping:?}");
    assert_eq!(
        grouping.trackways[0].prints,
        (0..30).collect::<Vec<_>>(),
        "pes, manus, pes, manus ..."
    );
    assert_eq!(
        grouping.trackways[0].midline,
        (0..30).step_by(2).collect::<Vec<_>>()
    );
}

#[test]
fn a_manus_print_stands_at_one_step_though_paces_are_short() {
    // Paces shorter than a foot, so that a manus print lies near its place beside several of them.
    let side = |step: f64| if step.round() % 2.0 == 0.0 { 0.05 } else { -0.05 };
    let at = |step: f64, ahead_m: f64| [500_000.0 + 0.2 * step + ahead_m, side(step)];
    let pes = (0..16).map(|step| (at(f64::from(step), 0.0), 0.3));
    let manus = [2.0, 4.0, 7.0, 9.5, 12.0].map(|step| (at(step, 0.2), 0.2));
    let prints =
        (pes.chain(manus).enumerate()).map(|(no, ([e, n], length_m))| Print::new(label(no), e, n, length_m));
    let index = index(contents(prints.collect()));
    each_print_once(&index, &group(&index, &GroupingOptions::default()));
}
