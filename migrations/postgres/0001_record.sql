-- The record: sites, surfaces, their extents, prints and trackways, and every revision that was ever current.
--
-- A table holds the current revision of each record in plain columns. Before a record is replaced, the
-- revision that stood goes to `past`; triggers at the end refuse whatever would lose one.
-- NULL is unknown, never zero. Lengths are metres, angles degrees clockwise from grid north.
--
-- Every key leads with the site, and so does every statement of the program: what belongs to one site can lie on
-- one machine of many. The large tables are partitioned by site already. Ids are compared byte by byte
-- (collation C), as the program compares them. Days and times are ISO 8601 texts: the record knows years
-- and fractions of a second that the database's own types do not.

CREATE TABLE site (
    slug       text COLLATE "C" PRIMARY KEY,
    name       text NOT NULL,
    crs        bigint NOT NULL,         -- EPSG code of a projected CRS with metre axes
    country    text,
    steward    text,
    licence    text,
    citation   text,
    policy     text NOT NULL,           -- 'open', 'generalised' or 'closed'
    formation  text,
    age        text,
    local_grid json,                    -- the field party's own grid and how it lies in the CRS
    revision   bigint NOT NULL,
    change     bigint NOT NULL
);

-- One row for each transaction that changed anything of a site.
CREATE TABLE change (
    site   text COLLATE "C" NOT NULL,
    id     bigint NOT NULL,             -- counted from 1 on each site
    author text NOT NULL,
    at     text NOT NULL,               -- RFC 3339, UTC
    deed   text NOT NULL,               -- as in 'import ledge.csv'
    PRIMARY KEY (site, id)
);

CREATE TABLE surface (
    site              text COLLATE "C" NOT NULL REFERENCES site (slug),
    label             text COLLATE "C" NOT NULL,
    name              text,
    section_order     integer,          -- place in the section, counted from the bottom
    strike_deg        double precision,
    dip_deg           double precision,
    lithology         text,
    note              text,
    revision          bigint NOT NULL,
    change            bigint NOT NULL,
    -- The summary, kept in the transaction that changes a member: a catalogue of many surfaces is
    -- listed without counting their prints.
    contents_revision bigint NOT NULL DEFAULT 1,
    prints            bigint NOT NULL DEFAULT 0,
    extents           bigint NOT NULL DEFAULT 0,
    trackways         bigint NOT NULL DEFAULT 0,
    west              double precision, -- the box only grows: a print that moves away leaves it as it was
    south             double precision,
    east              double precision,
    north             double precision,
    PRIMARY KEY (site, label),
    FOREIGN KEY (site, change) REFERENCES change (site, id)
);

-- Neither surface nor change is checked against its table: two million look-ups for a few values that the program
-- has from there.
CREATE TABLE print (
    site           text COLLATE "C" NOT NULL,
    surface        text COLLATE "C" NOT NULL,
    label          text COLLATE "C" NOT NULL,
    easting_m      double precision NOT NULL,
    northing_m     double precision NOT NULL,
    elevation_m    double precision,
    position_sd_m  double precision,
    length_m       double precision NOT NULL,
    width_m        double precision,
    depth_m        double precision,
    azimuth_deg    double precision,
    azimuth_sd_deg double precision,
    side           text,                -- 'left' or 'right'
    limb           text,                -- 'pes' or 'manus'
    record         text,                -- 'print', 'cast', 'undertrack' or 'anomaly'
    digits         smallint,
    preservation   real,                -- grade 0 to 3
    morphotype     text,
    field_trackway text COLLATE "C",    -- the trackway that the field party saw it in, and its place there
    field_order    bigint,
    observed_on    text,                -- ISO 8601 date
    observer       text,
    remarks        json,                -- depth samples, note, further columns; NULL for most
    overlies       text[],              -- the labels of prints that it cuts into; with `remarks` only
    revision       bigint NOT NULL,
    sheet_row      bigint NOT NULL,     -- the row of the sheet that this revision was read from
    change         bigint NOT NULL,
    PRIMARY KEY (site, surface, label)
) PARTITION BY HASH (site);

CREATE TABLE extent (
    site        text COLLATE "C" NOT NULL,
    surface     text COLLATE "C" NOT NULL,
    label       text COLLATE "C" NOT NULL,
    kind        text NOT NULL,          -- 'exposed', 'covered', 'eroded' or 'unmapped'
    polygon     json NOT NULL,          -- a GeoJSON Polygon, but in the site's CRS: exact, and read by eye
    surveyed_on text,                   -- ISO 8601 date
    revision    bigint NOT NULL,
    change      bigint NOT NULL,
    PRIMARY KEY (site, surface, label),
    FOREIGN KEY (site, surface) REFERENCES surface (site, label),
    FOREIGN KEY (site, change) REFERENCES change (site, id)
) PARTITION BY HASH (site);

CREATE TABLE trackway (
    site        text COLLATE "C" NOT NULL,
    surface     text COLLATE "C" NOT NULL,
    label       text COLLATE "C" NOT NULL,
    prints      text[] NOT NULL,        -- labels in walking order: always read and written whole
    basis       text NOT NULL,          -- 'field', 'grouping', 'continuation' or 'editor'
    status      text NOT NULL,          -- 'proposed', 'accepted' or 'rejected'
    probability double precision,
    morphotype  text,
    note        text,
    judged_by   text,                   -- who accepted or rejected it; NULL where nobody has
    revision    bigint NOT NULL,
    change      bigint NOT NULL,
    PRIMARY KEY (site, surface, label),
    FOREIGN KEY (site, surface) REFERENCES surface (site, label),
    FOREIGN KEY (site, change) REFERENCES change (site, id)
) PARTITION BY HASH (site);

-- The revisions that are no longer current, of all kinds of record.
CREATE TABLE past (
    site     text COLLATE "C" NOT NULL,
    kind     text NOT NULL,             -- the name of the table that the record stood in
    surface  text COLLATE "C" NOT NULL, -- empty for a site
    label    text COLLATE "C" NOT NULL, -- the slug for a site
    revision bigint NOT NULL,
    change   bigint NOT NULL,
    record   json NOT NULL,             -- outlives every later change of the columns above
    PRIMARY KEY (site, kind, surface, label, revision)
) PARTITION BY HASH (site);

-- Sixteen parts of each: enough to spread them over machines or disks, few enough for a database of one ledge.
DO $$
BEGIN
    FOR part IN 0..15 LOOP
        EXECUTE format('CREATE TABLE print_%1$s PARTITION OF print FOR VALUES WITH (MODULUS 16, REMAINDER %1$s)', part);
        EXECUTE format('CREATE TABLE extent_%1$s PARTITION OF extent FOR VALUES WITH (MODULUS 16, REMAINDER %1$s)', part);
        EXECUTE format('CREATE TABLE trackway_%1$s PARTITION OF trackway FOR VALUES WITH (MODULUS 16, REMAINDER %1$s)', part);
        EXECUTE format('CREATE TABLE past_%1$s PARTITION OF past FOR VALUES WITH (MODULUS 16, REMAINDER %1$s)', part);
    END LOOP;
END $$;

-- How many changes have been committed, in slots by site so that writers of different sites seldom meet; the sum
-- tells a reader whether anybody has committed since he looked.
CREATE TABLE mark (
    slot    integer PRIMARY KEY,
    commits bigint NOT NULL
);
INSERT INTO mark SELECT slot, 0 FROM generate_series(0, 15) AS slot;

-- At the very end of a transaction: a long one would hold the slot otherwise.
CREATE FUNCTION move_mark() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    UPDATE stridebed.mark SET commits = commits + 1 WHERE slot = mod(abs(hashtext(NEW.site)::bigint), 16);
    RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER change_moves_mark AFTER INSERT ON change
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION move_mark();

-- Who listens on the channel `stridebed` is told what changed, once it is committed.
CREATE FUNCTION tell_listeners() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_TABLE_NAME = 'site' THEN
        PERFORM pg_notify('stridebed', json_build_object('site', NEW.slug)::text);
    ELSE
        PERFORM pg_notify('stridebed', json_build_object('site', NEW.site, 'surface', NEW.label)::text);
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER site_is_told AFTER INSERT OR UPDATE ON site FOR EACH ROW EXECUTE FUNCTION tell_listeners();
CREATE TRIGGER surface_is_told AFTER INSERT OR UPDATE ON surface FOR EACH ROW EXECUTE FUNCTION tell_listeners();

-- The guards. A new revision is the next one, and the one that it replaces is in `past`.
CREATE FUNCTION site_keeps_past() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.slug <> OLD.slug OR NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
        SELECT 1 FROM stridebed.past
        WHERE site = OLD.slug AND kind = 'site' AND surface = '' AND label = OLD.slug AND revision = OLD.revision)
    THEN
        RAISE EXCEPTION 'a revision of site % would be lost', OLD.slug USING ERRCODE = '23000';
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION surface_keeps_past() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (NEW.site, NEW.label) <> (OLD.site, OLD.label) OR NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
        SELECT 1 FROM stridebed.past
        WHERE site = OLD.site AND kind = 'surface' AND surface = OLD.label AND label = OLD.label
          AND revision = OLD.revision)
    THEN
        RAISE EXCEPTION 'a revision of surface %:% would be lost', OLD.site, OLD.label USING ERRCODE = '23000';
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION member_keeps_past() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (NEW.site, NEW.surface, NEW.label) <> (OLD.site, OLD.surface, OLD.label)
        OR NEW.revision <> OLD.revision + 1 OR NOT EXISTS (
        SELECT 1 FROM stridebed.past
        WHERE site = OLD.site AND kind = TG_ARGV[0] AND surface = OLD.surface AND label = OLD.label
          AND revision = OLD.revision)
    THEN
        RAISE EXCEPTION 'a revision of % %:%:% would be lost', TG_ARGV[0], OLD.site, OLD.surface, OLD.label
            USING ERRCODE = '23000';
    END IF;
    RETURN NEW;
END $$;

CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'a % is never %', TG_ARGV[0], TG_ARGV[1] USING ERRCODE = '23000';
END $$;

CREATE TRIGGER keeps_past BEFORE UPDATE ON site FOR EACH ROW EXECUTE FUNCTION site_keeps_past();
-- The summary moves without a new revision of the surface's own record.
CREATE TRIGGER keeps_past BEFORE UPDATE OF
    site, label, name, section_order, strike_deg, dip_deg, lithology, note, revision, change ON surface
    FOR EACH ROW EXECUTE FUNCTION surface_keeps_past();
CREATE TRIGGER keeps_past BEFORE UPDATE ON print FOR EACH ROW EXECUTE FUNCTION member_keeps_past('print');
CREATE TRIGGER keeps_past BEFORE UPDATE ON extent FOR EACH ROW EXECUTE FUNCTION member_keeps_past('extent');
CREATE TRIGGER keeps_past BEFORE UPDATE ON trackway FOR EACH ROW EXECUTE FUNCTION member_keeps_past('trackway');
CREATE TRIGGER stays BEFORE UPDATE ON change FOR EACH ROW EXECUTE FUNCTION refuse('change', 'rewritten');
CREATE TRIGGER stays BEFORE UPDATE ON past FOR EACH ROW EXECUTE FUNCTION refuse('past revision', 'rewritten');

DO $$
DECLARE
    guarded record;
BEGIN
    FOR guarded IN
        SELECT c.relname, c.relispartition FROM pg_class AS c
        WHERE c.relnamespace = 'stridebed'::regnamespace AND c.relkind IN ('r', 'p')
          AND c.relname NOT IN ('mark', 'migration')
    LOOP
        -- A row trigger comes down to the parts of a table by itself, one of statements does not.
        IF NOT guarded.relispartition THEN
            EXECUTE format('CREATE TRIGGER is_not_deleted BEFORE DELETE ON %I FOR EACH ROW
                EXECUTE FUNCTION refuse(%L, ''deleted'')', guarded.relname, guarded.relname);
        END IF;
        EXECUTE format('CREATE TRIGGER is_not_emptied BEFORE TRUNCATE ON %I FOR EACH STATEMENT
            EXECUTE FUNCTION refuse(%L, ''deleted'')', guarded.relname, guarded.relname);
    END LOOP;
END $$;
