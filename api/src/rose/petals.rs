//! One rose: its layers, from the rings below to the letters above.

use super::figure::{Counted, Figure, NO_DIRECTIONS};
use crate::ink::Px;

/// A grey that leaves the mean on it plain to see, and stays apart from white when printed in greyscale.
const FILL: &str = "#a9b3c1";

impl Figure<'_> {
    /// A rose about its own middle.
    pub(super) fn draw(&self, counted: &Counted) -> String {
        let dots = self.dots.as_ref();
        let dots = dots.map(|dots| dots.draw(counted.place, self.rim + self.sizes.mean_band));
        [
            self.rings(),
            self.petals(counted),
            self.rim(),
            self.ring_labels(counted),
            self.mean(counted.group),
            dots.unwrap_or_default(),
            self.named(),
            self.letters(),
        ]
        .concat()
    }

    fn petals(&self, counted: &Counted) -> String {
        if counted.n == 0 {
            return self.empty_words();
        }
        let radius = |count| self.radius(count, counted.n);
        let petals = |turned_deg| self.sectors.draw(&counted.counts, turned_deg, radius);
        let copies = if self.rose.axial {
            format!("<g {}>{}</g>", self.copy_style(), petals(180.0))
        } else {
            String::new()
        };
        format!("{copies}<g {}>{}</g>", self.sector_style(), petals(0.0))
    }

    /// How sectors look.
    pub(super) fn sector_style(&self) -> String {
        format!("fill=\"{FILL}\" stroke=\"#23201c\" stroke-width=\"1.1\" stroke-linejoin=\"round\"")
    }

    /// How the other side of axes looks.
    pub(super) fn copy_style(&self) -> String {
        format!(
            "fill=\"url(#{}-copy)\" stroke=\"#5a554c\" stroke-width=\".9\" stroke-linejoin=\"round\"",
            self.prefix
        )
    }

    /// The pattern that copies are filled with.
    pub(super) fn definitions(&self) -> String {
        if !self.rose.axial {
            return String::new();
        }
        format!(
            "<defs><pattern id=\"{}-copy\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate(40)\"><rect width=\"5\" height=\"5\" fill=\"#fff\"/>\
             <path d=\"m0 2.5h5\" stroke=\"#77808d\" stroke-width=\".9\"/></pattern></defs>",
            self.prefix
        )
    }

    fn empty_words(&self) -> String {
        let size = self.sizes.told;
        format!(
            "<text y=\"{}\" font-size=\"{size}\" text-anchor=\"middle\" fill=\"#23201c\" stroke=\"#fff\" \
             stroke-width=\"5\" paint-order=\"stroke\">{NO_DIRECTIONS}</text>",
            Px(0.35 * size)
        )
    }
}
