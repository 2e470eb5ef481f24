//! Extents as rows.

use super::column::{count, json, parsed, required, unreadable};
use super::failure::{Fault, Given};
use super::member::Member;
use super::rows::Rows;
use super::surface_row::Key;
use postgres::Row;
use spatial::model::Extent;

impl Member for Extent {
    const TABLE: &'static str = "extent";
    const COLUMNS: &'static str = "label, kind, polygon, surveyed_on, revision, site, surface, change";
    const READ: &'static str = "label, kind, polygon::text, surveyed_on, revision, change";
    const CHANGED: &'static str = "kind, polygon, surveyed_on, revision, change";

    fn write(&self, rows: &mut Rows, key: Key, revision: u32, change: i64) -> Given<()> {
        let polygon = geojson::Geometry::from(&self.polygon).to_string();
        let surveyed_on = self.surveyed_on.map(|day| day.to_string());
        rows.begin(8)
            .text(self.label.as_str())
            .text(self.kind.name())
            .text(polygon.as_str())
            .text(surveyed_on.as_deref())
            .bigint(i64::from(revision))
            .integer(key.site)
            .integer(key.surface)
            .bigint(change);
        Ok(())
    }

    fn read(row: &Row) -> Given<(Self, i64)> {
        let geometry: geojson::Geometry = json(row, 2)?.ok_or(Fault::Broken("an extent has no polygon"))?;
        let extent = Self {
            label: required(row, 0)?,
            kind: required(row, 1)?,
            polygon: geometry
                .try_into()
                .map_err(|error: geojson::Error| unreadable(row, 2, error))?,
            surveyed_on: parsed(row, 3)?,
            revision: count(row, 4)?,
        };
        Ok((extent, row.try_get(5)?))
    }
}
