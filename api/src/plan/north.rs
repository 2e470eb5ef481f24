//! Grid north and true north, at their true angle.

use super::legend::{Row, Section};
use crate::ink::{Path, Px};
use spatial::frame::Factors;

const GRID_SHAFT: f64 = 66.0;
const TRUE_SHAFT: f64 = 96.0;

/// Both arrows where the convergence is known, else that of grid north alone.
pub(super) fn section(factors: Option<Factors>) -> Section {
    let rows = match factors {
        Some(factors) => {
            let (arrows, height) = both(factors.convergence_deg);
            vec![Row::beside(
                arrows,
                100.0,
                height,
                &in_words(factors.convergence_deg),
            )]
        }
        None => {
            let foot = [50.0, 84.0];
            vec![Row::beside(
                grid_arrow(foot, ""),
                100.0,
                96.0,
                "Grid north is up. True north is not known here.",
            )]
        }
    };
    Section::new("North", rows)
}

/// True north lies west of grid north where the convergence is positive: a true azimuth is the grid
/// azimuth plus the convergence, and true north has the true azimuth 0.
fn in_words(convergence_deg: f64) -> String {
    let way = if convergence_deg > 0.0 { "west" } else { "east" };
    format!(
        "Grid north (open head) is up. True north (filled head) lies {:.3}° {way} of it (convergence {}{:.3}°).",
        convergence_deg.abs(),
        if convergence_deg < 0.0 { "−" } else { "+" },
        convergence_deg.abs()
    )
}

fn both(convergence_deg: f64) -> (String, f64) {
    let turn_rad = -convergence_deg.to_radians();
    // Leaning far over, the true arrow needs room below its foot as well.
    let (foot, height) = if turn_rad.cos() > 0.5 {
        ([50.0, 122.0], 134.0)
    } else {
        ([50.0, 112.0], 224.0)
    };
    let sides = if turn_rad < 0.0 {
        ["start", "end"]
    } else {
        ["end", "start"]
    };
    let (tip, mark) = true_arrow(foot, turn_rad);
    let away = if turn_rad < 0.0 { -6.0 } else { 6.0 };
    let name = format!(
        "<text x=\"{}\" y=\"{}\" font-size=\"13\" font-weight=\"bold\" text-anchor=\"{}\" fill=\"#23201c\">true</text>",
        Px(tip[0] + away),
        Px(tip[1] + 10.0),
        sides[1]
    );
    (grid_arrow(foot, sides[0]) + &mark + &name, height)
}

/// A thin shaft with an open head; its name stands on the side that the true arrow leaves free.
fn grid_arrow([x, y]: [f64; 2], side: &str) -> String {
    let tip = y - GRID_SHAFT;
    let mut path = Path::through(&[[x, y], [x, tip]]);
    path.move_to([x - 7.0, tip + 13.0]);
    path.line_to([x, tip]);
    path.line_to([x + 7.0, tip + 13.0]);
    let (at, anchor) = match side {
        "end" => (x - 11.0, "end"),
        _ => (x + 11.0, "start"),
    };
    format!(
        "<path d=\"{path}\" fill=\"none\" stroke=\"#23201c\" stroke-width=\"1.3\"/>\
         <text x=\"{}\" y=\"{}\" font-size=\"13\" text-anchor=\"{anchor}\" fill=\"#23201c\">grid</text>",
        Px(at),
        Px(tip + 10.0)
    )
}

/// A shaft with a filled head; its tip and its drawing.
fn true_arrow([x, y]: [f64; 2], turn_rad: f64) -> ([f64; 2], String) {
    let (sine, cosine) = turn_rad.sin_cos();
    let place = |along: f64, across: f64| {
        [
            x + along * sine + across * cosine,
            y - along * cosine + across * sine,
        ]
    };
    let tip = place(TRUE_SHAFT, 0.0);
    let shaft = Path::through(&[[x, y], place(TRUE_SHAFT - 12.0, 0.0)]);
    let mut head = Path::through(&[tip, place(TRUE_SHAFT - 18.0, 6.0), place(TRUE_SHAFT - 18.0, -6.0)]);
    head.close();
    let svg = format!(
        "<path d=\"{shaft}\" fill=\"none\" stroke=\"#23201c\" stroke-width=\"1.3\"/>\
         <path d=\"{head}\" fill=\"#23201c\"/>"
    );
    (tip, svg)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn true_north_leans_west_where_the_convergence_is_positive() {
        let (tip, _) = true_arrow([0.0, 0.0], -1.5f64.to_radians());
        assert!(tip[0] < 0.0 && tip[1] < 0.0, "{tip:?}");
        let lean_deg = (-tip[0]).atan2(-tip[1]).to_degrees();
        assert!(
            (lean_deg - 1.5).abs() < 1e-9,
            "the angle is drawn as it is: {lean_deg}"
        );
        assert!(in_words(1.5).contains("1.500° west"));
        assert!(in_words(-0.25).contains("0.250° east"));
    }
}
