//! Rose diagrams: directions counted in sectors, as SVG to print or to look at.
//!
//! The picture is made from plain data; it knows no store, query or request. The same input gives the
//! same bytes.
//!
//! # What is drawn, and why
//! - **Areas are true.** The eye compares areas, so the area of a sector, not its length, grows with its
//!   count: the radius is the rim's times √(count / the rim's count), and rings at round counts lie
//!   at radii by the same root. A rose whose lengths grow with the count makes strong directions look
//!   far stronger than they are. (Nemec, W. (1988), The shape of the rose, Sedimentary Geology 59,
//!   149-152; from memory.)
//! - **One rose shows counts, several show shares.** Roses side by side have one scale, the share of the group:
//!   so all of them have the same area of sectors, and a group of 8 compares with one of 80. Each says its own n.
//! - **Sectors start at north**, run clockwise, and hold their first edge: the first is 0 (included) to its
//!   width (excluded). So an azimuth of 360 falls into the first.
//! - **Axes** are folded into 0 to 180 and drawn on both sides; the second side is hatched, for it is
//!   a copy and no further data.
//! - **A mean is drawn only where one was given**; the lines below a rose say why there is none.
//! - **Single directions** stand as dots outside the rim, for sectors depend on where their edges lie. A rose alone
//!   has them up to 200 directions, one of a few up to 100, one of more than six not at all.
//!
//! Nothing is told by colour. The page is 480 px wide, made to be set 85 mm wide (common practice for one
//! column of a journal), where its smallest letters are 6 points. All lengths inside are such px, `y`
//! grows downwards, and each rose has its zero in its middle.

mod compass;
mod dots;
mod figure;
mod frame;
mod key;
mod mean;
mod page;
mod petals;
mod rim;
mod scale;
mod sectors;
#[cfg(test)]
mod tests;

/// What a rose diagram shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Rose {
    /// The heading, such as `Headings of gannet-ledge:S2`.
    pub title: String,
    /// What stands below it, such as `15 trackways, true north`.
    pub below_title: String,
    /// Which north azimuths start at: `true north`, `grid north`, or nothing for a plain list.
    pub north: &'static str,
    /// Whether the azimuths are those of axes, which have no sense: 20 is the same as 200.
    pub axial: bool,
    /// What is counted, in the plural: `trackways`, `prints`, `azimuths`.
    pub counted: &'static str,
    /// The azimuth named for a V-test.
    pub named_deg: Option<f64>,
    /// The width of a sector. It divides 360 (for axes 180); another width is drawn as the nearest one that
    /// does, and one below 2 as 2. The figure tells the width that it has.
    pub bin_deg: f64,
    /// One rose each, in this order. Of more than [`MOST_GROUPS`] the largest are drawn.
    pub groups: Vec<Group>,
    /// What readers must take care of; nothing where that is empty.
    pub caution: String,
}

/// One group of directions.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Its name; empty where there is only one group.
    pub name: String,
    /// The azimuths, of any turn. What is not finite is left out.
    pub azimuths_deg: Vec<f64>,
    /// The mean direction or the mean axis, where one makes sense.
    pub mean_deg: Option<f64>,
    /// The 95 % interval of the mean: from, to, clockwise. It may pass north.
    pub mean_ci_deg: Option<[f64; 2]>,
    /// The shape in a word: `unimodal`, `bimodal`, `axial`, `uniform` or `undecided`.
    pub shape: String,
    /// Short lines below the rose, such as `n = 15` or `no single mean: bimodal`.
    pub told: Vec<String>,
}

/// How many groups are drawn at most.
pub const MOST_GROUPS: usize = 12;

impl Rose {
    /// Draws the diagram.
    ///
    /// The answer is one `svg` element without script, style sheet or outside font, fit to stand alone or
    /// inside an HTML page; its ids hang on its contents.
    #[must_use]
    pub fn draw(&self) -> String {
        page::draw(self)
    }
}

/// A width of sectors that suits so many directions: the narrowest of 10, 15, 20 and 30 degrees at which even
/// directions would put one into each sector.
///
/// Widths of 10 to 30 degrees are common practice. Narrower ones show how azimuths were read, to the nearest 5
/// or 10 degrees, rather than where animals went; and a few directions in many sectors are only a fan
/// of single ones. Groups that are drawn side by side share one width: take that for the middling group.
///
/// # Examples
/// ```
/// use api::rose::default_bin_deg;
/// assert_eq!(default_bin_deg(15, false), 30.0);
/// assert_eq!(default_bin_deg(40, false), 10.0);
/// assert_eq!(default_bin_deg(15, true), 15.0, "axes lie within half a turn");
/// ```
#[must_use]
pub fn default_bin_deg(n: usize, axial: bool) -> f64 {
    let turn_deg = if axial { 180.0 } else { 360.0 };
    [10.0, 15.0, 20.0]
        .into_iter()
        .find(|width_deg| n as f64 * width_deg >= turn_deg)
        .unwrap_or(30.0)
}
