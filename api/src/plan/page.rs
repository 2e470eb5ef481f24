//! The page: title above, map with its frame, legend beside a tall surface or below a wide one.

use super::kinds::Kinds;
use super::labels::{self, Labels};
use super::legend::{self, Row, Section};
use super::midlines::{self, Midline};
use super::prints::{self, Detail};
use super::title::{Title, heading};
use super::window::{Bounds, Window};
use super::{PlanInput, counts, extents, grid, north, print_key, scale_bar};
use crate::ink::{Escaped, Px};
use spatial::frame::Factors;

const WIDTH: f64 = 1600.0;
const MARGIN: f64 = 30.0;
/// Room left of the map for northings, and below it for eastings.
const LEFT: f64 = 18.0 + grid::ROOM_FOR_NORTHINGS;
const BELOW: f64 = 70.0;
const GAP: f64 = 32.0;
/// A surface wider than this over its height has its legend below.
const WIDE: f64 = 1.7;

/// Everything that is worked out before the page is written.
pub(super) struct Page<'a> {
    input: &'a PlanInput<'a>,
    title: Title,
    prefix: String,
    bounds: Option<Bounds>,
    window: Window,
    wide: bool,
}

/// The key to the marks, and what stands on every plan.
struct Legend {
    keys: Vec<Section>,
    facts: Vec<Section>,
}

impl<'a> Page<'a> {
    /// Lays out the page.
    pub(super) fn of(input: &'a PlanInput<'a>) -> Self {
        let bounds = Bounds::of(input.index);
        let shown = bounds.unwrap_or(Bounds {
            west_m: 0.0,
            south_m: 0.0,
            east_m: 3.0,
            north_m: 1.0,
        });
        let over_height = shown.width_m() / shown.height_m();
        let nothing_to_explain = input.index.prints().is_empty() && input.index.extents().is_empty();
        let wide = over_height > WIDE || nothing_to_explain;
        let title = Title::of(input, WIDTH - 2.0 * MARGIN);
        let (width, lowest, highest) = if wide {
            (WIDTH - LEFT - MARGIN, 300.0, 900.0)
        } else {
            (WIDTH - LEFT - GAP - legend::WIDTH - MARGIN, 560.0, 1500.0)
        };
        let height = (width / over_height).clamp(lowest, highest);
        let window = Window::fit(shown, LEFT, title.bottom(), width, height);
        Self {
            input,
            title,
            prefix: id_prefix(input),
            bounds,
            window,
            wide,
        }
    }

    /// Writes the page.
    pub(super) fn svg(&self) -> String {
        let (index, window) = (self.input.index, &self.window);
        let kinds = Kinds::of(index.prints(), &self.prefix);
        let detail = Detail::of(index.prints(), window);
        let midlines = midlines::midlines(index, window);
        let labels = labels::place(index.prints(), detail, &midlines, window);
        let map = [
            extents::draw(index.extents(), window, &self.prefix),
            if self.bounds.is_some() {
                grid::draw_crosses(window)
            } else {
                String::new()
            },
            midlines::draw_lines(&midlines, detail),
            prints::draw(index.prints(), detail, &kinds, window),
            midlines::draw_arrows(&midlines),
            labels::draw(&labels),
            self.empty_words(),
        ];
        let (legend, height) = self.set(self.legend(&kinds, detail, &midlines, &labels));
        let definitions = extents::patterns(index.extents(), &self.prefix) + &kinds.patterns();
        let frame = grid::draw_frame(window, self.bounds.is_some());
        self.whole(
            height,
            &definitions,
            &[
                &self.title.draw(MARGIN),
                &self.clipped(&map.concat()),
                &frame,
                &legend,
            ],
        )
    }

    fn whole(&self, height: f64, definitions: &str, parts: &[&str]) -> String {
        let prefix = Escaped(&self.prefix);
        let (width, height) = (Px(WIDTH), Px(height));
        let window = &self.window;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"{prefix}-title {prefix}-desc\" \
             font-family=\"sans-serif\"><title id=\"{prefix}-title\">{}</title>\
             <desc id=\"{prefix}-desc\">{}</desc><defs>{definitions}<clipPath id=\"{prefix}-frame\">\
             <rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath></defs>\
             <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>{}</svg>\n",
            Escaped(&heading(self.input)),
            Escaped(&self.in_words()),
            Px(window.left),
            Px(window.top),
            Px(window.width),
            Px(window.height),
            parts.concat()
        )
    }

    fn clipped(&self, map: &str) -> String {
        format!("<g clip-path=\"url(#{}-frame)\">{map}</g>", Escaped(&self.prefix))
    }

    /// The picture in words, for those who cannot see it.
    fn in_words(&self) -> String {
        let index = self.input.index;
        let size = self.bounds.map_or(String::new(), |bounds| {
            format!(
                " The map shows {:.1} m from west to east and {:.1} m from south to north.",
                bounds.width_m(),
                bounds.height_m()
            )
        });
        let note = self.input.note.map_or(String::new(), |note| format!(" {note}"));
        let counts = counts::lines(self.input.index).join("; ");
        let extents = index.extents().len();
        format!(
            "Plan of surface {} at {} in {}. {counts}; {extents} extents.{size}{note}",
            index.id(),
            self.input.site_name,
            self.input.crs_name
        )
    }

    fn empty_words(&self) -> String {
        if !self.input.index.prints().is_empty() {
            return String::new();
        }
        let window = &self.window;
        format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"24\" text-anchor=\"middle\" fill=\"#5a554c\" stroke=\"#fff\" \
             stroke-width=\"5\" paint-order=\"stroke\">no prints recorded</text>",
            Px(0.5 * (window.left + window.right())),
            Px(0.5 * (window.top + window.bottom()))
        )
    }

    fn legend(&self, kinds: &Kinds, detail: Detail, midlines: &[Midline], labels: &Labels) -> Legend {
        let (index, factors) = (self.input.index, sound(self.input.factors));
        let (prints, trackways) = (index.prints().len(), midlines.len());
        let counts = [
            counts::lines(index),
            counts::unlabelled(labels, prints, trackways),
        ]
        .concat();
        let counts = counts.iter().map(|line| Row::words(line)).collect();
        let keys = [
            print_key::key(index.prints(), detail, kinds, &self.window),
            kinds.key(detail == Detail::Outlines),
            midlines::key(midlines),
            extents::key(index.extents(), &self.prefix),
        ];
        let facts = [
            self.bounds
                .map(|_| scale_bar::section(self.window.px_per_m, factors)),
            Some(north::section(factors)),
            Some(Section::new("Counts", counts)),
        ];
        Legend {
            keys: keys.into_iter().flatten().collect(),
            facts: facts.into_iter().flatten().collect(),
        }
    }

    /// The legend in its place, and the height of the whole page.
    fn set(&self, Legend { mut keys, facts }: Legend) -> (String, f64) {
        let window = &self.window;
        let below = window.bottom() + BELOW;
        if self.wide {
            keys.extend(facts);
            let gap = (WIDTH - 2.0 * MARGIN - 4.0 * legend::WIDTH) / 3.0;
            let (svg, height) = legend::draw(&keys, MARGIN, below, 4, gap);
            return (svg, below + height + MARGIN);
        }
        let gap = (window.width - 3.0 * legend::WIDTH) / 2.0;
        let (mut svg, facts_height) = legend::draw(&facts, window.left, below, 3, gap);
        let (beside, keys_height) = legend::draw(&keys, window.right() + GAP, window.top, 1, 0.0);
        svg += &beside;
        (svg, (below + facts_height).max(window.top + keys_height) + MARGIN)
    }
}

/// Ids must differ between the plans of one HTML page; an id's colons would need escapes in references.
fn id_prefix(input: &PlanInput) -> String {
    format!("plan-{}", input.index.id().to_string().replace(':', "-"))
}

/// Factors that are numbers.
pub(super) fn sound(factors: Option<Factors>) -> Option<Factors> {
    factors.filter(|f| f.convergence_deg.is_finite() && f.scale.is_finite() && f.scale > 0.0)
}
