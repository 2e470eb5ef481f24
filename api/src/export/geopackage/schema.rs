//! The tables that every GeoPackage has (OGC 12-128r18, annex C), and those of spatial indexes (annex F.3).

use crate::crs::Crs;
use rusqlite::{Connection, params};

/// `GPKG` in ASCII, and version 1.3.0.
const BEGIN: &str = "PRAGMA application_id = 1196444487; PRAGMA user_version = 10300; PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; \
CREATE TABLE gpkg_spatial_ref_sys ( \
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL, \
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT); \
CREATE TABLE gpkg_contents ( \
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '', \
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), \
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER, \
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)); \
CREATE TABLE gpkg_geometry_columns ( \
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, \
  z TINYINT NOT NULL, m TINYINT NOT NULL, \
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name), \
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents (table_name), \
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)); \
CREATE TABLE gpkg_extensions ( \
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL, \
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));";

/// The reference systems that every file must list (table 3 of the standard).
const REFERENCE_SYSTEMS: &str = "INSERT INTO gpkg_spatial_ref_sys VALUES \
  ('Undefined cartesian SRS', -1, 'NONE', -1, 'undefined', 'undefined cartesian coordinate reference system'), \
  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system')";

const ADD_CRS: &str = "INSERT OR IGNORE INTO gpkg_spatial_ref_sys VALUES (?1, ?2, 'EPSG', ?2, ?3, ?4)";

const REGISTER: &str = "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) \
     VALUES (?1, 'features', ?2, ?3, ?4)";
const GEOMETRY: &str = "INSERT INTO gpkg_geometry_columns VALUES (?1, 'geom', ?2, ?3, 0, 0)";
const INDEXED: &str = "INSERT INTO gpkg_extensions VALUES (?1, 'geom', 'gpkg_rtree_index', \
     'http://www.geopackage.org/spec130/#extension_rtree', 'write-only')";

/// The moment of a layer and the box around it.
pub(super) const SUM_UP: &str = "UPDATE gpkg_contents SET last_change = ?2, min_x = ?3, min_y = ?4, max_x = ?5, max_y = ?6 \
     WHERE table_name = ?1";

/// The triggers that keep an index true when another program edits the layer `{t}`.
const TRIGGERS: &str = r#"
CREATE TRIGGER rtree_{t}_geom_insert AFTER INSERT ON {t} WHEN (NEW.geom NOT NULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN INSERT OR REPLACE INTO rtree_{t}_geom VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom)); END;
CREATE TRIGGER rtree_{t}_geom_update1 AFTER UPDATE OF geom ON {t} WHEN OLD.fid = NEW.fid AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN INSERT OR REPLACE INTO rtree_{t}_geom VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom)); END;
CREATE TRIGGER rtree_{t}_geom_update2 AFTER UPDATE OF geom ON {t} WHEN OLD.fid = NEW.fid AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.fid; END;
CREATE TRIGGER rtree_{t}_geom_update3 AFTER UPDATE ON {t} WHEN OLD.fid != NEW.fid AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.fid; INSERT OR REPLACE INTO rtree_{t}_geom VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom)); END;
CREATE TRIGGER rtree_{t}_geom_update4 AFTER UPDATE ON {t} WHEN OLD.fid != NEW.fid AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id IN (OLD.fid, NEW.fid); END;
CREATE TRIGGER rtree_{t}_geom_delete AFTER DELETE ON {t} WHEN OLD.geom NOT NULL
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.fid; END;
"#;

/// Makes the tables of an empty file.
pub(super) fn begin(conn: &Connection) -> rusqlite::Result<()> {
    conn.execute_batch(BEGIN)?;
    conn.execute_batch(REFERENCE_SYSTEMS)
}

/// Lists the CRS of the layers, and that of longitude and latitude, which every file lists.
pub(super) fn add_crs(conn: &Connection, crs: &Crs, definition: &str) -> rusqlite::Result<()> {
    conn.execute(ADD_CRS, params![crs.name, crs.code, definition, crs.area_name])?;
    conn.execute(
        ADD_CRS,
        params!["WGS 84 geodetic", 4326, WGS_84, "longitude and latitude, degrees"],
    )?;
    Ok(())
}

/// The definition of EPSG:4326 that the standard gives.
const WGS_84: &str = r#"GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]"#;

/// Registers a layer and makes its spatial index.
pub(super) fn register(
    conn: &Connection,
    table: &str,
    title: &str,
    about: &str,
    geometry: &str,
    srs: i32,
) -> rusqlite::Result<()> {
    conn.execute(REGISTER, params![table, title, about, srs])?;
    conn.execute(GEOMETRY, params![table, geometry, srs])?;
    conn.execute(INDEXED, params![table])?;
    conn.execute_batch(&format!(
        "CREATE VIRTUAL TABLE rtree_{table}_geom USING rtree(id, minx, maxx, miny, maxy)"
    ))
}

/// Has other programs keep a layer's index.
pub(super) fn keep_index(conn: &Connection, table: &str) -> rusqlite::Result<()> {
    conn.execute_batch(&TRIGGERS.replace("{t}", table))
}

/// Leaves a file that others can open without recovering anything.
pub(super) fn end(conn: &Connection) -> rusqlite::Result<()> {
    conn.execute_batch("PRAGMA journal_mode = DELETE; PRAGMA synchronous = FULL; PRAGMA optimize")
}
