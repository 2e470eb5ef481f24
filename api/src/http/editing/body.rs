//! From the body of a request to a record: features as the service writes them, checked as a sheet is.

use super::super::Problem;
use super::reader::{Reader, faulty, refused};
use crate::collection::Collection;
use crate::crs::{self, Crs};
use crate::feature::OutputCrs;
use crate::intake::{IntakeError, Single, read_single};
use crate::store::Deed;
use serde_json::{Map, Value, json};
use spatial::frame::tilt::Tilt;
use spatial::model::{Basis, Label, PlacePolicy, PrintId, Site, Slug, Status, Surface, SurfaceId, Trackway};

/// A feature that somebody sends.
#[derive(Debug, Clone)]
pub struct Body {
    /// Its geometry; null where it has none.
    pub geometry: Value,
    /// Its properties.
    pub properties: Map<String, Value>,
}

/// Properties that follow from others, and are left aside where they are sent back as they came.
pub(super) const DERIVED: &[&str] = &[
    "revision",
    "contents_revision",
    "surfaces",
    "prints",
    "extents",
    "trackways",
];

impl Body {
    /// Reads a feature.
    ///
    /// # Errors
    /// When it is none.
    pub fn read(bytes: &[u8]) -> Result<Self, Problem> {
        let value: Value = serde_json::from_slice(bytes)
            .map_err(|error| Problem::bad_request(format!("The body is no JSON: {error}.")))?;
        Self::of(value)
    }

    /// A feature that is JSON already.
    ///
    /// # Errors
    /// When it is none.
    pub fn of(value: Value) -> Result<Self, Problem> {
        let fault = || {
            Problem::bad_request(
                "Expected a GeoJSON Feature with properties, as the service itself writes them.",
            )
        };
        let Value::Object(mut members) = value else {
            return Err(fault());
        };
        let is_feature = members.get("type").is_some_and(|kind| kind == "Feature");
        match (is_feature, members.remove("properties")) {
            (true, Some(Value::Object(properties))) => Ok(Self {
                geometry: members.remove("geometry").unwrap_or_default(),
                properties,
            }),
            _ => Err(fault()),
        }
    }

    /// A property as a text; `None` where it is null or not there.
    fn text(&self, name: &str) -> Option<&str> {
        self.properties.get(name).and_then(Value::as_str)
    }

    /// The label or slug that a new record is to have.
    ///
    /// # Errors
    /// A fault where there is none.
    fn label(&self, name: &str) -> Result<Label, Problem> {
        let text = self.text(name).unwrap_or_default();
        text.parse()
            .map_err(|fault| faulty(name, text, &format!("{fault}")))
    }

    /// The surface that a new record is to be on.
    fn surface(&self) -> Result<SurfaceId, Problem> {
        let text = self.text("surface").unwrap_or_default();
        text.parse()
            .map_err(|fault| faulty("surface", text, &format!("{fault}")))
    }

    /// The id that a new record of a collection is to have.
    ///
    /// # Errors
    /// Faults where it is not told.
    pub fn id(&self, collection: Collection) -> Result<String, Problem> {
        Ok(match collection {
            Collection::Sites => {
                let text = self.text("site").unwrap_or_default();
                let slug: Slug = text
                    .parse()
                    .map_err(|fault| faulty("site", text, &format!("{fault}")))?;
                slug.to_string()
            }
            Collection::Surfaces => {
                let text = self.text("site").unwrap_or_default();
                let site: Slug = text
                    .parse()
                    .map_err(|fault| faulty("site", text, &format!("{fault}")))?;
                format!("{site}:{}", self.label("label")?)
            }
            Collection::Extents => format!("{}:{}", self.surface()?, self.label("label")?),
            Collection::Prints => format!("{}:{}", self.surface()?, self.label("print")?),
            Collection::Trackways => format!("{}:{}", self.surface()?, self.label("trackway")?),
        })
    }

    /// The site that it tells of. What it leaves out is unknown, but for the policy, which is `unsaid` then: nobody opens a site by
    /// what he does not say.
    ///
    /// # Errors
    /// Every fault.
    pub fn site(&self, slug: &Slug, unsaid: PlacePolicy) -> Result<Site, Problem> {
        let mut reader = Reader::of(self, "site", slug.as_str());
        let code = reader.text("crs").unwrap_or_default();
        let code = crs::parse_code(&code).and_then(Crs::for_site).map(|crs| crs.code);
        let code = code
            .map_err(|fault| reader.fault("crs", &fault.to_string()))
            .unwrap_or_default();
        let policy = reader.text("policy").map_or(Ok(unsaid), |text| text.parse());
        let policy = policy.map_err(|fault| reader.fault("policy", &fault.to_string()));
        let site = Site {
            name: reader.text("name").unwrap_or_else(|| slug.to_string()),
            country: reader.text("country"),
            steward: reader.text("steward"),
            licence: reader.text("licence"),
            citation: reader.text("citation"),
            formation: reader.text("formation"),
            age: reader.text("age"),
            policy: policy.unwrap_or(PlacePolicy::Closed),
            ..Site::new(slug.clone(), code)
        };
        reader.done(site)
    }

    /// What becomes of the record with this id: that it is what the feature says. `exact` is the geometry's text in the site's
    /// own coordinates, where it is the one that stands.
    ///
    /// # Errors
    /// Every fault.
    pub fn deed(
        self,
        collection: Collection,
        id: &str,
        site: &Site,
        crs: &OutputCrs,
        exact: Option<Value>,
    ) -> Result<Deed, Problem> {
        match collection {
            Collection::Sites => Err(Problem::internal("a site is no part of a surface")),
            Collection::Surfaces => self.surface_record(id).map(Deed::PutSurface),
            Collection::Trackways => self.trackway(id).map(Deed::PutTrackway),
            Collection::Extents | Collection::Prints => {
                let feature = self.sheet_feature(collection, id, crs, exact)?;
                let named = match crs {
                    OutputCrs::Crs84 => None,
                    OutputCrs::Epsg(crs) => Some(format!("EPSG:{}", crs.code)),
                };
                match read_single(site, feature, named.as_deref()) {
                    Ok(Single::Print(_, print)) if collection == Collection::Prints => {
                        Ok(Deed::PutPrint(print))
                    }
                    Ok(Single::Extent(_, extent)) if collection == Collection::Extents => {
                        Ok(Deed::PutExtent(extent))
                    }
                    Ok(_) => Err(faulty("geometry", "", kind_of(collection))),
                    Err(IntakeError::Faults(faults)) => Err(refused(&faults)),
                    Err(other) => Err(other.into()),
                }
            }
        }
    }

    fn surface_record(&self, id: &str) -> Result<Surface, Problem> {
        let id: SurfaceId = id
            .parse()
            .map_err(|fault| faulty("label", id, &format!("{fault}")))?;
        let mut reader = Reader::of(self, "surface", &id.to_string());
        reader.is("site", id.site.as_str());
        reader.is("label", id.label.as_str());
        let (strike_deg, dip_deg) = (reader.number("strike_deg"), reader.number("dip_deg"));
        match (strike_deg, dip_deg) {
            (None, None) => {}
            (Some(strike_deg), Some(dip_deg)) if (0.0..=360.0).contains(&strike_deg) => {
                if let Err(fault) = Tilt::new(strike_deg, dip_deg) {
                    reader.fault("dip_deg", &fault.to_string());
                }
            }
            (Some(_), Some(_)) => reader.fault("strike_deg", "0 to 360 degrees"),
            _ => reader.fault("strike_deg", "a strike and a dip, or neither"),
        }
        let order = reader.number("order");
        if order.is_some_and(|order| order.fract() != 0.0 || order.abs() > f64::from(i32::MAX)) {
            reader.fault("order", "a whole number");
        }
        let surface = Surface {
            name: reader.text("name"),
            order: order.map(|order| order as i32),
            strike_deg,
            dip_deg,
            lithology: reader.text("lithology"),
            note: reader.text("note"),
            ..Surface::new(id.label)
        };
        reader.done(surface)
    }

    fn trackway(&self, id: &str) -> Result<Trackway, Problem> {
        let id: PrintId = id
            .parse()
            .map_err(|fault| faulty("trackway", id, &format!("{fault}")))?;
        let mut reader = Reader::of(self, "surface", &id.surface.to_string());
        reader.is("site", id.surface.site.as_str());
        reader.is("trackway", id.label.as_str());
        reader.known.extend(["basis", "probability", "prints"]);
        let prints = reader.prints(&id.surface);
        let status = reader
            .text("status")
            .map_or(Ok(Status::Proposed), |text| text.parse());
        let status = status.map_err(|fault| reader.fault("status", &fault.to_string()));
        let trackway = Trackway {
            label: id.label,
            prints,
            basis: Basis::Editor,
            status: status.unwrap_or(Status::Proposed),
            probability: None,
            morphotype: reader.text("morphotype"),
            note: reader.text("note"),
            judged_by: None,
            revision: 0,
        };
        reader.done(trackway)
    }

    /// The feature as a sheet would have it.
    fn sheet_feature(
        self,
        collection: Collection,
        id: &str,
        crs: &OutputCrs,
        exact: Option<Value>,
    ) -> Result<Value, Problem> {
        let id: PrintId = id
            .parse()
            .map_err(|fault| faulty("label", id, &format!("{fault}")))?;
        let label_name = if collection == Collection::Prints {
            "print"
        } else {
            "label"
        };
        let mut reader = Reader::of(&self, "surface", &id.surface.to_string());
        reader.is("site", id.surface.site.as_str());
        reader.is(label_name, id.label.as_str());
        reader.faults_alone()?;
        let mut properties = self.properties;
        for name in ["site", "label", "revision"] {
            properties.remove(name);
        }
        properties.insert("surface".to_owned(), json!(id.surface.label));
        let label = if collection == Collection::Prints {
            "print"
        } else {
            "extent"
        };
        properties.insert(label.to_owned(), json!(id.label));
        if let Some(Value::Object(further)) = properties.remove("further") {
            properties.extend(further);
        }
        spell(&mut properties, "overlies", |one| one.as_str().map(last_part));
        spell(&mut properties, "depth_samples", |one| {
            Some(format!(
                "{}/{}/{}",
                one["along_m"], one["across_m"], one["depth_m"]
            ))
        });
        let mut geometry = self.geometry;
        if let Some(projected) = exact {
            properties.insert("projected".to_owned(), projected);
        } else if crs.northing_first() {
            geometry.get_mut("coordinates").into_iter().for_each(swap_axes);
        }
        Ok(json!({ "type": "Feature", "geometry": geometry, "properties": properties }))
    }
}

fn kind_of(collection: Collection) -> &'static str {
    match collection {
        Collection::Prints => "a Point: prints are points",
        _ => "a Polygon: extents are areas",
    }
}

/// Writes a list as the cell of a sheet: its parts with spaces between them.
fn spell(properties: &mut Map<String, Value>, name: &str, part: impl Fn(&Value) -> Option<String>) {
    if let Some(Value::Array(list)) = properties.get(name) {
        let parts: Vec<String> = list
            .iter()
            .map(|one| part(one).unwrap_or_else(|| one.to_string()))
            .collect();
        properties.insert(name.to_owned(), parts.join(" ").into());
    }
}

/// The label at the end of an id.
fn last_part(id: &str) -> String {
    id.rsplit(':').next().unwrap_or(id).to_owned()
}

/// Positions of a CRS whose authority writes northing first, x before y.
fn swap_axes(coordinates: &mut Value) {
    let Some(list) = coordinates.as_array_mut() else {
        return;
    };
    if list.len() >= 2 && list.iter().all(Value::is_number) {
        list.swap(0, 1);
    } else {
        list.iter_mut().for_each(swap_axes);
    }
}
