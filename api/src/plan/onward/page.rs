//! The page: head above, the map with the table beside it or below, the legend, and the caution at the foot.

use super::super::ground::{Area, Ground};
use super::super::kinds::Kinds;
use super::super::labels::{self, Labels};
use super::super::legend::{self, Section};
use super::super::page::sound;
use super::super::prints::{self, Detail};
use super::super::window::{Bounds, Window};
use super::super::{PlanInput, counts, extents, grid, midlines, north, outlines, print_key, scale_bar};
use super::head::Head;
use super::key::{self, Counts, FAINT, STRONG, STRONG_ARROW};
use super::numbers::{self, Number};
use super::scene::{self, Scene};
use super::squares::{self, Mark};
use super::steps::{self, ARM, INK};
use super::{Onward, Step, table, words};
use crate::ink::{Escaped, Px};

const WIDTH: f64 = 1000.0;
/// The width of a whole plan; this page stands as wide.
const SHOWN_WIDTH: f64 = 1600.0;
const MARGIN: f64 = 24.0;
/// Room left of the map for northings, and below it for eastings.
const LEFT: f64 = 18.0 + grid::ROOM_FOR_NORTHINGS;
const BELOW: f64 = 62.0;
const GAP: f64 = 24.0;
/// What is wider than this over its height has the table below.
const WIDE: f64 = 1.5;
/// The caution's letters.
const CAUTION_SIZE: f64 = 12.0;
const CAUTION_LINE: f64 = 16.5;

/// Everything that is worked out before the page is written.
pub(super) struct Page<'a> {
    input: &'a PlanInput<'a>,
    onward: &'a Onward<'a>,
    head: Head,
    prefix: String,
    bounds: Option<Bounds>,
    window: Window,
    wide: bool,
}

/// All that stands on the map, with the places of its labels.
struct Map<'a> {
    scene: Scene<'a>,
    detail: Detail,
    steps: Vec<&'a Step>,
    crowded: usize,
    marks: Vec<Mark<'a>>,
    rings: Vec<([f64; 2], f64)>,
    ranks: Vec<Number>,
    step_numbers: Vec<Number>,
    labels: Labels,
    counts: Counts,
}

impl<'a> Page<'a> {
    /// Lays out the page.
    pub(super) fn of(input: &'a PlanInput<'a>, onward: &'a Onward<'a>) -> Self {
        let bounds = scene::bounds(input.index, onward);
        let shown = bounds.unwrap_or(Bounds {
            west_m: 0.0,
            south_m: 0.0,
            east_m: 3.0,
            north_m: 1.0,
        });
        let over_height = shown.width_m() / shown.height_m();
        let wide = over_height > WIDE;
        let head = Head::of(input, onward, WIDTH - 2.0 * MARGIN);
        let (width, lowest, highest) = if wide {
            (WIDTH - LEFT - MARGIN, 300.0, 560.0)
        } else {
            // A map lower than what stands beside it would leave the paper below it empty.
            let beside = legend::height(&[table::section(onward), scale_bar::section(100.0, None)]);
            (
                WIDTH - LEFT - GAP - legend::WIDTH - MARGIN,
                beside.max(480.0),
                660.0,
            )
        };
        let height = (width / over_height).clamp(lowest, highest);
        Self {
            input,
            onward,
            prefix: id_prefix(input, onward),
            window: Window::fit(shown, LEFT, head.bottom(), width, height),
            head,
            bounds,
            wide,
        }
    }

    /// Writes the page.
    pub(super) fn svg(&self) -> String {
        let map = self.map();
        let kinds = Kinds::of_part(
            &self.input.index.overview().morphotypes,
            &map.scene.prints,
            &self.prefix,
        );
        let (legend, below) = self.legend(&map, &kinds);
        let (caution, height) = self.caution(below);
        let definitions = extents::patterns(&map.scene.extents, &self.prefix)
            + &kinds.patterns()
            + &squares::patterns(&map.marks, &self.prefix);
        let prefix = Escaped(&self.prefix);
        let window = &self.window;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" width=\"{SHOWN_WIDTH}\" \
             height=\"{}\" role=\"img\" aria-labelledby=\"{prefix}-title {prefix}-desc\" \
             font-family=\"sans-serif\"><title id=\"{prefix}-title\">{}</title>\
             <desc id=\"{prefix}-desc\">{}</desc><defs>{definitions}<clipPath id=\"{prefix}-frame\">\
             <rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath></defs>\
             <rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#fff\"/>{}\
             <g clip-path=\"url(#{prefix}-frame)\">{}</g>{}{legend}{caution}</svg>\n",
            Px(height.0 * SHOWN_WIDTH / WIDTH),
            Escaped(&self.onward.heading),
            Escaped(&words::of(self.input, self.onward, &window.shown)),
            Px(window.left),
            Px(window.top),
            Px(window.width),
            Px(window.height),
            self.head.draw(MARGIN),
            self.draw(&map, &kinds),
            grid::draw_frame(window, self.bounds.is_some())
        )
    }

    /// Takes what lies in the window, and places what names it: ranks first, prints last.
    fn map(&self) -> Map<'a> {
        let (index, window) = (self.input.index, &self.window);
        let scene = Scene::of(index, self.onward, window);
        let detail = Detail::of(&scene.prints, window);
        let (steps, crowded) = steps::drawn(self.onward, window);
        let (marks, squares_left_out) = squares::marks(&self.onward.squares, window);
        let rings = self.rings(detail);
        let mut ground = Ground::of(&scene.prints, detail, scene.midlines(), window);
        let crosses = steps.iter().map(|step| (window.at(step.at), ARM));
        for ([x, y], reach) in crosses.chain(rings.iter().copied()) {
            ground.mark(Area::from_corners([x - reach, y - reach], [x + reach, y + reach]));
        }
        let (ranks, ranks_left_out) = numbers::ranks(&marks, &mut ground);
        for mark in &marks {
            ground.mark(Area::from_corners(mark.low, mark.high));
        }
        let step_numbers = numbers::step_numbers(&steps, window, &mut ground);
        let labels = labels::place_on(&mut ground, &scene.prints, detail, scene.midlines(), window);
        let counts = Counts {
            prints: scene.prints.len(),
            prints_of_surface: index.prints().len(),
            squares_left_out,
            ranks_left_out,
            unlabelled: counts::unlabelled(&labels, scene.prints.len(), scene.midlines().len()),
        };
        Map {
            scene,
            detail,
            steps,
            crowded,
            marks,
            rings,
            ranks,
            step_numbers,
            labels,
            counts,
        }
    }

    /// A ring around each candidate, clear of the print that lies there.
    fn rings(&self, detail: Detail) -> Vec<([f64; 2], f64)> {
        const SAME_PLACE_M: f64 = 0.01;
        const SMALLEST: f64 = 9.0;
        let finite = self
            .onward
            .candidates
            .iter()
            .filter(|at| at.iter().all(|m| m.is_finite()));
        finite
            .map(|at| {
                let near = self.input.index.nearest(*at, 1).into_iter().next();
                let print = near
                    .filter(|(_, apart_m)| *apart_m <= SAME_PLACE_M)
                    .map(|(no, _)| self.input.index.print(no));
                let drawn =
                    print.filter(|print| detail == Detail::Outlines && outlines::is_believable(print));
                let foot = drawn.map_or(0.0, |print| 0.5 * print.length_m * self.window.px_per_m + 4.0);
                (self.window.at(*at), foot.max(SMALLEST))
            })
            .collect()
    }

    fn draw(&self, map: &Map, kinds: &Kinds) -> String {
        let window = &self.window;
        let (strong, others) = map.scene.parted();
        let faint = FAINT * midlines::weight(others.len());
        [
            extents::draw(&map.scene.extents, window, &self.prefix),
            if self.bounds.is_some() {
                grid::draw_crosses(window)
            } else {
                String::new()
            },
            squares::draw(&map.marks, window, &self.prefix),
            steps::draw_regions(self.onward, &map.steps, window),
            midlines::draw_lines_at(others, map.detail, faint),
            midlines::draw_lines_at(strong, Detail::Outlines, STRONG),
            prints::draw(&map.scene.prints, map.detail, kinds, window),
            midlines::draw_arrows_at(others, faint),
            midlines::draw_arrows_at(strong, STRONG_ARROW),
            key::rings(map.rings.iter().copied()),
            steps::draw_crosses(&map.steps, window),
            labels::draw(&map.labels),
            numbers::draw(&map.step_numbers, " font-style=\"italic\"", INK),
            numbers::draw(&map.ranks, "", "#23201c"),
        ]
        .concat()
    }

    /// The table and the legend in their places, and where they end.
    fn legend(&self, map: &Map, kinds: &Kinds) -> (String, f64) {
        let window = &self.window;
        let prints = &map.scene.prints;
        let (strong, _) = map.scene.parted();
        let factors = sound(self.input.factors);
        let scale = self.bounds.map(|_| scale_bar::section(window.px_per_m, factors));
        let sections = [
            Some(table::section(self.onward)),
            scale,
            squares::key(&map.marks, &self.prefix),
            key::way(self.onward, strong, map.crowded),
            Some(north::section(factors)),
            midlines::key(map.scene.midlines()),
            extents::key(&map.scene.extents, &self.prefix),
            print_key::key(prints, map.detail, kinds, window),
            kinds.key(map.detail == Detail::Outlines),
            Some(key::on_this_map(&map.counts)),
        ];
        self.set(sections.into_iter().flatten().collect())
    }

    /// Sets sections: beside a tall map as many as are as high as it, the others below in columns.
    fn set(&self, mut sections: Vec<Section>) -> (String, f64) {
        let window = &self.window;
        let gap = (WIDTH - 2.0 * MARGIN - 3.0 * legend::WIDTH) / 2.0;
        let (mut svg, mut below) = (String::new(), window.bottom() + BELOW);
        if !self.wide {
            let room = window.height + BELOW;
            let fit = (2..=sections.len()).take_while(|count| legend::height(&sections[..*count]) <= room);
            let rest = sections.split_off(fit.last().unwrap_or(sections.len().min(2)));
            let (beside, height) = legend::draw(&sections, window.right() + GAP, window.top, 1, 0.0);
            svg += &beside;
            below = below.max(window.top + height + 8.0);
            sections = rest;
        }
        let (columns, height) = legend::draw(&sections, MARGIN, below, 3, gap);
        (svg + &columns, below + height)
    }

    /// The caution, whole, and the height of the page.
    fn caution(&self, top: f64) -> (String, Px) {
        let lines = words::lines_of(self.onward.caution, CAUTION_SIZE, WIDTH - 2.0 * MARGIN);
        if lines.is_empty() {
            return (String::new(), Px(top + MARGIN));
        }
        let mut svg = format!(
            "<path d=\"m{MARGIN} {}h{}\" stroke=\"#23201c\" stroke-width=\"1.4\"/>\
             <g font-size=\"{CAUTION_SIZE}\" fill=\"#23201c\">",
            Px(top),
            Px(WIDTH - 2.0 * MARGIN)
        );
        let mut y = top + 4.0;
        for line in &lines {
            y += CAUTION_LINE;
            svg += &format!("<text x=\"{MARGIN}\" y=\"{}\">{}</text>", Px(y), Escaped(line));
        }
        (svg + "</g>", Px(y + MARGIN))
    }
}

/// Ids must differ between the pictures of one HTML page; an id's colons would need escapes in references.
fn id_prefix(input: &PlanInput, onward: &Onward) -> String {
    let surface = input.index.id().to_string().replace(':', "-");
    let trackways = onward.trackways.iter().map(|label| format!("-{label}"));
    format!("onward-{surface}{}", trackways.collect::<String>())
}
