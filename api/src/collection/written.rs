//! Records as GeoJSON features.

use super::member::{OnSurface, Properties};
use super::{Member, Run};
use crate::crs::CrsFault;
use crate::feature::OutputCrs;
use geo::Geometry;
use geojson::GeometryValue;
use serde::ser::{Serialize, SerializeMap, Serializer};
use spatial::index::PrintNo;

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
        let geometry = match (member, crs) {
            (Member::Print(surface, no), OutputCrs::Crs84) => Some(lonlat(surface, *no)),
            _ => geometries(std::slice::from_ref(member), crs)?.pop().flatten(),
        };
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
pub fn write_run(run: &Run, crs: &OutputCrs, out: &mut Vec<u8>) -> Result<(), CrsFault> {
    let members: Vec<Member> = match run {
        Run::Prints(surface, numbers) if *crs == OutputCrs::Crs84 => {
            surface.index.append_prints(numbers, out, |no, out| {
                let member = Member::Print(surface.clone(), no);
                write(&member, Some(lonlat(surface, no)), out);
            });
            return Ok(());
        }
        other => other.iter().collect(),
    };
    for (place, (member, geometry)) in members.iter().zip(geometries(&members, crs)?).enumerate() {
        if place > 0 {
            out.push(b',');
        }
        write(member, geometry, out);
    }
    Ok(())
}

fn write(member: &Member, geometry: Option<GeometryValue>, out: &mut Vec<u8>) {
    let written = serde_json::to_writer(out, &FeatureOf { member, geometry });
    written.expect("texts and finite numbers can be written into memory");
}

/// The index holds each print's longitude and latitude already.
fn lonlat(surface: &OnSurface, no: PrintNo) -> GeometryValue {
    let place = surface.index.place(no);
    GeometryValue::new_point(OutputCrs::Crs84.write([place.lon_deg, place.lat_deg]))
}

/// The geometries of records; one call of PROJ for each run of records of one CRS.
fn geometries(members: &[Member], crs: &OutputCrs) -> Result<Vec<Option<GeometryValue>>, CrsFault> {
    let mut all = Vec::with_capacity(members.len());
    for run in members.chunk_by(|one, next| one.code() == next.code()) {
        let geometries: Vec<Option<Geometry<f64>>> = run.iter().map(Member::geometry).collect();
        all.extend(crs.geometries(&*run[0].crs()?, &geometries)?);
    }
    Ok(all)
}
