//! Prints in strips from west to east: what lies near a place, asked some millions of times for one surface.
//!
//! The index answers the same for every radius; this is for a radius of about a pace, and faster there.

use super::evidence::{Foot, Member};
use super::motion::Vector;

/// A usual pace in lengths of a foot (common practice: three to five); strips are so wide.
const PACE_IN_LENGTHS: f64 = 4.0;

#[derive(Debug)]
pub(super) struct Strips {
    height_m: f64,
    /// The strips with any prints, from the south: each one's number, and where its prints begin.
    starts: Vec<(i64, usize)>,
    /// Strip by strip, each from the west.
    prints: Vec<(Vector, Member)>,
}

impl Strips {
    pub fn of(feet: &[Foot]) -> Self {
        let mut lengths_m: Vec<f64> = feet.iter().map(|foot| foot.length_m).collect();
        lengths_m.sort_by(f64::total_cmp);
        let height_m = lengths_m.get(lengths_m.len() / 2).copied().unwrap_or(1.0) * PACE_IN_LENGTHS;
        Self::new(feet.iter().map(|foot| foot.place), height_m)
    }

    fn new(places: impl Iterator<Item = Vector>, height_m: f64) -> Self {
        let mut prints: Vec<(Vector, Member)> = places.zip(0..).collect();
        let strip = |place: Vector| number(place.north, height_m);
        prints.sort_by(|(a, _), (b, _)| strip(*a).cmp(&strip(*b)).then(a.east.total_cmp(&b.east)));
        let mut starts: Vec<(i64, usize)> = Vec::new();
        for (start, (place, _)) in prints.iter().enumerate() {
            if starts.last().is_none_or(|(last, _)| *last != strip(*place)) {
                starts.push((strip(*place), start));
            }
        }
        Self {
            height_m,
            starts,
            prints,
        }
    }

    /// The prints within a radius of a place (at the radius itself included), in no order that could be relied on.
    pub fn around(&self, at: Vector, radius_m: f64) -> impl Iterator<Item = Member> + use<'_> {
        let lowest = number(at.north - radius_m, self.height_m);
        let highest = number(at.north + radius_m, self.height_m);
        let first = self.starts.partition_point(|(strip, _)| *strip < lowest);
        let reached = self.starts[first..].iter().zip(first + 1..);
        let reached = reached.take_while(move |((strip, _), _)| *strip <= highest);
        let near = reached.flat_map(move |((_, start), next)| {
            let end = self.starts.get(next).map_or(self.prints.len(), |(_, end)| *end);
            let strip = &self.prints[*start..end];
            let west = strip.partition_point(|(place, _)| place.east < at.east - radius_m);
            let reached = strip[west..].iter();
            reached.take_while(move |(place, _)| place.east <= at.east + radius_m)
        });
        near.filter_map(move |(place, member)| {
            let off = *place - at;
            (off.dot(off) <= radius_m * radius_m).then_some(*member)
        })
    }
}

/// A strip's number; beyond all measure the outermost one.
fn number(north: f64, height_m: f64) -> i64 {
    (north / height_m).floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(east: f64, north: f64) -> Vector {
        Vector { east, north }
    }

    #[test]
    fn every_print_within_the_radius_is_found_once_and_no_other() {
        // A spiral on both sides of the origin, two prints in one place, and some far off.
        let mut places: Vec<Vector> = (0..400)
            .map(|step| Vector::of_azimuth(f64::from(step)) * (0.05 * f64::from(step)))
            .collect();
        places.extend([places[7], at(1e12, -1e12), at(-1e300, 1e300), at(3.0, 4.0)]);
        for height_m in [0.01, 1.0, 100.0] {
            let strips = Strips::new(places.iter().copied(), height_m);
            for (place, radius_m) in [(at(0.0, 0.0), 5.0), (places[7], 0.0), (at(-3.0, 6.0), 40.0)] {
                let mut found: Vec<Member> = strips.around(place, radius_m).collect();
                found.sort_unstable();
                let all: Vec<Member> = (0..places.len() as Member)
                    .filter(|member| (places[*member as usize] - place).length() <= radius_m)
                    .collect();
                assert_eq!(found, all, "{height_m} m high, {radius_m} m about {place:?}");
            }
        }
    }

    #[test]
    fn nothing_is_found_where_there_is_nothing() {
        assert_eq!(Strips::of(&[]).around(at(0.0, 0.0), 1e9).count(), 0);
        let strips = Strips::new([at(0.0, 0.0)].into_iter(), 1.0);
        assert_eq!(strips.around(at(0.0, 5.0), 1.0).count(), 0);
        assert_eq!(strips.around(at(f64::NAN, 0.0), 1.0).count(), 0);
    }
}
