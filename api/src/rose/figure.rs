//! What a figure holds, worked out before anything is drawn: groups chosen, directions counted, one scale.

use super::dots::Dots;
use super::frame::Sizes;
use super::scale::{Measure, Scale};
use super::sectors::Sectors;
use super::{Group, MOST_GROUPS, Rose};
use std::cmp::Reverse;
use std::fmt::Write;

/// What an empty rose says.
pub(super) const NO_DIRECTIONS: &str = "no directions";

/// Stands where there is no group at all.
static NOBODY: Group = Group {
    name: String::new(),
    azimuths_deg: Vec::new(),
    mean_deg: None,
    mean_ci_deg: None,
    shape: String::new(),
    told: Vec::new(),
};

/// A figure of one rose or more.
pub(super) struct Figure<'a> {
    pub(super) rose: &'a Rose,
    pub(super) sectors: Sectors,
    pub(super) groups: Vec<Counted<'a>>,
    /// How many groups are not drawn.
    pub(super) left_out: usize,
    pub(super) sizes: &'static Sizes,
    /// `None` where there is no direction at all.
    pub(super) scale: Option<Scale>,
    pub(super) dots: Option<Dots>,
    /// The radius of the rim.
    pub(super) rim: f64,
    /// What ids start with.
    pub(super) prefix: String,
}

/// A group and its counts.
pub(super) struct Counted<'a> {
    pub(super) group: &'a Group,
    /// Its place in the figure.
    pub(super) place: usize,
    /// How many directions it has.
    pub(super) n: usize,
    /// How many each sector has.
    pub(super) counts: Vec<usize>,
}

impl<'a> Figure<'a> {
    pub(super) fn of(rose: &'a Rose) -> Self {
        let sectors = Sectors::of(rose.bin_deg, rose.axial);
        let mut chosen = largest(&rose.groups);
        let left_out = rose.groups.len() - chosen.len();
        if chosen.is_empty() {
            chosen.push(&NOBODY);
        }
        let sizes = Sizes::of(chosen.len());
        let azimuths: Vec<Vec<f64>> = chosen.iter().map(|group| sound(group, sectors)).collect();
        let groups: Vec<Counted> = chosen
            .iter()
            .zip(&azimuths)
            .enumerate()
            .map(|(place, (group, azimuths_deg))| Counted {
                group,
                place,
                n: azimuths_deg.len(),
                counts: sectors.count(azimuths_deg),
            })
            .collect();
        let dots = Dots::of(&azimuths, sizes);
        Self {
            rose,
            sectors,
            scale: common_scale(&groups, sizes),
            left_out,
            prefix: id_prefix(rose, &groups),
            groups,
            sizes,
            rim: sizes.rim(dots.as_ref().map_or(0.0, |dots| dots.band)),
            dots,
        }
    }

    /// The radius of a sector that holds so many of the directions of a group.
    pub(super) fn radius(&self, count: usize, n: usize) -> f64 {
        self.scale.map_or(0.0, |scale| {
            scale.radius(scale.measure.amount(count, n), self.rim)
        })
    }

    /// The azimuth and, for axes, the one opposite it.
    pub(super) fn both_ways(&self, azimuth_deg: f64) -> impl Iterator<Item = f64> + use<> {
        let ways = if self.rose.axial { 2 } else { 1 };
        [azimuth_deg, azimuth_deg + 180.0].into_iter().take(ways)
    }

    /// Which groups are not drawn; empty where all are.
    pub(super) fn left_out_in_words(&self) -> String {
        match self.left_out {
            0 => String::new(),
            1 => format!("The {MOST_GROUPS} largest groups are drawn; the answer's list holds 1 more."),
            more => {
                format!("The {MOST_GROUPS} largest groups are drawn; the answer's list holds {more} more.")
            }
        }
    }

    /// The azimuth named for a V-test, where it is a number.
    pub(super) fn named_deg(&self) -> Option<f64> {
        let named_deg = self.rose.named_deg.filter(|named_deg| named_deg.is_finite());
        named_deg.map(|named_deg| self.sectors.fold(named_deg))
    }
}

/// Ids must differ between the figures of one HTML page. The sum is FNV-1a's, which is the same everywhere.
fn id_prefix(rose: &Rose, groups: &[Counted]) -> String {
    let mut text = format!("{}\n{}\n{:?}", rose.title, rose.below_title, rose.named_deg);
    for Counted { group, counts, .. } in groups {
        let _ = write!(text, "\n{}\n{:?}\n{counts:?}", group.name, group.told);
    }
    let sum = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |sum, byte| {
        (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("rose-{sum:016x}")
}

impl Group {
    /// The mean, where it is a number.
    pub(super) fn sound_mean_deg(&self) -> Option<f64> {
        self.mean_deg.filter(|mean_deg| mean_deg.is_finite())
    }

    /// The interval of the mean, where there is a mean: where it begins, and its width clockwise.
    pub(super) fn interval_deg(&self, turn_deg: f64) -> Option<[f64; 2]> {
        self.sound_mean_deg()?;
        let [from_deg, to_deg] = self.mean_ci_deg?;
        let width_deg = to_deg - from_deg;
        let width_deg = if width_deg >= turn_deg {
            turn_deg
        } else {
            width_deg.rem_euclid(turn_deg)
        };
        width_deg.is_finite().then_some([from_deg, width_deg])
    }
}

/// The largest groups, in the order in which they came; of equal ones the first.
fn largest(groups: &[Group]) -> Vec<&Group> {
    let mut places: Vec<usize> = (0..groups.len()).collect();
    places.sort_by_key(|place| Reverse(groups[*place].azimuths_deg.len()));
    places.truncate(MOST_GROUPS);
    places.sort_unstable();
    places.into_iter().map(|place| &groups[place]).collect()
}

/// The directions that are numbers, within the turn.
fn sound(group: &Group, sectors: Sectors) -> Vec<f64> {
    let azimuths_deg = group.azimuths_deg.iter().filter(|azimuth| azimuth.is_finite());
    azimuths_deg.map(|azimuth| sectors.fold(*azimuth)).collect()
}

fn common_scale(groups: &[Counted], sizes: &Sizes) -> Option<Scale> {
    let measure = if groups.len() > 1 {
        Measure::Percent
    } else {
        Measure::Count
    };
    let largest = groups.iter().flat_map(|group| {
        let counts = group.counts.iter();
        counts.map(|count| measure.amount(*count, group.n))
    });
    Scale::of(measure, largest.fold(0.0, f64::max), sizes.most_rings)
}
