-- For mapping programs, where the database has PostGIS: the record as layers, read only. No part of the schema, and made
-- anew when this file changes; so it counts its own versions, in the schema's comment.
--
-- Sites have CRSs of their own, so a geometry column has no one SRID; each row's geometry has its site's.
CREATE SCHEMA IF NOT EXISTS stridebed_gis;
DROP VIEW IF EXISTS stridebed_gis.prints, stridebed_gis.extents, stridebed_gis.trackways, stridebed_gis.surfaces;

CREATE VIEW stridebed_gis.prints AS
SELECT site.slug || ':' || surface.label || ':' || print.label AS id,
       site.slug AS site, surface.label AS surface, print.label,
       ST_SetSRID(ST_MakePoint(print.easting_m, print.northing_m), site.crs::integer)::geometry(Point) AS geom,
       print.elevation_m, print.position_sd_m, print.length_m, print.width_m, print.depth_m,
       print.azimuth_deg, print.azimuth_sd_deg, print.side, print.limb, print.record, print.digits,
       print.preservation, print.morphotype, print.field_trackway, print.field_order, print.observed_on,
       print.observer, print.overlies, print.revision
FROM print
JOIN site ON site.id = print.site
JOIN surface ON surface.site = print.site AND surface.id = print.surface;

CREATE VIEW stridebed_gis.extents AS
SELECT site.slug || ':' || surface.label || ':' || extent.label AS id,
       site.slug AS site, surface.label AS surface, extent.label,
       ST_SetSRID(ST_GeomFromGeoJSON(extent.polygon::text), site.crs::integer)::geometry(Polygon) AS geom,
       extent.kind, extent.surveyed_on, extent.revision
FROM extent
JOIN site ON site.id = extent.site
JOIN surface ON surface.site = extent.site AND surface.id = extent.surface;

-- From print to print in walking order; one print alone makes no line.
CREATE VIEW stridebed_gis.trackways AS
SELECT site.slug || ':' || surface.label || ':' || trackway.label AS id,
       site.slug AS site, surface.label AS surface, trackway.label,
       ST_SetSRID(walked.line, site.crs::integer)::geometry(LineString) AS geom,
       trackway.prints, trackway.basis, trackway.status, trackway.probability, trackway.morphotype,
       trackway.note, trackway.judged_by, trackway.revision
FROM trackway
JOIN site ON site.id = trackway.site
JOIN surface ON surface.site = trackway.site AND surface.id = trackway.surface
CROSS JOIN LATERAL (
    SELECT CASE WHEN count(*) > 1
                THEN ST_MakeLine(ST_MakePoint(print.easting_m, print.northing_m) ORDER BY member.place) END AS line
    FROM unnest(trackway.prints) WITH ORDINALITY AS member (label, place)
    JOIN print ON print.site = trackway.site AND print.surface = trackway.surface
              AND print.label = member.label COLLATE "C") AS walked;

-- The box around a surface's prints and extents, where it has an area; it may be larger than needed after prints have moved.
CREATE VIEW stridebed_gis.surfaces AS
SELECT site.slug || ':' || surface.label AS id,
       site.slug AS site, surface.label,
       CASE WHEN surface.west < surface.east AND surface.south < surface.north
            THEN ST_MakeEnvelope(surface.west, surface.south, surface.east, surface.north, site.crs::integer)
       END::geometry(Polygon) AS geom,
       surface.name, surface.section_order, surface.strike_deg, surface.dip_deg, surface.lithology, surface.note,
       surface.prints, surface.extents, surface.trackways, surface.revision, surface.contents_revision
FROM surface JOIN site ON site.id = surface.site;
