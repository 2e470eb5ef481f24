use super::hip::HipRule;
use super::*;
use crate::model::{DepthSample, Remarks, Side};

pub(super) fn print(no: usize, at: [f64; 2], side: Option<Side>) -> Print {
    let mut print = Print::new(format!("P{no}").parse().unwrap(), at[0], at[1], 0.30);
    print.side = side;
    print
}

fn alternate(no: usize) -> Option<Side> {
    Some(if no.is_multiple_of(2) {
        Side::Left
    } else {
        Side::Right
    })
}

/// Walks north: a step every half stride, left prints a half gauge to the left.
pub(super) fn walk(half_strides_m: &[f64], gauge_m: f64) -> Vec<Print> {
    let mut north = 0.0;
    let along = std::iter::once(0.0).chain(half_strides_m.iter().map(|half| {
        north += half;
        north
    }));
    along
        .enumerate()
        .map(|(no, north)| {
            let off = if no % 2 == 0 {
                -gauge_m / 2.0
            } else {
                gauge_m / 2.0
            };
            print(no, [500_000.0 + off, 4_800_000.0 + north], alternate(no))
        })
        .collect()
}

fn gait_with(prints: &[Print], options: &Options) -> Gait {
    let placed: Vec<Placed> = prints.iter().map(Placed::from).collect();
    measure(&placed, options).unwrap()
}

pub(super) fn gait(prints: &[Print]) -> Gait {
    gait_with(prints, &Options::default())
}

fn near(value: Option<f64>, expected: f64) {
    let value = value.expect("a value");
    assert!((value - expected).abs() < 1e-6, "{value} is not {expected}");
}

/// No number in the answer may be unknown to JSON.
pub(super) fn only_finite(gait: &Gait) -> serde_json::Value {
    let text = serde_json::to_string(gait).unwrap();
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    serde_json::from_str(&text).unwrap()
}

#[test]
fn a_steady_walk_by_hand() {
    // Half strides of 0.6 m, gauge 0.25 m: pace √(0.36 + 0.0625) = 0.65 m; angle 2 atan(0.6 / 0.25) =
    // 134.7603°.
    let gait = gait(&walk(&[0.6; 9], 0.25));
    near(gait.row.pace_m.mean, 0.65);
    near(gait.row.stride_m.mean, 1.2);
    near(
        gait.row.pace_angulation_deg.mean,
        2.0 * (0.6f64 / 0.25).atan().to_degrees(),
    );
    near(gait.row.gauge_m.mean, 0.25);
    assert_eq!(
        (gait.row.pace_m.n, gait.row.stride_m.n, gait.row.gauge_m.n),
        (9, 8, 8)
    );
    assert!(gait.row.stride_m.sd.unwrap() < 1e-6);
    // h = 4 · 0.3 m, λ/h = 1, v = 0.25 · √9.81 · 1.2^0.5.
    near(gait.hip_height_m, 1.2);
    near(gait.relative_stride, 1.0);
    near(gait.speed_m_s, 0.25 * (9.81f64 * 1.2).sqrt());
    let [low, high] = gait.speed_interval_m_s.unwrap();
    assert!(low < gait.speed_m_s.unwrap() && gait.speed_m_s.unwrap() < high);
    assert_eq!((gait.gait, gait.changes.len()), (Some(speed::GaitClass::Walk), 0));
    assert!(gait.heading_deg.unwrap().to_radians().sin().abs() < 1e-6 && gait.doubts.is_empty());
}

#[test]
fn names_are_those_of_the_interface() {
    let json = only_finite(&gait(&walk(&[0.6; 9], 0.25)));
    for name in [
        "foot_length_m",
        "hip_height_m",
        "stride_m",
        "pace_m",
        "pace_angulation_deg",
        "gauge_m",
    ] {
        for ending in ["", "_sd", "_n"] {
            assert!(json[format!("{name}{ending}")].is_number(), "{name}{ending}");
        }
    }
    for name in [
        "relative_stride",
        "gait",
        "speed_m_s",
        "speed_interval_m_s",
        "changes",
        "steps",
    ] {
        assert!(!json[name].is_null(), "{name}");
    }
    assert_eq!(json["gait"], "walk");
    assert_eq!(json["steps"].as_array().unwrap().len(), 10);
    assert_eq!(json["steps"][2]["print"], "P2");
}

#[test]
fn lengths_are_those_on_the_ground() {
    let scaled = gait_with(
        &walk(&[0.6; 9], 0.25),
        &Options {
            scale: 0.9996,
            ..Options::default()
        },
    );
    near(scaled.row.stride_m.mean, 1.2 / 0.9996);
}

#[test]
fn a_missing_print_is_no_long_pace() {
    for with_sides in [true, false] {
        let mut prints = walk(&[0.6; 12], 0.25);
        prints.remove(5);
        if !with_sides {
            prints.iter_mut().for_each(|print| print.side = None);
        }
        let gait = gait(&prints);
        near(gait.row.pace_m.mean, 0.65);
        near(gait.row.stride_m.mean, 1.2);
        assert_eq!(
            (gait.row.pace_m.n, gait.row.missing_n),
            (10, 1),
            "sides known: {with_sides}"
        );
        let step = &gait.steps[5];
        let basis = if with_sides {
            GapBasis::Sides
        } else {
            GapBasis::Distance
        };
        assert_eq!(
            (step.missing_before, step.missing_basis, step.pace_m),
            (Some(1), Some(basis), None)
        );
        near(step.stride_m, 1.2);
        assert!(gait.changes.is_empty(), "a gap is no change of gait");
    }
}

#[test]
fn a_count_of_missing_prints_that_is_given_is_taken() {
    let prints = walk(&[0.6, 0.6, 1.8, 0.6, 0.6], 0.0);
    let mut placed: Vec<Placed> = prints.iter().map(Placed::from).collect();
    placed[3].missing_before = Some(2);
    let gait = measure(&placed, &Options::default()).unwrap();
    assert_eq!(
        (gait.row.missing_n, gait.row.pace_m.n, gait.row.stride_m.n),
        (2, 4, 2)
    );
    assert_eq!(gait.steps[3].missing_basis, Some(GapBasis::Given));
}

#[test]
fn an_animal_that_breaks_into_a_run() {
    let steps: Vec<f64> = (0..24)
        .map(|no| {
            if no < 12 {
                0.6 + 0.01 * f64::from(no % 3)
            } else {
                1.9 + 0.03 * f64::from(no % 4)
            }
        })
        .collect();
    let gait = gait(&walk(&steps, 0.1));
    assert_eq!(gait.row.missing_n, 0);
    let [change] = &gait.changes[..] else {
        panic!("{:?}", gait.changes)
    };
    assert_eq!(
        (change.at_print.as_str(), change.at_number, change.turn),
        ("P12", 13, Turn::Faster)
    );
    assert!((change.stride_before_m - 1.22).abs() < 0.05 && (change.stride_after_m - 3.89).abs() < 0.1);
    assert!(change.speed_after_m_s.unwrap() > 3.0 * change.speed_before_m_s.unwrap());
    assert!(change.p <= 0.01);
    assert_eq!(gait.steps[23].gait, Some(speed::GaitClass::Run));
}

#[test]
fn feet_turned_outward_are_positive_on_both_sides() {
    let mut prints = walk(&[0.6; 6], 0.25);
    for print in &mut prints {
        print.azimuth_deg = Some(if print.side == Some(Side::Left) {
            350.0
        } else {
            14.0
        });
    }
    let gait = gait(&prints);
    // Four left prints of 10° and three right ones of 14°.
    near(gait.steps[2].foot_rotation_deg, 10.0);
    near(gait.steps[3].foot_rotation_deg, 14.0);
    assert!((gait.row.foot_rotation_deg.mean.unwrap() - 82.0 / 7.0).abs() < 0.01);
    assert_eq!(gait.row.foot_rotation_deg.n, 7);
}

#[test]
fn margins_are_a_foot_width_apart_from_the_gauge() {
    let mut prints = walk(&[0.6; 6], 0.25);
    assert_eq!(gait(&prints).row.gauge_inner_m.mean, None, "no width is known");
    prints.iter_mut().for_each(|print| print.width_m = Some(0.3));
    let gait = gait(&prints);
    near(gait.row.gauge_inner_m.mean, -0.05);
    near(gait.row.gauge_outer_m.mean, 0.55);
}

#[test]
fn pes_and_manus_are_measured_apart() {
    let mut prints = walk(&[0.5; 8], 0.4);
    for (no, mut manus) in walk(&[0.5; 8], 0.6).into_iter().enumerate() {
        manus.label = format!("M{no}").parse().unwrap();
        manus.northing_m += 0.2;
        manus.length_m = 0.12;
        manus.limb = Some(crate::model::Limb::Manus);
        prints.insert(2 * no + 1, manus);
    }
    let both = gait(&prints);
    near(both.row.gauge_m.mean, 0.4);
    near(both.row.foot_length_m.mean, 0.3);
    near(both.manus.as_ref().unwrap().gauge_m.mean, 0.6);
    assert_eq!(both.steps.len(), 18);
    assert_eq!(both.steps[1].print.as_str(), "M0");
    only_finite(&both);
    let manus_only: Vec<Print> = prints.into_iter().filter(|p| p.limb.is_some()).collect();
    let alone = gait(&manus_only);
    near(alone.row.stride_m.mean, 1.0);
    assert_eq!(alone.speed_m_s, None, "a manus tells no hip height");
    assert_eq!(
        alone.row.not_enough_data["hip_height_m"],
        "no pes print has a length"
    );
}

#[test]
fn prints_without_a_limb_go_where_their_length_fits() {
    let mut prints = Vec::new();
    for (no, (pes, mut manus)) in walk(&[0.5; 8], 0.4)
        .into_iter()
        .zip(walk(&[0.5; 8], 0.6))
        .enumerate()
    {
        manus.label = format!("M{no}").parse().unwrap();
        manus.northing_m += 0.2;
        manus.length_m = 0.12;
        manus.limb = (no != 3).then_some(Limb::Manus);
        let limb = (no != 5).then_some(Limb::Pes);
        prints.extend([Print { limb, ..pes }, manus]);
    }
    let gait = gait(&prints);
    assert_eq!((gait.row.prints_n, gait.manus.as_ref().unwrap().prints_n), (9, 9));
    near(gait.row.foot_length_m.mean, 0.3);
    let doubted: Vec<&str> = gait.doubts.iter().map(|doubt| doubt.print.as_str()).collect();
    assert_eq!(doubted, ["M3", "P5"]);
}

#[test]
fn depths_give_the_load() {
    let mut prints = walk(&[0.6; 4], 0.0);
    let sample = |along_m, across_m, depth_m| DepthSample {
        along_m,
        across_m,
        depth_m,
    };
    prints[2].azimuth_deg = Some(10.0);
    prints[2].remarks = Some(Box::new(Remarks {
        depth_samples: vec![
            sample(0.1, 0.0, 0.04),
            sample(-0.1, 0.05, 0.02),
            sample(-0.1, -0.05, 0.02),
        ],
        ..Remarks::default()
    }));
    let load = gait(&prints).steps[2].load.unwrap();
    near(load.against_travel_deg, 10.0);
    near(load.fore_aft_ratio, 2.0);
}

#[test]
fn too_little_data_is_stated_and_never_a_number() {
    let reason = |prints: &[Print], measure: &str| {
        let gait = gait(prints);
        only_finite(&gait);
        assert_eq!(gait.speed_m_s, None);
        gait.row.not_enough_data[measure].clone()
    };
    assert_eq!(reason(&[], "pace_m"), "there is no print");
    assert_eq!(reason(&walk(&[], 0.2), "pace_m"), "there is only one print");
    assert_eq!(reason(&walk(&[0.6], 0.2), "stride_m"), "there are only 2 prints");
    assert_eq!(reason(&walk(&[0.6], 0.2), "speed_m_s"), "there is no stride");
    let mut feetless = walk(&[0.6; 5], 0.2);
    for (print, length) in feetless
        .iter_mut()
        .zip([f64::NAN, 0.0, -1.0, f64::INFINITY, f64::NAN, f64::NAN])
    {
        print.length_m = length;
    }
    assert_eq!(reason(&feetless, "foot_length_m"), "no print has a length");
    assert_eq!(reason(&feetless, "speed_m_s"), "there is no hip height");
}

#[test]
fn prints_of_one_side_give_strides_and_no_paces() {
    let mut prints = walk(&[1.2; 10], 0.0);
    prints.iter_mut().for_each(|print| print.side = Some(Side::Right));
    let gait = gait(&prints);
    only_finite(&gait);
    near(gait.row.stride_m.mean, 1.2);
    assert_eq!((gait.row.stride_m.n, gait.row.pace_m.n), (10, 0));
    assert_eq!(gait.row.not_enough_data["pace_m"], "all prints are of one side");
    assert!(gait.speed_m_s.is_some());
}

#[test]
fn prints_at_one_place_are_one_print() {
    let mut prints = walk(&[0.6; 4], 0.2);
    let mut again = prints[2].clone();
    again.label = "P2b".parse().unwrap();
    prints.insert(3, again);
    let twice = gait(&prints);
    assert_eq!((twice.row.prints_n, twice.doubts.len()), (5, 1));
    assert_eq!(twice.doubts[0].print.as_str(), "P2b");
    near(twice.row.stride_m.mean, 1.2);
    let heap: Vec<Print> = (0..5).map(|no| print(no, [7.0, 7.0], alternate(no))).collect();
    let heap = gait(&heap);
    only_finite(&heap);
    assert_eq!((heap.row.prints_n, heap.heading_deg), (1, None));
}

#[test]
fn there_and_back_has_no_stride_of_nothing() {
    let there = [[0.0, 0.0], [1.0, 0.0], [0.0, 0.0], [1.0, 0.0], [0.0, 0.0]];
    let prints: Vec<Print> = there
        .iter()
        .enumerate()
        .map(|(no, at)| print(no, *at, alternate(no)))
        .collect();
    let gait = gait(&prints);
    only_finite(&gait);
    assert_eq!(
        (gait.row.stride_m.n, gait.row.pace_m.n, gait.row.gauge_m.n),
        (0, 4, 0)
    );
}

#[test]
fn nonsense_is_refused() {
    let prints = walk(&[0.6; 3], 0.2);
    let placed: Vec<Placed> = prints.iter().map(Placed::from).collect();
    for bad in [f64::NAN, f64::INFINITY, 1e300] {
        let mut lost = placed.clone();
        lost[1].position_m[0] = bad;
        let fault = measure(&lost, &Options::default()).unwrap_err();
        assert!(matches!(fault, GaitFault::Position(label) if label.as_str() == "P1"));
    }
    let with = |change: fn(&mut Options)| {
        let mut options = Options::default();
        change(&mut options);
        measure(&placed, &options).unwrap_err().to_string()
    };
    assert!(with(|o| o.scale = 0.0).starts_with("scale is 0"));
    assert!(with(|o| o.position_sd_m = f64::NAN).starts_with("position_sd_m"));
    assert!(with(|o| o.length_cv = -0.1).starts_with("length_cv"));
    assert!(with(|o| o.hip = HipRule::Ratio(-4.0)).contains("above zero"));
}
