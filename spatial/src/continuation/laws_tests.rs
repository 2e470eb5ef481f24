//! The laws of continuation under change of the surface, and under any prints whatever.

use super::tests::{continued, label, names, sound, surface, ten_steps, walk};
use super::*;
use crate::model::Print;
use crate::properties::every;
use proptest::prelude::*;

/// Moves prints: turned clockwise about the first one, scaled and shifted.
fn moved(prints: &[Print], turn_rad: f64, scale: f64, by: [f64; 2]) -> Vec<Print> {
    let origin = [prints[0].easting_m, prints[0].northing_m];
    let (sine, cosine) = turn_rad.sin_cos();
    let move_one = |print: &Print| {
        let (east, north) = (print.easting_m - origin[0], print.northing_m - origin[1]);
        let mut print = print.clone();
        print.easting_m = origin[0] + by[0] + scale * (east * cosine + north * sine);
        print.northing_m = origin[1] + by[1] + scale * (north * cosine - east * sine);
        print.length_m *= scale;
        print.width_m = print.width_m.map(|width| width * scale);
        print
    };
    prints.iter().map(move_one).collect()
}

proptest! {
    #![proptest_config(every(10))]

    #[test]
    fn turning_and_shifting_turn_and_shift_everything(seed in 0u64..1000, turn in 0.0..6.2f64, shift in -500.0..500.0f64) {
        let prints = walk(10, seed, |walker| walker.heading_sd_rad = 0.05);
        let options = ContinuationOptions { steps: Some(5), ..Default::default() };
        let kept: Vec<PrintNo> = (0..8).collect();
        let here = continued(&surface(prints.clone(), Vec::new(), &[]), &kept, &options);
        let there = continued(&surface(moved(&prints, turn, 1.0, [shift, -shift]), Vec::new(), &[]), &kept, &options);
        let origin = [prints[0].easting_m, prints[0].northing_m];
        let (sine, cosine) = turn.sin_cos();
        for (one, other) in here.after.steps.iter().zip(&there.after.steps) {
            let (east, north) = (one.position_m[0] - origin[0], one.position_m[1] - origin[1]);
            let expected = [
                origin[0] + shift + east * cosine + north * sine,
                origin[1] - shift + north * cosine - east * sine,
            ];
            let off = (other.position_m[0] - expected[0]).hypot(other.position_m[1] - expected[1]);
            prop_assert!(off < 1e-5, "{off}");
            prop_assert!((one.sd_major_m - other.sd_major_m).abs() < 1e-6);
            let turned = (other.azimuth_deg - one.azimuth_deg - turn.to_degrees()).rem_euclid(360.0);
            prop_assert!(turned.min(360.0 - turned) < 1e-4);
        }
    }

    #[test]
    fn a_reversed_trackway_swaps_after_and_before(seed in 0u64..1000) {
        let prints = walk(9, seed, |walker| walker.pace_sd = 0.08);
        let index = surface(prints, Vec::new(), &[]);
        let surroundings = Surroundings::of(&index);
        let there: Vec<PrintNo> = (1..8).collect();
        let back: Vec<PrintNo> = (1..8).rev().collect();
        let [there, back] = [there, back].map(|prints| continue_trackway(&index, &surroundings, &prints, &ten_steps()).unwrap());
        for (one, other) in [(&there.after, &back.before), (&there.before, &back.after)] {
            for (a, b) in one.steps.iter().zip(&other.steps) {
                prop_assert_eq!(a.position_m, b.position_m);
                prop_assert_eq!(a.radius_95, b.radius_95);
            }
            prop_assert_eq!(one.candidates.len(), other.candidates.len());
        }
    }

    #[test]
    fn a_larger_animal_has_larger_regions_of_one_form(seed in 0u64..1000, scale in 0.5..4.0f64) {
        let mut prints = walk(8, seed, |_| {});
        prints.iter_mut().for_each(|print| print.position_sd_m = Some(1e-4));
        let kept: Vec<PrintNo> = (0..8).collect();
        let here = continued(&surface(prints.clone(), Vec::new(), &[]), &kept, &ten_steps());
        let there = continued(&surface(moved(&prints, 0.0, scale, [0.0, 0.0]), Vec::new(), &[]), &kept, &ten_steps());
        for (one, other) in here.after.steps.iter().zip(&there.after.steps) {
            prop_assert!((other.sd_major_m / one.sd_major_m / scale - 1.0).abs() < 0.01);
        }
    }

    #[test]
    fn any_prints_give_sound_numbers_or_a_fault(
        places in prop::collection::vec((-3.0..3.0f64, -3.0..3.0f64, 0.0..0.8f64), 3..12),
        sizes in prop_oneof![Just(f64::NAN), Just(0.0), Just(-1.0), Just(f64::INFINITY), Just(0.3)],
    ) {
        let prints: Vec<Print> = (places.iter().enumerate())
            .map(|(no, (east, north, azimuth))| {
                let mut print = Print::new(label(&format!("P{no:02}")), *east, *north, sizes);
                print.azimuth_deg = (no % 2 == 0).then_some(azimuth * 450.0);
                print.width_m = Some(*azimuth);
                print
            })
            .collect();
        let count = prints.len();
        let index = surface(prints, Vec::new(), &[("T", names(0..count.min(5)))]);
        let trackway: Vec<PrintNo> = (0..(count.min(6)) as PrintNo).collect();
        let surroundings = Surroundings::of(&index);
        if let Ok(found) = continue_trackway(&index, &surroundings, &trackway, &ten_steps()) {
            sound(&found);
        }
        prop_assert!(link_ends(&index, &surroundings, &ContinuationOptions::default()).is_ok());
    }
}
