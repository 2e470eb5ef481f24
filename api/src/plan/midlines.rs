//! Trackways as midlines with arrows in the direction of walking.

use super::legend::{Row, Section};
use super::prints::Detail;
use super::window::Window;
use crate::ink::{Escaped, Path, Px};
use geo::Simplify;
use spatial::index::SurfaceIndex;
use spatial::model::{Limb, Print, Status, Trackway};
use std::fmt::Write;

/// A trackway's midline on the page, from its first print to beyond its last.
pub(super) struct Midline<'a> {
    pub(super) trackway: &'a Trackway,
    pub(super) line: Vec<[f64; 2]>,
}

const DRAWN: [Status; 2] = [Status::Proposed, Status::Accepted];
/// How far the line goes on beyond the last foot, so that its arrow stands clear of it.
const BEYOND: f64 = 16.0;
/// Vertices nearer than this on the page are left out.
const CLOSEST: f64 = 1.5;
/// One arrow along the line for each of these lengths.
const BETWEEN_ARROWS: f64 = 130.0;
/// Of more trackways than these no single one can be pointed at to tell its name, and the plan must stay small enough for a page.
const MOST_NAMED: usize = 2_000;
/// How near to the line a vertex is not missed, on a plan where single lines are seen and on one where they are not.
const UNSEEN: f64 = 0.25;
const UNSEEN_IN_A_CROWD: f64 = 1.0;
/// A shorter line has no room for an arrow.
const SHORTEST_WITH_ARROW: f64 = 24.0;

/// The colour of a status: both dark on paper, told apart by the line's dashes too.
pub(super) const fn colour(status: Status) -> &'static str {
    match status {
        Status::Accepted => "#a11d21",
        Status::Proposed | Status::Rejected => "#1f5aa6",
    }
}

/// How heavily lines, arrows and names of so many trackways are drawn, 1 for few.
pub(super) const fn weight(trackways: usize) -> f64 {
    match trackways {
        0..=80 => 1.0,
        81..=400 => 0.7,
        _ => 0.45,
    }
}

/// The midlines of all trackways that are not rejected, in their order on the surface.
pub(super) fn midlines<'a>(index: &'a SurfaceIndex, window: &Window) -> Vec<Midline<'a>> {
    midlines_of(index, index.trackways().iter(), window)
}

/// The midlines of those of some trackways that are not rejected, in their order.
pub(super) fn midlines_of<'a>(
    index: &'a SurfaceIndex,
    trackways: impl Iterator<Item = &'a Trackway>,
    window: &Window,
) -> Vec<Midline<'a>> {
    let drawn = trackways.filter(|trackway| DRAWN.contains(&trackway.status));
    let lines = drawn.map(|trackway| Midline {
        trackway,
        line: midline(index, trackway, window),
    });
    lines.filter(|midline| midline.line.len() > 1).collect()
}

fn midline(index: &SurfaceIndex, trackway: &Trackway, window: &Window) -> Vec<[f64; 2]> {
    let steps = walked(index, trackway);
    let mut centres: Vec<[f64; 2]> = steps
        .iter()
        .map(|print| window.at([print.easting_m, print.northing_m]))
        .collect();
    centres.dedup();
    let foot = steps
        .last()
        .map_or(0.0, |print| print.length_m.clamp(0.0, 1.0) * window.px_per_m);
    let middles: Vec<[f64; 2]> = centres.windows(2).map(|pair| between(pair[0], pair[1])).collect();
    // The middles of two paces give the line a direction; one pace alone runs from print to print.
    let inner = if middles.len() > 1 {
        middles
    } else {
        centres.clone()
    };
    let (Some([first, second]), Some([last_but_one, last])) = (inner.first_chunk(), inner.last_chunk())
    else {
        return Vec::new();
    };
    let half_pace = |a: usize, b: usize| {
        if inner.len() < centres.len() {
            0.5 * apart(centres[a], centres[b])
        } else {
            0.0
        }
    };
    let (before, after) = (half_pace(0, 1), half_pace(centres.len() - 2, centres.len() - 1));
    let start = onward(*second, *first, before);
    let end = onward(*last_but_one, *last, after + 0.5 * foot + BEYOND);
    thinned(std::iter::once(start).chain(inner.iter().copied()).chain([end]))
}

/// The prints that the line runs along: the hind feet alone where both hind and fore feet are known.
pub(super) fn walked<'a>(index: &'a SurfaceIndex, trackway: &Trackway) -> Vec<&'a Print> {
    let found = trackway.prints.iter().filter_map(|label| index.find(label));
    let mut prints: Vec<&Print> = found.map(|no| index.print(no)).collect();
    let has = |limb| prints.iter().any(|print| print.limb == Some(limb));
    if has(Limb::Pes) && has(Limb::Manus) {
        prints.retain(|print| print.limb == Some(Limb::Pes));
    }
    prints
}

fn between(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// The place a length further on than `to`, coming from `from`.
fn onward(from: [f64; 2], to: [f64; 2], length: f64) -> [f64; 2] {
    let whole = apart(from, to);
    if whole == 0.0 {
        return to;
    }
    [0, 1].map(|k| to[k] + (to[k] - from[k]) / whole * length)
}

fn thinned(points: impl Iterator<Item = [f64; 2]>) -> Vec<[f64; 2]> {
    let mut kept: Vec<[f64; 2]> = Vec::new();
    for point in points {
        if kept.last().is_none_or(|last| apart(*last, point) >= CLOSEST) {
            kept.push(point);
        }
    }
    kept
}

/// The lines, to be drawn below the prints.
pub(super) fn draw_lines(midlines: &[Midline], detail: Detail) -> String {
    draw_lines_at(midlines, detail, weight(midlines.len()))
}

/// The lines, as heavy as is said.
pub(super) fn draw_lines_at(midlines: &[Midline], detail: Detail, weight: f64) -> String {
    // Small prints stand upon the line itself; a paler line lets them be seen.
    let pale = if detail == Detail::Outlines {
        ""
    } else {
        " stroke-opacity=\".5\""
    };
    let mut svg = String::new();
    for status in DRAWN {
        let _ = write!(svg, "<g {}{pale}>", line_attributes(status, weight));
        let drawn = midlines
            .iter()
            .filter(|midline| midline.trackway.status == status);
        if midlines.len() > MOST_NAMED {
            let mut all = Path::default();
            drawn.for_each(|midline| all.follow(&simplified(&midline.line, UNSEEN_IN_A_CROWD)));
            let _ = write!(svg, "<path d=\"{all}\"/>");
        } else {
            for midline in drawn {
                let path = Path::through(&simplified(&midline.line, UNSEEN));
                let words = in_words(midline.trackway);
                let _ = write!(
                    svg,
                    "<path d=\"{path}\"><title>{}</title></path>",
                    Escaped(&words)
                );
            }
        }
        svg += "</g>";
    }
    svg
}

/// The line without the vertices that lie so near to it that nobody misses them.
fn simplified(line: &[[f64; 2]], unseen: f64) -> Vec<[f64; 2]> {
    let line: geo::LineString<f64> = line.to_vec().into();
    line.simplify(unseen).0.into_iter().map(Into::into).collect()
}

fn line_attributes(status: Status, weight: f64) -> String {
    let width = Px(2.2 * weight);
    let dash = if status == Status::Accepted {
        ""
    } else {
        " stroke-dasharray=\"7 4\""
    };
    format!(
        "fill=\"none\" stroke=\"{}\" stroke-width=\"{width}\" stroke-linejoin=\"round\"{dash}",
        colour(status)
    )
}

fn in_words(trackway: &Trackway) -> String {
    let sure = trackway
        .probability
        .map_or(String::new(), |p| format!(", probability {p:.2}"));
    format!(
        "{}: {}, {} prints{sure}",
        trackway.label,
        trackway.status,
        trackway.prints.len()
    )
}

/// The arrows, to be drawn above the prints: a large one at the end, small ones along the line.
pub(super) fn draw_arrows(midlines: &[Midline]) -> String {
    draw_arrows_at(midlines, weight(midlines.len()))
}

/// The arrows, as heavy as is said.
pub(super) fn draw_arrows_at(midlines: &[Midline], weight: f64) -> String {
    let mut svg = String::new();
    for status in DRAWN {
        let (mut heads, mut marks) = (Path::default(), Path::default());
        for midline in midlines
            .iter()
            .filter(|midline| midline.trackway.status == status)
        {
            arrows(&midline.line, weight, &mut heads, &mut marks);
        }
        svg += &arrow_paths(status, &heads, &marks);
    }
    svg
}

fn arrow_paths(status: Status, heads: &Path, marks: &Path) -> String {
    let colour = colour(status);
    let fill = if status == Status::Accepted {
        colour
    } else {
        "#fffdf8"
    };
    format!(
        "<path d=\"{heads}\" fill=\"{fill}\" stroke=\"{colour}\" stroke-width=\"1.5\" stroke-linejoin=\"round\"/>\
         <path d=\"{marks}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.8\" stroke-linejoin=\"round\"/>"
    )
}

fn arrows(line: &[[f64; 2]], weight: f64, heads: &mut Path, marks: &mut Path) {
    let Some([from, end]) = line.last_chunk() else {
        return;
    };
    let total: f64 = line.windows(2).map(|pair| apart(pair[0], pair[1])).sum();
    if total < SHORTEST_WITH_ARROW {
        return;
    }
    barbs(heads, *from, *end, 11.0 * weight, 4.6 * weight);
    heads.close();
    let (mut gone, mut next) = (0.0, 0.5 * BETWEEN_ARROWS);
    for trio in line.windows(3) {
        gone += apart(trio[0], trio[1]);
        if gone >= next && total - gone > 0.5 * BETWEEN_ARROWS {
            let tip = onward(trio[0], trio[1], 3.0 * weight);
            barbs(marks, trio[0], tip, 6.0 * weight, 4.2 * weight);
            next = gone + BETWEEN_ARROWS;
        }
    }
}

/// An arrow's barbs with its tip at `tip`, coming from `from`.
fn barbs(path: &mut Path, from: [f64; 2], tip: [f64; 2], length: f64, half_width: f64) {
    let whole = apart(from, tip).max(f64::MIN_POSITIVE);
    let [x, y] = [0, 1].map(|k| (tip[k] - from[k]) / whole);
    let back = [tip[0] - x * length, tip[1] - y * length];
    path.move_to([back[0] - y * half_width, back[1] + x * half_width]);
    path.line_to(tip);
    path.line_to([back[0] + y * half_width, back[1] - x * half_width]);
}

/// The key to the statuses that occur.
pub(super) fn key(midlines: &[Midline]) -> Option<Section> {
    let occurs = |status: &Status| midlines.iter().any(|midline| midline.trackway.status == *status);
    let statuses = [Status::Accepted, Status::Proposed].into_iter().filter(occurs);
    let mut rows: Vec<Row> = statuses
        .map(|status| Row::of(swatch(status, 1.0), status.name()))
        .collect();
    if rows.is_empty() {
        return None;
    }
    rows.push(Row::words(
        "The line runs through the middles of the paces; its arrow points the way walked.",
    ));
    Some(Section::new("Trackways", rows))
}

/// A line of the key, as heavy as is said.
pub(super) fn swatch(status: Status, weight: f64) -> String {
    let line = [[0.0, 18.0], [36.0, 18.0]];
    let (mut heads, mut marks) = (Path::default(), Path::default());
    arrows(&line, weight, &mut heads, &mut marks);
    let path = Path::through(&line);
    format!(
        "<path d=\"{path}\" {}/>{}",
        line_attributes(status, weight),
        arrow_paths(status, &heads, &marks)
    )
}
