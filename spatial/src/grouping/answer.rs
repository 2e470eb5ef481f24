//! The answer in the words of the interface, from rows and sets.

use super::direction::forward_odds;
use super::evidence::Member;
use super::probabilities::Probable;
use super::scoring::Model;
use super::sets::Joined;
use super::{GroupedTrackway, Grouping};
use crate::index::PrintNo;

/// Puts trackways in their walking direction and prints in their order.
pub(super) fn write(model: &Model, joined: &[Joined], probable: &Probable) -> Grouping {
    let mut grouped = vec![false; model.evidence.feet.len()];
    let mut trackways: Vec<GroupedTrackway> = Vec::with_capacity(joined.len());
    for joined in joined {
        let trackway = trackway(model, joined, probable);
        for no in &trackway.prints {
            grouped[*no as usize] = true;
        }
        trackways.push(trackway);
    }
    // The longest first; of equally long ones that with the smallest number in it.
    trackways.sort_by_key(|trackway| {
        (
            std::cmp::Reverse(trackway.prints.len()),
            trackway.prints.iter().min().copied(),
        )
    });
    let ungrouped = (0..grouped.len() as PrintNo)
        .filter(|no| !grouped[*no as usize])
        .collect();
    Grouping { trackways, ungrouped }
}

/// A print at its step, ranked within its set: by how far ahead it stands.
#[derive(Debug, Clone, Copy)]
struct Placed {
    step: i32,
    fore: bool,
    member: Member,
}

fn trackway(model: &Model, joined: &Joined, probable: &Probable) -> GroupedTrackway {
    let odds = forward_odds(model, joined);
    let is_forward = odds >= 0.0;
    let (mut midline, mut missing) = (joined.midline.prints.clone(), joined.midline.missing.clone());
    let mut placed = placed(joined);
    if !is_forward {
        midline.reverse();
        missing.reverse();
        placed.reverse();
    }
    let links = placed
        .windows(2)
        .map(|pair| probable.link(joined, pair[0].member, pair[1].member));
    let no = |member: &Member| model.evidence.foot(*member).no;
    GroupedTrackway {
        link_probabilities: links.collect(),
        probability: probable.whole(joined),
        direction_probability: 1.0 / (1.0 + (-odds.abs()).exp()),
        prints: placed.iter().map(|placed| no(&placed.member)).collect(),
        midline: midline.iter().map(no).collect(),
        missing,
    }
}

/// All prints as listed, those of one set in the order in which they lie ahead.
fn placed(joined: &Joined) -> Vec<Placed> {
    let mut step = 0;
    let mut placed = Vec::new();
    for (at, member) in joined.midline.prints.iter().enumerate() {
        if at > 0 {
            step += 1 + i32::from(joined.midline.missing[at - 1]);
        }
        placed.push(Placed {
            step,
            fore: false,
            member: *member,
        });
    }
    placed.extend(joined.fore.iter().map(|(step, member)| Placed {
        step: *step,
        fore: true,
        member: *member,
    }));
    let fore_first = joined.ahead_m < 0.0;
    placed.sort_by_key(|placed| (placed.step, placed.fore != fore_first));
    placed
}
