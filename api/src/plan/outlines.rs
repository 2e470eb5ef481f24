//! The outline of a print: a shield with a pointed front, inked on the side of the foot.
//!
//! Where the azimuth is known, the outline is as long as the print along the azimuth and as wide across it. The
//! inked half says the side: the left half is a left foot, the right half a right foot; a band along
//! the axis says that the side is unknown. Where the azimuth is unknown, a circle as wide as the print
//! is long has no front: a ring in it is a left foot, a disc a right foot, a dot neither.

use spatial::model::{Print, Side};

/// A closed outline of cubic Bézier curves.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outline {
    pub(super) start: [f64; 2],
    pub(super) curves: Vec<[[f64; 2]; 3]>,
}

/// What a print is drawn from, in grid metres.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PrintShape {
    /// The rim.
    pub(super) body: Outline,
    /// What is inked inside, by the even-odd rule.
    pub(super) ink: Vec<Outline>,
}

/// The width of a print over its length where the width is unknown; an assumption, drawn as one.
pub(super) const ASSUMED_RATIO: f64 = 0.75;
/// The longest length that is drawn. The longest known prints are under 2 m (from memory); what is
/// longer than this is taken for a slip, such as centimetres in a column of metres.
pub(super) const LONGEST_M: f64 = 3.0;
const SHORTEST_M: f64 = 0.001;

/// Whether a print's length can be drawn to scale.
pub(super) fn is_believable(print: &Print) -> bool {
    (SHORTEST_M..=LONGEST_M).contains(&print.length_m)
}

/// The recorded width, if it is known and can be one.
pub(super) fn known_width_m(print: &Print) -> Option<f64> {
    let fits = |width_m: &f64| (0.1..=4.0).contains(&(width_m / print.length_m));
    print.width_m.filter(fits)
}

/// The width that is drawn.
pub(super) fn drawn_width_m(print: &Print) -> f64 {
    known_width_m(print).unwrap_or(ASSUMED_RATIO * print.length_m)
}

/// The azimuth, if it is known.
pub(super) fn known_azimuth_rad(print: &Print) -> Option<f64> {
    print.azimuth_deg.filter(|a| a.is_finite()).map(f64::to_radians)
}

/// The shape of a print in grid metres.
pub(super) fn print_shape(print: &Print) -> PrintShape {
    match known_azimuth_rad(print) {
        Some(azimuth_rad) => shield(print, azimuth_rad),
        None => disc(print),
    }
}

/// The right half of the shield from heel to front, in lengths along the axis and widths across it.
/// Tangents stand square at the heel and at the widest place, so its box is exactly 1 by 1.
const HEEL: [f64; 2] = [-0.5, 0.0];
const FLANK: [[[f64; 2]; 3]; 2] = [
    [[-0.5, 0.3], [-0.2, 0.5], [0.12, 0.5]],
    [[0.3, 0.5], [0.43, 0.26], [0.5, 0.0]],
];
/// How wide the band is that says "side unknown", over the print's width.
const BAND: f64 = 0.36;

fn shield(print: &Print, azimuth_rad: f64) -> PrintShape {
    let (sine, cosine) = azimuth_rad.sin_cos();
    let (length_m, width_m) = (print.length_m, drawn_width_m(print));
    let place = |share: f64, [along, across]: [f64; 2]| {
        let (along_m, across_m) = (along * length_m, across * share * width_m);
        [
            print.easting_m + along_m * sine + across_m * cosine,
            print.northing_m + along_m * cosine - across_m * sine,
        ]
    };
    let whole = |share: f64| closed(|p| place(share, p), true, true);
    let ink = match print.side {
        Some(Side::Right) => closed(|p| place(1.0, p), true, false),
        Some(Side::Left) => closed(|p| place(1.0, p), false, true),
        None => whole(BAND),
    };
    PrintShape {
        body: whole(1.0),
        ink: vec![ink],
    }
}

/// Heel to front along the right flank, and back along the left one; either may be left out.
fn closed(place: impl Fn([f64; 2]) -> [f64; 2], right: bool, left: bool) -> Outline {
    let mirrored = |[along, across]: [f64; 2]| [along, -across];
    let mut curves = Vec::new();
    if right {
        curves.extend(FLANK.map(|curve| curve.map(&place)));
    } else {
        curves.push([HEEL, FLANK[1][2], FLANK[1][2]].map(&place));
    }
    if left {
        let [heelward, frontward] = FLANK;
        let back = [
            [frontward[1], frontward[0], heelward[2]],
            [heelward[1], heelward[0], HEEL],
        ];
        curves.extend(back.map(|curve| curve.map(mirrored).map(&place)));
    }
    Outline {
        start: place(HEEL),
        curves,
    }
}

fn disc(print: &Print) -> PrintShape {
    let circle_of = |share: f64| circle([print.easting_m, print.northing_m], share * print.length_m);
    let ink = match print.side {
        Some(Side::Left) => vec![circle_of(0.40), circle_of(0.25)],
        Some(Side::Right) => vec![circle_of(0.32)],
        None => vec![circle_of(0.14)],
    };
    PrintShape {
        body: circle_of(0.5),
        ink,
    }
}

/// A circle of four curves.
fn circle([east_m, north_m]: [f64; 2], radius_m: f64) -> Outline {
    // The usual control length for a quarter circle; its rim is off by 0.03 % of the radius at most.
    const QUARTER: f64 = 0.552_284_749_831;
    let place = |[x, y]: [f64; 2]| [east_m + x * radius_m, north_m + y * radius_m];
    let curves = [[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]].map(|[x, y]: [f64; 2]| {
        [
            [x - y * QUARTER, y + x * QUARTER],
            [-y + x * QUARTER, x + y * QUARTER],
            [-y, x],
        ]
        .map(place)
    });
    Outline {
        start: place([1.0, 0.0]),
        curves: curves.to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points along the outline, as seen along an azimuth: how far they reach along it and to its right.
    fn reach(outline: &Outline, azimuth_deg: f64) -> ([f64; 2], [f64; 2]) {
        let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
        let (mut along, mut across) = ([f64::MAX, f64::MIN], [f64::MAX, f64::MIN]);
        let mut from = outline.start;
        for [a, b, to] in &outline.curves {
            for i in 0..=400 {
                let t = f64::from(i) / 400.0;
                let s = 1.0 - t;
                let [e, n] = [0, 1].map(|k| {
                    s * s * s * from[k] + 3.0 * s * s * t * a[k] + 3.0 * s * t * t * b[k] + t * t * t * to[k]
                });
                for (range, value) in [
                    (&mut along, e * sine + n * cosine),
                    (&mut across, e * cosine - n * sine),
                ] {
                    *range = [range[0].min(value), range[1].max(value)];
                }
            }
            from = *to;
        }
        (along, across)
    }

    fn print(azimuth_deg: Option<f64>, side: Option<Side>) -> Print {
        let mut print = Print::new("P1".parse().unwrap(), 0.0, 0.0, 0.42);
        (print.width_m, print.azimuth_deg, print.side) = (Some(0.31), azimuth_deg, side);
        print
    }

    #[test]
    fn a_shield_is_as_long_along_its_azimuth_and_as_wide_across_it_as_the_print() {
        for azimuth_deg in [0.0, 37.0, 90.0, 123.4, 359.0] {
            let shape = print_shape(&print(Some(azimuth_deg), None));
            let end = shape.body.curves.last().map(|curve| curve[2]);
            assert_eq!(end, Some(shape.body.start), "the outline closes");
            let (along, across) = reach(&shape.body, azimuth_deg);
            assert!(
                (along[1] - along[0] - 0.42).abs() < 1e-12,
                "{azimuth_deg}: {along:?}"
            );
            assert!(
                (across[1] - across[0] - 0.31).abs() < 1e-12,
                "{azimuth_deg}: {across:?}"
            );
        }
    }

    #[test]
    fn the_front_is_broader_than_the_heel() {
        let body = print_shape(&print(Some(90.0), None)).body;
        let widest = body
            .curves
            .iter()
            .map(|c| c[2])
            .max_by(|a, b| a[1].total_cmp(&b[1]))
            .unwrap();
        assert!(
            widest[0] > 0.0,
            "heading east, the widest place lies east of the middle: {widest:?}"
        );
    }

    #[test]
    fn the_ink_lies_on_the_side_of_the_foot() {
        let ink = |side| {
            let shape = print_shape(&print(Some(200.0), side));
            reach(&shape.ink[0], 200.0).1
        };
        let (left, right, unknown) = (ink(Some(Side::Left)), ink(Some(Side::Right)), ink(None));
        assert!(left[0] < -0.15 && left[1].abs() < 1e-12, "{left:?}");
        assert!(right[1] > 0.15 && right[0].abs() < 1e-12, "{right:?}");
        assert!(
            (unknown[0] + unknown[1]).abs() < 1e-12 && unknown[1] < 0.1,
            "{unknown:?}"
        );
    }

    #[test]
    fn without_azimuth_a_print_has_no_front() {
        let body = print_shape(&print(None, Some(Side::Left))).body;
        for azimuth_deg in [0.0, 45.0, 71.0] {
            let (along, _) = reach(&body, azimuth_deg);
            assert!((along[1] - along[0] - 0.42).abs() < 3e-4 * 0.42, "{along:?}");
        }
        assert_eq!(
            print_shape(&print(Some(f64::NAN), None)),
            print_shape(&print(None, None))
        );
    }

    #[test]
    fn wild_measures_are_known_as_such() {
        for length_m in [0.0, -1.0, f64::NAN, f64::INFINITY, 31.0] {
            assert!(
                !is_believable(&Print::new("P1".parse().unwrap(), 0.0, 0.0, length_m)),
                "{length_m}"
            );
        }
        let mut wide = print(None, None);
        wide.width_m = Some(31.0);
        assert_eq!(drawn_width_m(&wide), ASSUMED_RATIO * 0.42);
    }
}
