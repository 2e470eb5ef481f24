//! What the surface holds, counted, and what the plan leaves out.

use super::labels::Labels;
use crate::ink::grouped;
use spatial::index::SurfaceIndex;
use spatial::model::{Limb, Status};
use std::collections::HashSet;

/// How many prints and trackways there are, and of what.
pub(super) fn lines(index: &SurfaceIndex) -> Vec<String> {
    let mut lines = vec![prints(index)];
    if !index.prints().is_empty() && !index.trackways().is_empty() {
        lines.push(format!("{} in no trackway drawn", count(outside(index), "print")));
    }
    let with = |status| {
        index
            .trackways()
            .iter()
            .filter(|trackway| trackway.status == status)
            .count()
    };
    let proposed = grouped(with(Status::Proposed) as i64);
    lines.push(format!(
        "{} accepted, {proposed} proposed",
        count(with(Status::Accepted), "trackway")
    ));
    if with(Status::Rejected) > 0 {
        lines.push(format!(
            "{} rejected, not drawn",
            count(with(Status::Rejected), "trackway")
        ));
    }
    lines
}

fn prints(index: &SurfaceIndex) -> String {
    let of = |limb, name| {
        let number = index.prints().iter().filter(|print| print.limb == limb).count();
        (number > 0).then(|| format!("{} {name}", grouped(number as i64)))
    };
    let limbs = [
        of(Some(Limb::Pes), "pes"),
        of(Some(Limb::Manus), "manus"),
        of(None, "of unknown limb"),
    ];
    let limbs: Vec<String> = limbs.into_iter().flatten().collect();
    let all = count(index.prints().len(), "print");
    if limbs.is_empty() {
        all
    } else {
        format!("{all}: {}", limbs.join(", "))
    }
}

/// Prints that no accepted or proposed trackway holds.
fn outside(index: &SurfaceIndex) -> usize {
    let drawn = index
        .trackways()
        .iter()
        .filter(|trackway| trackway.status != Status::Rejected);
    let members: HashSet<_> = drawn.flat_map(|trackway| &trackway.prints).collect();
    index
        .prints()
        .iter()
        .filter(|print| !members.contains(&print.label))
        .count()
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
