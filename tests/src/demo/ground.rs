//! The ground that a surface is: its outline, what hides parts of it, and how it lies on the map.
//!
//! Scenes are laid out in the surface's own plane, as the animals trod it: metres east and north of a
//! datum, before the bed was tilted. The map shows the tilted bed from above, foreshortened along its dip.

use super::animal::normal;
use geo::{
    BooleanOps, BoundingRect, Contains, Coord, LineString, MapCoords, MultiPolygon, Point, Polygon, Rect,
};
use rand_chacha::ChaCha8Rng;
use spatial::angle::{azimuth_rad, fold_deg};
use spatial::model::ExtentKind;

/// A surface's place on the map and its parts.
#[derive(Debug, Clone)]
pub struct Ground {
    /// The map coordinates of the plane's datum: easting, northing, elevation, metres.
    pub datum_m: [f64; 3],
    /// The strike, degrees clockwise from grid north, the dip to its right.
    pub strike_deg: f64,
    /// The dip, degrees.
    pub dip_deg: f64,
    /// The corners of the part that is laid bare, in the plane.
    pub outline: Vec<[f64; 2]>,
    /// What hides parts of it.
    pub patches: Vec<Patch>,
}

/// A part of a surface where prints cannot be recorded.
#[derive(Debug, Clone)]
pub struct Patch {
    /// Why they cannot.
    pub kind: ExtentKind,
    /// Its corners, in the plane.
    pub corners: Vec<[f64; 2]>,
}

/// The parts of a surface as polygons in its plane; the first ones are exposed.
#[derive(Debug, Clone)]
pub struct Parts(Vec<(ExtentKind, Polygon<f64>)>);

impl Patch {
    /// A patch by its corners.
    #[must_use]
    pub fn new<const N: usize>(kind: ExtentKind, corners: [[f64; 2]; N]) -> Self {
        Self {
            kind,
            corners: corners.to_vec(),
        }
    }
}

impl Ground {
    /// The parts with natural, ragged rims: what is laid bare less the patches, then the patches.
    #[must_use]
    pub fn parts(&self, rng: &mut ChaCha8Rng) -> Parts {
        let mut exposed = MultiPolygon::from(ragged(&self.outline, rng));
        let mut hidden = Vec::new();
        for patch in &self.patches {
            let rim = ragged(&patch.corners, rng);
            exposed = exposed.difference(&rim);
            hidden.push((patch.kind, rim));
        }
        let exposed = exposed.into_iter().map(|part| (ExtentKind::Exposed, part));
        Parts(exposed.chain(hidden).collect())
    }

    /// Where a place of the plane lies on the map: easting, northing, elevation.
    #[must_use]
    pub fn on_map(&self, [east_m, north_m]: [f64; 2]) -> [f64; 3] {
        let (along_m, down_m) = self.along_and_down(east_m, north_m);
        let (sine, cosine) = self.dip_deg.to_radians().sin_cos();
        let [east_m, north_m] = self.east_and_north(along_m, down_m * cosine);
        let [easting_m, northing_m, elevation_m] = self.datum_m;
        [
            easting_m + east_m,
            northing_m + north_m,
            elevation_m - down_m * sine,
        ]
    }

    /// The grid azimuth that a direction of the plane has on the map.
    #[must_use]
    pub fn azimuth_on_map_deg(&self, azimuth_deg: f64) -> f64 {
        let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
        let (along, down) = self.along_and_down(sine, cosine);
        let [east, north] = self.east_and_north(along, down * self.dip_deg.to_radians().cos());
        fold_deg(azimuth_rad(east, north).to_degrees())
    }

    /// A polygon of the plane on the map.
    #[must_use]
    pub fn polygon_on_map(&self, polygon: &Polygon<f64>) -> Polygon<f64> {
        polygon.map_coords(|Coord { x, y }| {
            let [x, y, _] = self.on_map([x, y]);
            Coord { x, y }
        })
    }

    /// Parts of a vector along the strike and down the dip, which is to the strike's right.
    fn along_and_down(&self, east: f64, north: f64) -> (f64, f64) {
        let (sine, cosine) = self.strike_deg.to_radians().sin_cos();
        (east * sine + north * cosine, east * cosine - north * sine)
    }

    fn east_and_north(&self, along: f64, down: f64) -> [f64; 2] {
        let (sine, cosine) = self.strike_deg.to_radians().sin_cos();
        [along * sine + down * cosine, along * cosine - down * sine]
    }
}

impl Parts {
    /// Whether a print at this place of the plane can be seen.
    #[must_use]
    pub fn show(&self, [x, y]: [f64; 2]) -> bool {
        let inside = |part: &(ExtentKind, Polygon<f64>)| part.1.contains(&Point::new(x, y));
        self.0
            .iter()
            .find(|part| inside(part))
            .is_some_and(|(kind, _)| *kind == ExtentKind::Exposed)
    }

    /// The parts by kind, exposed ones first.
    pub fn iter(&self) -> impl Iterator<Item = (ExtentKind, &Polygon<f64>)> {
        self.0.iter().map(|(kind, part)| (*kind, part))
    }

    /// The box around what is exposed.
    #[must_use]
    pub fn bounds(&self) -> Rect<f64> {
        let exposed = self.iter().filter(|(kind, _)| *kind == ExtentKind::Exposed);
        let exposed: Vec<_> = exposed.map(|(_, part)| part.clone()).collect();
        MultiPolygon::new(exposed)
            .bounding_rect()
            .expect("a surface has an exposed part")
    }
}

/// Corners joined by rims that waver, a vertex about every 1.5 m.
fn ragged(corners: &[[f64; 2]], rng: &mut ChaCha8Rng) -> Polygon<f64> {
    let mut rim = Vec::new();
    for (no, from) in corners.iter().enumerate() {
        let to = corners[(no + 1) % corners.len()];
        let [east_m, north_m] = [to[0] - from[0], to[1] - from[1]];
        let pieces = (east_m.hypot(north_m) / 1.5).round().max(1.0) as usize;
        for piece in 0..pieces {
            let part = piece as f64 / pieces as f64;
            let place = [from[0] + part * east_m, from[1] + part * north_m];
            rim.push(Coord {
                x: place[0] + normal(rng, 0.15),
                y: place[1] + normal(rng, 0.15),
            });
        }
    }
    Polygon::new(LineString::new(rim), Vec::new())
}
