//! What must hold of any trackway.

use super::tests::{gait, only_finite, print, walk};
use super::*;
use crate::model::Side;
use crate::properties::every;
use proptest::prelude::*;

prop_compose! {
    fn trackway()(
        halves in prop::collection::vec(0.4..0.9f64, 2..20),
        wobble in prop::collection::vec((-0.04..0.04f64, -0.04..0.04f64), 21),
        gauge in 0.05..0.5f64,
        sided in any::<bool>(),
    ) -> Vec<Print> {
        let mut prints = walk(&halves, gauge);
        for (print, (east, north)) in prints.iter_mut().zip(wobble) {
            print.easting_m += east;
            print.northing_m += north;
            if !sided { print.side = None; }
        }
        prints
    }
}

fn moved(prints: &[Print], to: impl Fn([f64; 2]) -> [f64; 2]) -> Vec<Print> {
    (prints.iter())
        .map(|print| {
            let [east, north] = to([print.easting_m - 500_000.0, print.northing_m - 4_800_000.0]);
            let (easting_m, northing_m) = (500_000.0 + east, 4_800_000.0 + north);
            Print {
                easting_m,
                northing_m,
                ..print.clone()
            }
        })
        .collect()
}

fn same_lengths(a: &Gait, b: &Gait, factor: f64) -> Result<(), TestCaseError> {
    for (a, b) in [
        (a.row.pace_m, b.row.pace_m),
        (a.row.stride_m, b.row.stride_m),
        (a.row.gauge_m, b.row.gauge_m),
    ] {
        prop_assert_eq!(a.n, b.n);
        if let (Some(a), Some(b)) = (a.mean, b.mean) {
            prop_assert!((a * factor - b).abs() < 1e-6, "{} {}", a * factor, b);
        }
    }
    let angles = (a.row.pace_angulation_deg.mean, b.row.pace_angulation_deg.mean);
    if let (Some(a), Some(b)) = angles {
        prop_assert!((a - b).abs() < 1e-4, "{} {}", a, b);
    }
    Ok(())
}

fn apart_deg(a: Option<f64>, b: Option<f64>) -> f64 {
    let off = (a.unwrap() - b.unwrap()).rem_euclid(360.0);
    off.min(360.0 - off)
}

proptest! {
    #![proptest_config(every(4))]

    #[test]
    fn scaling_positions_scales_lengths(prints in trackway(), factor in 0.2..5.0f64) {
        let scaled = moved(&prints, |[e, n]| [e * factor, n * factor]);
        same_lengths(&gait(&prints), &gait(&scaled), factor)?;
    }

    #[test]
    fn turning_does_nothing_but_to_the_heading(prints in trackway(), turn_deg in 0.0..360.0f64) {
        let (sine, cosine) = turn_deg.to_radians().sin_cos();
        let turned = moved(&prints, |[e, n]| [e * cosine + n * sine, n * cosine - e * sine]);
        let (before, after) = (gait(&prints), gait(&turned));
        same_lengths(&before, &after, 1.0)?;
        let heading = before.heading_deg.map(|heading| heading + turn_deg);
        prop_assert!(apart_deg(heading, after.heading_deg) < 1e-4);
    }

    #[test]
    fn reversing_turns_the_heading_and_keeps_paces(prints in trackway()) {
        let reversed: Vec<Print> = prints.iter().rev().cloned().collect();
        let (there, back) = (gait(&prints), gait(&reversed));
        same_lengths(&there, &back, 1.0)?;
        prop_assert!((apart_deg(there.heading_deg, back.heading_deg) - 180.0).abs() < 1e-4);
    }

    #[test]
    fn wild_prints_never_make_a_number_that_is_none(
        places in prop::collection::vec((0..4i32, 0..4i32, 0..3u8, 0..3u8), 0..12),
    ) {
        let prints: Vec<Print> = places.iter().enumerate().map(|(no, &(e, n, side, limb))| {
            let side = match side { 0 => None, 1 => Some(Side::Left), _ => Some(Side::Right) };
            let mut print = print(no, [f64::from(e), f64::from(n)], side);
            print.limb = match limb { 0 => None, 1 => Some(Limb::Pes), _ => Some(Limb::Manus) };
            print.azimuth_deg = Some(f64::from(e) * 90.0);
            print
        }).collect();
        let measured = gait(&prints);
        only_finite(&measured);
        let placed: Vec<Placed> = prints.iter().map(Placed::from).collect();
        prop_assert_eq!(heading_deg(&placed), measured.heading_deg);
    }
}
