-- The record: sites, surfaces, their extents, prints and trackways, and every revision that was ever current.
--
-- A table holds the current revision of each record in plain columns. Before a record is replaced, the
-- revision that stood goes to `past`; triggers at the end refuse whatever would lose one.
-- NULL is unknown, never zero. Lengths are metres, angles degrees clockwise from grid north.

-- One row for each transaction that changed anything.
CREATE TABLE change (
    id     INTEGER PRIMARY KEY,
    author TEXT NOT NULL,
    at     TEXT NOT NULL,           -- RFC 3339, UTC: sorts as text and can be read by eye
    deed   TEXT NOT NULL            -- as in 'import ledge.csv'
) STRICT;

CREATE TABLE site (
    slug      TEXT PRIMARY KEY,
    name      TEXT NOT NULL,
    crs       INTEGER NOT NULL,     -- EPSG code of a projected CRS with metre axes
    country   TEXT,
    steward   TEXT,
    licence   TEXT,
    citation  TEXT,
    policy    TEXT NOT NULL,        -- 'open', 'generalised' or 'closed'
    formation TEXT,
    age       TEXT,
    revision  INTEGER NOT NULL,
    change    INTEGER NOT NULL REFERENCES change (id)
) STRICT, WITHOUT ROWID;

CREATE TABLE surface (
    id                INTEGER PRIMARY KEY, -- stands in every member's key; shorter than site and label
    site              TEXT NOT NULL REFERENCES site (slug),
    label             TEXT NOT NULL,
    name              TEXT,
    section_order     INTEGER,      -- place in the section, counted from the bottom
    strike_deg        REAL,
    dip_deg           REAL,
    lithology         TEXT,
    note              TEXT,
    revision          INTEGER NOT NULL,
    change            INTEGER NOT NULL REFERENCES change (id),
    -- The summary, kept in the transaction that changes a member: a catalogue of many surfaces is
    -- listed without counting their prints.
    contents_revision INTEGER NOT NULL DEFAULT 1,
    prints            INTEGER NOT NULL DEFAULT 0,
    extents           INTEGER NOT NULL DEFAULT 0,
    trackways         INTEGER NOT NULL DEFAULT 0,
    west              REAL,         -- the box only grows: a print that moves away leaves it as it was
    south             REAL,
    east              REAL,
    north             REAL,
    UNIQUE (site, label)
) STRICT;

-- Without rowid: a surface's prints lie together in the file and in the order of labels, so that one
-- sequential read loads a surface, and a million prints need no second index.
CREATE TABLE print (
    surface        INTEGER NOT NULL REFERENCES surface (id),
    label          TEXT NOT NULL,
    easting_m      REAL NOT NULL,
    northing_m     REAL NOT NULL,
    elevation_m    REAL,
    position_sd_m  REAL,
    length_m       REAL NOT NULL,
    width_m        REAL,
    depth_m        REAL,
    azimuth_deg    REAL,
    azimuth_sd_deg REAL,
    side           TEXT,            -- 'left' or 'right'
    limb           TEXT,            -- 'pes' or 'manus'
    record         TEXT,            -- 'print', 'cast', 'undertrack' or 'anomaly'
    digits         INTEGER,
    preservation   REAL,            -- grade 0 to 3
    morphotype     TEXT,
    field_trackway TEXT,            -- the trackway that the field party saw it in, and its place there
    field_order    INTEGER,
    observed_on    TEXT,            -- ISO 8601 date
    observer       TEXT,
    remarks        TEXT,            -- JSON: overlies, depth samples, note, further columns; NULL for most
    sheet_row      INTEGER NOT NULL,-- the row of the sheet that this revision was read from
    revision       INTEGER NOT NULL,
    change         INTEGER NOT NULL,-- not checked against `change`: a million look-ups for one value
    PRIMARY KEY (surface, label)
) STRICT, WITHOUT ROWID;

CREATE TABLE extent (
    surface     INTEGER NOT NULL REFERENCES surface (id),
    label       TEXT NOT NULL,
    kind        TEXT NOT NULL,      -- 'exposed', 'covered', 'eroded' or 'unmapped'
    polygon     TEXT NOT NULL,      -- a GeoJSON Polygon, but in the site's CRS: exact, and read by eye
    surveyed_on TEXT,               -- ISO 8601 date
    revision    INTEGER NOT NULL,
    change      INTEGER NOT NULL REFERENCES change (id),
    PRIMARY KEY (surface, label)
) STRICT, WITHOUT ROWID;

CREATE TABLE trackway (
    surface     INTEGER NOT NULL REFERENCES surface (id),
    label       TEXT NOT NULL,
    prints      TEXT NOT NULL,      -- JSON array of labels in walking order: always read and written whole
    basis       TEXT NOT NULL,      -- 'field', 'grouping', 'continuation' or 'editor'
    status      TEXT NOT NULL,      -- 'proposed', 'accepted' or 'rejected'
    probability REAL,
    morphotype  TEXT,
    note        TEXT,
    revision    INTEGER NOT NULL,
    change      INTEGER NOT NULL REFERENCES change (id),
    PRIMARY KEY (surface, label)
) STRICT, WITHOUT ROWID;

-- The revisions that are no longer current, of all kinds of record.
CREATE TABLE past (
    kind     TEXT NOT NULL,         -- the name of the table that the record stood in
    surface  INTEGER NOT NULL,      -- 0 for a site
    label    TEXT NOT NULL,         -- the slug for a site
    revision INTEGER NOT NULL,
    change   INTEGER NOT NULL REFERENCES change (id),
    record   TEXT NOT NULL,         -- JSON: outlives every later change of the columns above
    PRIMARY KEY (kind, surface, label, revision)
) STRICT, WITHOUT ROWID;

-- The guards. A new revision is the next one, and the one that it replaces is in `past`.
CREATE TRIGGER site_keeps_past BEFORE UPDATE ON site
WHEN NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
    SELECT 1 FROM past
    WHERE kind = 'site' AND surface = 0 AND label = OLD.slug AND revision = OLD.revision)
BEGIN SELECT raise(ABORT, 'a revision of a site would be lost'); END;

-- The summary moves without a new revision of the surface's own record.
CREATE TRIGGER surface_keeps_past BEFORE UPDATE OF
    id, site, label, name, section_order, strike_deg, dip_deg, lithology, note, revision, change ON surface
WHEN NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
    SELECT 1 FROM past
    WHERE kind = 'surface' AND surface = OLD.id AND label = OLD.label AND revision = OLD.revision)
BEGIN SELECT raise(ABORT, 'a revision of a surface would be lost'); END;

CREATE TRIGGER print_keeps_past BEFORE UPDATE ON print
WHEN NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
    SELECT 1 FROM past
    WHERE kind = 'print' AND surface = OLD.surface AND label = OLD.label AND revision = OLD.revision)
BEGIN SELECT raise(ABORT, 'a revision of a print would be lost'); END;

CREATE TRIGGER extent_keeps_past BEFORE UPDATE ON extent
WHEN NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
    SELECT 1 FROM past
    WHERE kind = 'extent' AND surface = OLD.surface AND label = OLD.label AND revision = OLD.revision)
BEGIN SELECT raise(ABORT, 'a revision of an extent would be lost'); END;

CREATE TRIGGER trackway_keeps_past BEFORE UPDATE ON trackway
WHEN NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
    SELECT 1 FROM past
    WHERE kind = 'trackway' AND surface = OLD.surface AND label = OLD.label AND revision = OLD.revision)
BEGIN SELECT raise(ABORT, 'a revision of a trackway would be lost'); END;

CREATE TRIGGER change_stays BEFORE UPDATE ON change
BEGIN SELECT raise(ABORT, 'a change is never rewritten'); END;
CREATE TRIGGER past_stays BEFORE UPDATE ON past
BEGIN SELECT raise(ABORT, 'a past revision is never rewritten'); END;

CREATE TRIGGER change_is_not_deleted BEFORE DELETE ON change
BEGIN SELECT raise(ABORT, 'a change is never deleted'); END;
CREATE TRIGGER past_is_not_deleted BEFORE DELETE ON past
BEGIN SELECT raise(ABORT, 'a past revision is never deleted'); END;
CREATE TRIGGER site_is_not_deleted BEFORE DELETE ON site
BEGIN SELECT raise(ABORT, 'a site is never deleted'); END;
CREATE TRIGGER surface_is_not_deleted BEFORE DELETE ON surface
BEGIN SELECT raise(ABORT, 'a surface is never deleted'); END;
CREATE TRIGGER print_is_not_deleted BEFORE DELETE ON print
BEGIN SELECT raise(ABORT, 'a print is never deleted'); END;
CREATE TRIGGER extent_is_not_deleted BEFORE DELETE ON extent
BEGIN SELECT raise(ABORT, 'an extent is never deleted'); END;
CREATE TRIGGER trackway_is_not_deleted BEFORE DELETE ON trackway
BEGIN SELECT raise(ABORT, 'a trackway is never deleted'); END;
