//! The page: title above, map with its frame, legend beside a tall surface or below a wide one.

use super::here::Here;
use super::kinds::Kinds;
use super::labels::{self, Labels};
use super::legend::{self, Row, Section};
use super::midlines;
use super::prints::{self, Detail};
use super::title::{Title, heading};
use super::window::{Bounds, Window};
use super::{PlanInput, View, counts, extents, grid, north, print_key, scale_bar};
use crate::ink::{Escaped, Px};
use spatial::frame::Factors;

const MARGIN: f64 = 30.0;
/// Room left of the map for northings, and below it for eastings.
const LEFT: f64 = 18.0 + grid::ROOM_FOR_NORTHINGS;
const BELOW: f64 = 70.0;
const GAP: f64 = 32.0;
/// A map wider than this over its height has its legend below.
const WIDE: f64 = 1.7;
/// On a narrower page there is no room for a legend beside the map.
const NARROW: f64 = 1200.0;

/// Everything that is worked out before the page is written.
pub(super) struct Page<'a> {
    input: &'a PlanInput<'a>,
    view: View,
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
    pub(super) fn of(input: &'a PlanInput<'a>, view: &View) -> Self {
        let part = view.part().map(Bounds::between);
        let bounds = part.or_else(|| Bounds::of(input.index));
        let shown = bounds.unwrap_or(Bounds {
            west_m: 0.0,
            south_m: 0.0,
            east_m: 3.0,
            north_m: 1.0,
        });
        let over_height = shown.width_m() / shown.height_m();
        let nothing_to_explain = input.index.prints().is_empty() && input.index.extents().is_empty();
        let wide = over_height > WIDE || nothing_to_explain || view.width() < NARROW;
        let title = Title::of(input, view.width() - 2.0 * MARGIN);
        let (width, lowest, highest) = if wide {
            (view.width() - LEFT - MARGIN, 300.0, 900.0)
        } else {
            (view.width() - LEFT - GAP - legend::WIDTH - MARGIN, 560.0, 1500.0)
        };
        let height = (width / over_height).clamp(lowest, highest);
        let window = Window::fit(shown, LEFT, title.bottom(), width, height);
        Self {
            input,
            view: *view,
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
        let here = match self.view.part() {
            Some(_) => Here::part(index, window),
            None => Here::whole(index, window),
        };
        let morphotypes = &index.overview().morphotypes;
        let kinds = match self.view.part() {
            Some(_) => Kinds::of_part(morphotypes, &here.prints, &self.prefix),
            None => Kinds::of(morphotypes, &self.prefix),
        };
        let detail = Detail::of(&here.prints, window);
        let labels = labels::place(&here.prints, detail, &here.midlines, window);
        let map = [
            extents::draw(&here.extents, window, &self.prefix),
            if self.bounds.is_some() {
                grid::draw_crosses(window)
            } else {
                String::new()
            },
            midlines::draw_lines(&here.midlines, detail),
            prints::draw(&here.prints, detail, &kinds, window),
            midlines::draw_arrows(&here.midlines),
            labels::draw(&labels),
            self.empty_words(&here),
        ];
        let (legend, height) = self.set(self.legend(&kinds, detail, &here, &labels));
        let definitions = extents::patterns(&here.extents, &self.prefix) + &kinds.patterns();
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
        let (width, height) = (Px(self.view.width()), Px(height));
        let window = &self.window;
        let [left, top, across, down] = [window.left, window.top, window.width, window.height].map(Px);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"{prefix}-title {prefix}-desc\" \
             font-family=\"sans-serif\" {}><title id=\"{prefix}-title\">{}</title>\
             <desc id=\"{prefix}-desc\">{}</desc><defs>{definitions}<clipPath id=\"{prefix}-frame\">\
             <rect x=\"{left}\" y=\"{top}\" width=\"{across}\" height=\"{down}\"/></clipPath></defs>\
             <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>{}</svg>\n",
            self.for_programs(),
            Escaped(&heading(self.input)),
            Escaped(&self.in_words()),
            parts.concat()
        )
    }

    /// What the map shows of which grid, and where on the page it stands.
    fn for_programs(&self) -> String {
        let window = &self.window;
        let shown = &window.shown;
        format!(
            "data-crs=\"http://www.opengis.net/def/crs/EPSG/0/{}\" data-axes=\"{}\" data-window=\"{:.4} {:.4} {:.4} {:.4}\" \
             data-frame=\"{} {} {} {}\"",
            self.input.index.crs(),
            if self.input.northing_first { "N E" } else { "E N" },
            shown.west_m,
            shown.south_m,
            shown.east_m,
            shown.north_m,
            Px(window.left),
            Px(window.top),
            Px(window.width),
            Px(window.height)
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
                " The map shows {}{:.1} m from west to east and {:.1} m from south to north.",
                self.view.part().map_or("", |_| "a part of it, "),
                bounds.width_m(),
                bounds.height_m()
            )
        });
        let note = self.input.note.map_or(String::new(), |note| format!(" {note}"));
        let counts = counts::lines(index.overview()).join("; ");
        let extents = index.extents().len();
        format!(
            "Plan of surface {} at {} in {}. {counts}; {extents} extents.{size}{note}",
            index.id(),
            self.input.site_name,
            self.input.crs_name
        )
    }

    fn empty_words(&self, here: &Here) -> String {
        if !here.prints.is_empty() {
            return String::new();
        }
        let words = match self.view.part() {
            Some(_) => "no prints recorded here",
            None => "no prints recorded",
        };
        let window = &self.window;
        format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"24\" text-anchor=\"middle\" fill=\"#5a554c\" stroke=\"#fff\" \
             stroke-width=\"5\" paint-order=\"stroke\">{words}</text>",
            Px(0.5 * (window.left + window.right())),
            Px(0.5 * (window.top + window.bottom()))
        )
    }

    fn legend(&self, kinds: &Kinds, detail: Detail, here: &Here, labels: &Labels) -> Legend {
        let (index, factors) = (self.input.index, sound(self.input.factors));
        let (prints, trackways) = (here.prints.len(), here.midlines.len());
        let counts = [
            counts::lines(index.overview()),
            self.view
                .part()
                .map_or_else(Vec::new, |_| counts::part(prints, trackways)),
            counts::unlabelled(labels, prints, trackways),
        ]
        .concat();
        let counts = counts.iter().map(|line| Row::words(line)).collect();
        let keys = [
            print_key::key(&here.prints, detail, kinds, &self.window),
            kinds.key(detail == Detail::Outlines),
            midlines::key(&here.midlines),
            extents::key(&here.extents, &self.prefix),
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
            let (columns, gap) = legend::columns(self.view.width() - 2.0 * MARGIN, 4);
            let (svg, height) = legend::draw(&keys, MARGIN, below, columns, gap);
            return (svg, below + height + MARGIN);
        }
        let (columns, gap) = legend::columns(window.width, 3);
        let (mut svg, facts_height) = legend::draw(&facts, window.left, below, columns, gap);
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
