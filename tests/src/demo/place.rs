//! A site of the demonstration data, and the files that it becomes.

use super::scene::{Findings, Scene};
use super::sheet;
use geo::orient::{Direction, Orient};
use geo::{Coord, MapCoords, Polygon};
use geojson::{Feature, Geometry, GeometryValue};
use serde_json::{Value, json};
use spatial::model::{Label, PlacePolicy, Print, Site};

/// A site and its surfaces; each sheet holds some of them.
#[derive(Debug, Clone)]
pub struct Place {
    /// The site's own record.
    pub site: Site,
    /// Each sheet's name and its surfaces.
    pub sheets: Vec<(String, Vec<Scene>)>,
}

/// What stands in every site's record, so that nobody takes it for real.
pub const INVENTED: &str = "Invented demonstration data";

impl Place {
    /// A site by its slug, its name, the EPSG code of its CRS, its country and its rock.
    #[must_use]
    pub fn site(slug: &str, name: &str, crs: u32, country: &str, formation: &str, age: &str) -> Site {
        Site {
            name: format!("{name} ({})", INVENTED.to_lowercase()),
            country: Some(country.to_owned()),
            steward: Some("Demonstration steward".to_owned()),
            licence: Some("CC0-1.0".to_owned()),
            citation: Some(format!(
                "{INVENTED}: {name} does not exist and nothing was found there."
            )),
            policy: PlacePolicy::Open,
            formation: Some(format!("{formation} (invented)")),
            age: Some(format!("{age} (invented)")),
            ..Site::new(slug.parse().expect("letters and hyphens are a slug"), crs)
        }
    }

    /// The name of the file that holds the extents.
    #[must_use]
    pub fn extents_file(&self) -> String {
        format!("{}-extents.geojson", self.site.slug)
    }

    /// All surfaces.
    pub fn scenes(&self) -> impl Iterator<Item = &Scene> {
        self.sheets.iter().flat_map(|(_, scenes)| scenes)
    }

    /// The site's record, its surfaces' records and the names of its files.
    #[must_use]
    pub fn record(&self) -> Value {
        let mut record = stored_fields(&self.site);
        record["surfaces"] = self.scenes().map(|scene| stored_fields(&scene.surface)).collect();
        record["sheets"] = self.sheets.iter().map(|(name, _)| name.as_str()).collect();
        record["extents"] = json!([self.extents_file()]);
        record
    }

    /// The sheets and the extents, by file name.
    #[must_use]
    pub fn files(&self) -> Vec<(String, String)> {
        let mut files = Vec::new();
        let mut extents = Vec::new();
        for (name, scenes) in &self.sheets {
            let findings: Vec<Findings> = scenes.iter().map(Scene::findings).collect();
            let surfaces = scenes
                .iter()
                .zip(&findings)
                .map(|(scene, findings)| surface(scene, findings));
            files.push((name.clone(), sheet::csv(surfaces)));
            extents.extend(
                scenes
                    .iter()
                    .zip(&findings)
                    .flat_map(|(scene, found)| extents_of(scene, found)),
            );
        }
        files.push((self.extents_file(), collection(self.site.crs, &extents)));
        files
    }
}

fn surface<'a>(scene: &'a Scene, findings: &'a Findings) -> (&'a Label, &'a [Print]) {
    (&scene.surface.label, &findings.prints)
}

/// A record without its revision, which only a store gives.
fn stored_fields(record: &impl serde::Serialize) -> Value {
    let mut fields = serde_json::to_value(record).expect("a record has only named fields");
    if let Some(fields) = fields.as_object_mut() {
        fields.shift_remove("revision");
    }
    fields
}

fn extents_of(scene: &Scene, findings: &Findings) -> Vec<Feature> {
    let extent = |(no, (kind, polygon))| {
        let properties = json!({
            "surface": scene.surface.label,
            "extent": format!("E{no}"),
            "kind": kind,
            "surveyed_on": scene.party.observed_on,
        });
        Feature {
            geometry: Some(Geometry::new(GeometryValue::from(&written(
                &scene.ground.polygon_on_map(polygon),
            )))),
            properties: properties.as_object().cloned(),
            ..Feature::default()
        }
    };
    (1..).zip(findings.parts.iter()).map(extent).collect()
}

/// To the millimetre, the outer ring counter-clockwise as RFC 7946 has it.
fn written(polygon: &Polygon<f64>) -> Polygon<f64> {
    let millimetres = |metres: f64| (metres * 1000.0).round() / 1000.0;
    let rounded = polygon.map_coords(|corner| Coord {
        x: millimetres(corner.x),
        y: millimetres(corner.y),
    });
    rounded.orient(Direction::Default)
}

/// A collection with a feature a line, so that a difference between two versions can be read.
fn collection(crs: u32, features: &[Feature]) -> String {
    let crs = json!({ "type": "name", "properties": { "name": format!("urn:ogc:def:crs:EPSG::{crs}") } });
    let features: Vec<String> = features.iter().map(ToString::to_string).collect();
    format!(
        "{{\"type\":\"FeatureCollection\",\"note\":\"{INVENTED}\",\"crs\":{crs},\"features\":[\n{}\n]}}\n",
        features.join(",\n")
    )
}
