-- The queue of jobs: work that an asker does not wait for. Not part of the record: `store copy` leaves it behind,
-- and it belongs to no site, so that it stays on one machine where the record is spread over many.
--
-- Moments are the database's own clock, never a worker's.

CREATE TABLE job (
    number     bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, -- the order in the queue
    id         text COLLATE "C" NOT NULL UNIQUE, -- 128 random bits: who knows it may read the job
    process    text COLLATE "C" NOT NULL, -- the id of a query, or 'review'
    inputs     text NOT NULL,           -- a JSON object
    document   boolean NOT NULL,        -- whether the asker wants results as a document; raw otherwise
    asker      text NOT NULL,           -- for whom it is computed: what he may not see, it does not read
    surface    text COLLATE "C",        -- of a review: the surface, as in gannet-ledge:S2
    status     text COLLATE "C" NOT NULL CHECK (status IN ('accepted', 'running', 'successful', 'failed', 'dismissed')),
    progress   bigint NOT NULL DEFAULT 0, -- percent
    message    text,
    problem    text,                    -- of a failed job: the problem document, JSON
    attempts   bigint NOT NULL DEFAULT 0,
    -- Grows with each lease. A worker that has lost its lease knows an old one, and can no longer finish the job.
    fence      bigint NOT NULL DEFAULT 0,
    worker     text,                    -- who holds or held the lease
    due        timestamptz NOT NULL DEFAULT clock_timestamp(), -- not taken before
    lease_ends timestamptz,             -- of a running job: from then on another worker may take it
    created    timestamptz NOT NULL DEFAULT clock_timestamp(),
    started    timestamptz,
    finished   timestamptz,
    updated    timestamptz NOT NULL DEFAULT clock_timestamp(),
    expires    timestamptz              -- removed from then on; NULL is not yet
);

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
    job  bigint PRIMARY KEY REFERENCES job (number) ON DELETE CASCADE,
    crs  text NOT NULL,                 -- the URI of the CRS of its coordinates
    body bytea NOT NULL                 -- GeoJSON
);

-- The last review of each surface, and the contents revision at which it left the surface.
CREATE TABLE review (
    surface  text COLLATE "C" PRIMARY KEY,
    revision bigint NOT NULL,
    job      bigint                     -- its job, kept until the next review; NULL before the first has ended
);
