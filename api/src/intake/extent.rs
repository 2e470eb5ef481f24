//! Extents from GeoJSON features.

use super::batch::Stop;
use super::cell;
use super::feature::Feature;
use super::locate::Locator;
use super::{Fault, Faults};
use crate::store::SheetExtent;
use geo::{LineString, Polygon, Validation};
use geojson::GeometryValue;
use serde_json::Value;
use spatial::model::{Extent, ExtentKind};

/// The rings of a polygon, each closed.
type Rings = Vec<Vec<[f64; 2]>>;

/// An outline may have this many corners in all; whether it crosses itself is tried by pairs.
const MOST_CORNERS: usize = 10_000;

/// Reads an extent: the properties `surface`, `extent`, `kind` and `surveyed_on`, and its outline. That
/// is the property `projected` (rings in the site's CRS, as an export writes them) where there
/// is one, else the geometry. `None` where it has faults, which are noted.
///
/// # Errors
/// When PROJ cannot be used.
pub(super) fn read(
    feature: &Feature,
    locator: &Locator<'_>,
    faults: &mut Faults,
) -> Result<Option<SheetExtent>, Stop> {
    let mut reader = Reader { feature, faults };
    let surface = reader.required("surface", cell::label);
    let label = reader.required("extent", cell::label);
    let kind = reader.required("kind", |text| cell::name(text, ExtentKind::ALL, ExtentKind::name));
    let surveyed_on = reader.optional("surveyed_on", cell::day);
    let polygon = match outline(feature, locator)? {
        Ok(polygon) => Some(polygon),
        Err((column, expected)) => {
            reader.fault(column, "", expected);
            None
        }
    };
    let (Some(surface), Some(label), Some(kind), Some(surveyed_on), Some(polygon)) =
        (surface, label, kind, surveyed_on, polygon)
    else {
        return Ok(None);
    };
    Ok(Some(SheetExtent {
        row: feature.no,
        surface,
        extent: Extent {
            label,
            kind,
            polygon,
            surveyed_on,
            revision: 0,
        },
    }))
}

struct Reader<'f> {
    feature: &'f Feature,
    faults: &'f mut Faults,
}

impl Reader<'_> {
    fn fault(&mut self, column: &str, value: &str, expected: String) {
        self.faults
            .push(Fault::of_cell(self.feature.no, column, value, expected));
    }

    /// `Some(None)` where it is unknown, `None` where it has a fault.
    fn optional<T>(&mut self, name: &str, read: impl Fn(&str) -> Result<T, String>) -> Option<Option<T>> {
        let text = self.feature.text(name);
        match text.trim() {
            "" => Some(None),
            text => match read(text) {
                Ok(value) => Some(Some(value)),
                Err(expected) => {
                    self.fault(name, text, expected);
                    None
                }
            },
        }
    }

    fn required<T>(&mut self, name: &str, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        let value = self.optional(name, read)?;
        if value.is_none() {
            self.fault(name, "", "a value: every extent needs one".to_owned());
        }
        value
    }
}

/// The outline in the site's coordinates, or the member and what was expected of it.
fn outline(
    feature: &Feature,
    locator: &Locator<'_>,
) -> Result<Result<Polygon, (&'static str, String)>, Stop> {
    let projected = feature
        .properties
        .get("projected")
        .filter(|rings| !rings.is_null());
    let (column, rings) = match projected {
        Some(rings) => ("projected", exact(rings, locator)),
        None => ("geometry", located(feature, locator)?),
    };
    Ok(rings.and_then(polygon).map_err(|expected| (column, expected)))
}

fn exact(projected: &Value, locator: &Locator<'_>) -> Result<Rings, String> {
    let rings = match projected {
        // Mapping programs hand nested values on as their text.
        Value::String(text) => serde_json::from_str(text),
        other => serde_json::from_value(other.clone()),
    };
    let rings: Rings =
        rings.map_err(|_| "rings of easting and northing, such as [[[480000, 4790000], …]]".to_owned())?;
    let ground = locator.ground();
    rings
        .iter()
        .flatten()
        .try_for_each(|&[easting_m, northing_m]| ground.check(easting_m, northing_m))?;
    Ok(rings)
}

fn located(feature: &Feature, locator: &Locator<'_>) -> Result<Result<Rings, String>, Stop> {
    let Some(GeometryValue::Polygon { coordinates }) = &feature.geometry else {
        return Ok(Err(
            "a Polygon (an extent of several parts is several features, each with its own label)".to_owned(),
        ));
    };
    let mut rings = Rings::new();
    for ring in coordinates {
        let pair = |position: &geojson::Position| match *position.as_slice() {
            [x, y, ..] => Some([x, y]),
            _ => None,
        };
        let Some(given) = ring.iter().map(pair).collect::<Option<Vec<_>>>() else {
            return Ok(Err("at least two numbers in each position".to_owned()));
        };
        match locator.locate(&given)?.into_iter().collect() {
            Ok(ring) => rings.push(ring),
            Err(expected) => return Ok(Err(expected)),
        }
    }
    Ok(Ok(rings))
}

fn polygon(rings: Rings) -> Result<Polygon, String> {
    if rings.iter().map(Vec::len).sum::<usize>() > MOST_CORNERS {
        return Err(format!(
            "an outline of at most {MOST_CORNERS} corners; simplify it"
        ));
    }
    let mut rings = rings.into_iter().map(LineString::from);
    let outer = rings.next().unwrap_or_else(|| LineString::new(Vec::new()));
    let polygon = Polygon::new(outer, rings.collect());
    if polygon.exterior().0.is_empty() || polygon.interiors().iter().any(|hole| hole.0.is_empty()) {
        return Err("a ring of at least three corners".to_owned());
    }
    match polygon.check_validation() {
        Ok(()) => Ok(polygon),
        Err(fault) => Err(format!(
            "an outline that does not cross itself, its holes within it: {fault}"
        )),
    }
}
