//! A focus in continuous coordinates: where the corridors of its members intersect, and how sure that is.

use super::corridors::{Beside, Corridor, WITHIN};
use crate::continuation::plane::{Spread, Vector, along, left_of, minus, plus};

/// How many members the model's own widths count for, against what the members' own scatter shows.
const BELIEF: f64 = 4.0;
/// After so many changes the members stand.
const MOST_ROUNDS: usize = 60;

/// Where corridors meet.
#[derive(Debug, Clone)]
pub(super) struct Meeting {
    pub place_m: Vector,
    /// The covariance of that place.
    pub spread: Spread,
    /// Radius of the 95 % region, in standard deviations.
    pub radius_95: f64,
    /// Numbers of corridors, with how each passes.
    pub members: Vec<(usize, Beside)>,
}

/// The meeting near a place: those whose corridors hold it within 95 % are its members.
///
/// # Formula
/// Each member says that the place lies on its middle, with its standard deviation across; along it, anywhere within its reach
/// r, of variance r² / 12. The place is x = (Σ Λᵢ)⁻¹ Σ Λᵢ qᵢ, qᵢ member i's nearest place, Λᵢ its information; solved anew
/// until it rests, for corridors bend and widen. Members are dropped, the farthest first, and taken in, the nearest first, until
/// all hold the place and no other does. What is dropped stays out.
///
/// The covariance is (Σ Λᵢ)⁻¹ s², s² = max(1, (ν₀ + χ²) / ν), χ² the sum of the members' squared deviations, ν = ν₀ + k − 2
/// for k members, ν₀ = 4; the 95 % region has r² = 2 F₀.₉₅(2, ν), F₀.₉₅(2, ν) = (ν / 2) (0.05^(−2/ν) − 1).
pub(super) fn meeting(corridors: &[Corridor], near: Vector, cell_m: f64) -> Option<Meeting> {
    let around: Vec<usize> = (0..corridors.len())
        .filter(|number| corridors[*number].may_hold(near))
        .collect();
    let mut members: Vec<usize> = (around.iter().copied())
        .filter(|number| {
            let beside = corridors[*number].beside(near);
            beside.across_m.hypot(beside.ahead_m) <= WITHIN * beside.at.sd_across_m.hypot(cell_m)
        })
        .collect();
    let mut out: Vec<usize> = Vec::new();
    for _ in 0..MOST_ROUNDS {
        if members.len() < 2 {
            return None;
        }
        let (place, _) = intersection(corridors, &members, near);
        let worst = (members.iter().copied())
            .map(|number| (number, off(&corridors[number].beside(place))))
            .max_by(|one, other| one.1.total_cmp(&other.1));
        if let Some((number, _)) = worst.filter(|(_, off)| *off > 1.0) {
            members.retain(|member| *member != number);
            out.push(number);
            continue;
        }
        let next = (around.iter().copied())
            .filter(|number| !members.contains(number) && !out.contains(number))
            .map(|number| (number, off(&corridors[number].beside(place))))
            .filter(|(_, off)| *off <= 1.0)
            .min_by(|one, other| one.1.total_cmp(&other.1));
        match next {
            Some((number, _)) => members.push(number),
            None => break,
        }
    }
    members.sort_unstable();
    let (place_m, spread) = intersection(corridors, &members, near);
    let members: Vec<(usize, Beside)> = (members.into_iter())
        .map(|number| (number, corridors[number].beside(place_m)))
        .collect();
    let held = members.iter().all(|(_, beside)| beside.holds());
    held.then(|| sure(place_m, spread, members))
}

fn sure(place_m: Vector, spread: Spread, members: Vec<(usize, Beside)>) -> Meeting {
    let off: f64 = members.iter().map(|(_, beside)| beside.deviation().powi(2)).sum();
    let freedom = BELIEF + members.len() as f64 - 2.0;
    Meeting {
        place_m,
        spread: spread.times(((BELIEF + off) / freedom).max(1.0)),
        radius_95: (freedom * (0.05f64.powf(-2.0 / freedom) - 1.0)).sqrt(),
        members,
    }
}

/// How far off a place is, 1 at the rim of what the corridor holds.
fn off(beside: &Beside) -> f64 {
    let ahead = beside.ahead_m / beside.at.sd_along_m;
    beside.deviation().abs().max(ahead.abs()) / WITHIN
}

/// Where the members' corridors intersect, and the covariance of that.
fn intersection(corridors: &[Corridor], members: &[usize], near: Vector) -> (Vector, Spread) {
    let mut place = near;
    let mut spread = Spread::default();
    for _ in 0..12 {
        let (mut all, mut pull) = (Spread::default(), [0.0; 2]);
        for number in members {
            let corridor = &corridors[*number];
            let at = corridor.beside(place).at;
            let reach_m = corridor.places[corridor.places.len() - 1].gone_m.max(0.1);
            let ahead = along(at.azimuth_rad);
            let says = Spread::of_offset(left_of(ahead))
                .times(1.0 / at.sd_across_m.powi(2))
                .plus(Spread::of_offset(ahead).times(12.0 / (reach_m * reach_m)));
            all = all.plus(says);
            // From the place as it is, so that large coordinates lose nothing.
            pull = plus(pull, says.product(minus(at.place_m, place)));
        }
        spread = all.inverse();
        let step = spread.product(pull);
        place = plus(place, step);
        if step[0].abs() + step[1].abs() < 1e-7 {
            break;
        }
    }
    (place, spread)
}
