//! What the surface holds, counted, and what the plan leaves out.

use super::labels::Labels;
use crate::catalogue::Overview;
use crate::ink::grouped;

/// How many prints and trackways there are, and of what.
pub(super) fn lines(overview: &Overview) -> Vec<String> {
    let [accepted, proposed, rejected] = overview.trackways;
    let mut lines = vec![prints(overview.limbs)];
    if overview.limbs.iter().sum::<usize>() > 0 && accepted + proposed + rejected > 0 {
        lines.push(format!(
            "{} in no trackway drawn",
            count(overview.outside, "print")
        ));
    }
    lines.push(format!(
        "{} accepted, {} proposed",
        count(accepted, "trackway"),
        grouped(proposed as i64)
    ));
    if rejected > 0 {
        lines.push(format!("{} rejected, not drawn", count(rejected, "trackway")));
    }
    lines
}

fn prints(limbs: [usize; 3]) -> String {
    let named = limbs.into_iter().zip(["pes", "manus", "of unknown limb"]);
    let named = named.filter(|(number, _)| *number > 0);
    let named: Vec<String> = named
        .map(|(number, name)| format!("{} {name}", grouped(number as i64)))
        .collect();
    let all = count(limbs.iter().sum(), "print");
    if named.is_empty() {
        all
    } else {
        format!("{all}: {}", named.join(", "))
    }
}

/// What of it a part shows.
pub(super) fn part(prints: usize, trackways: usize) -> Vec<String> {
    let words = format!(
        "On this part: {}, {}",
        count(prints, "print"),
        count(trackways, "trackway")
    );
    vec![words]
}

fn count(number: usize, one: &str) -> String {
    format!(
        "{} {one}{}",
        grouped(number as i64),
        if number == 1 { "" } else { "s" }
    )
}

/// Which labels are missing, so that nobody looks for them in vain.
pub(super) fn unlabelled(labels: &Labels, prints: usize, trackways: usize) -> Vec<String> {
    [
        ("trackway", labels.trackways_without, trackways),
        ("print", labels.prints_without, prints),
    ]
    .into_iter()
    .filter(|(_, without, _)| *without > 0)
    .map(|(one, without, all)| {
        if without == all && all > 1 {
            format!("No {one} is labelled: there are too many for this page.")
        } else {
            format!("{} without a label, for want of room", count(without, one))
        }
    })
    .collect()
}
