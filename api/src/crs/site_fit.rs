//! Whether the directions and distances of a projection can be those of a record.

use super::{factors, transform};
use serde_json::Value;
use spatial::frame::LonLat;

/// How far from conformal a site's projection may be: a tenth of a millimetre in ten metres, and 0.0006 degrees
/// of direction. The conformal projections of the EPSG register come to 5·10⁻⁸ at most (numerical noise, and the
/// series of the Laborde projection), its equal-area projections to 10⁻³ at least; some grids of single
/// towns and islands that are conformal for all practical purposes lie between.
const MOST_DISTORTION: f64 = 1e-5;

/// The area of use is tried at so many places a side.
const A_SIDE: u32 = 5;

/// Whether the axes count eastings and northings, in either order. Both axes of a polar projection point
/// north or south along meridians; it is named by them all the same.
pub(super) fn east_and_north(axes: &[Value]) -> bool {
    let direction = |no: usize| axes.get(no).and_then(|axis: &Value| axis["direction"].as_str());
    matches!(
        (direction(0), direction(1)),
        (Some("east"), Some("north"))
            | (Some("north"), Some("east" | "north"))
            | (Some("south"), Some("south"))
    )
}

/// Whether a projection keeps angles in its whole area of use. `described` is its PROJJSON.
pub(super) fn is_conformal(
    code: u32,
    described: &Value,
    area_deg: [[f64; 2]; 2],
    prime_meridian_deg: f64,
) -> bool {
    // Its sphere is laid over an ellipsoid, and PROJ tells of the sphere: east-west scales are up to 0.7 %
    // larger than north-south ones.
    if described["conversion"]["method"]["name"] == "Popular Visualisation Pseudo Mercator" {
        return false;
    }
    let places = spread(area_deg, prime_meridian_deg);
    let found = transform::where_kept(|| factors::distortions(code, &places));
    found.into_iter().flatten().all(|part| part <= MOST_DISTORTION)
}

/// The longitude from Greenwich of a CRS's prime meridian, degrees. PROJJSON leaves out that of Greenwich, and
/// gives other units than degrees by their size in radians.
pub(super) fn prime_meridian_deg(described: &Value) -> f64 {
    let base = &described["base_crs"];
    let longitude = ["datum", "datum_ensemble"]
        .map(|datum| &base[datum]["prime_meridian"]["longitude"])
        .into_iter()
        .find(|longitude| !longitude.is_null());
    let Some(longitude) = longitude else { return 0.0 };
    let in_units = longitude["value"]
        .as_f64()
        .zip(longitude["unit"]["conversion_factor"].as_f64());
    match in_units {
        Some((value, radians)) => (value * radians).to_degrees(),
        None => longitude.as_f64().unwrap_or_default(),
    }
}

/// Places spread over an area, longitudes from a prime meridian.
fn spread([[west, south], [east, north]]: [[f64; 2]; 2], prime_meridian_deg: f64) -> Vec<LonLat> {
    let across = if east < west {
        east + 360.0 - west
    } else {
        east - west
    };
    let part = |no: u32| (f64::from(no) + 0.5) / f64::from(A_SIDE);
    let place = |no: u32| LonLat {
        lon_deg: fold_lon_deg(west + across * part(no % A_SIDE) - prime_meridian_deg),
        lat_deg: south + (north - south) * part(no / A_SIDE),
    };
    (0..A_SIDE * A_SIDE).map(place).collect()
}

/// A longitude from −180 to 180.
fn fold_lon_deg(lon_deg: f64) -> f64 {
    (lon_deg + 180.0).rem_euclid(360.0) - 180.0
}
