//! The rock that is exposed, as the extents of a surface draw it.

use super::hull::Hull;
use super::path::Path;
use crate::continuation::plane::{Vector, length, minus, plus, times};
use crate::index::SurfaceIndex;
use crate::model::{Extent, ExtentKind};
use geo::{Contains, CoordsIter, Point, Polygon};

/// So many paces beyond its last print a trackway that leads on is looked for: one print of it may have been missed.
const ON_PACES: f64 = 1.5;
/// The least part of all ends that lies on the rock where extents draw it whole.
const INSIDE_PART: f64 = 0.8;
/// So many of its last legs tell which way it leads.
const LEGS: usize = 4;

/// Where there is rock to be seen, and trackways go on unless they end.
#[derive(Debug, Clone)]
pub struct Exposed {
    /// Exposed extents, and those that hide a part of them.
    shown: Vec<Polygon<f64>>,
    hidden: Vec<Polygon<f64>>,
}

impl Exposed {
    /// Of a surface; `None` where no exposed extent is drawn, and nobody has said where the rock ends.
    #[must_use]
    pub fn of(index: &SurfaceIndex) -> Option<Self> {
        let (shown, hidden): (Vec<_>, Vec<_>) =
            (index.extents().iter()).partition(|extent| extent.kind == ExtentKind::Exposed);
        let polygons = |extents: Vec<&Extent>| -> Vec<Polygon<f64>> {
            extents.into_iter().map(|extent| extent.polygon.clone()).collect()
        };
        (!shown.is_empty()).then(|| Self {
            shown: polygons(shown),
            hidden: polygons(hidden),
        })
    }

    /// Whether the rock's edge cuts a path at its beginning, and at its end: a little farther on no rock is exposed.
    pub(super) fn cuts(&self, path: &Path) -> [bool; 2] {
        let line = &path.line_m;
        let last = line.len() - 1;
        let legs = LEGS.min(last);
        let on_m = ON_PACES * path.pace_m();
        [(line[legs], line[0]), (line[last - legs], line[last])].map(|(from, end)| {
            let way = minus(end, from);
            let far_m = length(way);
            far_m > 0.0 && !self.holds(plus(end, times(way, on_m / far_m)))
        })
    }

    /// Unless it leaves out many ends of the paths: then it does not tell where the rock ends.
    pub(super) fn telling<'a>(exposed: Option<&'a Self>, paths: &[&Path]) -> Option<&'a Self> {
        exposed.filter(|exposed| {
            let ends = paths
                .iter()
                .flat_map(|path| [path.line_m[0], path.line_m[path.line_m.len() - 1]]);
            let inside = ends.filter(|end| exposed.holds(*end)).count();
            inside as f64 >= INSIDE_PART * (2 * paths.len()) as f64
        })
    }

    fn holds(&self, place: Vector) -> bool {
        let at = Point::from(place);
        let is_in = |polygons: &[Polygon<f64>]| polygons.iter().any(|polygon| polygon.contains(&at));
        is_in(&self.shown) && !is_in(&self.hidden)
    }

    /// The convex hull of all that is exposed and of the paths, which may lie a little beside it.
    pub(super) fn hull(&self, paths: &[&Path]) -> Hull {
        let corners = self
            .shown
            .iter()
            .flat_map(|polygon| polygon.exterior_coords_iter());
        let corners = corners.map(|at| [at.x, at.y]);
        let lines = paths.iter().flat_map(|path| path.line_m.iter().copied());
        Hull::around(&corners.chain(lines).collect::<Vec<_>>())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::LineString;

    fn polygon([west, south]: Vector, [east, north]: Vector) -> Polygon<f64> {
        let corners = vec![(west, south), (east, south), (east, north), (west, north)];
        Polygon::new(LineString::from(corners), Vec::new())
    }

    /// Twenty metres square, with sand over its north-east corner.
    fn exposed() -> Exposed {
        Exposed {
            shown: vec![polygon([0.0, 0.0], [20.0, 20.0])],
            hidden: vec![polygon([10.0, 10.0], [20.0, 20.0])],
        }
    }

    /// Eastward, a metre a pace.
    fn eastward(from: f64, to: f64, north: f64) -> Path {
        let paces = (to - from) as i32;
        let line = (0..=paces).map(|pace| [from + f64::from(pace), north]);
        Path::along("T1".parse().unwrap(), line.collect(), 0.3).unwrap()
    }

    #[test]
    fn what_leads_off_the_rock_is_cut() {
        let exposed = exposed();
        assert_eq!(exposed.cuts(&eastward(5.0, 15.0, 5.0)), [false, false]);
        assert_eq!(exposed.cuts(&eastward(5.0, 19.0, 5.0)), [false, true]);
        assert_eq!(exposed.cuts(&eastward(0.5, 15.0, 5.0)), [true, false]);
        assert_eq!(
            exposed.cuts(&eastward(0.5, 9.5, 15.0)),
            [true, true],
            "under the sand"
        );
    }

    #[test]
    fn rock_that_most_ends_lie_beside_tells_nothing() {
        let exposed = exposed();
        let on: Vec<Path> = (1..9).map(|no| eastward(2.0, 9.0, f64::from(no))).collect();
        let beside: Vec<Path> = (1..9).map(|no| eastward(30.0, 39.0, f64::from(no))).collect();
        let is_telling =
            |paths: &[Path]| Exposed::telling(Some(&exposed), &paths.iter().collect::<Vec<_>>()).is_some();
        assert!(is_telling(&on));
        assert!(!is_telling(&beside));
        assert!(!is_telling(&[on, beside].concat()));
    }

    #[test]
    fn without_an_exposed_extent_nothing_is_known() {
        let contents = crate::simulate::Passers::new(3);
        let contents = contents.surface(&contents.walkers(1), 1);
        let nowhere = crate::frame::LonLat {
            lon_deg: 0.0,
            lat_deg: 0.0,
        };
        let index = SurfaceIndex::build(contents, |all| {
            Ok::<_, std::convert::Infallible>(vec![nowhere; all.len()])
        });
        assert!(Exposed::of(&index.unwrap()).is_none());
    }
}
