//! Geometries as GeoPackage writes them (OGC 12-128r18, clause 2.1.3): a header and well-known binary (OGC 06-103r4, clause 8),
//! both little-endian.

use geo::{BoundingRect, Coord, Geometry, LineString};

/// Little-endian, no envelope: of a point it would repeat the point.
const POINT_FLAGS: u8 = 0b0000_0001;
/// Little-endian, an envelope of x and y.
const FLAGS: u8 = 0b0000_0011;

const POINT: u32 = 1;
const LINE: u32 = 2;
const POLYGON: u32 = 3;

/// A point, line or polygon of the spatial reference system with this number; `None` for other kinds.
pub(super) fn blob(geometry: &Geometry<f64>, srs: i32) -> Option<Vec<u8>> {
    let is_point = matches!(geometry, Geometry::Point(_));
    let mut out = b"GP\0".to_vec();
    out.push(if is_point { POINT_FLAGS } else { FLAGS });
    out.extend(srs.to_le_bytes());
    if !is_point {
        let bounds = geometry.bounding_rect()?;
        let envelope = [bounds.min().x, bounds.max().x, bounds.min().y, bounds.max().y];
        envelope.iter().for_each(|edge| number(&mut out, *edge));
    }
    match geometry {
        Geometry::Point(point) => {
            begin(&mut out, POINT);
            coordinate(&mut out, point.0);
        }
        Geometry::LineString(line) => {
            begin(&mut out, LINE);
            corners(&mut out, line);
        }
        Geometry::Polygon(polygon) => {
            begin(&mut out, POLYGON);
            let rings = polygon.interiors().len() as u32 + 1;
            out.extend(rings.to_le_bytes());
            corners(&mut out, polygon.exterior());
            polygon
                .interiors()
                .iter()
                .for_each(|ring| corners(&mut out, ring));
        }
        _ => return None,
    }
    Some(out)
}

fn begin(out: &mut Vec<u8>, kind: u32) {
    out.push(1);
    out.extend(kind.to_le_bytes());
}

fn corners(out: &mut Vec<u8>, line: &LineString<f64>) {
    out.extend((line.0.len() as u32).to_le_bytes());
    line.coords().for_each(|corner| coordinate(out, *corner));
}

fn coordinate(out: &mut Vec<u8>, place: Coord<f64>) {
    number(out, place.x);
    number(out, place.y);
}

fn number(out: &mut Vec<u8>, number: f64) {
    out.extend(number.to_le_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Point, Rect};

    #[test]
    fn a_point_is_a_header_and_21_bytes() {
        let bytes = blob(&Point::new(1.0, 2.0).into(), 25830).unwrap();
        assert_eq!(bytes[..8], [b'G', b'P', 0, 1, 0xE6, 0x64, 0, 0]);
        assert_eq!(bytes[8..13], [1, 1, 0, 0, 0]);
        assert_eq!(bytes[13..21], 1.0f64.to_le_bytes());
        assert_eq!(bytes.len(), 29);
    }

    #[test]
    fn an_area_has_its_envelope() {
        let area = Rect::new((1.0, 2.0), (3.0, 5.0)).to_polygon();
        let bytes = blob(&area.into(), 25830).unwrap();
        let edge = |at: usize| f64::from_le_bytes(bytes[at..at + 8].try_into().unwrap());
        assert_eq!([edge(8), edge(16), edge(24), edge(32)], [1.0, 3.0, 2.0, 5.0]);
        // Kind, one ring, five corners.
        assert_eq!(bytes[40..53], [1, 3, 0, 0, 0, 1, 0, 0, 0, 5, 0, 0, 0]);
        assert_eq!(bytes.len(), 53 + 5 * 16);
        assert_eq!(
            blob(
                &Geometry::GeometryCollection(geo::GeometryCollection::default()),
                1
            ),
            None
        );
    }
}
