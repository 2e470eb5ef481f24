//! Records as GeoJSON features.

use super::Member;
use super::member::Properties;
use crate::crs::CrsFault;
use crate::feature::OutputCrs;
use geo::Geometry;
use geojson::GeometryValue;
use serde::ser::{Serialize, SerializeMap, Serializer};
use std::io::Write;

/// A record as a feature, its geometry in the CRS that was asked for.
pub struct FeatureOf<'a> {
    member: &'a Member,
    geometry: Option<GeometryValue>,
}

impl<'a> FeatureOf<'a> {
    /// One record as a feature.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn new(member: &'a Member, crs: &OutputCrs) -> Result<Self, CrsFault> {
        let geometry = geometries(std::slice::from_ref(member), crs)?.pop().flatten();
        Ok(Self { member, geometry })
    }
}

impl Serialize for FeatureOf<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("type", "Feature")?;
        map.serialize_entry("id", &self.member.id())?;
        map.serialize_entry("geometry", &self.geometry)?;
        map.serialize_entry("properties", &Properties(self.member))?;
        map.end()
    }
}

/// Writes records as features with commas between them.
///
/// # Errors
/// When PROJ cannot transform.
pub fn write_chunk(members: &[Member], crs: &OutputCrs, out: &mut Vec<u8>) -> Result<(), CrsFault> {
    for (place, (member, geometry)) in members.iter().zip(geometries(members, crs)?).enumerate() {
        if place > 0 {
            out.push(b',');
        }
        let written = serde_json::to_writer(out.by_ref(), &FeatureOf { member, geometry });
        written.expect("texts and finite numbers can be written into memory");
    }
    Ok(())
}

/// The geometries of records; one call of PROJ for each run of records of one CRS.
fn geometries(members: &[Member], crs: &OutputCrs) -> Result<Vec<Option<GeometryValue>>, CrsFault> {
    let mut all = Vec::with_capacity(members.len());
    for run in members.chunk_by(|one, next| one.code() == next.code()) {
        match crs {
            // The index holds each print's longitude and latitude already.
            OutputCrs::Crs84 if matches!(run[0], Member::Print(..)) => all.extend(run.iter().map(place)),
            _ => {
                let geometries: Vec<Option<Geometry<f64>>> = run.iter().map(Member::geometry).collect();
                all.extend(crs.geometries(&*run[0].crs()?, &geometries)?);
            }
        }
    }
    Ok(all)
}

fn place(member: &Member) -> Option<GeometryValue> {
    let Member::Print(surface, no) = member else {
        return None;
    };
    let place = surface.index.place(*no);
    Some(GeometryValue::new_point(
        OutputCrs::Crs84.write([place.lon_deg, place.lat_deg]),
    ))
}
