//! The key: what the marks mean, and how to read the areas.

use super::compass::told;
use super::figure::Figure;
use super::frame::{MARGIN, WIDTH};
use super::mean::{ARC, OPEN, interval_mark, triangle};
use super::scale::{Measure, Scale};
use crate::ink::{Escaped, Path, Px, grouped, wrapped};
use std::fmt::Write;

const SIZE: f64 = 13.0;
const LINE: f64 = 17.0;
/// The room for a mark left of its words.
const MARK: f64 = 34.0;

/// A mark and its words.
pub(super) struct Item {
    /// Drawn about its own middle.
    mark: String,
    pub(super) words: String,
}

impl Figure<'_> {
    /// All marks that occur.
    pub(super) fn key(&self) -> Vec<Item> {
        let Some(scale) = self.scale else {
            return self.named_item().into_iter().collect();
        };
        let sectors = Item {
            mark: swatch(&self.sector_style()),
            words: self.sectors_in_words(&scale),
        };
        let copies = self.rose.axial.then(|| Item {
            mark: swatch(&self.copy_style()),
            words: "the same axes, drawn again on their other side".to_owned(),
        });
        [
            Some(sectors),
            copies,
            self.mean_item(),
            self.named_item(),
            self.dot_item(),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn sectors_in_words(&self, scale: &Scale) -> String {
        let rings: Vec<String> = scale.rings().map(|amount| grouped(amount as i64)).collect();
        let ring = if rings.len() == 1 { "ring" } else { "rings" };
        let rings = rings.join(", ");
        let counted = self.rose.counted;
        let start = match self.rose.north {
            "" => "0°",
            north => north,
        };
        let measure = match scale.measure {
            Measure::Count => format!("The area of a sector shows its number of {counted}; {ring}: {rings}."),
            Measure::Percent => format!(
                "The area of a sector shows its share of the {counted} of a group; {ring}, the same in all \
                 roses: {rings}\u{202f}%."
            ),
        };
        let width = Px(self.sectors.width_deg());
        format!("{measure} Sectors of {width}°, clockwise from {start}.")
    }

    fn mean_item(&self) -> Option<Item> {
        let groups = || self.groups.iter().map(|counted| counted.group);
        groups().find_map(|group| group.sound_mean_deg())?;
        let turn_deg = self.sectors.turn_deg();
        let with_arc = groups().any(|group| group.interval_deg(turn_deg).is_some());
        let mean = if self.rose.axial {
            "mean axis"
        } else {
            "mean direction"
        };
        let mut line = Path::through(&[[-12.0, 0.0], [10.0, 0.0]]);
        let mut words = mean.to_owned();
        let mut arc = String::new();
        if with_arc {
            words += ", with the arc of its 95\u{202f}% interval";
            line = Path::through(&[[-12.0, 0.0], [12.0, 0.0]]);
            let mut path = Path::default();
            interval_mark(&mut path, 60.0, 60.0, 16.0, 3.5);
            arc = format!("<path d=\"{path}\" stroke-width=\"{ARC}\" transform=\"translate(-10 0)\"/>");
        }
        Some(Item {
            mark: format!(
                "<g fill=\"none\" stroke=\"#000\"><path d=\"{line}\" stroke-width=\"3\"/>{arc}</g>"
            ),
            words,
        })
    }

    fn named_item(&self) -> Option<Item> {
        let named_deg = self.named_deg()?;
        let mut path = Path::default();
        triangle(&mut path, 0.0, -6.0, 12.0);
        Some(Item {
            mark: format!("<path d=\"{path}\" {OPEN}/>"),
            words: format!("named azimuth, {}", told(named_deg)),
        })
    }

    fn dot_item(&self) -> Option<Item> {
        let dots = self.dots.as_ref()?;
        let most = self.sizes.dots.as_ref()?.most;
        let left_out = self.groups.iter().any(|counted| counted.n > most);
        let more = if left_out {
            format!("; none where there are more than {most}")
        } else {
            String::new()
        };
        Some(Item {
            mark: dots.sample(),
            words: format!("each dot is one of the {}{more}", self.rose.counted),
        })
    }
}

fn swatch(style: &str) -> String {
    format!("<path d=\"m-12-6h24v12h-24z\" {style}/>")
}

/// The key below a height; its drawing and where it ends.
pub(super) fn draw(items: &[Item], top: f64) -> (String, f64) {
    let mut svg = format!("<g font-size=\"{SIZE}\" fill=\"#23201c\">");
    let mut y = top;
    for item in items {
        let _ = write!(
            svg,
            "<g transform=\"translate({} {})\">{}</g>",
            Px(MARGIN + 0.5 * MARK - 4.0),
            Px(y + 0.5 * LINE),
            item.mark
        );
        for line in wrapped(&item.words, SIZE, WIDTH - 2.0 * MARGIN - MARK) {
            let _ = write!(
                svg,
                "<text x=\"{}\" y=\"{}\">{}</text>",
                Px(MARGIN + MARK),
                Px(y + 0.76 * LINE),
                Escaped(&line)
            );
            y += LINE;
        }
        y += 4.0;
    }
    (svg + "</g>", y)
}
