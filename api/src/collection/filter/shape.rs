//! Geometries as they are written in filters, in either language: a kind, and coordinates in brackets.

use crate::collection::Bbox;
use crate::feature::OutputCrs;
use geo::algorithm::Validation;
use geo::{
    Geometry, GeometryCollection, LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon,
};

/// Coordinates in brackets in brackets; at most [`DEEPEST`] of them.
#[derive(Debug, Clone, PartialEq)]
pub enum Coordinates {
    /// One position, as it was written.
    Position(Vec<f64>),
    /// Several.
    List(Vec<Coordinates>),
}

/// How many brackets stand around a position of a multipolygon, the deepest kind.
pub const DEEPEST: usize = 3;

/// The kinds of geometry that have coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // The names are the standard's.
pub enum Kind {
    Point,
    MultiPoint,
    LineString,
    MultiLineString,
    Polygon,
    MultiPolygon,
}

impl Kind {
    /// All.
    pub const ALL: [Self; 6] = [
        Self::Point,
        Self::MultiPoint,
        Self::LineString,
        Self::MultiLineString,
        Self::Polygon,
        Self::MultiPolygon,
    ];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Point => "Point",
            Self::MultiPoint => "MultiPoint",
            Self::LineString => "LineString",
            Self::MultiLineString => "MultiLineString",
            Self::Polygon => "Polygon",
            Self::MultiPolygon => "MultiPolygon",
        }
    }

    /// The kind of this name, in any case.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|kind| kind.name().eq_ignore_ascii_case(name))
    }
}

/// The geometry of this kind with these coordinates, x first.
///
/// # Errors
/// What was expected, when the coordinates do not make one.
pub fn geometry(kind: Kind, written: &Coordinates, crs: &OutputCrs) -> Result<Geometry<f64>, String> {
    let position = |written: &Coordinates| position(written, crs);
    let line = |written: &Coordinates| line(written, crs);
    let polygon = |written: &Coordinates| polygon(written, crs);
    let made: Geometry<f64> = match kind {
        Kind::Point => position(written)?.into(),
        Kind::MultiPoint => each(written, |one| match one {
            // In text each point may stand in brackets of its own.
            Coordinates::List(inner) if inner.len() == 1 => position(&inner[0]),
            one => position(one),
        })
        .map(MultiPoint)?
        .into(),
        Kind::LineString => line(written)?.into(),
        Kind::MultiLineString => each(written, line).map(MultiLineString)?.into(),
        Kind::Polygon => polygon(written)?.into(),
        Kind::MultiPolygon => each(written, polygon).map(MultiPolygon)?.into(),
    };
    match made.check_validation() {
        Ok(()) => Ok(made),
        Err(why) => Err(format!("a valid geometry: {why}")),
    }
}

/// Several geometries as one.
///
/// # Errors
/// What was expected, when there is none.
pub fn collection(parts: Vec<Geometry<f64>>) -> Result<Geometry<f64>, String> {
    if parts.is_empty() {
        return Err("at least one geometry".to_owned());
    }
    Ok(Geometry::GeometryCollection(GeometryCollection(parts)))
}

/// The box of four or six numbers as a geometry.
///
/// # Errors
/// What was expected, when the numbers make no box.
pub fn bbox(numbers: &[f64], crs: &OutputCrs) -> Result<Geometry<f64>, String> {
    Ok(Bbox::new(numbers, crs.clone())?.geometry())
}

fn each<T>(
    written: &Coordinates,
    read: impl Fn(&Coordinates) -> Result<T, String>,
) -> Result<Vec<T>, String> {
    match written {
        Coordinates::List(list) if !list.is_empty() => list.iter().map(read).collect(),
        _ => Err("a list in brackets".to_owned()),
    }
}

fn position(written: &Coordinates, crs: &OutputCrs) -> Result<Point<f64>, String> {
    match written {
        // A height is not looked at.
        Coordinates::Position(numbers) if matches!(numbers.len(), 2 | 3) => {
            Ok(Point::from(crs.read([numbers[0], numbers[1]])))
        }
        _ => Err("positions of two numbers, or three with a height".to_owned()),
    }
}

fn line(written: &Coordinates, crs: &OutputCrs) -> Result<LineString<f64>, String> {
    let points = each(written, |one| position(one, crs))?;
    if points.len() < 2 {
        return Err("a line of two positions or more".to_owned());
    }
    Ok(points.into())
}

fn polygon(written: &Coordinates, crs: &OutputCrs) -> Result<Polygon<f64>, String> {
    let mut rings = each(written, |one| line(one, crs))?;
    if rings.iter().any(|ring| ring.0.len() < 4 || !ring.is_closed()) {
        return Err("rings of four positions or more, of which the last is the first again".to_owned());
    }
    let outer = rings.remove(0);
    Ok(Polygon::new(outer, rings))
}
