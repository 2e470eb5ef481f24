//! What every continuation must hold.

use super::*;
use crate::frame::LonLat;
use crate::index::SurfaceContents;
use crate::model::{Basis, Extent, ExtentKind, Label, Print, Record, Side, Status, Surface, Trackway};
use crate::simulate::Walker;
use geo::{BoundingRect, Contains, LineString, Point, Polygon};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

pub(super) fn label(text: &str) -> Label {
    text.parse().unwrap()
}

pub(super) fn surface(
    prints: Vec<Print>,
    extents: Vec<Extent>,
    trackways: &[(&str, Vec<String>)],
) -> SurfaceIndex {
    let trackways = trackways.iter().map(|(name, prints)| Trackway {
        label: label(name),
        prints: prints.iter().map(|print| label(print)).collect(),
        basis: Basis::Field,
        status: Status::Accepted,
        probability: None,
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 0,
    });
    let contents = SurfaceContents {
        id: "here:S1".parse().unwrap(),
        crs: 25830,
        surface: Surface::new(label("S1")),
        prints,
        extents,
        trackways: trackways.collect(),
    };
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| {
        Ok::<_, std::convert::Infallible>(vec![nowhere; all.len()])
    })
    .unwrap()
}

/// A walk of so many prints, named P00 and so on.
pub(super) fn walk(count: usize, seed: u64, change: impl Fn(&mut Walker)) -> Vec<Print> {
    let mut walker = Walker::steady([412_000.0, 4_795_000.0], 0.6, count - 1, 0.3);
    change(&mut walker);
    let footfalls = walker.walk(&mut ChaCha8Rng::seed_from_u64(seed));
    (footfalls.iter().enumerate())
        .map(|(number, footfall)| {
            let [easting, northing] = footfall.position;
            let mut print = Print::new(
                label(&format!("P{number:02}")),
                easting,
                northing,
                footfall.length_m,
            );
            print.width_m = Some(footfall.width_m);
            print
        })
        .collect()
}

pub(super) fn names(numbers: impl Iterator<Item = usize>) -> Vec<String> {
    numbers.map(|number| format!("P{number:02}")).collect()
}

pub(super) fn continued(
    index: &SurfaceIndex,
    trackway: &[PrintNo],
    options: &ContinuationOptions,
) -> Continuation {
    continue_trackway(index, &Surroundings::of(index), trackway, options).unwrap()
}

pub(super) fn ten_steps() -> ContinuationOptions {
    ContinuationOptions {
        steps: Some(10),
        ..ContinuationOptions::default()
    }
}

/// No number of an answer is none, and all hypotheses are one whole.
pub(super) fn sound(found: &Continuation) {
    for onward in [&found.after, &found.before] {
        let mut sum = onward.none_of_these;
        for candidate in &onward.candidates {
            sum += candidate.probability;
            assert!((0.0..=1.0 + 1e-9).contains(&candidate.probability) && candidate.distance_m.is_finite());
            assert!(
                candidate.terms.iter().all(|term| term.log_odds.is_finite()),
                "{candidate:?}"
            );
        }
        assert!((sum - 1.0).abs() < 1e-9, "{sum}");
        assert!(!onward.steps.is_empty());
        for step in &onward.steps {
            let numbers = [
                step.position_m[0],
                step.position_m[1],
                step.sd_major_m,
                step.sd_minor_m,
                step.ellipse_azimuth_deg,
                step.radius_50,
                step.radius_95,
                step.azimuth_deg,
                step.seen,
                step.hidden,
            ];
            assert!(numbers.iter().all(|number| number.is_finite()), "{step:?}");
            assert!(step.radius_50 < step.radius_95 && step.sd_minor_m <= step.sd_major_m);
            assert!((0.0..=1.0).contains(&step.hidden) && (0.0..=1.0).contains(&step.seen));
            assert!(step.region_95.contains(&Point::from(step.position_m)));
            assert!(onward.corridor.contains(&Point::from(step.position_m)));
        }
        for target in &onward.targets {
            assert!((0.0..=1.0).contains(&target.probability) && target.expected_prints >= 0.0);
            assert!(target.probability <= target.expected_prints + 1e-9);
        }
    }
}

#[test]
fn a_regular_walk_goes_on_regularly() {
    let prints = walk(12, 1, |walker| {
        (walker.heading_sd_rad, walker.pace_sd, walker.placement_sd_m) = (0.0, 0.0, 0.0);
    });
    let index = surface(prints.clone(), Vec::new(), &[]);
    let kept: Vec<PrintNo> = (3..8).collect();
    let found = continued(
        &index,
        &kept,
        &ContinuationOptions {
            steps: Some(4),
            ..Default::default()
        },
    );
    sound(&found);
    for (step, no) in found.after.steps.iter().zip(8..12) {
        let print = index.print(no);
        let off = (step.position_m[0] - print.easting_m).hypot(step.position_m[1] - print.northing_m);
        assert!(off < 0.06 * step.step as f64, "{off} at {}", step.step);
        assert!(
            step.region_50
                .contains(&Point::new(print.easting_m, print.northing_m))
        );
    }
    assert_eq!(
        found.after.candidates[0].kind,
        CandidateKind::Print {
            print: 8,
            manus: None
        }
    );
    assert_eq!(
        found.before.candidates[0].kind,
        CandidateKind::Print {
            print: 2,
            manus: None
        }
    );
    assert!(found.after.candidates[0].probability > 0.9);
}

#[test]
fn sides_alternate_and_disagree_where_they_are_wrong() {
    let mut prints = walk(9, 2, |_| {});
    for (number, print) in prints.iter_mut().enumerate() {
        print.side = Some(if number % 2 == 0 { Side::Left } else { Side::Right });
    }
    let kept: Vec<PrintNo> = (0..8).collect();
    let right = continued(&surface(prints.clone(), Vec::new(), &[]), &kept, &ten_steps());
    let sides: Vec<Option<Side>> = right.after.steps[..3].iter().map(|step| step.side).collect();
    assert_eq!(sides, [Some(Side::Left), Some(Side::Right), Some(Side::Left)]);
    assert_eq!(right.before.steps[0].side, Some(Side::Right));
    prints[8].side = Some(Side::Right);
    let wrong = continued(&surface(prints, Vec::new(), &[]), &kept, &ten_steps());
    let [right, wrong] = [right, wrong].map(|found| found.after.candidates[0].clone());
    assert_eq!((right.side_fits, wrong.side_fits), (Some(true), Some(false)));
    assert!(right.probability > wrong.probability);
    // Sides of one foot only are no fault.
    let mut one_side = walk(8, 2, |_| {});
    one_side
        .iter_mut()
        .step_by(2)
        .for_each(|print| print.side = Some(Side::Left));
    sound(&continued(
        &surface(one_side, Vec::new(), &[]),
        &kept,
        &ten_steps(),
    ));
}

#[test]
fn prints_that_lead_nowhere_are_refused() {
    let index = surface(walk(6, 3, |_| {}), Vec::new(), &[]);
    let surroundings = Surroundings::of(&index);
    let fault = |prints: &[PrintNo]| {
        continue_trackway(&index, &surroundings, prints, &ContinuationOptions::default()).unwrap_err()
    };
    assert_eq!(fault(&[]), ContinuationFault::TooFew(0));
    assert_eq!(fault(&[0, 1]), ContinuationFault::TooFew(2));
    assert_eq!(fault(&[0, 1, 99]), ContinuationFault::NoPrint(99));
    assert_eq!(fault(&[0, 1, 2, 1]), ContinuationFault::Twice(label("P01")));
    let heap: Vec<Print> = (0..5)
        .map(|no| Print::new(label(&format!("P{no}")), 5.0, 5.0, 0.3))
        .collect();
    let heap = surface(heap, Vec::new(), &[]);
    let found = continue_trackway(
        &heap,
        &Surroundings::of(&heap),
        &[0, 1, 2, 3],
        &ContinuationOptions::default(),
    );
    assert_eq!(found.unwrap_err(), ContinuationFault::TooFew(1));
    let there_and_back: Vec<Print> = [0.0, 1.0, 0.0, 1.0]
        .iter()
        .enumerate()
        .map(|(no, east)| Print::new(label(&format!("P{no}")), *east, 5.0, 0.3))
        .collect();
    let index = surface(there_and_back, Vec::new(), &[]);
    let found = continue_trackway(
        &index,
        &Surroundings::of(&index),
        &[0, 1, 2, 3],
        &ContinuationOptions::default(),
    );
    assert_eq!(found.unwrap_err(), ContinuationFault::NoWay);
    for steps in [0, 101] {
        let options = ContinuationOptions {
            steps: Some(steps),
            ..Default::default()
        };
        let index = surface(walk(6, 3, |_| {}), Vec::new(), &[]);
        let found = continue_trackway(&index, &Surroundings::of(&index), &[0, 1, 2], &options);
        assert!(matches!(
            found,
            Err(ContinuationFault::Option { name: "steps", .. })
        ));
    }
}

fn square(name: &str, kind: ExtentKind, from: [f64; 2], to: [f64; 2]) -> Extent {
    let corners = vec![
        (from[0], from[1]),
        (to[0], from[1]),
        (to[0], to[1]),
        (from[0], to[1]),
    ];
    Extent {
        label: label(name),
        kind,
        polygon: Polygon::new(LineString::from(corners), Vec::new()),
        surveyed_on: None,
        revision: 0,
    }
}

#[test]
fn absence_speaks_on_open_ground_and_not_under_cover() {
    // A print three paces on: across open ground it is hardly the next one, across covered ground it may well be.
    let all = walk(12, 4, |walker| walker.heading_rad = 0.0);
    let prints: Vec<Print> = all
        .iter()
        .enumerate()
        .filter(|(no, _)| !(8..10).contains(no))
        .map(|(_, p)| p.clone())
        .collect();
    let around = ([411_950.0, 4_794_950.0], [412_050.0, 4_795_050.0]);
    let open = square("E1", ExtentKind::Exposed, around.0, around.1);
    let between = [all[7].northing_m + 0.5, all[10].northing_m - 0.5];
    let cover = square(
        "E2",
        ExtentKind::Covered,
        [411_950.0, between[0]],
        [412_050.0, between[1]],
    );
    let kept: Vec<PrintNo> = (0..8).collect();
    let options = ContinuationOptions {
        steps: Some(6),
        ..Default::default()
    };
    let shown = continued(&surface(prints.clone(), vec![open.clone()], &[]), &kept, &options);
    let hidden = continued(&surface(prints, vec![open, cover], &[]), &kept, &options);
    sound(&shown);
    sound(&hidden);
    let of = |found: &Continuation| {
        let is_it = |candidate: &&Candidate| {
            candidate.kind
                == CandidateKind::Print {
                    print: 8,
                    manus: None,
                }
        };
        found
            .after
            .candidates
            .iter()
            .find(is_it)
            .map(|candidate| (candidate.probability, candidate.missing))
    };
    let (under_cover, missing) = of(&hidden).unwrap();
    assert_eq!(missing, 2);
    assert!(under_cover > 0.9 && under_cover > of(&shown).unwrap().0);
    assert_eq!(
        hidden.after.steps[0].in_extent,
        InExtent {
            label: Some(label("E2")),
            kind: ExtentKind::Covered
        }
    );
    // The hidden prints are worth looking for, in the squares where they are.
    let best = &hidden.after.targets[0];
    assert_eq!(best.in_extent.kind, ExtentKind::Covered);
    assert!(best.probability > 0.3, "{}", best.probability);
    let corner = best.square.bounding_rect().unwrap().min();
    assert_eq!(
        (corner.x.fract(), corner.y.fract()),
        (0.0, 0.0),
        "squares stand on whole metres"
    );
    assert!(
        shown
            .after
            .targets
            .iter()
            .all(|target| target.in_extent.kind != ExtentKind::Exposed)
    );
}

#[test]
fn without_extents_ground_is_unmapped_and_nothing_fails() {
    let index = surface(walk(6, 5, |_| {}), Vec::new(), &[]);
    let found = continued(&index, &[0, 1, 2, 3, 4, 5], &ContinuationOptions::default());
    sound(&found);
    assert_eq!(
        found.after.steps[0].in_extent,
        InExtent {
            label: None,
            kind: ExtentKind::Unmapped
        }
    );
    assert!(found.after.none_of_these > 0.99 && found.after.candidates.is_empty());
}

#[test]
fn an_anomaly_counts_for_less_than_a_print() {
    let mut prints = walk(9, 6, |_| {});
    let kept: Vec<PrintNo> = (0..8).collect();
    let of = |prints: &[Print]| {
        let found = continued(&surface(prints.to_vec(), Vec::new(), &[]), &kept, &ten_steps());
        found.after.candidates[0].probability
    };
    let print = of(&prints);
    prints[8].record = Some(Record::Anomaly);
    let anomaly = of(&prints);
    assert!(anomaly < print && anomaly > 0.1, "{anomaly} against {print}");
}

#[test]
fn trackways_across_a_gap_are_linked_both_ways() {
    let prints = walk(20, 7, |walker| walker.heading_rad = 1.2);
    let kept: Vec<Print> = (prints.iter().enumerate())
        .filter(|(no, _)| !(8..12).contains(no))
        .map(|(_, p)| p.clone())
        .collect();
    let cover = {
        let (from, to) = (prints[7].easting_m + 0.3, prints[12].easting_m - 0.3);
        square("E1", ExtentKind::Covered, [from, 4_794_900.0], [to, 4_795_100.0])
    };
    let trackways = [("A", names(0..8)), ("B", names(12..20))];
    let index = surface(kept, vec![cover], &trackways);
    let surroundings = Surroundings::of(&index);
    let links = link_ends(&index, &surroundings, &ContinuationOptions::default()).unwrap();
    assert_eq!(links.len(), 1, "{links:?}");
    let link = &links[0];
    assert_eq!((link.from.as_str(), link.to.as_str()), ("A", "B"));
    assert!(link.chosen && link.probability > 0.9 && !link.from_reversed && !link.to_reversed);
    assert_eq!(link.missing, 4);
    let prints = index.prints_of(&index.trackways()[0]);
    let found = continue_trackway(&index, &surroundings, &prints, &ContinuationOptions::default()).unwrap();
    sound(&found);
    let first = &found.after.candidates[0];
    assert!(
        matches!(&first.kind, CandidateKind::Trackway { label, reversed: false, .. } if label.as_str() == "B")
    );
    // Another pair of options is refused, and an empty surface has no links.
    let empty = surface(Vec::new(), Vec::new(), &[]);
    assert!(
        link_ends(&empty, &Surroundings::of(&empty), &ContinuationOptions::default())
            .unwrap()
            .is_empty()
    );
    let options = ContinuationOptions {
        widest_gap_m: f64::NAN,
        ..Default::default()
    };
    assert!(link_ends(&index, &surroundings, &options).is_err());
}

#[test]
fn the_same_surface_gives_the_same_answer() {
    let simulated = crate::simulate::Scenario::medium(300).simulate(3);
    let index = surface(simulated.contents.prints, simulated.contents.extents, &[]);
    let once = || {
        let trackway: Vec<PrintNo> = index
            .nearest([412_010.0, 4_795_010.0], 6)
            .into_iter()
            .map(|(no, _)| no)
            .collect();
        format!(
            "{:?}",
            continue_trackway(&index, &Surroundings::of(&index), &trackway, &ten_steps())
        )
    };
    assert_eq!(once(), once());
}
