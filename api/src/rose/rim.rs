//! The rim with its letters and degrees, and the rings with their labels.

use super::compass::{apart_deg, place, spoke, told};
use super::figure::{Counted, Figure};
use super::scale::Scale;
use crate::ink::{BOLDER, Escaped, Path, Px, grouped, text_width};
use std::fmt::Write;

/// Keeps letters legible upon sectors and lines.
const HALO: &str = "stroke=\"#fff\" stroke-width=\"4.4\" stroke-linejoin=\"round\" paint-order=\"stroke\"";
/// Where the labels of rings may stand, the best first.
const LABELS_AT_DEG: [f64; 16] = [
    35.0, 325.0, 145.0, 215.0, 22.0, 338.0, 158.0, 202.0, 48.0, 312.0, 132.0, 228.0, 64.0, 296.0, 116.0,
    244.0,
];

/// A text on the page, centred.
struct Lettering {
    text: String,
    at: [f64; 2],
    half: [f64; 2],
}

impl Lettering {
    fn of(text: &str, at: [f64; 2], size: f64) -> Self {
        Self {
            text: text.to_owned(),
            at,
            half: [0.5 * text_width(text, size), 0.5 * size],
        }
    }

    /// The text beyond a distance from the middle.
    fn beyond(text: &str, azimuth_deg: f64, from: f64, size: f64) -> Self {
        let mut lettering = Self::of(text, [0.0; 2], size);
        let [across, up] = place(azimuth_deg, 1.0).map(f64::abs);
        let reach = lettering.half[0] * across + lettering.half[1] * up;
        lettering.at = place(azimuth_deg, from + reach);
        lettering
    }

    fn collides(&self, other: &Self) -> bool {
        (0..2).all(|axis| (self.at[axis] - other.at[axis]).abs() < self.half[axis] + other.half[axis] + 1.0)
    }

    fn draw(&self) -> String {
        let [x, y] = self.at;
        // Capitals and figures are about 0.72 of the size high.
        let baseline = Px(y + 0.36 * 2.0 * self.half[1]);
        format!(
            "<text x=\"{}\" y=\"{baseline}\">{}</text>",
            Px(x),
            Escaped(&self.text)
        )
    }
}

fn drawn(letterings: impl Iterator<Item = Lettering>) -> String {
    letterings.map(|lettering| lettering.draw()).collect()
}

impl Figure<'_> {
    /// The rings and the cross of the four quarters, to lie below the sectors.
    pub(super) fn rings(&self) -> String {
        let mut svg = String::from("<g fill=\"none\" stroke=\"#8d877b\" stroke-width=\".8\">");
        if let Some(scale) = self.scale {
            let inner = scale.rings().rev().skip(1);
            for amount in inner {
                let radius = Px(scale.radius(amount as f64, self.rim));
                let _ = write!(svg, "<circle r=\"{radius}\"/>");
            }
        }
        let mut cross = Path::default();
        for azimuth_deg in [0.0, 90.0] {
            spoke(&mut cross, azimuth_deg, -self.rim, self.rim);
        }
        let _ = write!(svg, "<path d=\"{cross}\" stroke-dasharray=\"1.5 2.5\"/></g>");
        svg
    }

    /// The rim, with ticks.
    pub(super) fn rim(&self) -> String {
        let mut ticks = Path::default();
        for azimuth_deg in (0..360).step_by(self.sizes.ticks_deg) {
            let length = if azimuth_deg % 30 == 0 { 5.0 } else { 2.6 };
            spoke(&mut ticks, azimuth_deg as f64, self.rim - length, self.rim);
        }
        format!(
            "<g fill=\"none\" stroke=\"#23201c\"><circle r=\"{}\" stroke-width=\"1.3\"/>\
             <path d=\"{ticks}\" stroke-width=\".9\"/></g>",
            Px(self.rim)
        )
    }

    /// N, E, S and W, or degrees where no north is known, with further degrees and the label of the named azimuth
    /// where there is room.
    pub(super) fn letters(&self) -> String {
        let quarters = if self.rose.north.is_empty() {
            ["0°", "90°", "180°", "270°"]
        } else {
            ["N", "E", "S", "W"]
        };
        let from = self.sizes.letters_from();
        let letters: Vec<Lettering> = quarters
            .iter()
            .zip([0.0, 90.0, 180.0, 270.0])
            .map(|(text, azimuth_deg)| Lettering::beyond(text, azimuth_deg, from, BOLDER * self.sizes.letter))
            .collect();
        let (mut degrees, mut named) = (Vec::new(), None);
        if let Some(size) = self.sizes.degrees {
            named = self.named_label(&letters, BOLDER * size);
            degrees = (0..12)
                .map(|hour| 30.0 * f64::from(hour))
                .filter(|azimuth_deg| azimuth_deg % 90.0 != 0.0)
                .map(|azimuth_deg| Lettering::beyond(&told(azimuth_deg), azimuth_deg, from, size))
                .filter(|lettering| named.as_ref().is_none_or(|named| !named.collides(lettering)))
                .collect();
        }
        let size = self.sizes.degrees.unwrap_or_default();
        format!(
            "<g text-anchor=\"middle\" fill=\"#23201c\"><g font-weight=\"bold\"><g font-size=\"{}\">{}</g>\
             <g font-size=\"{size}\">{}</g></g><g font-size=\"{size}\">{}</g></g>",
            self.sizes.letter,
            drawn(letters.into_iter()),
            drawn(named.into_iter()),
            drawn(degrees.into_iter())
        )
    }

    /// The label of the named azimuth, moved along the rim until it is clear of the letters.
    fn named_label(&self, letters: &[Lettering], size: f64) -> Option<Lettering> {
        let named_deg = self.named_deg()?;
        let moved = (0..60).map(|step| f64::from((step + 1) / 2) * if step % 2 == 0 { -1.0 } else { 1.0 });
        let mut places = moved.map(|by_deg| {
            let (text, from) = (told(named_deg), self.sizes.letters_from());
            Lettering::beyond(&text, named_deg + by_deg, from, size)
        });
        places.find(|label| letters.iter().all(|letter| !label.collides(letter)))
    }

    /// The labels of the rings, where sectors and marks leave room.
    pub(super) fn ring_labels(&self, group: &Counted) -> String {
        let Some(scale) = self.scale.filter(|_| group.n > 0) else {
            return String::new();
        };
        let labels = self.labels_at(&scale, self.quiet_azimuth_deg(&scale, group));
        format!(
            "<g text-anchor=\"middle\" font-size=\"{}\" fill=\"#23201c\" {HALO}>{}</g>",
            self.sizes.ring_label,
            drawn(labels.into_iter())
        )
    }

    /// Labels from the rim inwards; a ring too near to the last one that has a label has none.
    fn labels_at(&self, scale: &Scale, azimuth_deg: f64) -> Vec<Lettering> {
        let mut labels: Vec<Lettering> = Vec::new();
        for amount in scale.rings().rev() {
            let at = place(azimuth_deg, scale.radius(amount as f64, self.rim));
            let unit = if amount == scale.at_rim() {
                scale.measure.unit()
            } else {
                ""
            };
            let label = Lettering::of(&(grouped(amount as i64) + unit), at, self.sizes.ring_label);
            if labels.last().is_none_or(|last| !last.collides(&label)) {
                labels.push(label);
            }
        }
        labels
    }

    /// Where the labels of rings hide the least, and the fewest are missing.
    fn quiet_azimuth_deg(&self, scale: &Scale, group: &Counted) -> f64 {
        let hidden = |at_deg: f64| {
            let missing = scale.rings().count() - self.labels_at(scale, at_deg).len();
            self.sectors_near(group, at_deg) + self.marks_near(group, at_deg) + missing as f64
        };
        let [first, rest @ ..] = LABELS_AT_DEG;
        let (mut best, mut least) = (first, hidden(first));
        for at_deg in rest {
            let hidden = hidden(at_deg);
            // Rounding must not choose between equals.
            if hidden < least - 1e-9 {
                (best, least) = (at_deg, hidden);
            }
        }
        best
    }

    /// The reach of the sectors about an azimuth, in parts of the rim.
    fn sectors_near(&self, group: &Counted, at_deg: f64) -> f64 {
        [-14.0, -7.0, 0.0, 7.0, 14.0]
            .iter()
            .map(|off| group.counts[self.sectors.holding(at_deg + off)])
            .map(|count| self.radius(count, group.n) / self.rim)
            .sum()
    }

    /// A number that grows with the marks of mean and named azimuth about an azimuth.
    fn marks_near(&self, group: &Counted, at_deg: f64) -> f64 {
        let near = |mark_deg: Option<f64>, within_deg: f64| {
            let marks = mark_deg.into_iter().flat_map(|mark| self.both_ways(mark));
            marks.filter(|mark| apart_deg(*mark, at_deg) < within_deg).count() as f64
        };
        let middle = group
            .group
            .interval_deg(self.sectors.turn_deg())
            .map(|[from, width]| (from + 0.5 * width, 0.5 * width));
        let interval = middle.map_or(0.0, |(at, half)| near(Some(at), half + 5.0));
        3.0 * near(group.group.sound_mean_deg(), 16.0) + near(self.named_deg(), 10.0) + interval
    }
}
