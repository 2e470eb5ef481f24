//! A box to filter by, in any CRS.

use crate::crs::{Crs, CrsFault};
use crate::feature::OutputCrs;
use geo::{Geometry, Intersects, LineString, MultiPolygon, Point, Rect};
use spatial::index::{PrintNo, SurfaceIndex};

/// A box in some CRS; in longitude and latitude it may cross the antimeridian.
#[derive(Debug, Clone, PartialEq)]
pub struct Bbox {
    crs: OutputCrs,
    /// One box, or the two halves on both sides of the antimeridian; x before y.
    boxes: Vec<Rect<f64>>,
}

impl Bbox {
    /// Reads four numbers (lower corner, upper corner), or six with heights, which are ignored, in
    /// the order of the CRS's own axes.
    ///
    /// # Errors
    /// What was expected, when the text has another form.
    pub fn parse(text: &str, crs: OutputCrs) -> Result<Self, String> {
        let numbers: Option<Vec<f64>> = text
            .split(',')
            .map(|part| part.trim().parse().ok().filter(|number: &f64| number.is_finite()))
            .collect();
        let numbers = numbers.ok_or("four numbers, or six with heights, separated by commas")?;
        Self::new(&numbers, crs)
    }

    /// The box of four numbers, or of six with heights.
    ///
    /// # Errors
    /// What was expected, when the numbers make no box.
    pub fn new(numbers: &[f64], crs: OutputCrs) -> Result<Self, String> {
        let (lower, upper) = match *numbers {
            [a, b, c, d] | [a, b, _, c, d, _] => (crs.read([a, b]), crs.read([c, d])),
            _ => return Err("four numbers, or six with heights, separated by commas".to_owned()),
        };
        if lower[1] > upper[1] {
            return Err("a box whose lower edge is not above its upper edge".to_owned());
        }
        let boxes = if lower[0] <= upper[0] {
            vec![Rect::new(lower, upper)]
        } else if crs.in_degrees() {
            vec![
                Rect::new(lower, [180.0, upper[1]]),
                Rect::new([-180.0, lower[1]], upper),
            ]
        } else {
            return Err("a box whose west edge is not east of its east edge".to_owned());
        };
        Ok(Self { crs, boxes })
    }

    /// What lies in any of these boxes, x before y.
    #[must_use]
    pub fn around(boxes: Vec<Rect<f64>>, crs: OutputCrs) -> Self {
        Self { crs, boxes }
    }

    /// The box as a geometry, x before y; a box without width or height is a line or a point.
    #[must_use]
    pub fn geometry(&self) -> Geometry<f64> {
        match self.boxes[..] {
            [rect] if rect.width() > 0.0 && rect.height() > 0.0 => rect.to_polygon().into(),
            [rect] if rect.min() == rect.max() => Point::from(rect.min()).into(),
            [rect] => LineString::from(vec![rect.min(), rect.max()]).into(),
            ref halves => MultiPolygon(halves.iter().map(|half| half.to_polygon()).collect()).into(),
        }
    }

    /// The smallest box of a site's CRS that holds all of this one; `None` where it crosses the antimeridian or reaches to
    /// where the projection is not defined.
    #[must_use]
    pub fn box_on(&self, crs: &Crs) -> Option<[[f64; 2]; 2]> {
        let [rect] = self.boxes[..] else { return None };
        let corners = [rect.min().into(), rect.max().into()];
        self.crs.bounds_into(crs, corners).ok()
    }

    /// Whether a geometry of a site's CRS meets the box; what has no geometry does, as the standard has it.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn touches(&self, geometry: Option<&Geometry<f64>>, from: &Crs) -> Result<bool, CrsFault> {
        let Some(geometry) = geometry else { return Ok(true) };
        let moved = self.crs.moved(from, geometry)?;
        Ok(self.boxes.iter().any(|rect| rect.intersects(&moved)))
    }

    /// Whether a box in longitude and latitude may hold something that meets this one: a quick no for
    /// whole surfaces, a yes where it cannot be told.
    #[must_use]
    pub fn may_touch(&self, bounds_deg: [[f64; 2]; 2]) -> bool {
        if !self.crs.in_degrees() {
            return true;
        }
        let bounds = Rect::new(bounds_deg[0], bounds_deg[1]);
        self.boxes.iter().any(|rect| rect.intersects(&bounds))
    }

    /// The prints of a surface in the box, by number: candidates from its R-tree, then each by its own place.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn prints(&self, index: &SurfaceIndex, crs: &Crs) -> Result<Vec<PrintNo>, CrsFault> {
        Ok(self.few_prints(index, crs, usize::MAX)?.unwrap_or_default())
    }

    /// The same; `None` where more than so many prints had to be looked at.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn few_prints(
        &self,
        index: &SurfaceIndex,
        crs: &Crs,
        most: usize,
    ) -> Result<Option<Vec<PrintNo>>, CrsFault> {
        let Some(placed) = self.placed(index, crs, most) else {
            return Ok(None);
        };
        let inside = |point: [f64; 2]| {
            let point = geo::Coord::from(point);
            self.boxes.iter().any(|rect| rect.intersects(&point))
        };
        let numbers: Vec<PrintNo> = match &self.crs {
            OutputCrs::Crs84 => {
                let inside = |no: &PrintNo| {
                    let place = index.place(*no);
                    inside([place.lon_deg, place.lat_deg])
                };
                placed.into_iter().map(|(no, _)| no).filter(inside).collect()
            }
            OutputCrs::Epsg(own) if own.code == crs.code => {
                let placed = placed.into_iter().filter(|(_, position)| inside(*position));
                placed.map(|(no, _)| no).collect()
            }
            other => {
                let positions: Vec<_> = placed.iter().map(|(_, position)| *position).collect();
                let points = other.project(crs, &positions)?;
                let placed = placed.into_iter().zip(points).filter(|(_, point)| inside(*point));
                placed.map(|((no, _), _)| no).collect()
            }
        };
        Ok(Some(self.in_order(numbers)))
    }

    /// The prints of a surface that may lie in the box, by number, from its R-tree; some may lie outside.
    #[must_use]
    pub fn candidates(&self, index: &SurfaceIndex, crs: &Crs) -> Vec<PrintNo> {
        let placed = self.placed(index, crs, usize::MAX).into_iter().flatten();
        self.in_order(placed.map(|(no, _)| no).collect())
    }

    /// The candidates with their eastings and northings, in no order, one in both halves of the box twice; `None` where there are more
    /// than so many in a half.
    fn placed(&self, index: &SurfaceIndex, crs: &Crs, most: usize) -> Option<Vec<(PrintNo, [f64; 2])>> {
        let Some(boxes) = self.boxes_on(crs) else {
            let prints = index.prints().iter();
            let positions = prints.map(|print| [print.easting_m, print.northing_m]);
            return (index.prints().len() <= most).then(|| (0..).zip(positions).collect());
        };
        let mut found = Vec::new();
        for [lower, upper] in boxes {
            found.append(&mut index.few_in_box(lower, upper, most)?);
        }
        Some(found)
    }

    /// Numbers upwards, each once.
    fn in_order(&self, mut numbers: Vec<PrintNo>) -> Vec<PrintNo> {
        numbers.sort_unstable();
        if self.boxes.len() > 1 {
            numbers.dedup();
        }
        numbers
    }

    /// Boxes in a site's CRS that hold all of this one; `None` where it reaches to where the projection is not defined.
    fn boxes_on(&self, crs: &Crs) -> Option<Vec<[[f64; 2]; 2]>> {
        let on = |rect: &Rect| {
            let corners = [rect.min().into(), rect.max().into()];
            let [lower, upper] = self.crs.bounds_into(crs, corners).ok()?;
            // The edges were followed at some points only: allow for the bulge between them.
            let slack = [0, 1].map(|axis| 1.0 + (upper[axis] - lower[axis]) * 1e-3);
            Some([
                [lower[0] - slack[0], lower[1] - slack[1]],
                [upper[0] + slack[0], upper[1] + slack[1]],
            ])
        };
        self.boxes.iter().map(on).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_or_six_numbers_in_the_order_of_the_axes() {
        let lonlat = Bbox::parse("10,20,30,40", OutputCrs::Crs84).unwrap();
        assert_eq!(Bbox::parse("10,20,-5,30,40,5", OutputCrs::Crs84).unwrap(), lonlat);
        let epsg4326 = Bbox::parse("20,10,40,30", OutputCrs::parse("EPSG:4326").unwrap()).unwrap();
        assert_eq!(epsg4326.boxes, lonlat.boxes);
        for bad in ["", "1,2,3", "1,2,3,4,5", "a,b,c,d", "1,2,3,NaN", "10,40,30,20"] {
            assert!(Bbox::parse(bad, OutputCrs::Crs84).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn a_west_edge_east_of_the_east_edge_crosses_the_antimeridian() {
        let across = Bbox::parse("177,-50,-177,-40", OutputCrs::Crs84).unwrap();
        assert!(across.may_touch([[178.0, -45.0], [179.0, -44.0]]));
        assert!(across.may_touch([[-179.0, -45.0], [-178.0, -44.0]]));
        assert!(!across.may_touch([[0.0, -45.0], [1.0, -44.0]]));
    }
}
