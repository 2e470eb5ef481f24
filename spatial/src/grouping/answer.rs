//! The answer in the words of the interface, from rows and sets.

use super::direction::forward_odds;
use super::evidence::Member;
use super::explaining::explain;
use super::probabilities::Probable;
use super::scoring::Model;
use super::sets::{Joined, listed};
use super::{GroupedTrackway, Grouping};
use crate::index::PrintNo;

/// Puts trackways in their walking direction and prints in their order.
pub(super) fn write(model: &Model, joined: &[Joined], probable: &Probable, explains: bool) -> Grouping {
    let mut grouped = vec![false; model.evidence.feet.len()];
    let mut trackways: Vec<GroupedTrackway> = Vec::with_capacity(joined.len());
    for joined in joined {
        let mut trackway = trackway(model, joined, probable);
        if explains {
            trackway.explained = explain(model, joined);
            in_walking_order(&mut trackway);
        }
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

/// The links of the midline are explained as the row is listed; the trackway may go the other way.
fn in_walking_order(trackway: &mut GroupedTrackway) {
    let (links, midline) = (trackway.midline.len() - 1, &trackway.midline);
    if trackway.explained[0].from == midline[0] {
        return;
    }
    trackway.explained[..links].reverse();
    for link in &mut trackway.explained[..links] {
        std::mem::swap(&mut link.from, &mut link.to);
    }
}

fn trackway(model: &Model, joined: &Joined, probable: &Probable) -> GroupedTrackway {
    let wishes = &model.evidence.wishes;
    let mut prints = listed(joined);
    let told = wishes.goes_on(&joined.midline.prints).or_else(|| {
        let fore: Vec<Member> = joined.fore.iter().map(|(_, member)| *member).collect();
        wishes.goes_on(&fore)
    });
    let odds = forward_odds(model, joined);
    let is_forward = told.unwrap_or(odds >= 0.0);
    let (mut midline, mut missing) = (joined.midline.prints.clone(), joined.midline.missing.clone());
    if !is_forward {
        midline.reverse();
        missing.reverse();
        prints.reverse();
    }
    let links = prints
        .windows(2)
        .map(|pair| probable.link(model, joined, pair[0], pair[1]));
    let no = |member: &Member| model.evidence.foot(*member).no;
    GroupedTrackway {
        link_probabilities: links.collect(),
        probability: probable.whole(joined),
        direction_probability: match told {
            Some(_) => 1.0,
            None => 1.0 / (1.0 + (-odds.abs()).exp()),
        },
        prints: prints.iter().map(no).collect(),
        midline: midline.iter().map(no).collect(),
        missing,
        explained: Vec::new(),
    }
}
