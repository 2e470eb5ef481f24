//! The table of squares: what a field party sets its instruments to.

use super::super::clip;
use super::super::grid::coordinate;
use super::super::legend::{self, Row, Section};
use super::{Onward, Square};
use crate::ink::{BOLDER, Escaped, Px, fitted, grouped, text_width};
use geo::{Centroid, Polygon};
use std::fmt::Write;

/// How many squares the table lists.
pub(super) const MOST: usize = 15;
const SIZE: f64 = 13.0;
const LINE: f64 = 21.0;
/// The least and the most room between two columns.
const APART: [f64; 2] = [5.0, 16.0];

/// One line: rank, easting, northing, per cent and extent.
type Cells = [String; 5];

/// The table, or words that there is nothing to list.
pub(super) fn section(onward: &Onward) -> Section {
    let squares = &onward.squares;
    if squares.is_empty() {
        return Section::new("Squares", vec![Row::words("No square to look in is given.")]);
    }
    let shown = squares.len().min(MOST);
    let mut rows = vec![Row::wide(
        table(&squares[..shown]),
        LINE * (shown + 1) as f64 + 10.0,
    )];
    if squares.len() > MOST {
        let more = grouped((squares.len() - MOST) as i64);
        rows.push(Row::words(&format!("{more} more in the answer's list")));
    }
    rows.push(Row::words(
        "Easting and northing of the centre, m; probability, %",
    ));
    Section::new("Squares, most probable first", rows)
}

fn table(squares: &[Square]) -> String {
    let mut lines: Vec<Cells> = vec![["", "easting", "northing", "%", "extent"].map(str::to_owned)];
    lines.extend(squares.iter().enumerate().map(|(i, square)| cells(i + 1, square)));
    let ends = ends(&lines);
    let mut svg = format!("<g font-size=\"{SIZE}\" text-anchor=\"end\">");
    for (no, cells) in lines.iter().enumerate() {
        svg += &line(no, cells, ends);
    }
    svg + "</g>"
}

fn cells(rank: usize, square: &Square) -> Cells {
    let [east, north] = match centre(&square.outline) {
        Some(at) => at.map(in_tenths),
        None => ["–", "–"].map(str::to_owned),
    };
    let extent = square.in_extent.clone();
    [rank.to_string(), east, north, percent(square.probability), extent]
}

/// Where the columns end on their right, the last one where its words begin: coordinates have six digits in
/// one grid and seven in another.
fn ends(lines: &[Cells]) -> [f64; 5] {
    let widths = [0, 1, 2, 3, 4].map(|column| {
        let size = if column == 0 { BOLDER * SIZE } else { SIZE };
        let widths = lines.iter().map(|cells| text_width(&cells[column], size));
        widths.fold(0.0, f64::max)
    });
    // Without some play, rounding alone could cut a word that fits.
    const PLAY: f64 = 1.0;
    let spare = legend::WIDTH - PLAY - widths.iter().sum::<f64>();
    let apart = (spare / 4.0).clamp(APART[0], APART[1]);
    let mut end = -apart;
    let mut ends = widths.map(|width| {
        end += apart + width;
        end
    });
    ends[4] = ends[3] + apart;
    ends
}

fn line(no: usize, cells: &Cells, ends: [f64; 5]) -> String {
    let y = Px(LINE * (no as f64 + 0.74));
    let mut svg = String::new();
    for (column, (text, x)) in cells.iter().zip(ends).enumerate() {
        let anchor = if column == 4 { " text-anchor=\"start\"" } else { "" };
        let look = match (no, column) {
            (0, _) => " font-style=\"italic\"",
            (_, 0) => " font-weight=\"bold\"",
            _ => "",
        };
        let text = if column == 4 {
            fitted(text, SIZE, legend::WIDTH - x)
        } else {
            text.clone()
        };
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"{y}\"{anchor}{look}>{}</text>",
            Px(x),
            Escaped(&text)
        );
    }
    svg
}

/// The centre of an outline, if it has one that can be on a grid.
pub(super) fn centre(outline: &Polygon<f64>) -> Option<[f64; 2]> {
    // Eastings that start with the number of their zone have eight digits before the point; none has more.
    const FARTHEST_M: f64 = 1e8;
    let ring: Vec<[f64; 2]> = clip::vertices(outline.exterior()).collect();
    let centre = Polygon::new(ring.into(), vec![]).centroid()?;
    let centre = [centre.x(), centre.y()];
    centre
        .iter()
        .all(|metres| metres.abs() < FARTHEST_M)
        .then_some(centre)
}

/// A coordinate to a tenth of a metre.
pub(super) fn in_tenths(metres: f64) -> String {
    coordinate((metres / 0.1).round() as i64, 0.1)
}

/// A probability in per cent, with as many decimals as it deserves.
pub(super) fn percent(probability: f64) -> String {
    match 100.0 * probability {
        percent if !percent.is_finite() => "–".to_owned(),
        percent if percent >= 9.95 => format!("{percent:.0}"),
        percent if percent >= 0.05 => format!("{percent:.1}"),
        percent if percent > 0.0 => "<0.1".to_owned(),
        _ => "0".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;

    #[test]
    fn a_centre_is_given_to_a_tenth_where_it_can_be_on_a_grid() {
        let square = polygon![(x: 32_447_059., y: 10.), (x: 32_447_060., y: 10.), (x: 32_447_060., y: 11.), (x: 32_447_059., y: 11.)];
        let centre_m = centre(&square).unwrap();
        assert_eq!(centre_m.map(in_tenths), ["32\u{202f}447\u{202f}059.5", "10.5"]);
        let nowhere = polygon![(x: 1e300, y: 0.), (x: 1e300, y: 1.), (x: 1e299, y: 1.)];
        assert_eq!(centre(&nowhere), None);
        assert_eq!(centre(&Polygon::empty()), None);
    }

    #[test]
    fn the_widest_coordinates_leave_room_for_the_extent() {
        let square = Square {
            outline: polygon![(x: 32_447_059., y: 9_999_998.), (x: 32_447_060., y: 9_999_998.), (x: 32_447_060., y: 9_999_999.)],
            probability: 0.0123,
            in_extent: "unmapped".to_owned(),
        };
        let line = cells(15, &square);
        let ends = ends(&[line]);
        assert!(ends.windows(2).all(|pair| pair[0] < pair[1]), "{ends:?}");
        assert!(
            legend::WIDTH - ends[4] >= text_width("unmapped", SIZE),
            "{ends:?}"
        );
    }

    #[test]
    fn probabilities_have_the_decimals_that_they_deserve() {
        let written = [1.0, 0.345, 0.0994, 0.011, 0.0004, 0.0, f64::NAN].map(percent);
        assert_eq!(written, ["100", "34", "9.9", "1.1", "<0.1", "0", "–"]);
    }
}
