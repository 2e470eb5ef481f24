//! The middle of the way that an animal should take, far ahead and at little cost.

use super::answer::Direction;
use super::check;
use super::following::{Node, follow_all};
use super::motion::HEADING;
use super::options::ContinuationFault;
use super::plane::{Spread, along, dot, left_of, length, minus, plus, times};
use super::surroundings::Surroundings;
use super::track::Track;
use crate::angle::mean_direction_rad;
use crate::index::{PrintNo, SurfaceIndex};

/// No way is followed for more paces than this.
const MOST_PACES: usize = 400;

/// Where the middle of a trackway should lie so far beyond its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foreseen {
    /// Easting and northing of the mean, metres.
    pub place_m: [f64; 2],
    /// Where the animal should be heading, radians from grid north; away from the trackway at either end.
    pub azimuth_rad: f64,
    /// How far it is along the mean way from the trackway's end, metres.
    pub gone_m: f64,
    /// Standard deviation along that azimuth, metres.
    pub sd_along_m: f64,
    /// Standard deviation across it, metres.
    pub sd_across_m: f64,
}

/// The way that a trackway should take beyond one of its ends, pace by pace out to `reach_m`; the end itself comes first.
///
/// It is the motion of [`continue_trackway`](super::continue_trackway) without the regions of single feet, the candidates and the
/// squares of ground: all kinds of unsteadiness are followed and their means and spreads are mixed.
///
/// # Errors
/// As [`continue_trackway`](super::continue_trackway).
pub fn foreseen(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    trackway: &[PrintNo],
    direction: Direction,
    reach_m: f64,
) -> Result<Vec<Foreseen>, ContinuationFault> {
    check(index, trackway)?;
    let kind = index.kind_of(trackway);
    let reader = surroundings.habits.reader(kind);
    let track = Track::of(index, trackway, direction == Direction::Before, &reader)?;
    let mut nodes = follow_all(&track, surroundings.habits.of(kind), &surroundings.habits.kinds);
    let mut places = vec![mixed(&nodes, track.origin, 0.0)];
    let mut gone_m = 0.0;
    while gone_m < reach_m && places.len() <= MOST_PACES {
        for node in &mut nodes {
            node.motion.advance(&node.noise, true);
        }
        let before = places[places.len() - 1];
        let next = mixed(&nodes, track.origin, 0.0);
        let pace_m = length(minus(next.place_m, before.place_m));
        // Where nothing is known of the heading any more, the mean stands still.
        if pace_m < 1e-3 {
            break;
        }
        gone_m += pace_m;
        places.push(Foreseen { gone_m, ..next });
    }
    Ok(places)
}

/// The mean and the spread of the middle over all kinds of unsteadiness.
fn mixed(nodes: &[Node], origin: [f64; 2], gone_m: f64) -> Foreseen {
    let middle = |node: &Node| [node.motion.parts[0], node.motion.parts[1]];
    let mut mean = [0.0; 2];
    for node in nodes {
        mean = plus(mean, times(middle(node), node.weight));
    }
    let mut spread = Spread::default();
    for node in nodes {
        let own = Spread {
            ee: node.motion.spread[0][0],
            en: node.motion.spread[0][1],
            nn: node.motion.spread[1][1],
        };
        let whole = own.plus(Spread::of_offset(minus(middle(node), mean)));
        spread = spread.plus(whole.times(node.weight));
    }
    let headings = nodes.iter().map(|node| node.motion.parts[HEADING]);
    let azimuth_rad = mean_direction_rad(headings).map_or(0.0, |(mean, _)| mean);
    let sd_m = |way| dot(way, spread.product(way)).max(0.0).sqrt();
    let ahead = along(azimuth_rad);
    Foreseen {
        place_m: plus(origin, mean),
        azimuth_rad,
        gone_m,
        sd_along_m: sd_m(ahead),
        sd_across_m: sd_m(left_of(ahead)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::continue_trackway;
    use super::super::tests::{names, surface, ten_steps, walk};
    use super::*;
    use crate::index::SurfaceIndex;

    fn straight() -> (SurfaceIndex, Vec<PrintNo>) {
        let index = surface(walk(20, 3, |_| ()), Vec::new(), &[("T1", names(0..20))]);
        let prints = (0..20).collect();
        (index, prints)
    }

    #[test]
    fn it_goes_where_the_continuation_goes() {
        let (index, prints) = straight();
        let surroundings = Surroundings::of(&index);
        let all = continue_trackway(&index, &surroundings, &prints, &ten_steps()).unwrap();
        for (direction, onward) in [(Direction::After, &all.after), (Direction::Before, &all.before)] {
            let way = foreseen(&index, &surroundings, &prints, direction, 30.0).unwrap();
            for (step, place) in onward.steps.iter().zip(&way[1..]) {
                // The foot stands half a gauge aside of the middle, some 0.075 m for a foot of 0.3 m; and the few animals that
                // turn aside do not come as far.
                let off = minus(step.position_m, place.place_m);
                let ahead = along(place.azimuth_rad);
                assert!((0.03..0.15).contains(&dot(off, left_of(ahead)).abs()), "{off:?}");
                assert!(
                    (-0.1..0.02 * place.gone_m + 0.02).contains(&-dot(off, ahead)),
                    "{off:?}"
                );
                assert!(place.sd_across_m < step.sd_major_m.max(place.sd_along_m) + 1e-9);
            }
        }
    }

    #[test]
    fn it_reaches_as_far_as_asked_and_grows_wider() {
        let (index, prints) = straight();
        let way = foreseen(&index, &Surroundings::of(&index), &prints, Direction::After, 30.0).unwrap();
        assert!((30.0..32.0).contains(&way[way.len() - 1].gone_m));
        assert!(
            way.windows(2)
                .all(|pair| pair[0].sd_across_m < pair[1].sd_across_m)
        );
        assert!(way.windows(2).all(|pair| pair[0].gone_m < pair[1].gone_m));
    }

    #[test]
    fn too_few_prints_are_refused() {
        let (index, _) = straight();
        let found = foreseen(&index, &Surroundings::of(&index), &[0, 1], Direction::After, 9.0);
        assert_eq!(found, Err(ContinuationFault::TooFew(2)));
    }
}
