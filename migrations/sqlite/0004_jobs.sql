-- The queue of jobs: work that an asker does not wait for. Not part of the record: `store copy` leaves it behind.
--
-- Moments are milliseconds since 1970 by the database's own clock, never by a worker's.

CREATE TABLE job (
    number     INTEGER PRIMARY KEY AUTOINCREMENT, -- the order in the queue; never used again
    id         TEXT NOT NULL UNIQUE,    -- 128 random bits: who knows it may read the job
    process    TEXT NOT NULL,           -- the id of a query, or 'review'
    inputs     TEXT NOT NULL,           -- a JSON object
    document   INTEGER NOT NULL,        -- 1 where the asker wants results as a document, 0 where raw
    asker      TEXT NOT NULL,           -- for whom it is computed: what he may not see, it does not read
    surface    TEXT,                    -- of a review: the surface, as in gannet-ledge:S2
    status     TEXT NOT NULL CHECK (status IN ('accepted', 'running', 'successful', 'failed', 'dismissed')),
    progress   INTEGER NOT NULL DEFAULT 0, -- percent
    message    TEXT,
    problem    TEXT,                    -- of a failed job: the problem document, JSON
    attempts   INTEGER NOT NULL DEFAULT 0,
    -- Grows with each lease. A worker that has lost its lease knows an old one, and can no longer finish the job.
    fence      INTEGER NOT NULL DEFAULT 0,
    worker     TEXT,                    -- who holds or held the lease
    due        INTEGER NOT NULL,        -- not taken before
    lease_ends INTEGER,                 -- of a running job: from then on another worker may take it
    created    INTEGER NOT NULL,
    started    INTEGER,
    finished   INTEGER,
    updated    INTEGER NOT NULL,
    expires    INTEGER                  -- removed from then on; NULL is not yet
) STRICT;

CREATE INDEX job_open ON job (number) WHERE status IN ('accepted', 'running');
CREATE INDEX job_leased ON job (lease_ends) WHERE status = 'running';
-- How many an asker has waiting.
CREATE INDEX job_waiting ON job (asker) WHERE status = 'accepted' AND surface IS NULL;
-- What an asker has ended.
CREATE INDEX job_kept ON job (asker, number) WHERE expires IS NOT NULL;
CREATE INDEX job_expires ON job (expires) WHERE expires IS NOT NULL;
-- However many schedulers there are, a surface is reviewed once at a time.
CREATE UNIQUE INDEX job_review ON job (surface) WHERE surface IS NOT NULL AND status IN ('accepted', 'running');

-- Apart from the job, so that a list of jobs reads no results.
CREATE TABLE job_result (
    job  INTEGER PRIMARY KEY REFERENCES job (number) ON DELETE CASCADE,
    crs  TEXT NOT NULL,                 -- the URI of the CRS of its coordinates
    body BLOB NOT NULL                  -- GeoJSON
) STRICT;

-- The last review of each surface, and the contents revision at which it left the surface.
CREATE TABLE review (
    surface  TEXT PRIMARY KEY,
    revision INTEGER NOT NULL,
    job      INTEGER NOT NULL           -- its job, kept until the next review
) STRICT, WITHOUT ROWID;
