//! The user's hand in a grouping: which links are kept, and which are never made.

use super::Refusal;
use spatial::gait::{Placed, rows_of_limbs};
use spatial::grouping::Grouping;
use spatial::grouping::{Contradiction, GroupingOptions, group};
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Label, Status};
use std::collections::HashSet;

/// What is asked of a grouping beyond the prints themselves.
pub(super) struct Wishes<'a> {
    /// Links to keep, as `P012:P013`.
    pub fixed: &'a [String],
    /// Links never to make.
    pub forbidden: &'a [String],
    /// Whether accepted trackways are kept as they are.
    pub keep_accepted: bool,
}

impl Wishes<'_> {
    /// Only what was accepted.
    pub const ACCEPTED: Wishes<'static> = Wishes {
        fixed: &[],
        forbidden: &[],
        keep_accepted: true,
    };

    /// Groups a surface around these wishes.
    ///
    /// # Errors
    /// When a link is none, names a print that the surface does not have, or contradicts another.
    pub fn group(&self, index: &SurfaceIndex, seed: u64, explain: bool) -> Result<Grouping, Refusal> {
        let mut fixed = links(index, "fixed", self.fixed)?;
        let forbidden = links(index, "forbidden", self.forbidden)?;
        if self.keep_accepted {
            add_accepted(index, &mut fixed, &forbidden);
        }
        let options = GroupingOptions {
            seed,
            fixed,
            forbidden,
            explain,
            ..GroupingOptions::default()
        };
        let refused =
            |fault: Contradiction| Refusal::input("fixed", self.fixed.join(","), told(index, fault));
        group(index, &options).map_err(refused)
    }
}

fn links(index: &SurfaceIndex, input: &str, given: &[String]) -> Result<Vec<[PrintNo; 2]>, Refusal> {
    let read = |text: &String| {
        let expected = "two labels of prints on this surface with a colon between them, in walking order, as in P012:P013";
        let find = |label: &str| index.find(&label.trim().parse::<Label>().ok()?);
        let found = text
            .split_once(':')
            .and_then(|(from, to)| Some([find(from)?, find(to)?]));
        found.ok_or_else(|| Refusal::input(input, text, expected))
    };
    given.iter().map(read).collect()
}

/// The links of accepted trackways, each limb's prints for themselves. What the asker says himself goes before, and where
/// two accepted trackways share a print the first by label has it.
fn add_accepted(index: &SurfaceIndex, fixed: &mut Vec<[PrintNo; 2]>, forbidden: &[[PrintNo; 2]]) {
    let mut from: HashSet<PrintNo> = fixed.iter().map(|link| link[0]).collect();
    let mut to: HashSet<PrintNo> = fixed.iter().map(|link| link[1]).collect();
    let forbidden: HashSet<[PrintNo; 2]> = forbidden.iter().flat_map(|[a, b]| [[*a, *b], [*b, *a]]).collect();
    let mut taken: HashSet<PrintNo> = HashSet::new();
    for trackway in index
        .trackways()
        .iter()
        .filter(|trackway| trackway.status == Status::Accepted)
    {
        let prints = index.prints_of(trackway);
        if prints.iter().any(|no| !taken.insert(*no)) {
            continue;
        }
        let placed: Vec<Placed> = prints.iter().map(|no| Placed::from(index.print(*no))).collect();
        for row in rows_of_limbs(&placed) {
            for pair in row.windows(2) {
                let link = [prints[pair[0]], prints[pair[1]]];
                if !forbidden.contains(&link) && !from.contains(&link[0]) && !to.contains(&link[1]) {
                    from.insert(link[0]);
                    to.insert(link[1]);
                    fixed.push(link);
                }
            }
        }
    }
}

/// A contradiction by the labels of its prints.
fn told(index: &SurfaceIndex, fault: Contradiction) -> String {
    let label = |no: PrintNo| &index.print(no).label;
    match fault {
        Contradiction::Unknown(_) => fault.to_string(),
        Contradiction::Itself(no) => format!("links between two prints: {} is linked to itself", label(no)),
        Contradiction::FixedAndForbidden(a, b) => {
            format!(
                "links that are not forbidden as well: {}:{} is both",
                label(a),
                label(b)
            )
        }
        Contradiction::TwoAfter(no) => {
            format!("one print after {}: fixed links lead from it to two", label(no))
        }
        Contradiction::TwoBefore(no) => {
            format!("one print before {}: fixed links lead to it from two", label(no))
        }
        Contradiction::Circle(no) => format!(
            "links that lead on: through {} they come back to where they began",
            label(no)
        ),
    }
}
